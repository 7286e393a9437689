"""What was stated about the vehicle and its parts, for printing: every statement with source, date and person."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from witnessmark.assessment.judging import World
from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import Assessment
from witnessmark.language import Words, declared, say
from witnessmark.methods.registry import method
from witnessmark.quantities.format import written
from witnessmark.records.acts import DesignRevision, Event, Policy, Statement, Withdrawal
from witnessmark.records.world import Act, Workshop

from .words import plain_name

__all__ = [
    "HAPPENED",
    "IN_FORCE",
    "PartLine",
    "StatedFact",
    "facts",
    "parts",
    "policies",
    "withdrawn_codes",
    "world_of",
]


IN_FORCE = declared("in force")
HAPPENED = Words(
    {
        "fitted": declared("fitted"),
        "removed": declared("removed"),
        "replaced": declared("replaced"),
        "opened": declared("opened"),
        "changed": declared("changed"),
        "software": declared("software"),
    }
)


@dataclass(frozen=True, slots=True)
class StatedFact:
    """One statement of one fact. `standing` says what became of it: IN_FORCE, or in words why it is not."""

    key: str
    part: str | None
    value: str
    source: str
    at: datetime
    by: str
    code: str
    standing: str
    in_doubt: bool = False
    """Whether nothing is in force of what it states, for the reason in `standing`."""

    @property
    def printed(self) -> str:
        """The value as pages print it: a number has the decimal mark of the language."""
        return written(self.value)


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
    return value if isinstance(value, str) else ", ".join(value) or say("none")


def world_of(workshop: Workshop, assessment: Assessment) -> World:
    """The facts and parts as assessment takes them: what governs here governs there."""
    return World(Ledger(workshop), assessment.vehicle, None, method)


def facts(workshop: Workshop, assessment: Assessment, world: World) -> tuple[StatedFact, ...]:
    """Every fact ever stated for this vehicle, by key and then in order of time, each with what became of it."""
    lines: list[StatedFact] = []
    taken_back = withdrawn_codes(workshop)
    for act in _of_vehicle(workshop, assessment):
        body = act.body
        if isinstance(body, Statement):
            at, part, by = body.stated, body.part, body.by
        elif isinstance(body, Event) and body.facts:
            at, part, by = body.event_at, None if body.part == "vehicle" else body.part, body.by
        else:
            continue
        for key, fact in body.facts.items():
            governs, doubt = world.facts.stated(key, part), False
            if governs.code == act.code and governs.value is not None:
                standing = IN_FORCE
            elif act.code in taken_back:
                other = taken_back[act.code]
                standing = (
                    say("withdrawn by {act}", act=other.code)
                    if isinstance(other.body, Withdrawal)
                    else say("corrected by {act}", act=other.code)
                )
            elif governs.value is None:
                standing = say("not in force: {why}", why=" ".join(cause.message for cause in governs.causes))
                doubt = True
            else:
                standing = say("replaced by a later one")
            lines.append(StatedFact(key, part, _text(fact.value), fact.source, at, by, act.code, standing, doubt))
    return tuple(sorted(lines, key=lambda f: (f.part or "", f.key, f.at, f.code)))


def parts(workshop: Workshop, assessment: Assessment, world: World) -> tuple[tuple[PartLine, ...], tuple[str, ...]]:
    """The parts as built now, in order of kind and statement; and the kinds that were stated to be none."""
    lines: dict[str, PartLine] = {}
    empty: list[str] = []
    taken_back = withdrawn_codes(workshop)
    acts = [a for a in _of_vehicle(workshop, assessment) if a.code not in taken_back]
    for act in sorted(acts, key=lambda a: (a.body.at is None, a.body.at or assessment.as_of, a.code)):
        body = act.body
        if isinstance(body, Statement):
            for kind, listed in body.parts.items():
                if not listed.list:
                    empty.append(f"{plain_name(kind)}: {listed.source}")
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
    built = [_as_built(line, world) for line in lines.values()]
    return (*built, *_from_designs(workshop, built)), tuple(empty)


def _from_designs(workshop: Workshop, hosts: list[PartLine]) -> tuple[PartLine, ...]:
    """The parts that a fitted component brings with it, named as assessment names them: HOST-PART."""
    designs = {
        f"{a.body.design}/{a.body.revision}": (a, a.body) for a in workshop.acts if isinstance(a.body, DesignRevision)
    }
    out = []
    for host in hosts:
        if host.out or host.design not in designs:
            continue
        act, body = designs[host.design]
        for name, entry in sorted(body.parts.items()):
            if entry.kind is not None:
                out.append(
                    PartLine(
                        f"{host.id}-{name}",
                        entry.kind,
                        entry.title,
                        entry.serial or "",
                        entry.design or "",
                        host.id,
                        (),
                        say("design {design}", design=host.design),
                        act.code,
                    )
                )
    return tuple(out)


def _as_built(line: PartLine, world: World) -> PartLine:
    """The line with the serial and design that assessment takes for what is built in now."""
    built = world.parts.now(line.id)
    return replace(line, serial=built.serial or "", design=built.design or "", out="" if built.present else "removed")


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
            event.why or HAPPENED[event.event],
            act.code,
        )


def policies(workshop: Workshop) -> tuple[tuple[Act, Policy], ...]:
    """The workshop's policy entries in order of the day they came into force."""
    found = [(act, act.body) for act in workshop.acts if isinstance(act.body, Policy)]
    return tuple(sorted(found, key=lambda pair: (pair[1].in_force, pair[0].code)))
