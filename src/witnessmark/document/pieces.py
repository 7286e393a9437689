"""The smallest things in a block: text with links and symbols, a label with its value, and the states."""

from __future__ import annotations

import typing
from dataclasses import dataclass
from typing import Literal

__all__ = ["GAPS", "STATES", "Link", "Pair", "Piece", "State", "Strong", "Symbol", "Text"]

State = Literal[
    "conforms",
    "nonconforming",
    "undecided",
    "not-shown",
    "lapsed",
    "under-concession",
    "not-applicable",
]
STATES: tuple[str, ...] = typing.get_args(State)
GAPS: frozenset[str] = frozenset({"nonconforming", "undecided", "not-shown", "lapsed"})


@dataclass(frozen=True, slots=True)
class Link:
    """A link to proof: `to` as told above, `text` what is underlined. With `page`, print adds ", page 54"."""

    to: str
    text: str
    page: bool = False


@dataclass(frozen=True, slots=True)
class Strong:
    """Semibold words."""

    strong: str


@dataclass(frozen=True, slots=True)
class Symbol:
    """A quantity symbol in LaTeX (``R_o``, ``U_1'``); `spoken` is read aloud in place of the formula."""

    symbol: str
    spoken: str = ""


Piece = str | Link | Strong | Symbol
Text = str | tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class Pair:
    """One label with its value: identity on the cover, facts of a job, the side column of a record."""

    label: str
    value: Text
