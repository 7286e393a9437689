"""Seal a draft and commit it, in one act under the folder's lock: what is sealed is never left out of the history."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from witnessmark.problems import Misuse, Place, Problem, Severity
from witnessmark.reading.check import problems_of
from witnessmark.reading.workshop import Reading, now, read_everything

from .atomic import clear_leftovers, locked, write_atomically
from .commit import author_of
from .history import commit_files, unstage
from .seal import Sealed, seal

__all__ = ["Recorded", "must_take_records", "recorders_clock", "seal_file"]


_BESIDE = frozenset(
    {
        "git.rewritten", "git.untracked", "git.ignored", "git.line-ends", "git.twin", "git.index",
        "git.assume-unchanged", "git.skip-worktree",
    }
)  # fmt: skip
"""Faults beside which a new act can be recorded: what it says of itself holds all the same."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """A sealed act and the commit that it is in."""

    sealed: Sealed
    commit: str


def recorders_clock(reading: Reading, clock: Callable[[], datetime] = now) -> datetime:
    """The time of recording in the workshop's zone, to the second; in a pinned demonstration the pinned day's end."""
    workshop = reading.workshop
    if workshop.file.demonstration is not None:
        return workshop.as_of
    return clock().astimezone(ZoneInfo(workshop.file.zone)).replace(microsecond=0)


def seal_file(root: Path, path: str, by: str, *, clock: Callable[[], datetime] = now) -> Recorded:
    """Seal the draft at `path` (from `root`) in the name of a person from `people/`, and commit it with its files.

    Raises Misuse, with every reason, when it cannot be sealed or git refuses; then the draft is as it was.
    """
    with locked(root):
        clear_leftovers(root / "evidence")
        reading = read_everything(root, clock=clock)
        if not isinstance(reading, Reading):
            raise Misuse(*reading.problems)
        must_take_records(reading)
        _must_be_clean(reading, path)
        when = recorders_clock(reading, clock)
        done = seal(reading, path, on=when, by=by, now=when)
        draft = reading.folder.data[path]
        author = author_of(by, reading.workshop.people)
        write_atomically(root / path, done.data)
        try:
            ident = commit_files(root, [path, *done.files], author, when, f"Seal {done.code}: {path}")
        except BaseException:
            write_atomically(root / path, draft)
            unstage(root, [path, *done.files], author, when)
            raise
        return Recorded(done, ident)


def _must_be_clean(reading: Reading, path: str) -> None:
    """What is wrong in the draft is said before it is sealed: afterwards only a correction mends it."""
    faults = [p for p in problems_of(reading) if p.place is not None and p.place.file == path]
    hard = [p for p in faults if p.severity is Severity.PROBLEM]
    if hard:
        raise Misuse(*hard)


def must_take_records(reading: Reading) -> None:
    """Misuse when nothing can be recorded here: the pinned demonstration, or a history that cannot be read."""
    history = reading.workshop.history
    if not history.consulted:
        raise Misuse(
            Problem(
                "record.demonstration",
                "this is the demonstration, and nothing is recorded in it",
                "make a copy with a history of its own: witnessmark start --example DIR",
                Place("evidence/workshop.yaml"),
            )
        )
    faults = [
        p for p in reading.workshop.problems
        if p.code.startswith("git.") and p.code not in _BESIDE and p.severity == "problem"
    ]  # fmt: skip
    if faults:
        raise Misuse(*faults)
