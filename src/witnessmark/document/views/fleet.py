"""The workshop's other vehicles that are built to the same design, and what was measured on them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import Assessment, RecordResult, RequirementState
from witnessmark.language import say
from witnessmark.records.acts import Event, Record, Statement
from witnessmark.records.world import Workshop

from .book import Book, walk
from .results import as_text
from .words import short_day

__all__ = ["MOST", "Like", "OtherVehicle", "Row", "alike"]

MOST = 4
"""How many other vehicles are set beside this one: more columns than these cannot be read."""

_Key = tuple[str, str, str | None]


@dataclass(frozen=True, slots=True)
class OtherVehicle:
    """Another vehicle, by its file number, and the day of its newest measurement."""

    id: str
    file_number: str
    since: str


@dataclass(frozen=True, slots=True)
class Row:
    """One measured leaf of this vehicle, and the same leaf of the others in their order, None where none counts."""

    requirement: RequirementState
    part: str | None
    here: RecordResult
    there: tuple[RecordResult | None, ...]


@dataclass(frozen=True, slots=True)
class Like:
    """`designs` are those that this vehicle shares with others, or, where nobody shares any, its own."""

    designs: tuple[str, ...]
    vehicles: tuple[OtherVehicle, ...] = ()
    rows: tuple[Row, ...] = ()
    more: int = 0


def alike(book: Book) -> Like:
    """The vehicles measured last that share a design in the same revision with this one. Each is assessed anew, so that
    what lapsed or was withdrawn there does not stand here."""
    own = tuple(sorted({line.design for line in book.parts if line.design and not line.out}))
    built = _designs(book.workshop)
    others = {v: built[v] & set(own) for v in built if v != book.assessment.vehicle and v in book.workshop.vehicles}
    others = {v: shared for v, shared in others.items() if shared}
    if not others:
        return Like(own)
    newest = _newest(book.workshop, frozenset(others))
    chosen = sorted(others, key=lambda v: (newest[v].timestamp() if v in newest else 0.0, v), reverse=True)
    shown = chosen[:MOST]
    vehicles = tuple(
        OtherVehicle(
            v,
            book.workshop.vehicles[v].file_number,
            say("measured {day}", day=short_day(newest[v])) if newest.get(v) else say("nothing measured"),
        )
        for v in shown
    )
    there = [_results(assess(book.workshop, v)) for v in shown if newest.get(v)]
    there += [{} for v in shown if not newest.get(v)]
    rows = []
    for key, (state, here) in _own(book.assessment).items():
        found = tuple(results.get(key) for results in there)
        if any(found):
            rows.append(Row(state, key[2], here, found))
    shared = tuple(sorted(set().union(*others.values())))
    return Like(shared, vehicles, tuple(rows), len(chosen) - len(shown))


def _designs(workshop: Workshop) -> dict[str, set[str]]:
    """Every design revision that any statement or event names for a vehicle: a first choice, made without assessing."""
    found: dict[str, set[str]] = {}
    for act in workshop.acts:
        body, seal = act.body, act.body.seal
        if seal is None or seal.vehicle is None:
            continue
        named: list[str | None] = []
        if isinstance(body, Statement):
            named = [entry.design for listed in body.parts.values() for entry in listed.list.values()]
        elif isinstance(body, Event) and body.fitted is not None:
            named = [body.fitted.design]
        found.setdefault(seal.vehicle.id, set()).update(n for n in named if n)
    return found


def _newest(workshop: Workshop, vehicles: frozenset[str]) -> dict[str, datetime]:
    found: dict[str, datetime] = {}
    for act in workshop.acts:
        body, seal = act.body, act.body.seal
        if isinstance(body, Record) and body.method and seal and seal.vehicle and seal.vehicle.id in vehicles:
            known = found.get(seal.vehicle.id)
            if known is None or body.performed > known:
                found[seal.vehicle.id] = body.performed
    return found


def _own(assessment: Assessment) -> dict[_Key, tuple[RequirementState, RecordResult]]:
    """Counting results of a vehicle by requirement, leaf and part; those of a design hold for every vehicle alike."""
    found: dict[_Key, tuple[RequirementState, RecordResult]] = {}
    for state, part, leaf in walk(assessment):
        result = leaf.result
        if (
            state.requirement.about == "vehicle"
            and result
            and result.valid
            and not result.withdrawn
            and as_text(result)
        ):
            found.setdefault((state.id, leaf.name, part.part), (state, result))
    return found


def _results(assessment: Assessment) -> dict[_Key, RecordResult]:
    return {key: result for key, (_, result) in _own(assessment).items()}
