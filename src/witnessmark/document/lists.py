"""Lists of requirements in brief, for pages on the screen; see `blocks` for what all blocks have in common."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .pieces import State, Text

__all__ = ["ListedRow", "Listing"]


@dataclass(frozen=True, slots=True)
class ListedRow:
    """One requirement in a list of those that have the same state; the title leads to its chapter, `to`."""

    state: State
    title: str
    clause: str
    brief: str = ""
    why: Text = ""
    do: Text = ""
    to: str = ""
    id: str = ""
    word: str = ""


@dataclass(frozen=True, slots=True)
class Listing:
    """Requirements below one another with their rail, in brief: a page for the screen has one for each chapter."""

    rows: tuple[ListedRow, ...]
    id: str = ""
    kind: Literal["listing"] = "listing"
