"""Faults as values: a code, a place, what is wrong and what to do.

Faults in what a person wrote are gathered and shown together; they are never raised one at a time.
Exceptions are for the program itself: `Misuse` for a command used wrongly, anything else is our own bug.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum

__all__ = ["Misuse", "Place", "Problem", "Severity", "in_order"]


class Severity(StrEnum):
    """`PROBLEM` stops whatever writes; `NOTE` is shown and counted, and stops nothing."""

    PROBLEM = "problem"
    NOTE = "note"


@dataclass(frozen=True, order=True, slots=True)
class Place:
    """A place in a file: path relative to the folder (with `/`), line and column from 1 (0: the whole file).

    `width` is the number of characters to underline from `column` on, 0 when it is not known.
    """

    file: str
    line: int = 0
    column: int = 0
    width: int = 0

    def __str__(self) -> str:
        if not self.line:
            return self.file
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault with one cause. `code` is stable (`area.what`); `related` names other places that matter."""

    code: str
    message: str
    remedy: str
    place: Place | None = None
    severity: Severity = Severity.PROBLEM
    related: tuple[Place, ...] = field(default=())

    @property
    def sort_key(self) -> tuple[str, int, int, str, str]:
        """Order by place, then code and message, so that output never depends on the order of reading."""
        place = self.place or Place("")
        return (place.file, place.line, place.column, self.code, self.message)


class Misuse(Exception):
    """A command was used wrongly: exit status 2. Carries the problems that say how."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__("; ".join(p.message for p in problems))
        self.problems = problems


def in_order(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Sorted by place, each distinct problem once."""
    return tuple(sorted(set(problems), key=lambda p: p.sort_key))
