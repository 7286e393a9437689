"""Everything in a workshop that an act can name, and the fault of a name that names nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from witnessmark.problems import Place, Problem
from witnessmark.records.acts import DesignRevision, Event, Release, Statement
from witnessmark.records.sets import FactDefinition

from .acts import vehicle_of
from .models import nearest
from .workshop import Reading

__all__ = ["VEHICLE", "Known", "Step", "everything", "unknown"]

VEHICLE = "vehicle"

Step = str | int


@dataclass(frozen=True, slots=True)
class Known:
    """Everything that an act can name."""

    leaves: Mapping[str, frozenset[str]]
    """Requirement id to its leaves, over all sets."""
    sets: Mapping[str, Mapping[str, frozenset[str]]]
    parts: Mapping[str, frozenset[str]]
    """By vehicle: every part that any statement, event or design names."""
    designs: frozenset[str]
    people: frozenset[str]
    instruments: frozenset[str]
    functions: Mapping[str, tuple[str, ...]]
    methods: frozenset[str]
    codes: frozenset[str]
    vehicles: frozenset[str]
    facts: Mapping[str, FactDefinition]
    issues: Mapping[str, frozenset[str]]
    """By vehicle: letters of the issues that were frozen."""


def everything(reading: Reading) -> Known:
    """All names of the folder as it was read."""
    from witnessmark.methods.registry import method_ids

    workshop = reading.workshop
    sets = {s.id: {r.id: frozenset(r.leaves) for r in s.requirements} for s in workshop.sets.values()}
    leaves: dict[str, frozenset[str]] = {}
    for requirements in sets.values():
        for name, own in requirements.items():
            leaves[name] = leaves.get(name, frozenset()) | own
    bodies = [(text, text.body) for text in reading.folder.texts if text.body is not None]
    of_designs = {part for _, body in bodies if isinstance(body, DesignRevision) for part in body.parts}
    parts: dict[str, set[str]] = {vehicle: {VEHICLE, *of_designs} for vehicle in workshop.vehicles}
    releases = [(text, body) for text, body in bodies if isinstance(body, Release)]
    for text, body in bodies:
        mine = parts.get(vehicle_of(text.path) or "")
        if mine is None:
            continue
        if isinstance(body, Statement):
            mine.update(part for listed in body.parts.values() for part in listed.list)
        elif isinstance(body, Event) and body.event == "fitted":
            mine.add(body.part)
    return Known(
        leaves=leaves,
        sets=sets,
        parts={vehicle: frozenset(names) for vehicle, names in parts.items()},
        designs=frozenset(f"{b.design}/{b.revision}" for _, b in bodies if isinstance(b, DesignRevision)),
        people=frozenset(workshop.people) | _named(reading, "evidence/people/"),
        instruments=frozenset(workshop.instruments) | _named(reading, "evidence/instruments/"),
        functions={name: file.functions for name, file in workshop.instruments.items()},
        methods=frozenset(method_ids()),
        codes=frozenset(t.code for t, _ in bodies if t.code and t.sealed) | frozenset(reading.known),
        vehicles=frozenset(workshop.vehicles),
        facts=workshop.facts,
        issues={v: frozenset(b.release for t, b in releases if vehicle_of(t.path) == v) for v in workshop.vehicles},
    )


def _named(reading: Reading, folder: str) -> frozenset[str]:
    """Ids that have a file, even one that cannot be read: that fault is said once, where it is."""
    rest = [path.removeprefix(folder) for path in reading.folder.data if path.startswith(folder)]
    return frozenset(path.partition("/")[0].removesuffix(".yaml") for path in rest)


def unknown(code: str, what: str, word: str, known: Iterable[str], place: Place, otherwise: str) -> Problem:
    """The fault, with the nearest name that there is; `otherwise` is the remedy where none is near."""
    near = nearest(word, known)
    remedy = f"did you mean '{near}'?" if near is not None else otherwise
    return Problem(code, f"there is no {what} '{word}'", remedy, place)
