"""Blocks of words alone: the hazard band, labels with values, a paragraph of record text."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from witnessmark.language import say

from .pieces import Pair, Text

__all__ = ["Cautions", "Letterhead", "Note", "Pairs"]


@dataclass(frozen=True, slots=True)
class Cautions:
    """The hazard band, black with white words: the vehicle's voltage largest ("403 V DC, live"), then the cautions.

    `authority` always says that local codes and a qualified person decide.
    """

    voltage: str
    lines: tuple[str, ...]
    authority: str = field(default_factory=lambda: say("Local codes and a qualified person decide, not this document."))
    title: str = ""
    id: str = ""
    kind: Literal["cautions"] = "cautions"


@dataclass(frozen=True, slots=True)
class Letterhead:
    """Who stands behind the page: the workshop's mark beside its name, then lines such as the address.

    `file` lies below the sources (PNG or JPEG), "" for none; `spoken` says what it is. `ratio`: how many times as wide
    as high. On a `cover` it takes the place of the cover's own words on the workshop.
    """

    name: str
    lines: tuple[str, ...] = ()
    file: str = ""
    spoken: str = ""
    ratio: float = 1.0
    style: Literal["cover", "report"] = "report"
    id: str = ""
    kind: Literal["letterhead"] = "letterhead"


@dataclass(frozen=True, slots=True)
class Pairs:
    """Labels with values, in `columns` columns; `wide` takes the side column too.

    `report` is the number of a test report that begins here: print says it at the head of each of its pages, until the
    note that `ends` it.
    """

    pairs: tuple[Pair, ...]
    columns: int = 1
    title: str = ""
    id: str = ""
    wide: bool = False
    report: str = ""
    kind: Literal["pairs"] = "pairs"


@dataclass(frozen=True, slots=True)
class Note:
    """A paragraph of record text. `lead` is larger, below a title; `gap` gives it a tab; `label` stands left; `ends` is
    the number of the test report whose last line it is."""

    text: Text
    label: str = ""
    style: Literal["text", "lead", "quiet", "strong"] = "text"
    gap: bool = False
    id: str = ""
    ends: str = ""
    kind: Literal["note"] = "note"
