"""Which issue of a technical file first held a record, and so what differs from the issue before.

An act was in an issue when the commit that holds it is the one that was frozen, or comes before it. Only issues that
are sealed and stand unchanged in the history count; without a history there is none.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from witnessmark.assessment.ledger import Ledger
from witnessmark.document.views.book import Book
from witnessmark.problems import Problem
from witnessmark.records.release import Release

__all__ = ["Since", "since"]


@dataclass(frozen=True, slots=True)
class Since:
    """`issues` from the first to the newest; `first` is the letter of the issue that first held a code, by code."""

    issues: tuple[Release, ...] = ()
    first: Mapping[str, str] = field(default_factory=dict)

    @property
    def previous(self) -> str:
        """Letter of the newest issue that was frozen; "" when none was."""
        return self.issues[-1].release if self.issues else ""


def since(root: Path, book: Book, codes: Iterable[str], *, before: str = "") -> Since:
    """What the issues of this vehicle held of these codes. `before`: only issues older than the one of this letter."""
    ledger = Ledger(book.workshop)
    found = [
        act.body
        for act in book.acts_of_vehicle()
        if isinstance(act.body, Release) and ledger.sound(act) and _order(act.body.release) < _order(before or "ZZZ")
    ]
    issues = tuple(sorted(found, key=lambda release: _order(release.release)))
    if not issues or not book.workshop.history.consulted:
        return Since(issues)
    from witnessmark.reading.githistory import open_history

    history = open_history(root)
    if isinstance(history, Problem):
        return Since(issues)
    known: dict[tuple[str, str], bool] = {}
    first: dict[str, str] = {}
    with history:
        for code in codes:
            commit = book.acts[code].by_commit if code in book.acts else ""
            for issue in issues:
                key = (commit, issue.commit)
                if key not in known:
                    known[key] = bool(commit) and (commit == issue.commit or history.precedes(*key))
                if known[key]:
                    first[code] = issue.release
                    break
    return Since(issues, first)


def _order(letter: str) -> tuple[int, str]:
    """A before B, Y before AA."""
    return len(letter), letter
