"""Whether a record is sound (A4 to A6, and its requirement as sealed) and current (B1, B2): one small rule each.

What holds for every sort of act (A1, A2, A3, A7) stands in `ledger`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from witnessmark.assessment.facts import VEHICLE
from witnessmark.assessment.instruments import instrument_causes
from witnessmark.assessment.judging import Asked, World
from witnessmark.assessment.ledger import seconds, vehicle_of
from witnessmark.assessment.model import Cause, State
from witnessmark.assessment.people import authorised, second_person, unknown_people
from witnessmark.assessment.words import moment
from witnessmark.language import Words, declared, say
from witnessmark.quantities import parse_unit
from witnessmark.records.acts import CarryOver, DesignRevision, Event, Record
from witnessmark.records.sets import LeafKind
from witnessmark.records.world import Act

__all__ = ["CURRENT_RULES", "SOUND_RULES", "Case", "carried_against", "current_causes", "rests_on", "sound_causes"]

PAPER = frozenset({LeafKind.DOCUMENT})
"""Kinds that, shown for the vehicle as a whole, do not rest on the state of every part of it."""

OPENED = "opened"
"""Opening one part says nothing against what was shown of the vehicle as a whole; every other event does."""


@dataclass(frozen=True, slots=True)
class Case:
    """One record as it answers one leaf."""

    world: World
    act: Act
    record: Record
    asked: Asked


def rests_on(case: Case) -> frozenset[str]:
    """The members of the part that was tested, as any statement or event ever named them."""
    if case.record.design is not None or vehicle_of(case.act) is None:
        return frozenset()
    part = None if case.record.part == VEHICLE else case.record.part
    return case.world.parts.members(part, whole=case.asked.leaf.kind not in PAPER)


# A: sound.


def _vin(case: Case) -> Iterator[Cause]:
    """A4: the vehicle."""
    seal = case.act.body.seal
    if seal is None or seal.vehicle is None or seal.vehicle.vin is None:
        return
    vin, _ = case.world.facts.vins()
    if vin != seal.vehicle.vin:
        yield Cause(
            "vehicle.vin",
            say(
                "{code} was sealed for VIN {sealed}; the vehicle's VIN is stated as {vin}.",
                code=case.act.code,
                sealed=seal.vehicle.vin,
                vin=vin,
            )
            if vin
            else say(
                "{code} was sealed for VIN {sealed}; the vehicle's VIN is not stated.",
                code=case.act.code,
                sealed=seal.vehicle.vin,
            ),
            say("correct the statement of the VIN, or the record"),
            State.NOT_SHOWN,
            "vin",
            "desk",
        )


def _members(case: Case) -> Iterator[Cause]:
    """A4: what was built in when performed, by events and lists, is what the seal says."""
    seal = case.act.body.seal
    if seal is None or case.record.design is not None or seal.vehicle is None:
        return
    at = seconds(case.record.performed)
    parts = case.world.parts
    part = None if case.record.part == VEHICLE else case.record.part
    members = parts.members(part)
    for sound_only in (True, False):
        built = parts.serials(members, at, sound_only=sound_only)
        if part is None:
            # For the vehicle as a whole only those count that the seal names.
            built = {m: s for m, s in built.items() if m in seal.members}
        unlike = sorted(m for m in {*built, *seal.members} if built.get(m) != seal.members.get(m))
        if unlike:
            one = unlike[0]
            yield Cause(
                "part.serial",
                say(
                    "{code} was sealed for {part} with serial {sealed}; by lists and events {serial} was "
                    "built in on {day}.",
                    code=case.act.code,
                    part=one,
                    sealed=seal.members.get(one) or say("none"),
                    serial=built.get(one) or say("none"),
                    day=moment(case.record.performed),
                ),
                say("correct the list, the event or the record, whichever is wrong"),
                State.NOT_SHOWN,
                f"serial:{one}",
                "desk",
            )
            return


def _design_revision(case: Case) -> Iterator[Cause]:
    """A4: the revision that a record of a design is about, or whose channel map its log uses, is there and sound."""
    log = case.record.log
    for stated in dict.fromkeys((case.record.design, log.design if log is not None else None)):
        if stated is not None:
            yield from _revision(case, stated)


def _revision(case: Case, stated: str) -> Iterator[Cause]:
    name, _, revision = stated.partition("/")
    ledger = case.world.ledger
    found = [
        act
        for act, body in ledger.of(DesignRevision)
        if (body.design, body.revision) == (name, revision) and not ledger.gone(act)
    ]
    if not found:
        yield Cause(
            "design.unknown",
            say("There is no revision {revision} of the design {design}.", revision=revision, design=name),
            say("record what {design} is, or correct the record", design=stated),
            State.NOT_SHOWN,
            f"design:{stated}",
            "desk",
        )
    for act in found:
        if not ledger.sound(act):
            why = ledger.causes(act)[0]
            yield Cause(
                "design.not-sound",
                say(
                    "The revision {design} ({code}) does not count: {why}",
                    design=stated,
                    code=act.code,
                    why=why.message,
                ),
                why.remedy,
                ledger.last_state(act),
                f"design:{stated}",
                "desk",
            )


def _part_fits(case: Case) -> Iterator[Cause]:
    """A4: a requirement about the whole vehicle is not shown on one part."""
    requirement = case.asked.requirement
    if requirement.about == "vehicle" and requirement.each is None and case.record.part not in (None, VEHICLE):
        yield Cause(
            "part.not-asked",
            say(
                "{code} names the part {part}, but the requirement is about the vehicle as a whole.",
                code=case.act.code,
                part=case.record.part,
            ),
            say("correct the record: leave part out"),
            State.NOT_SHOWN,
            "",
            "desk",
        )


def _requirement_as_sealed(case: Case) -> Iterator[Cause]:
    """A2 for the requirement: its text is the one in the governing edition."""
    asked, world = case.asked, case.world
    of_vehicle = vehicle_of(case.act) is not None
    references = world.scope(case.record, of_vehicle)
    meant = references.meant(asked.ref)
    in_chosen = [t for t in world.references.meant(asked.ref) if t.id == asked.requirement.id]
    if len(in_chosen) > 1:
        sets = ", ".join(t.set_id for t in in_chosen)
        yield Cause(
            "reference.ambiguous",
            say("{ref} stands in several chosen sets: {sets}.", ref=asked.ref, sets=sets),
            say(
                "correct the record: write the set before it, such as {ref}",
                ref=f"{in_chosen[0].set_id}:{asked.ref}",
            ),
            State.NOT_SHOWN,
            "",
            "desk",
        )
    for target in meant or ():
        if asked.set is None or target.set_id == asked.set.id:
            folder = references.folder[target.set_id]
            digest = folder.digests.get(target.id) if folder else None
            yield from references.editions[target.set_id].causes_of(target.id, digest)


def _rule_as_sealed(case: Case) -> Iterator[Cause]:
    """A4: judged by the decision rule that was in force when performed."""
    if case.asked.leaf.kind is LeafKind.MEASURE:
        yield from case.world.rule(case.record, case.asked).causes


def _instruments(case: Case) -> Iterator[Cause]:
    """A5."""
    method = case.world.methods(case.record.method) if case.record.method else None
    if method is not None and case.asked.leaf.kind is LeafKind.MEASURE:
        yield from instrument_causes(case.world.ledger, case.record, method)


def _tester(case: Case) -> Iterator[Cause]:
    """A6: authorised then."""
    record = case.record
    work = {case.asked.leaf.kind.value}
    if record.method and case.asked.leaf.kind is LeafKind.MEASURE:
        work.add(record.method.partition("/")[0])
    cause = authorised(case.world.ledger, record.by["tester"], frozenset(work), record.performed.date())
    if cause is not None:
        yield cause


def _persons(case: Case) -> Iterator[Cause]:
    """A6: people are known, and a second one is there where one is needed."""
    yield from unknown_people(case.world.ledger, case.record, case.asked.claim.by)
    if case.asked.leaf.second_person == "yes":
        cause = second_person(case.record)
        if cause is not None:
            yield cause


def _conditions(case: Case) -> Iterator[Cause]:
    """A6: the conditions of leaf and method held.

    A condition that is one of the method's own readings, such as the form of a calculation, is taken from the reading:
    the result was computed from that. What the record says beside it cannot help, and hurts when it says otherwise.
    """
    record, leaf = case.record, case.asked.leaf
    wanted = dict(leaf.conditions)
    method = case.world.methods(record.method) if record.method else None
    words: frozenset[str] = frozenset()
    if method is not None and leaf.kind is LeafKind.MEASURE:
        words = frozenset(spec.name for spec in method.inputs if spec.choices)
        for spec in method.conditions:
            if spec.required:
                wanted.setdefault(spec.name, spec.must)
    for name, must in wanted.items():
        stated = record.conditions.get(name)
        if name in words:
            read = record.readings.get(name)
            agrees = stated is None or stated.casefold() == must.casefold()
            stated = stated if not agrees else read if isinstance(read, str) else None
        if stated is None:
            yield Cause(
                "condition.not-stated",
                say("The record does not say the condition {name}, which has to be {must}.", name=name, must=must)
                if must
                else say("The record does not say the condition {name}.", name=name),
                say("correct the record with {name}, or do it again", name=name),
                State.NOT_SHOWN,
            )
        elif must and stated.casefold() != must.casefold():
            yield Cause(
                "condition.not-met",
                say("{name} was {stated}; it has to be {must}.", name=name, stated=stated, must=must),
                say("do it again with {name}: {must}", name=name, must=must),
                State.NOT_SHOWN,
            )


def _after(case: Case) -> Iterator[Cause]:
    """A6: long enough after the newest record of another leaf."""
    after = case.asked.leaf.after
    if after is None:
        return
    if not after.wait.unit.compatible(parse_unit("s")):
        yield Cause(
            "after.wait",
            say("How long to wait after {leaf} is no time: {wait}.", leaf=after.leaf, wait=after.wait),
            say("mend the requirement"),
            State.NOT_SHOWN,
        )
        return
    wait = int(after.wait.si)
    ledger, record = case.world.ledger, case.record
    set_id, requirement = case.asked.set.id if case.asked.set else None, case.asked.requirement.id
    refs = {f"{requirement}/{after.leaf}", f"{set_id}:{requirement}/{after.leaf}"}
    others = [
        (seconds(other.performed), ledger.sound(act))
        for act, other in ledger.of(Record)
        if refs & set(other.shows)
        and (other.part, other.design, vehicle_of(act)) == (record.part, record.design, vehicle_of(case.act))
        and not ledger.gone(act)
    ]
    if not any(sound for _, sound in others):
        yield Cause(
            "after.missing",
            say("It counts only after {leaf}, of which there is no sound record.", leaf=after.leaf),
            say("do {leaf} first, then this again", leaf=after.leaf),
            State.NOT_SHOWN,
        )
    elif seconds(record.performed) < max(at for at, _ in others) + wait:
        yield Cause(
            "after.too-early",
            say("It counts only {wait} after the newest record of {leaf}.", wait=after.wait, leaf=after.leaf),
            say("do it again {wait} after {leaf}", wait=after.wait, leaf=after.leaf),
            State.NOT_SHOWN,
        )


# B: current.


def _events(case: Case) -> Iterator[Cause]:
    """B1: nothing happened to a member at or after the time, sound or not; but for what a carry-over names."""
    members = rests_on(case)
    record = case.record
    own = case.world.parts.members(None, whole=False) if record.part in (None, VEHICLE) else members
    for act, event in sorted(case.world.parts.events, key=lambda p: (p[1].event_at, p[0].code)):
        if event.part not in members or event.event_at < record.performed:
            continue
        if event.event == OPENED and event.part not in own:
            continue
        if _carried(case, event=act.code):
            continue
        title = case.world.parts.title(event.part if event.part != VEHICLE else None)
        yield Cause(
            f"event.{event.event}",
            say(
                "Done on {day}. On {then} {part}: {what} ({code}), so it says nothing about what is there now.",
                day=moment(record.performed),
                then=moment(event.event_at),
                part=title,
                what=_done(event),
                code=act.code,
            ),
            say(
                "do it again, or carry it over with a second person ({command})",
                command=f"witnessmark record --carry-over {case.act.code}",
            ),
            State.LAPSED,
            f"event:{act.code}:{case.record.part or VEHICLE}",
        )


_EVENT = Words(
    {
        "changed": declared("it was changed"),
        "fitted": declared("it was fitted"),
        "opened": declared("it was opened"),
        "removed": declared("it was removed"),
        "software": declared("its software was changed"),
    }
)


def _done(event: Event) -> str:
    """What happened to the part."""
    if event.event != "replaced":
        return _EVENT[event.event]
    old = event.removed.serial if event.removed else None
    new = event.fitted.serial if event.fitted else None
    if old and new:
        return say("{old} was replaced by {new}", old=old, new=new)
    if old:
        return say("{old} was replaced", old=old)
    return say("it was replaced by {new}", new=new) if new else say("it was replaced")


def _against(case: Case) -> Iterator[Cause]:
    """B2: leaf, edition, decision rule and fact values as when sealed."""
    seal = case.act.body.seal
    now = case.world.against_now(case.act, case.record)
    if seal is not None and seal.against is not None and _bare(seal.against) == _bare(now):
        return
    if _carried(case, against=now):
        return
    yield Cause(
        "against.changed",
        say(
            "What {code} is judged against has changed since it was sealed: the requirement, its "
            "edition, the decision rule or a fact.",
            code=case.act.code,
        ),
        say(
            "do it again, or carry it over with a second person ({command})",
            command=f"witnessmark record --carry-over {case.act.code}",
        ),
        State.LAPSED,
        f"against:{case.act.code}",
    )


def _bare(digest: str) -> str:
    return digest.removeprefix("sha256:")


def _carried(case: Case, event: str | None = None, against: str | None = None) -> bool:
    """A sound carry-over names the record and this cause."""
    ledger = case.world.ledger
    return any(
        isinstance(act.body, CarryOver)
        and ledger.sound(act)
        and (
            act.body.event == event
            if event
            else act.body.against is not None and _bare(act.body.against) == _bare(against or "")
        )
        for act in ledger.carry_overs.get(case.act.code, ())
    )


Rule = Callable[[Case], Iterator[Cause]]
SOUND_RULES: tuple[Rule, ...] = (
    _vin,
    _members,
    _design_revision,
    _part_fits,
    _requirement_as_sealed,
    _rule_as_sealed,
    _instruments,
    _tester,
    _persons,
    _conditions,
    _after,
)
CURRENT_RULES: tuple[Rule, ...] = (_events, _against)


def sound_causes(case: Case) -> tuple[Cause, ...]:
    """What speaks against the record as evidence, beyond what `ledger` says of every act."""
    return tuple(cause for rule in SOUND_RULES for cause in rule(case))


def current_causes(case: Case) -> tuple[Cause, ...]:
    """What has moved on since."""
    return tuple(cause for rule in CURRENT_RULES for cause in rule(case))


def carried_against(case: Case) -> bool:
    """Whether a sound carry-over says what the record is judged against now."""
    return _carried(case, against=case.world.against_now(case.act, case.record))
