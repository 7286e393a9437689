"""Text from records on its way to a page: cleaned, checked for glyphs, broken where it is too long.

No function here escapes for a markup language, but for `escape`, which templates apply to every value they print.
"""

from __future__ import annotations

import functools
import re
import unicodedata
from bisect import bisect_right
from collections.abc import Callable
from importlib.resources import files

__all__ = ["UNITS", "Rst", "broken", "clean", "covered", "escape", "pieces", "tied"]

# Marks and isolates that turn the direction of text round, so that what is read is not what is written.
_BIDI = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_ASCII_PUNCTUATION = re.compile(r"([!-/:-@\[-`{-~])")
_LONG_WORD = re.compile(r"[^\s\u200b]{25,}")
_STEP = 20
_MARKS = "/-_.:,;"


class Rst(str):
    """Text that our own code made as reStructuredText: the only kind that templates print as it is."""


def clean(text: str) -> str:
    """`text` without characters that no page can carry: controls, halves of pairs, private and unassigned points.

    They become U+FFFD, and so do marks that turn the direction of text; line and paragraph separators become a space;
    all line ends become a line feed. The record keeps the original.
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\u2028", " ").replace("\u2029", " ")
    return "".join(_one(char) for char in text.replace("\t", " "))


def _one(char: str) -> str:
    if char == "\n" or " " <= char <= "~":
        return char
    if char in _BIDI or unicodedata.category(char) in ("Cc", "Cs", "Cn", "Co"):
        return "\ufffd"
    return char


# The units that records and methods of this trade use, longest first; a word that only begins like one is no unit.
UNITS = (
    "Ω·cm|[kMG]Ω/V|[mµkMG]?Ω/V|[mµkMG]?Ω|[mµk]?V|[mµk]?A|k?Ah|[kM]?Wh|[kM]?W|[mµ]?F|[kM]?Hz|k?J|N·m|Nm|k?N|[kM]?Pa|m?bar|"
    "°C|°|K|%|[kmµ]?g|[kmcµ]?m|[mµn]?s|min|h|MB|kB|mol|digits?|weeks?|days?|months?|years?|persons?|cells"
)
_NUMBER_AND_UNIT = re.compile(rf"(?<=\d) (?=(?:{UNITS})(?![\w·/-]))")
_SIGN_AND_NUMBER = re.compile(r"(?<=[±≥≤<>=×]) (?=[−-]?\d)")
_BEFORE_SIGN = re.compile(r" (?=± ?\d)".replace(" ?", "[ \u00a0]?"))


def tied(text: str) -> str:
    """`text` with a no-break space between a number and its unit, and between a sign (±, ≥, <) and its number."""
    if not any(char.isdigit() for char in text):
        return text
    text = _NUMBER_AND_UNIT.sub("\u00a0", text)
    return _BEFORE_SIGN.sub("\u00a0", _SIGN_AND_NUMBER.sub("\u00a0", text))


def escape(text: str) -> str:
    """`text` as reStructuredText that shows it: every ASCII punctuation mark escaped, line ends as spaces."""
    return _ASCII_PUNCTUATION.sub(r"\\\1", " ".join(clean(text).split())) or "\\ "


@functools.cache
def _coverage() -> tuple[list[int], list[int]]:
    starts, ends = [], []
    for line in files("witnessmark.document").joinpath("fonts/coverage.txt").read_text("utf-8").splitlines():
        if line and not line.startswith("#"):
            first, _, last = line.partition("-")
            starts.append(int(first, 16))
            ends.append(int(last or first, 16))
    return starts, ends


def _has_glyph(char: str) -> bool:
    starts, ends = _coverage()
    at = bisect_right(starts, ord(char)) - 1
    return at >= 0 and ord(char) <= ends[at]


def covered(text: str, missing: Callable[[str], None]) -> str:
    """`text` with each character that print has no glyph for as its code, "[U+1F50B]"; `missing` is told of each."""
    if text.isascii():
        return text
    out = []
    for char in text:
        if char == "\n" or _has_glyph(char):
            out.append(char)
        else:
            missing(char)
            out.append(f"[U+{ord(char):04X}]")
    return "".join(out)


def broken(text: str) -> str:
    """`text` with a place to break (U+200B) every 20 characters in words that are longer than 24."""
    return _LONG_WORD.sub(lambda match: "\u200b".join(pieces(match.group())), text)


def pieces(word: str) -> list[str]:
    """A long word in pieces of up to 20 characters, parted behind a mark where there is one (`reports/`, `weigh-`);
    combining marks stay with their letter."""
    out: list[str] = []
    start = 0
    while start < len(word):
        end = start + _STEP
        if end < len(word):
            end = max((n + 1 for n in range(start + _STEP // 3, end) if word[n] in _MARKS), default=end)
        while end < len(word) and unicodedata.combining(word[end]):
            end += 1
        out.append(word[start:end])
        start = end
    return out
