"""Which facts a requirement asks, and by which way: its conditions, its limits, the methods that could show it.

What is in force for a vehicle hangs on the sets that are chosen for it: a fact that none of them needs is not asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from witnessmark.methods.base import Method
from witnessmark.methods.registry import method, method_ids
from witnessmark.records.conditions import facts_of
from witnessmark.records.printed import printed_facts
from witnessmark.records.sets import FactDefinition, Leaf, Limit, Requirement

__all__ = [
    "CHECKED",
    "OWN",
    "all_methods",
    "always_calculated_with",
    "asked_by",
    "conditions_ask",
    "limits_ask",
    "methods_for",
    "needed_facts",
]

OWN = frozenset({"vin", "requirement_sets", "category"})
"""Facts that the tool itself uses, whatever the sets ask."""

CHECKED = frozenset({"cells_in_series", "cell_voltage_max", "working_voltage", "nominal_voltage"})
"""Facts that are held against each other and against what was measured."""


def all_methods() -> tuple[Method, ...]:
    """Every method that is known now, ours and those of the plug-ins that the workshop names, by id."""
    return tuple(found for found in map(method, method_ids()) if found is not None)


def methods_for(leaf: Leaf, known: Iterable[Method]) -> tuple[Method, ...]:
    """The methods that may show a measured leaf: those it lists, else all that yield its measurand."""
    if leaf.measure is None:
        return ()
    return tuple(m for m in known if m.measurand(leaf.measure) and (not leaf.methods or m.id in leaf.methods))


def conditions_ask(requirement: Requirement) -> frozenset[str]:
    """Facts on which hangs whether the requirement applies, and to which parts."""
    where = requirement.each.where if requirement.each else None
    return frozenset({*facts_of(requirement.applies), *facts_of(where)})


def limits_ask(requirement: Requirement) -> frozenset[str]:
    """Facts that are limits of its criteria."""
    criteria = (c for leaf in requirement.leaves.values() for c in leaf.criteria.values())
    return frozenset(c.limit.fact for c in criteria if isinstance(c.limit, Limit))


def always_calculated_with(requirement: Requirement, known: Iterable[Method]) -> frozenset[str]:
    """Facts that every method which may show one of its leaves needs."""
    methods = tuple(known)
    found: set[str] = set()
    for leaf in requirement.leaves.values():
        wanted = [{spec.name for spec in m.facts if spec.required} for m in methods_for(leaf, methods)]
        found |= set.intersection(*wanted) if wanted else set()
    return frozenset(found)


def asked_by(requirement: Requirement, known: Iterable[Method]) -> frozenset[str]:
    """Every fact that the requirement can need: for its conditions, its limits, or a method that could show it."""
    methods = tuple(known)
    calculated = {
        spec.name for leaf in requirement.leaves.values() for m in methods_for(leaf, methods) for spec in m.facts
    }
    return conditions_ask(requirement) | limits_ask(requirement) | calculated


def needed_facts(
    requirements: Iterable[Requirement], facts: Mapping[str, FactDefinition], known: Iterable[Method]
) -> Mapping[str, tuple[Requirement, ...]]:
    """Each defined fact that the requirements need, in the order of its definition, with those that need it.

    The tool's own facts are among them, those that the technical file prints, and those that check a fact that is
    needed; no requirement hangs on these.
    """
    methods = tuple(known)
    found: dict[str, list[Requirement]] = {}
    for requirement in requirements:
        for key in asked_by(requirement, methods):
            found.setdefault(key, []).append(requirement)
    for key in (*OWN, *printed_facts(facts), *(CHECKED if CHECKED & set(found) else ())):
        found.setdefault(key, [])
    return {key: tuple(found[key]) for key in facts if key in found}
