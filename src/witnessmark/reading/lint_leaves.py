"""Faults of leaves: limits that fit no result, methods that cannot show them, ways in which nothing is shown."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from witnessmark.assessment.needs import methods_for
from witnessmark.methods.base import Method
from witnessmark.problems import Problem, Severity
from witnessmark.quantities import QuantityError, parse_quantity, parse_unit
from witnessmark.records.sets import DecisionRule, FactDefinition, Leaf, Limit, Requirement

from .lint_conditions import unit_of, unknown_fact
from .lint_places import Spot
from .models import nearest

__all__ = ["cap_faults", "leaf_faults"]

Facts = Mapping[str, FactDefinition]


def leaf_faults(
    requirement: Requirement, spot: Spot, facts: Facts | None, methods: Sequence[Method]
) -> Iterator[Problem]:
    """Everything wrong with the leaves of one requirement. `facts` is None where they could not be read."""
    yielded = {spec.name for m in methods for spec in m.measurands}
    yield from cap_faults(requirement.decision_rule, spot)
    for name, leaf in requirement.leaves.items():
        below = spot.below("leaves", name)
        if leaf.after is not None and not leaf.after.wait.unit.compatible(parse_unit("s")):
            yield Problem(
                "set.after-wait",
                f"how long '{name}' waits is no time: {leaf.after.wait}",
                "write it in s, min, h or d, such as wait: 24 h",
                below.place("after", "wait"),
            )
        yield from cap_faults(leaf.decision_rule, below)
        if leaf.measure is None:
            continue
        if leaf.measure not in yielded:
            near = nearest(leaf.measure, yielded, cutoff=0.7)
            listed = "witnessmark list methods shows what can be measured; a method of your own comes as a plug-in"
            yield Problem(
                "set.unknown-measurand",
                f"no method that is known yields '{leaf.measure}', so '{name}' can never be shown",
                f"did you mean '{near}'? {listed}" if near else listed,
                below.place("measure"),
            )
            continue
        yield from _prescribed(name, leaf, below, methods)
        usable = methods_for(leaf, methods)
        yield from _limits(requirement, name, leaf, below, facts, usable)
        yield from _stated_conditions(name, leaf, below, usable)
        if facts is not None:
            yield from _wanted_facts(requirement, name, leaf, below, facts, usable)
    yield from _circles(requirement, spot)


def cap_faults(rule: DecisionRule | None, spot: Spot) -> Iterator[Problem]:
    """A cap on U that is no ratio: such a rule would be taken as guarded without a word."""
    if rule is None or rule.cap is None:
        return
    try:
        cap = parse_quantity(rule.cap, bare=True)
        readable = cap.si_exact > 0 and cap.unit.compatible(parse_unit("%")) and not cap.bound
    except QuantityError:
        readable = False
    if not readable:
        yield Problem(
            "set.cap",
            f"the cap '{rule.cap}' is no ratio of U to the limit, so the rule would be guarded all the same",
            "write it in per cent, such as cap: 5 %",
            spot.place("decision_rule", "cap"),
        )


# ---- what is measured ---------------------------------------------------------------------------------------


def _prescribed(name: str, leaf: Leaf, below: Spot, methods: Sequence[Method]) -> Iterator[Problem]:
    by_id = {m.id: m for m in methods}
    fitting = sorted(m.id for m in methods if m.measurand(leaf.measure or ""))
    for number, ident in enumerate(leaf.methods):
        place = below.place("methods", number)
        if ident not in by_id:
            near = nearest(ident, by_id)
            yield Problem(
                "set.unknown-method",
                f"there is no method '{ident}'",
                f"did you mean '{near}'?" if near else f"{leaf.measure} is yielded by {', '.join(fitting)}",
                place,
            )
        elif ident not in fitting:
            yield Problem(
                "set.method-measurand",
                f"{ident} does not yield '{leaf.measure}', so it cannot show '{name}'",
                f"{leaf.measure} is yielded by {', '.join(fitting)}",
                place,
            )


def _limits(
    requirement: Requirement, name: str, leaf: Leaf, below: Spot, facts: Facts | None, usable: Sequence[Method]
) -> Iterator[Problem]:
    units = [m.unit_of(leaf.measure or "") for m in usable]
    shown = " or ".join(dict.fromkeys("a bare number" if u.symbol == "1" else u.symbol for u in units))
    for criterion_name, criterion in leaf.criteria.items():
        limit = criterion.limit
        steps = ("criteria", criterion_name, criterion.how)
        ref = f"{name}/{criterion_name}"
        if isinstance(limit, Limit):
            if facts is not None:
                yield from _limit_fact(requirement, ref, limit, below.below(*steps), facts, leaf, usable)
            continue
        if limit.bound or limit.U is not None:
            yield Problem(
                "set.limit-form", f"the limit of '{ref}' is no plain number: {limit}", "write one number with its unit",
                below.place(*steps),
            )  # fmt: skip
        elif units and not any(limit.unit.compatible(u) for u in units):
            without = limit.unit.symbol == "1"
            yield Problem(
                "set.limit-unit",
                f"the limit of '{ref}' " + ("has no unit" if without else f"is in {limit.unit}")
                + f", and {leaf.measure} comes out in {shown}",
                f"write the limit in {shown}",
                below.place(*steps),
            )  # fmt: skip


def _limit_fact(
    requirement: Requirement,
    ref: str,
    limit: Limit,
    at: Spot,
    facts: Facts,
    leaf: Leaf,
    usable: Sequence[Method],
) -> Iterator[Problem]:
    fact, place = facts.get(limit.fact), at.place("fact")
    if fact is None:
        yield unknown_fact(requirement.id, limit.fact, facts, place)
        return
    unit = unit_of(fact)
    if fact.unit is None or fact.several == "yes":
        yield Problem(
            "set.limit-fact",
            f"the limit of '{ref}' is the fact '{limit.fact}', which is not one quantity",
            "name a fact that has a unit, or write the limit as a number with its unit",
            place,
        )
    elif unit is not None and usable and not any(unit.compatible(m.unit_of(leaf.measure or "")) for m in usable):
        comes = usable[0].unit_of(leaf.measure or "")
        yield Problem(
            "set.limit-unit",
            f"the limit of '{ref}' is the fact '{limit.fact}', which is stated in {unit}, "
            f"and {leaf.measure} comes out in {comes}",
            f"name a fact that is stated in {comes}",
            place,
        )
    elif said := _never_stated(requirement, fact):
        yield Problem(
            "set.limit-fact",
            f"the limit of '{ref}' is the fact '{limit.fact}' of each {fact.of}, and {said}",
            f"ask it of the part: each: {{part: {fact.of}}}; or name a fact of the vehicle",
            place,
        )


def _never_stated(requirement: Requirement, fact: FactDefinition) -> str:
    """Why the fact of a part can never be stated where the requirement is shown; '' where it can."""
    kind = requirement.each.part if requirement.each else None
    if fact.of is None or requirement.about == "design" or fact.of == kind:
        return ""
    where = f"each {kind}" if kind else "the workshop" if requirement.about == "workshop" else "the vehicle as a whole"
    return f"this is shown for {where}, which never has it"


def _stated_conditions(name: str, leaf: Leaf, below: Spot, usable: Sequence[Method]) -> Iterator[Problem]:
    """Conditions of the record that the method demands otherwise, or calls by another name."""
    known = {spec.name for m in usable for spec in m.conditions}
    for key, must in leaf.conditions.items():
        against = [
            (m.id, spec.must)
            for m in usable
            for spec in m.conditions
            if spec.name == key and spec.must and spec.must.casefold() != must.casefold()
        ]
        if usable and len(against) == len(usable):
            method, theirs = against[0]
            yield Problem(
                "set.condition-method",
                f"'{name}' wants {key}: {must}, and {method} wants {key}: {theirs}: no record can meet both",
                f"write {key}: {theirs}, or take it out: the method asks it already",
                below.place("conditions", key),
            )
        near = nearest(key, known, cutoff=0.8)
        if key not in known and near is not None:
            yield Problem(
                "set.condition-name",
                f"no method for '{name}' knows the condition '{key}', so it is asked beside theirs",
                f"did you mean '{near}'?",
                below.place("conditions", key, key=True),
                Severity.NOTE,
            )


def _wanted_facts(
    requirement: Requirement, name: str, leaf: Leaf, below: Spot, facts: Facts, usable: Sequence[Method]
) -> Iterator[Problem]:
    """A measurement that no method can calculate, since each needs a fact that nobody can state here."""
    reasons: list[str] = []
    for found in usable:
        reason = ""
        for spec in found.facts:
            fact = facts.get(spec.name)
            if not spec.required or reason:
                continue
            if fact is None:
                reason = f"{found.id} needs the fact '{spec.name}', which requirements/facts.yaml does not define"
            elif said := _never_stated(requirement, fact):
                reason = f"{found.id} needs the fact '{spec.name}' of each {fact.of}, and {said}"
            elif spec.unit and ((unit := unit_of(fact)) is None or not unit.compatible(parse_unit(spec.unit))):
                reason = f"{found.id} needs the fact '{spec.name}' in {spec.unit}, and it is asked otherwise"
        if not reason:
            return
        reasons.append(reason)
    if reasons:
        more = f" (and so on for {len(reasons) - 1} more)" if len(reasons) > 1 else ""
        yield Problem(
            "set.method-fact",
            f"'{name}' can never be calculated: {reasons[0]}{more}",
            "define the fact, or show it for the part that has it",
            below.place("measure"),
        )


# ---- which comes after which --------------------------------------------------------------------------------


def _circles(requirement: Requirement, spot: Spot) -> Iterator[Problem]:
    told: set[str] = set()
    for name in requirement.leaves:
        path = [name]
        while (after := requirement.leaves[path[-1]].after) is not None and after.leaf not in path:
            path.append(after.leaf)
        if after is None or after.leaf != name or name in told:
            continue
        told |= set(path)
        words = f"'{name}' waits for itself"
        if len(path) > 1:
            words = " and ".join(
                f"'{one}' waits for '{other}'" for one, other in zip(path, [*path[1:], name], strict=True)
            )
        yield Problem(
            "set.after-circle",
            f"{words}: none can ever be the later one",
            "take 'after' out of the one that is done first",
            spot.place("leaves", name, "after", "leaf"),
        )
