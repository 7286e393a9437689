"""Chains of one leaf, enumerated: no change to what is known improves one, and "conforms" is what it must mean.

The worlds are all chains of one and two records and a share of those of three: every verdict, soundness, tie, naming,
withdrawal and correction. The oracle for "conforms" is written apart from the implementation, as a statement over all
records; there is no outside source for these rules.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

import pytest

from witnessmark.assessment.chain import Blank, Entry, Standing, stand
from witnessmark.assessment.model import Verdict
from witnessmark.assessment.truth import Point

P, U, F = Verdict.PASS, Verdict.UNDECIDED, Verdict.FAIL
QUALITIES = ("good", "spoiled", "never sound", "not committed", "lapsed")
WITHDRAWALS = ("", "sound", "unsound", "dated before")
RANK = {Point.CONFORMS: 0, Point.UNDECIDED: 1, Point.NOT_SHOWN: 2, Point.LAPSED: 2, Point.CLOSED: 3}
LATE = 50
"""When withdrawals are made: after every record, unless a test says otherwise."""


@dataclass(frozen=True)
class World:
    entries: tuple[Entry, ...]
    blanks: tuple[Blank, ...] = ()

    @property
    def standing(self) -> Standing:
        return stand(self.entries, self.blanks)

    @property
    def rank(self) -> int:
        standing = self.standing
        return 3 if standing.failing else RANK[standing.point]


def entry(
    i: int, verdict: Verdict, quality: str, performed: int, names: tuple[int, ...] = (), corrects: int | None = None
) -> Entry:
    sound = quality in ("good", "lapsed")
    return Entry(
        code=f"r{i}",
        performed=performed,
        sealed=performed,
        appeared=None if quality == "not committed" else i,
        verdict=verdict,
        criteria={"c": verdict},
        sound=sound,
        current=quality != "lapsed",
        cause=Point.LAPSED if quality in ("spoiled", "lapsed") else Point.NOT_SHOWN,
        retest_of=frozenset(f"r{n}" for n in names),
        corrects=None if corrects is None else f"r{corrects}",
    )


def blanks_for(entries: tuple[Entry, ...], withdrawals: tuple[str, ...]) -> tuple[Blank, ...]:
    made: list[Blank] = []
    for i, how in enumerate(withdrawals):
        if how:
            sealed = 0 if how == "dated before" else LATE
            made.append(Blank(f"r{i}", sealed, 10 + i, how != "unsound"))
    for one in entries:
        if one.corrects is not None:
            # A correction holds only while it is sound and committed, and not taken back itself.
            made.append(Blank(one.corrects, one.sealed, one.appeared, one.sound and one.appeared is not None, one.code))
    return tuple(made)


def build(
    verdicts: tuple[Verdict, ...],
    qualities: tuple[str, ...],
    instants: tuple[int, ...],
    withdrawals: tuple[str, ...],
    names: tuple[tuple[int, ...], ...],
    corrects: tuple[int | None, ...],
) -> World:
    entries = tuple(
        entry(i, v, q, t, n, c)
        for i, (v, q, t, n, c) in enumerate(zip(verdicts, qualities, instants, names, corrects, strict=True))
    )
    return World(entries, blanks_for(entries, withdrawals))


def ones() -> Iterator[World]:
    for verdict, quality, withdrawal in product((P, U, F), QUALITIES, WITHDRAWALS):
        yield build((verdict,), (quality,), (1,), (withdrawal,), ((),), (None,))


def twos() -> Iterator[World]:
    for verdicts, qualities, instants, withdrawals, link in product(
        product((P, U, F), repeat=2),
        product(QUALITIES, repeat=2),
        ((1, 1), (1, 2), (2, 1)),
        product(WITHDRAWALS, repeat=2),
        ("", "names", "corrects"),
    ):
        if not link and instants == (2, 1):
            continue  # without a link it is the other order with names exchanged
        yield build(
            verdicts, qualities, instants, withdrawals,
            ((), (0,) if link == "names" else ()), (None, 0 if link == "corrects" else None),
        )  # fmt: skip


def threes() -> Iterator[World]:
    links: tuple[tuple[tuple[tuple[int, ...], ...], tuple[int | None, ...]], ...] = (
        (((), (), ()), (None, None, None)),
        (((), (0,), ()), (None, None, None)),
        (((), (0,), (1,)), (None, None, None)),
        (((), (), (0, 1)), (None, None, None)),
        (((), (0,), ()), (None, None, 1)),
        (((), (), ()), (None, 0, 1)),
        (((), (0,), (0,)), (None, None, 1)),
    )
    for i, (verdicts, qualities, instants, withdrawals, (names, corrects)) in enumerate(
        product(
            product((P, U, F), repeat=3),
            product(QUALITIES, repeat=3),
            ((1, 2, 3), (1, 1, 1), (2, 1, 3), (3, 1, 2), (1, 2, 2)),
            product(("", "sound", "unsound"), repeat=3),
            links,
        )
    ):
        if i % 1201 == 0:
            yield build(verdicts, qualities, instants, withdrawals, names, corrects)


def mutations(world: World) -> Iterator[tuple[str, World]]:
    """Everything that is not a new committed sound act."""
    for i, one in enumerate(world.entries):
        spoiled = replace(one, sound=False, cause=Point.LAPSED)
        kept = tuple(
            replace(b, sound=False) if b.by == one.code else b for b in world.blanks
        )  # a spoiled correction does not hold any more
        yield f"spoil r{i}", World((*world.entries[:i], spoiled, *world.entries[i + 1 :]), kept)
        lapsed = replace(one, current=False, cause=Point.LAPSED)
        yield f"an event after r{i}", World((*world.entries[:i], lapsed, *world.entries[i + 1 :]), world.blanks)
    for i, blank in enumerate(world.blanks):
        yield (
            f"spoil act {i}",
            World(world.entries, (*world.blanks[:i], replace(blank, sound=False), *world.blanks[i + 1 :])),
        )
    every = frozenset(e.code for e in world.entries)
    for performed in (1, LATE + 10):
        new = Entry("new", performed, performed, None, P, {"c": P}, False, True, Point.NOT_SHOWN, every)
        yield f"a pass of {performed} that names all, not committed", World((*world.entries, new), world.blanks)
    for one in world.entries:
        yield (
            f"{one.code} withdrawn, not committed",
            World(world.entries, (*world.blanks, Blank(one.code, LATE, None, False))),
        )
        fixed = Entry("fix", 1, 1, None, P, {"c": P}, False, True, Point.NOT_SHOWN, every, one.code)
        yield (
            f"{one.code} corrected, not committed",
            World((*world.entries, fixed), (*world.blanks, Blank(one.code, 1, None, False, "fix"))),
        )


@pytest.mark.parametrize("worlds", [ones, twos, threes], ids=["one", "two", "three"])
def test_no_mutation_improves(worlds: object) -> None:
    tried = 0
    for world in worlds():  # type: ignore[operator]  # parametrized functions
        before = world.rank
        for name, after in mutations(world):
            tried += 1
            assert after.rank >= before, (name, world)
    assert tried > 100


@pytest.mark.parametrize("worlds", [ones, twos, threes], ids=["one", "two", "three"])
def test_conforms_is_what_it_must_mean(worlds: object) -> None:
    conforming = 0
    for world in worlds():  # type: ignore[operator]  # parametrized functions
        conforms = world.rank == 0
        assert conforms == must_conform(world), world
        conforming += conforms
    assert conforming > 0


def must_conform(world: World) -> bool:
    """The oracle: every fail is answered, and every record that is not a good pass is stood in front of by one.

    Written over all records, without a notion of "the newest place".
    """
    taken = {b.of for b in world.blanks}
    good = [e for e in world.entries if e.sound and e.current and e.code not in taken]
    helps = [e for e in world.entries if e.sound and e.code not in taken]
    by_code = {e.code: e for e in world.entries}

    def at(one: Entry) -> int:
        return max(one.performed, at(by_code[one.corrects])) if one.corrects else one.performed

    def came_later(one: Entry, other: Entry) -> bool:
        return one.appeared is not None and other.appeared is not None and one.appeared > other.appeared

    def holds(blank: Blank) -> bool:
        return blank.sound and (blank.by is None or blank.by not in taken)

    def ahead(one: Entry, other: Entry) -> bool:
        acts = [(b.sealed, b.appeared) for b in world.blanks if b.of == other.code and b.by is None and b.sound]
        if other.corrects and other in helps:
            acts.append((other.sealed, other.appeared))
        return any(
            at(other) > sealed
            and one.performed > sealed
            and appeared is not None
            and one.appeared is not None
            and one.appeared > appeared
            for sealed, appeared in acts
        )

    for fail in (e for e in world.entries if e.verdict is F):
        answered = any(holds(b) for b in world.blanks if b.of == fail.code) or any(
            p.verdict is P
            and fail.code in p.retest_of
            and came_later(p, fail)
            and (at(p) >= at(fail) or ahead(p, fail))
            for p in helps
            if p is not fail
        )
        if not answered:
            return False

    def in_front(one: Entry, other: Entry) -> bool:
        """`one`, which can help, stands in front of `other`."""
        if any(b.of == other.code and b.by == one.code and holds(b) for b in world.blanks):
            return True
        if at(one) > at(other) or ahead(one, other):
            return True
        return at(one) == at(other) and other.code in one.retest_of and came_later(one, other)

    # Somebody who can help stands last; nobody who cannot is left beside or after.
    last = [e for e in world.entries if not any(o is not e and in_front(o, e) for o in helps)]
    # A record that cannot help still stands after older ones, good or not.
    return bool(last) and all(e in good and e.verdict is P for e in last)


def test_clock_ahead_is_no_dead_end() -> None:
    """A pass dated next year, withdrawn today, and a new test: the new test counts."""
    ahead = Entry("r0", 1000, 10, 0, P, {"c": P}, sound=False)
    taken_back = Blank("r0", 11, 1, True)
    again = Entry("r1", 12, 12, 2, P, {"c": P})
    assert stand([ahead, again], [taken_back]).point is Point.CONFORMS
    assert stand([ahead, replace(again, performed=9)], [taken_back]).point is Point.NOT_SHOWN
    assert stand([ahead, again], [replace(taken_back, sound=False)]).point is Point.NOT_SHOWN


def test_order_of_files_does_not_matter() -> None:
    for i, world in enumerate(threes()):
        if i % 7 == 0:
            turned = World(tuple(reversed(world.entries)), tuple(reversed(world.blanks)))
            assert turned.rank == world.rank


def test_a_later_withdrawal_of_any_date_revives_nothing() -> None:
    """Where no fail is open, a withdrawal or a correction that does not pass never brings back an older pass."""
    for i, world in enumerate(twos()):
        if i % 3 or world.rank in (0, 3):
            continue
        for one in world.entries:
            for sealed in (0, LATE + 5):
                more = World(world.entries, (*world.blanks, Blank(one.code, sealed, 40, True)))
                assert more.rank > 0, (world, one.code, sealed)
            fixed = entry(30, U, "good", 0, (), None)
            fixed = replace(fixed, code="fix", corrects=one.code)
            more = World((*world.entries, fixed), (*world.blanks, Blank(one.code, 0, 30, True, "fix")))
            assert more.rank > 0, (world, one.code)
