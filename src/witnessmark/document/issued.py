"""What a frozen issue says of itself: its letter, who issued it and why, and what changed since the issue before."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Changed", "Issued"]


@dataclass(frozen=True, slots=True)
class Changed:
    """One thing that is not as it was in the issue before: `kind` is state, result, part, fact or set; "" : nothing."""

    kind: str
    what: str
    was: str
    now: str
    part: str = ""
    """The part that it is about, where it is about one."""


@dataclass(frozen=True, slots=True)
class Issued:
    """An issue that is being frozen. Persons are ids from people/."""

    letter: str
    by: str
    second: str = ""
    """The second person, who looked at it before it went out."""
    commit: str = ""
    """The commit whose bytes are frozen."""
    gaps: int = 0
    """Requirements that are not shown."""
    unconfirmed: int = 0
    """Requirements whose figures nobody has compared with the official text."""
    fields: int = 0
    """Fields of the authority's forms that are empty."""
    with_gaps: str = ""
    """Why it is issued in spite of them."""
    previous: str = ""
    """Letter of the issue before."""
    previous_as_of: str = ""
    why: str = ""
    """Why there is a new issue."""
    changes: tuple[Changed, ...] = ()
