"""What an act is worth, told before it is kept: result, U and verdict in plain words, alarms, what it changes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

from witnessmark.assessment.assess import assess
from witnessmark.assessment.gaps import result_words
from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import Assessment, RecordResult, State
from witnessmark.problems import Misuse, Problem
from witnessmark.records.acts import SetEdition

from .keep import Prepared

__all__ = ["Line", "Moved", "Told", "moved", "reasons_against", "tell"]

REFUSED = frozenset(
    {
        "instrument.missing", "instrument.unknown", "instrument.not-calibrated", "instrument.overdue",
        "instrument.calibration-not-sound", "person.not-authorised", "person.authorisation-not-sound", "act.person",
    }
)  # fmt: skip
"""Causes for which a record is not kept: with what or by whom it was done is put right first. Others are told."""


@dataclass(frozen=True, slots=True)
class Line:
    """One criterion (or finding) of one leaf: `1098 ± 21 Ω/V, needs at least 500 Ω/V`, and its verdict."""

    requirement: str
    leaf: str
    title: str
    words: str
    verdict: str


@dataclass(frozen=True, slots=True)
class Moved:
    """One requirement whose state an act changes, and why."""

    title: str
    clause: str
    before: State
    after: State
    why: str


@dataclass(frozen=True, slots=True)
class Told:
    """All that is to be known of an act before it is kept."""

    lines: tuple[Line, ...]
    alarms: tuple[str, ...]
    """From the method: what to measure again."""
    doubts: tuple[str, ...]
    """Why it would not count, with what to do."""
    refused: tuple[Problem, ...]
    moved: tuple[Moved, ...]
    problems: tuple[Problem, ...]
    """About the vehicle's facts, that were not there before."""
    elsewhere: tuple[str, ...] = ()
    """For an edition of a set: what it moves on each vehicle, in words."""


def tell(prepared: Prepared, vehicle: str | None, before: Assessment | None) -> Told:
    """Assess the workshop as it would be, and say what the act is worth."""
    if isinstance(prepared.act.body, SetEdition):
        return Told((), (), (), (), (), (), _moved_everywhere(prepared))
    if vehicle is None or before is None:
        return Told((), (), (), (), (), ())
    after = assess(prepared.workshop, vehicle)
    results = list(_results(after, prepared.act.code))
    alarms = [
        ("Do not believe this result. " if a.fatal else "") + f"{a.message} {a.remedy}"
        for _, _, r in results
        if r.result is not None
        for a in r.result.alarms
    ]
    of_all_sorts = Ledger(prepared.workshop).causes(prepared.act)
    causes = {c.code + c.message: c for c in (*of_all_sorts, *(c for _, _, r in results for c in r.causes))}
    doubts = [f"{c.message} {c.remedy[:1].upper()}{c.remedy[1:]}." for c in causes.values() if not _is_refused(c.code)]
    refused = [Problem(c.code, c.message.rstrip("."), c.remedy) for c in causes.values() if _is_refused(c.code)]
    refused += [
        Problem("record.no-result", f"{ident}/{leaf} gives no result", "read what the method needs, and type all of it")
        for ident, leaf, r in results
        if not r.criteria and any(c.code.startswith("reading.") for c in r.causes)
    ]
    known = {(p.code, p.message) for p in before.problems}
    return Told(
        tuple(line for state, leaf, r in results for line in _lines(state, leaf, r)),
        tuple(dict.fromkeys(alarms)),
        tuple(doubts),
        tuple(refused),
        moved(before, after),
        tuple(p for p in after.problems if (p.code, p.message) not in known),
    )


def reasons_against(prepared: Prepared, vehicle: str | None, before: Assessment | None) -> tuple[Problem, ...]:
    """Why the act is not kept; empty when it may be."""
    return tell(prepared, vehicle, before).refused


def _is_refused(code: str) -> bool:
    return code in REFUSED


def _results(after: Assessment, code: str) -> Iterator[tuple[str, str, RecordResult]]:
    for state in after.requirements:
        for part in state.parts:
            for leaf in part.leaves:
                for result in leaf.records:
                    if result.act.code == code:
                        yield state.id, leaf.name, result


def _lines(requirement: str, leaf: str, result: RecordResult) -> Iterator[Line]:
    title = f"{requirement}/{leaf}"
    for criterion in result.criteria:
        if criterion.decision is not None:
            words = f"{result_words(result)}, needs {criterion.asked}"
        else:
            words = result_words(result)
        yield Line(requirement, leaf, title, words, criterion.verdict.value)


def _moved_everywhere(prepared: Prepared) -> tuple[str, ...]:
    """How many requirements of each vehicle change their state; those of vehicles that nobody can assess are left."""
    was = replace(prepared.workshop, acts=tuple(a for a in prepared.workshop.acts if a is not prepared.act))
    found = []
    for vehicle in sorted(prepared.workshop.vehicles):
        try:
            changes = moved(assess(was, vehicle), assess(prepared.workshop, vehicle))
        except Misuse:
            continue
        numbers = Counter((one.before, one.after) for one in changes)
        for (before, after), number in sorted(numbers.items(), key=lambda row: list(State).index(row[0][1])):
            many = "requirement goes" if number == 1 else "requirements go"
            found.append(f"{vehicle}: {number} {many} from {before.words} to {after.words}")
    return tuple(found)


def moved(before: Assessment, after: Assessment) -> tuple[Moved, ...]:
    """Every requirement whose state differs, worst first."""
    were = {(r.set_id, r.id): r for r in before.requirements}
    found = []
    for now in after.requirements:
        was = were.get((now.set_id, now.id))
        if was is not None and was.state is not now.state:
            old = {(g.code, g.message) for g in was.gaps}
            why = next((g.message for g in now.gaps if (g.code, g.message) not in old), "")
            found.append(Moved(now.requirement.title, now.requirement.clause, was.state, now.state, why))
    order = list(State)
    return tuple(sorted(found, key=lambda one: (order.index(one.after), one.title)))
