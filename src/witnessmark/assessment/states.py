"""One requirement of one vehicle: does it apply, to which parts, what is shown of each, and the one word."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from witnessmark.assessment.authority import answer_to
from witnessmark.assessment.concessions import Granted, concessions_of, covered
from witnessmark.assessment.evidence import Evidence, Shown
from witnessmark.assessment.facts import VEHICLE, Fact, Truth, holds
from witnessmark.assessment.gaps import closure_gap, gap_of_cause, leaf_gap
from witnessmark.assessment.judging import World
from witnessmark.assessment.ledger import vehicle_of
from witnessmark.assessment.model import (
    Applies,
    Axes,
    Cause,
    ConcessionNote,
    Gap,
    PartState,
    RequirementState,
    State,
)
from witnessmark.assessment.references import Target
from witnessmark.assessment.requirement import part_outcome, under_concession, worst
from witnessmark.assessment.reviews import review_of
from witnessmark.assessment.words import day_text, does_not_apply, key_words, no_such_part, stated_as
from witnessmark.language import say
from witnessmark.records.base import Frozen
from witnessmark.records.conditions import Need, NeedAll, in_words
from witnessmark.records.sets import Leaf, Limit, Requirement, Source

__all__ = ["requirement_state"]


@dataclass(frozen=True, slots=True)
class _Place:
    """One part that the requirement is shown for."""

    part: str | None
    title: str
    design: str | None = None


@dataclass(frozen=True, slots=True)
class _Asked:
    """Whether the requirement applies, and to what. `gaps` are about facts and lists."""

    applies: Applies
    places: tuple[_Place, ...]
    gaps: tuple[Gap, ...]
    why: str = ""


def requirement_state(world: World, evidence: Evidence, target: Target, doubts: tuple[Cause, ...]) -> RequirementState:
    """The state of one requirement. `doubts` are causes that hold for all: the chosen sets are not stated."""
    found = world.ledger.workshop.sets.get(target.set_id)
    digest = found.digests.get(target.id) if found else None
    spoiled = world.references.editions[target.set_id].causes_of(target.id, digest)
    records = evidence.of(target)
    requirement = target.requirement or _as_recorded(target.id, records)
    asked = _ask(world, evidence, target, requirement, blocked=bool(spoiled or doubts))
    granted = concessions_of(world.ledger, world.vehicle, target)
    general = [gap_of_cause(_counted(c, bool(records))) for c in (*spoiled, *doubts)] + list(asked.gaps)
    parts: list[PartState] = []
    gaps: list[Gap] = []
    beneath: list[State] = [g.state for g in general]
    final: list[State] = [g.state for g in general]
    covering: set[str] = set()
    for place in asked.places:
        outcome = _one_part(world, evidence, target, requirement, place, granted, len(asked.places), bool(spoiled))
        parts.append(outcome.state)
        beneath.append(outcome.beneath)
        final.append(outcome.state.state)
        gaps += outcome.gaps
        if outcome.state.state is State.UNDER_CONCESSION:
            covering |= outcome.covering
    if spoiled:
        lost = _lost_places(evidence, target, requirement, asked.places)
        for place, stray in lost:
            outcome = _lost_part(world, evidence, target, requirement, place, stray)
            if outcome.beneath is State.NONCONFORMING:
                parts.append(outcome.state)
                beneath.append(outcome.beneath)
                final.append(outcome.beneath)
                gaps += outcome.gaps
    if asked.applies is Applies.NO or (not beneath and not asked.places):
        state = below = State.NOT_APPLICABLE
    else:
        state, below = worst(final), worst(beneath)
    gaps = _beside(gaps, parts)
    notes = tuple(_note(g, g.act.code in covering) for g in granted)
    return RequirementState(
        set_id=target.set_id,
        area=found.area_of.get(target.id, "") if found else "",
        requirement=requirement,
        state=state,
        beneath=below,
        axes=Axes(asked.applies, _is_valid(parts) and not spoiled, below, state is State.UNDER_CONCESSION),
        parts=tuple(parts),
        gaps=tuple(general + gaps),
        concessions=notes,
        why=asked.why,
        authority=answer_to(world.ledger, world.vehicle, target),
        review=review_of(world.ledger, target.set_id, requirement, digest),
    )


def _counted(cause: Cause, recorded: bool) -> Cause:
    """Lapsed only where records exist for it to have counted."""
    if cause.state is State.LAPSED and not recorded:
        return Cause(cause.code, cause.message, cause.remedy, State.NOT_SHOWN, cause.key, cause.group)
    return cause


def _as_recorded(ident: str, records: tuple[Shown, ...]) -> Requirement:
    """A stand-in for a requirement that the edition names and the folder lacks: its leaves as records name them."""
    names = sorted({s.leaf for s in records}) or ["unknown"]
    return Requirement(
        id=ident,
        clause=say("unknown"),
        title=ident,
        statement=say("Its text is no longer in the folder."),
        source=Source(confidence="own"),
        leaves=Frozen({name: _lost_leaf() for name in names}),
        shown=NeedAll(tuple(Need(name) for name in names)),
    )


def _lost_leaf() -> Leaf:
    return Leaf(inspect=say("what the requirement asked when it was recorded; its text is no longer in the folder"))


def _ask(world: World, evidence: Evidence, target: Target, requirement: Requirement, blocked: bool) -> _Asked:
    """Applicability over stated facts, then the parts. What is in doubt is assessed as if it applied."""
    gaps: list[Gap] = []
    applies = Applies.YES
    if requirement.applies is not None:
        truth, facts = holds(requirement.applies, world.facts.fact)
        if truth is Truth.NO and not blocked:
            said = "; ".join(stated_as(world.facts.named(f.key), f.said) for f in facts)
            why = does_not_apply(said, in_words(requirement.applies, world.facts.named))
            return _Asked(Applies.NO, (), (), why)
        if truth is Truth.NOT_STATED:
            applies = Applies.NOT_STATED
            gaps += [g for f in facts for g in _fact_gaps(world, f)]
    if requirement.about == "workshop":
        return _Asked(applies, (_Place(None, say("the workshop")),), tuple(gaps))
    if requirement.each is None:
        if target.requirement is None:
            places = tuple(
                _Place(p, world.parts.title(p))
                for p in sorted({_part_of(s) for s in evidence.of(target)} or {None}, key=lambda p: p or "")
            )
            return _Asked(applies, places, tuple(gaps))
        return _Asked(
            applies,
            (
                _Place(
                    None,
                    world.ledger.workshop.vehicles[world.vehicle].title
                    if world.vehicle in world.ledger.workshop.vehicles
                    else world.vehicle,
                ),
            ),
            tuple(gaps),
        )
    return _ask_each(world, evidence, target, requirement, applies, gaps, blocked)


def _part_of(shown: Shown) -> str | None:
    return None if shown.record.part in (None, VEHICLE) else shown.record.part


def _ask_each(
    world: World,
    evidence: Evidence,
    target: Target,
    requirement: Requirement,
    applies: Applies,
    gaps: list[Gap],
    blocked: bool,
) -> _Asked:
    each = requirement.each
    assert each is not None
    named = evidence.parts_named(target) if requirement.about == "vehicle" else frozenset()
    listed = world.parts.of_kind(each.part, named)
    gaps += [gap_of_cause(c) for c in listed.causes]
    places: list[_Place] = []
    left_out: list[str] = []
    for part in listed.parts:
        if each.where is not None:
            truth, facts = holds(each.where, lambda key, part=part: world.facts.fact(key, part))  # type: ignore[misc]  # bound at once
            if truth is Truth.NO and not blocked:
                said = ", ".join(stated_as(world.facts.named(f.key), f.said) for f in facts)
                left_out.append(f"{world.parts.title(part)}: {said}")
                continue
            if truth is Truth.NOT_STATED:
                gaps += [g for f in facts for g in _fact_gaps(world, f)]
        designs = world.parts.designs(part) if requirement.about == "design" else ()
        if requirement.about == "design" and not designs:
            gaps.append(
                gap_of_cause(
                    Cause(
                        "part.design",
                        say("The design of {part} is not stated.", part=world.parts.title(part)),
                        say("state which design and revision {part} is built to", part=part),
                        State.NOT_SHOWN,
                        f"design:{part}",
                        "desk",
                    ),
                    part=part,
                )
            )
        title = world.parts.title(part)
        if len(designs) > 1:
            # An event that is not sound says otherwise: both designs have to be shown.
            places += [_Place(part, f"{title}, {design}", design) for design in designs]
        else:
            places.append(_Place(part, title, designs[0] if designs else None))
    if not places and not gaps:
        sources, kind = "; ".join(listed.sources), _kind_words(each.part)
        if left_out:
            shown = "; ".join(left_out[:2])
            if len(left_out) > 2:
                shown = say("{parts}; and {n} more", parts=shown, n=len(left_out) - 2)
            why = say(
                "No {kind} comes under it. {parts}. It applies where the {condition}. List: {sources}.",
                kind=kind,
                parts=shown,
                condition=in_words(each.where, world.facts.named) if each.where else say("there is one"),
                sources=sources,
            )
        else:
            why = no_such_part(kind, sources)
        if not blocked:
            return _Asked(Applies.NO, (), (), why)
    return _Asked(applies, tuple(places), tuple(gaps))


def _kind_words(kind: str) -> str:
    """A kind of part as people name it."""
    if kind.startswith("hv-"):
        return say("high-voltage {part}", part=key_words(kind.removeprefix("hv-")))
    return key_words(kind)


def _fact_gaps(world: World, fact: Fact) -> Iterator[Gap]:
    named = world.facts.named(fact.key)
    causes = fact.causes or (
        Cause(
            "fact.not-readable",
            say(
                "The {fact} of {part} is stated as {value}, which cannot be compared.",
                fact=named,
                part=fact.part,
                value=fact.said,
            )
            if fact.part
            else say("The {fact} is stated as {value}, which cannot be compared.", fact=named, value=fact.said),
            say(
                "correct {fact} of {part} with a second person: number and unit, or one of its words",
                fact=fact.key,
                part=fact.part,
            )
            if fact.part
            else say("correct {fact} with a second person: number and unit, or one of its words", fact=fact.key),
            State.NOT_SHOWN,
            f"fact:{fact.part or VEHICLE}:{fact.key}",
            "desk",
        ),
    )
    for cause in causes:
        # A fact that is not stated is not shown, whatever happened to its statement.
        key = cause.key or f"fact:{fact.part or VEHICLE}:{fact.key}"
        yield gap_of_cause(
            Cause(cause.code, cause.message, cause.remedy, State.NOT_SHOWN, key, cause.group), part=fact.part
        )


@dataclass(frozen=True, slots=True)
class _Outcome:
    state: PartState
    beneath: State
    gaps: tuple[Gap, ...]
    covering: frozenset[str]


def _one_part(
    world: World,
    evidence: Evidence,
    target: Target,
    requirement: Requirement,
    place: _Place,
    granted: tuple[Granted, ...],
    count: int,
    spoiled: bool,
) -> _Outcome:
    per_part = target.requirement is not None and requirement.about == "vehicle" and requirement.each is not None
    near = evidence.of_part(target, place.part) if per_part else evidence.of(target)
    mine = [s for s in near if _belongs(s, requirement, place, target)]
    chains = {
        name: evidence.chain(target, requirement, name, leaf, place.part, mine)
        for name, leaf in requirement.leaves.items()
    }
    if spoiled:
        # Leaves that records name and the changed text no longer has: a fail among them does not go away with it.
        lost = sorted({s.leaf for s in mine} - set(requirement.leaves))
        chains |= {name: evidence.chain(target, requirement, name, _lost_leaf(), place.part, mine) for name in lost}
    standings = {name: chain.standing for name, chain in chains.items()}
    only = {name: chain.state.leaf.criterion_names[0] for name, chain in chains.items()}
    outcome = part_outcome(requirement.shown, standings, only)
    by_leaf = covered(granted, place.part, chains)
    with_cover = part_outcome(requirement.shown, standings, only, frozenset(by_leaf))
    state = under_concession(outcome.state, with_cover.state) if by_leaf else outcome.state
    title = place.title if place.part is not None else None
    way = dict.fromkeys([*outcome.failing, *(need.leaf for need in outcome.in_the_way)])
    gaps: list[Gap] = []
    if outcome.state is not State.CONFORMS and not outcome.joint:
        gaps = [leaf_gap(requirement, chains[name], title) for name in requirement.leaves if name in way]
        gaps += [
            leaf_gap(requirement, chains[name], title)
            for name in chains
            if name in way and name not in requirement.leaves
        ]
    elif outcome.joint:
        gaps = [closure_gap(requirement, chains.values(), place.part)]
    part = PartState(
        place.part, place.title, state, tuple(c.state for c in chains.values()), _facts_for(world, requirement, place)
    )
    return _Outcome(part, outcome.state, tuple(gaps), frozenset(c for codes in by_leaf.values() for c in codes))


def _lost_places(
    evidence: Evidence, target: Target, requirement: Requirement, places: tuple[_Place, ...]
) -> list[tuple[_Place, tuple[Shown, ...]]]:
    """Records that the changed text asks of no part any more, by the part or design that they name."""
    strays: dict[str, list[Shown]] = {}
    for shown in evidence.of(target):
        if not any(_belongs(shown, requirement, place, target) for place in places):
            strays.setdefault(shown.record.design or _part_of(shown) or "", []).append(shown)
    return [(_Place(name or None, name or say("the vehicle")), tuple(found)) for name, found in sorted(strays.items())]


def _lost_part(
    world: World, evidence: Evidence, target: Target, requirement: Requirement, place: _Place, stray: tuple[Shown, ...]
) -> _Outcome:
    """What is left of records whose requirement was changed away from them: a fail among them does not go away."""
    names = sorted({s.leaf for s in stray})
    chains = [
        evidence.chain(target, requirement, name, requirement.leaves.get(name) or _lost_leaf(), place.part, stray)
        for name in names
    ]
    failing = [c for c in chains if c.standing.failing]
    state = State.NONCONFORMING if failing else State.LAPSED
    gaps = tuple(leaf_gap(requirement, c, place.title) for c in failing)
    return _Outcome(PartState(place.part, place.title, state, tuple(c.state for c in chains)), state, gaps, frozenset())


def _belongs(shown: Shown, requirement: Requirement, place: _Place, target: Target) -> bool:
    """Whether a record is in the chain of this part."""
    record, vehicle = shown.record, vehicle_of(shown.act)
    if target.requirement is None:
        return _part_of(shown) == place.part
    if requirement.about == "design":
        return record.design is not None and record.design == place.design
    if record.design is not None:
        return False
    if requirement.about == "workshop":
        return vehicle is None
    if vehicle is None:
        return False
    # A record of one part cannot show the whole vehicle, but a fail in it counts.
    return requirement.each is None or record.part == place.part


def _facts_for(world: World, requirement: Requirement, place: _Place) -> dict[str, str]:
    """Facts that limits of this part come from, with their source."""
    keys = sorted(
        {
            c.limit.fact
            for leaf in requirement.leaves.values()
            for c in leaf.criteria.values()
            if isinstance(c.limit, Limit)
        }
    )
    found = {}
    for key in keys:
        fact = (
            world.facts.of_design(key, place.design)
            if requirement.about == "design"
            else world.facts.fact(key, place.part)
        )
        found[key] = fact.said
    return found


def _beside(gaps: list[Gap], parts: list[PartState]) -> list[Gap]:
    """Say in the gap of a part that has no record how many of the others are shown."""
    done = [p.title for p in parts if p.state is State.CONFORMS]
    if len(parts) < 2 or not done:
        return gaps
    count = say("{n} of {total} are shown.", n=len(done), total=len(parts))
    return [
        replace(g, message=f"{count} {g.message}") if g.code == "leaf.no-record" and g.part is not None else g
        for g in gaps
    ]


def _note(granted: Granted, covers: bool) -> ConcessionNote:
    terms = granted.terms
    words = terms.terms
    if granted.causes:
        why = " ".join(c.message for c in granted.causes)
        words = say("{terms} Does not hold: {why}", terms=words, why=why)
    return ConcessionNote(
        granted.act.code, terms.issuer, terms.number, day_text(terms.last_day), words, idle=not covers
    )


def _is_valid(parts: list[PartState]) -> bool:
    """Whether everything that governs is valid."""
    return all(r.valid for part in parts for leaf in part.leaves for r in leaf.records if r.act.code in leaf.governs)
