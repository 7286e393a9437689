"""The assessment of one vehicle, readable top to bottom. Pure: everything from outside arrives in the workshop."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.assessment.crosschecks import fact_problems
from witnessmark.assessment.evidence import Evidence
from witnessmark.assessment.filling import filled_forms
from witnessmark.assessment.gaps import jobs
from witnessmark.assessment.judging import FindMethod, World
from witnessmark.assessment.ledger import Ledger, vehicle_of
from witnessmark.assessment.model import Assessment, Cause, State
from witnessmark.assessment.risks import risk_state
from witnessmark.assessment.states import requirement_state
from witnessmark.assessment.truth import MOST_COMBINATIONS, TooManyCombinations, combinations
from witnessmark.assessment.unused import unused
from witnessmark.language import say, speaking
from witnessmark.methods.registry import method as registered
from witnessmark.problems import Misuse, Place, Problem, Severity, in_order
from witnessmark.records.acts import Concession, Record
from witnessmark.records.sets import RequirementSet
from witnessmark.records.world import Workshop

__all__ = ["assess"]


def assess(workshop: Workshop, vehicle_id: str, *, methods: FindMethod = registered) -> Assessment:
    """The state of every requirement of one vehicle, with reasons, gaps, next jobs and reverse gaps.

    `methods` finds a method by its id. Raises Misuse when nothing is known of the vehicle.
    """
    with speaking(workshop.language):
        return _assess(Ledger(workshop), vehicle_id, methods)


def _assess(ledger: Ledger, vehicle_id: str, methods: FindMethod) -> Assessment:
    workshop = ledger.workshop
    if vehicle_id not in workshop.vehicles and not any(vehicle_of(act) == vehicle_id for act in ledger.acts):
        known = ", ".join(sorted(workshop.vehicles))
        raise Misuse(
            Problem(
                "vehicle.unknown",
                say("there is no vehicle '{vehicle}'", vehicle=vehicle_id),
                say("name one of: {known}", known=known) if known else say("add one"),
            )
        )
    world = World(ledger, vehicle_id, None, methods)
    evidence = Evidence(world)
    doubts = _doubts_about_sets(world)
    problems = list(_set_problems(world)) + list(fact_problems(world))
    too_wide = set()
    for target in world.references.all():
        if target.requirement is not None:
            try:
                combinations(target.requirement.shown)
            except TooManyCombinations:
                too_wide.add((target.set_id, target.id))
                problems.append(
                    Problem(
                        "requirement.combinations",
                        say(
                            "{name}: shown multiplies out to more than {most} combinations",
                            name=f"{target.set_id}:{target.id}",
                            most=MOST_COMBINATIONS,
                        ),
                        say("split the requirement"),
                        _place(world, target.set_id, target.id),
                    )
                )
    if too_wide:
        raise Misuse(*in_order(problems))
    states = tuple(requirement_state(world, evidence, target, doubts) for target in world.references.all())
    problems += evidence.problems
    problems += _record_problems(world)
    return Assessment(
        vehicle=vehicle_id,
        as_of=workshop.as_of,
        requirements=states,
        jobs=jobs(s for s in states if s.state.is_gap),
        unused=unused(world, evidence),
        problems=in_order(problems),
        forms=filled_forms(world, states),
        risks=risk_state(ledger, vehicle_id, states),
    )


def _doubts_about_sets(world: World) -> tuple[Cause, ...]:
    """Why nobody can say which sets the vehicle has to meet; empty when it is stated."""
    return tuple(
        Cause(
            "sets.not-stated",
            say("Which requirement sets the vehicle has to meet is in doubt: {cause}", cause=cause.message),
            cause.remedy,
            State.NOT_SHOWN,
            "fact:vehicle:requirement_sets",
            "desk",
        )
        for cause in world.facts.stated("requirement_sets", None).causes
    )


def _place(world: World, set_id: str, requirement: str) -> Place | None:
    found = world.ledger.workshop.sets.get(set_id)
    return found.places.get(requirement) if found else None


def _set_problems(world: World) -> Iterator[Problem]:
    """A vehicle that names no set, a set that is not there, a set without requirements: never vacuously true."""
    if not world.references.sets:
        yield Problem(
            "vehicle.no-sets",
            say("{vehicle} names no requirement set, so there is nothing to be shown", vehicle=world.vehicle),
            say("state requirement_sets with its source"),
        )
    for set_id in world.references.sets:
        found = world.references.folder[set_id]
        if found is None:
            known = ", ".join(sorted(world.ledger.workshop.sets))
            yield Problem(
                "set.unknown",
                say(
                    "{vehicle} names the set '{set}', which is not in the folder",
                    vehicle=world.vehicle,
                    set=set_id,
                ),
                say("put it into requirements/, or state one of: {known}", known=known),
            )
        elif not found.requirements:
            yield Problem(
                "set.empty",
                say("the set '{set}' has no requirements", set=set_id),
                say("put its files back: an empty set shows nothing"),
            )
        for cause in world.references.editions[set_id].causes:
            yield Problem(cause.code, cause.message, cause.remedy)
        if found is not None:
            yield from _edition_in_time(world, found)


def _edition_in_time(world: World, found: RequirementSet) -> Iterator[Problem]:
    """The edition that the vehicle is built to, against its days: in force, and still to be accepted."""
    file, today = found.file, world.ledger.as_of.date()
    edition = say("{set} {series} series", set=file.short, series=file.series) if file.series else file.short
    if file.in_force is not None and today < file.in_force:
        yield Problem(
            "set.not-in-force",
            say(
                "{vehicle} is judged by {edition}, in force from {day} on",
                vehicle=world.vehicle,
                edition=edition,
                day=file.in_force,
            ),
            say("choose the edition in force, or ask the authority"),
            severity=Severity.NOTE,
        )
    if file.accepted_until is not None and today > file.accepted_until:
        yield Problem(
            "set.no-duty-to-accept",
            say(
                "{vehicle} is judged by {edition}: after {day} nobody has to accept it",
                vehicle=world.vehicle,
                edition=edition,
                day=file.accepted_until,
            ),
            say("ask the authority whether it still does, and file its answer"),
            severity=Severity.NOTE,
        )


def _record_problems(world: World) -> Iterator[Problem]:
    """References that mean nothing, in acts that concern the vehicle."""
    for act, record in world.ledger.of(Record):
        if vehicle_of(act) != world.vehicle or world.ledger.gone(act):
            continue
        for ref in record.shows:
            meant = world.references.meant(ref)
            if not meant or all(
                t.requirement is not None and ref.rpartition("/")[2] not in t.requirement.leaves for t in meant
            ):
                yield Problem(
                    "leaf.unknown",
                    say("{code} shows '{ref}', which no chosen set has", code=act.code, ref=ref),
                    say("correct the record: name requirement/leaf"),
                    act.place,
                )
            elif len(meant) > 1:
                sets = ", ".join(t.set_id for t in meant)
                yield Problem(
                    "reference.ambiguous",
                    say(
                        "{code} shows '{ref}', which stands in several chosen sets: {sets}",
                        code=act.code,
                        ref=ref,
                        sets=sets,
                    ),
                    say("correct the record: {ref}", ref=f"{meant[0].set_id}:{ref}"),
                    act.place,
                )
    for act, concession in world.ledger.of(Concession):
        terms = concession.concession
        if terms.vehicle == world.vehicle and not any(
            t.id == terms.requirement.rpartition(":")[2] for t in world.references.all()
        ):
            yield Problem(
                "concession.requirement",
                say(
                    "the concession {code} names '{requirement}', which no chosen set has",
                    code=act.code,
                    requirement=terms.requirement,
                ),
                say("correct it"),
                act.place,
            )
