"""One leaf, one part: from the chain of its sealed records to what the leaf is worth.

Pure, over abstract entries, so that chains can be enumerated. Instants are whole numbers (seconds); `appeared` is the
place in the order of history, None when not committed.

The order is by instant performed. Whatever is at the newest place governs, valid or not. A fail counts until it is
ended, valid or not. What is not sound can hurt, but cannot help.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from witnessmark.assessment.model import Verdict
from witnessmark.assessment.truth import VERDICT_POINT, Point, worst_point

__all__ = ["Blank", "Entry", "Standing", "stand"]


@dataclass(frozen=True, slots=True)
class Entry:
    """One sealed record in the chain. `sound` leaves withdrawal and correction out: `Blank` says those.

    `verdict` is that of the leaf, None when nothing can be computed. `cause` is what the record is worth when it is
    not valid: LAPSED or NOT_SHOWN.
    """

    code: str
    performed: int
    sealed: int
    appeared: int | None
    verdict: Verdict | None
    criteria: Mapping[str, Verdict] = field(default_factory=dict)
    sound: bool = True
    current: bool = True
    cause: Point = Point.NOT_SHOWN
    retest_of: frozenset[str] = frozenset()
    corrects: str | None = None


@dataclass(frozen=True, slots=True)
class Blank:
    """A withdrawal (`by` None) or a correction (`by`: its code) of the record `of`. `sound`: it can help."""

    of: str
    sealed: int
    appeared: int | None
    sound: bool
    by: str | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """What a chain comes to.

    `points` per criterion when the newest place is valid; otherwise `point` holds for each. `failing`: a fail is
    open. Indices refer to the entries as given: `governs` the newest place, `open_fails`, `ended` the fails.
    """

    point: Point
    points: Mapping[str, Point] | None
    failing: bool
    governs: tuple[int, ...] = ()
    open_fails: tuple[int, ...] = ()
    ended: tuple[int, ...] = ()
    verdict: Verdict | None = None
    """Of the leaf, worst of the newest place; None when that is not valid."""

    def worth(self, criterion: str) -> Point:
        """What one criterion of the leaf is worth."""
        return self.point if self.points is None else self.points.get(criterion, Point.NOT_SHOWN)


def stand(entries: Sequence[Entry], blanks: Sequence[Blank] = ()) -> Standing:
    """The standing of one chain. The order of `entries` and `blanks` does not matter."""
    chain = _Chain(entries, blanks)
    failed = [i for i, e in enumerate(entries) if e.verdict is Verdict.FAIL]
    ended = tuple(i for i in failed if chain.is_ended(i))
    open_fails = tuple(i for i in failed if i not in ended)
    newest = chain.newest()
    if not newest:
        return Standing(Point.NOT_SHOWN, None, bool(open_fails), (), open_fails, ended)
    spoiled = [i for i in newest if not chain.is_valid(i)]
    if spoiled:
        lapsed = any(
            entries[i].cause is Point.LAPSED and not (entries[i].sound and entries[i].current) for i in spoiled
        )
        point = Point.LAPSED if lapsed else Point.NOT_SHOWN
        return Standing(point, None, bool(open_fails), newest, open_fails, ended)
    names = dict.fromkeys(name for i in newest for name in entries[i].criteria)
    points = {
        name: worst_point(VERDICT_POINT[entries[i].criteria.get(name, Verdict.UNDECIDED)] for i in newest)
        for name in names
    }
    verdicts = [entries[i].verdict for i in newest]
    verdict = next(
        (v for v in (Verdict.FAIL, Verdict.UNDECIDED) if v in verdicts), Verdict.PASS if None not in verdicts else None
    )
    point = Point.NOT_SHOWN if verdict is None else VERDICT_POINT[verdict]
    return Standing(point, points, bool(open_fails), newest, open_fails, ended, verdict)


class _Chain:
    """Who passes whom, for one chain."""

    def __init__(self, entries: Sequence[Entry], blanks: Sequence[Blank]) -> None:
        self.entries = entries
        self.blanks_of: dict[str, list[Blank]] = {}
        for blank in blanks:
            self.blanks_of.setdefault(blank.of, []).append(blank)
        self.by_code: dict[str, list[int]] = {}
        for i, entry in enumerate(entries):
            self.by_code.setdefault(entry.code, []).append(i)
        self.places = [self._place(i, frozenset()) for i in range(len(entries))]

    def _place(self, i: int, seen: frozenset[int]) -> int:
        """A correction stands where the corrected record stood, or later, never earlier."""
        entry = self.entries[i]
        before = [] if entry.corrects is None else self.by_code.get(entry.corrects, [])
        return max([entry.performed, *(self._place(j, seen | {i}) for j in before if j not in seen and j != i)])

    def is_blank(self, i: int) -> bool:
        """Withdrawn or corrected, by a sound act or not: it cannot help any more."""
        return self.entries[i].code in self.blanks_of

    def stands(self, i: int) -> bool:
        """Sound, and neither withdrawn nor corrected: it can help."""
        return self.entries[i].sound and not self.is_blank(i)

    def is_valid(self, i: int) -> bool:
        return self.stands(i) and self.entries[i].current

    def _holds(self, blank: Blank) -> bool:
        """The withdrawal or correction can help; a correction in this chain must itself still stand."""
        return blank.sound and all(self.stands(i) for i in self.by_code.get(blank.by or "", ()))

    def _came_after(self, later: int | None, earlier: int | None) -> bool:
        return later is not None and earlier is not None and later > earlier

    def _names(self, i: int, j: int) -> bool:
        """Entry i names entry j, which was in history before it."""
        one, other = self.entries[i], self.entries[j]
        return i != j and other.code in one.retest_of and self._came_after(one.appeared, other.appeared)

    def _clock_ahead(self, i: int, j: int) -> bool:
        """The place of j is dated after the act that made it; i came into history and was performed after that act."""
        one, other = self.entries[i], self.entries[j]
        place = self.places[j]
        makers = [(b.sealed, b.appeared) for b in self.blanks_of.get(other.code, ()) if b.sound and b.by is None]
        if other.corrects is not None and self.stands(j):
            makers.append((other.sealed, other.appeared))
        return any(
            place > sealed and one.performed > sealed and self._came_after(one.appeared, appeared)
            for sealed, appeared in makers
        )

    def is_ended(self, j: int) -> bool:
        """Whether the fail j was ended: by a sound passing record that names it, a withdrawal or a correction."""
        if any(self._holds(blank) for blank in self.blanks_of.get(self.entries[j].code, ())):
            return True
        return any(
            self.stands(i)
            and self.entries[i].verdict is Verdict.PASS
            and self._names(i, j)
            and (self.places[i] >= self.places[j] or self._clock_ahead(i, j))
            for i in range(len(self.entries))
        )

    def _is_passed(self, j: int) -> bool:
        """Whether a sound record stands in front of j although j's place is not older."""
        code = self.entries[j].code
        if any(self._holds(b) and b.by in self.by_code for b in self.blanks_of.get(code, ()) if b.by is not None):
            return True
        return any(
            self.stands(i) and ((self.places[i] == self.places[j] and self._names(i, j)) or self._clock_ahead(i, j))
            for i in range(len(self.entries))
            if i != j
        )

    def newest(self) -> tuple[int, ...]:
        """The entries at the newest place."""
        left = [i for i in range(len(self.entries)) if not self._is_passed(i)] or list(range(len(self.entries)))
        top = max((self.places[i] for i in left), default=0)
        return tuple(i for i in left if self.places[i] == top)
