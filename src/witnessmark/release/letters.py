"""Letters of issues: A, B, C …, without those that are taken for digits or other letters.

Source: I, O, Q, S, X and Z are left out as ASME Y14.35 does with revision letters (from memory; common practice); after
Y comes AA.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

__all__ = ["FORM", "LETTERS", "newest", "next_letter", "place_of"]

LETTERS = "ABCDEFGHJKLMNPRTUVWY"
FORM = re.compile(f"[{LETTERS}]{{1,2}}")


def place_of(letter: str) -> int:
    """A is 1, B is 2; ValueError for what is no letter of an issue."""
    if not FORM.fullmatch(letter):
        raise ValueError(f"{letter!r} is no letter of an issue")
    place = 0
    for sign in letter:
        place = place * len(LETTERS) + LETTERS.index(sign) + 1
    return place


def next_letter(letter: str | None) -> str:
    """The one after `letter`; A after none. ValueError after YY."""
    place = (place_of(letter) if letter else 0) + 1
    first, second = divmod(place - 1, len(LETTERS))
    if first > len(LETTERS):
        raise ValueError("there are no more letters")
    return (LETTERS[first - 1] if first else "") + LETTERS[second]


def newest(letters: Iterable[str]) -> str | None:
    """The last of these letters, None when there is none."""
    return max((one for one in letters if FORM.fullmatch(one)), key=place_of, default=None)
