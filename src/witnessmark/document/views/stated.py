"""What was stated about the vehicle and its parts, for printing: every statement with source, date and person."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from witnessmark.assessment.model import Assessment
from witnessmark.records.acts import Event, Policy, Statement, Withdrawal
from witnessmark.records.world import Act, Held, Workshop

__all__ = ["PartLine", "StatedFact", "current", "facts", "parts", "policies", "withdrawn_codes"]


@dataclass(frozen=True, slots=True)
class StatedFact:
    """One statement of one fact. `standing` says what became of it: "in force", or why it is not."""

    key: str
    part: str | None
    value: str
    source: str
    at: datetime
    by: str
    code: str
    standing: str


@dataclass(frozen=True, slots=True)
class PartLine:
    """A part as it is built in now: `since` is the act that last changed it. `out` once it was removed."""

    id: str
    kind: str
    title: str
    serial: str
    design: str
    within: str | None
    members: tuple[str, ...]
    source: str
    since: str
    out: str = ""


def _sound(act: Act) -> bool:
    return act.held is Held.UNCHANGED and act.seal_holds and not act.clash and act.appeared is not None


def withdrawn_codes(workshop: Workshop) -> dict[str, Act]:
    """Codes that an act withdraws or corrects, with that act."""
    found: dict[str, Act] = {}
    for act in workshop.acts:
        if isinstance(act.body, Withdrawal):
            found[act.body.withdraws] = act
        if act.body.corrects:
            found[act.body.corrects] = act
    return found


def _of_vehicle(workshop: Workshop, assessment: Assessment) -> Iterator[Act]:
    for act in workshop.acts:
        seal = act.body.seal
        if seal and seal.vehicle and seal.vehicle.id == assessment.vehicle:
            yield act


def _text(value: str | tuple[str, ...]) -> str:
    return value if isinstance(value, str) else ", ".join(value) or "none"


def facts(workshop: Workshop, assessment: Assessment) -> tuple[StatedFact, ...]:
    """Every fact ever stated for this vehicle, by key and then in order of time; the newest that stands is in force."""
    lines: list[tuple[StatedFact, bool]] = []
    taken_back = withdrawn_codes(workshop)
    for act in _of_vehicle(workshop, assessment):
        body = act.body
        if isinstance(body, Statement):
            at, part, by = body.stated, body.part, body.by
        elif isinstance(body, Event) and body.facts:
            at, part, by = body.event_at, None if body.part == "vehicle" else body.part, body.by
        else:
            continue
        why = ""
        if act.code in taken_back:
            other = taken_back[act.code]
            why = f"{'withdrawn' if isinstance(other.body, Withdrawal) else 'corrected'} by {other.code}"
        elif not _sound(act):
            why = "not committed" if act.appeared is None else f"not sound: {act.held.value}"
        for key, fact in body.facts.items():
            lines.append((StatedFact(key, part, _text(fact.value), fact.source, at, by, act.code, why), not why))
    newest: dict[tuple[str, str | None], tuple[datetime, str]] = {}
    for line, stands in lines:
        if stands:
            where = (line.key, line.part)
            newest[where] = max(newest.get(where, (line.at, line.code)), (line.at, line.code))
    out = []
    for line, stands in lines:
        standing = line.standing
        if stands:
            standing = "in force" if newest[line.key, line.part] == (line.at, line.code) else "replaced by a later one"
        out.append(StatedFact(line.key, line.part, line.value, line.source, line.at, line.by, line.code, standing))
    return tuple(sorted(out, key=lambda f: (f.part or "", f.key, f.at, f.code)))


def current(workshop: Workshop, assessment: Assessment, *keys: str) -> str:
    """The value in force of the first of these facts of the vehicle that is stated; "" when none is."""
    found = {f.key: f.value for f in facts(workshop, assessment) if f.part is None and f.standing == "in force"}
    return next((found[key] for key in keys if key in found), "")


def parts(workshop: Workshop, assessment: Assessment) -> tuple[tuple[PartLine, ...], tuple[str, ...]]:
    """The parts as built now, in order of kind and statement; and the kinds that were stated to be none."""
    lines: dict[str, PartLine] = {}
    empty: list[str] = []
    taken_back = withdrawn_codes(workshop)
    acts = [a for a in _of_vehicle(workshop, assessment) if a.code not in taken_back and _sound(a)]
    for act in sorted(acts, key=lambda a: (a.body.at is None, a.body.at or assessment.as_of, a.code)):
        body = act.body
        if isinstance(body, Statement):
            for kind, listed in body.parts.items():
                if not listed.list:
                    empty.append(f"{kind}: {listed.source}")
                for ident, entry in listed.list.items():
                    lines[ident] = PartLine(
                        ident,
                        kind,
                        entry.title,
                        entry.serial or "",
                        entry.design or "",
                        entry.within,
                        entry.members,
                        listed.source,
                        act.code,
                    )
        elif isinstance(body, Event):
            _happened(lines, act, body)
    return tuple(lines.values()), tuple(empty)


def _happened(lines: dict[str, PartLine], act: Act, event: Event) -> None:
    old, new = lines.get(event.part), event.fitted
    if event.event == "removed" and old is not None:
        lines[event.part] = PartLine(
            old.id,
            old.kind,
            old.title,
            old.serial,
            old.design,
            old.within,
            old.members,
            old.source,
            act.code,
            "removed",
        )
    elif new is not None and (old is not None or event.event == "fitted"):
        lines[event.part] = PartLine(
            event.part,
            new.kind or (old.kind if old else ""),
            new.title or (old.title if old else event.part),
            new.serial or "",
            new.design or (old.design if old else ""),
            new.within or (old.within if old else None),
            new.members or (old.members if old else ()),
            event.why or event.event,
            act.code,
        )


def policies(workshop: Workshop) -> tuple[tuple[Act, Policy], ...]:
    """The workshop's policy entries in order of the day they came into force."""
    found = [(act, act.body) for act in workshop.acts if isinstance(act.body, Policy)]
    return tuple(sorted(found, key=lambda pair: (pair[1].in_force, pair[0].code)))
