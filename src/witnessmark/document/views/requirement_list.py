"""Requirements in a line each: to what they apply, and what shows them, in the words of the facts and leaves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from witnessmark.document.views.words import leaf_asks, plain_name
from witnessmark.language import say
from witnessmark.records.conditions import in_words
from witnessmark.records.sets import FactDefinition, Requirement, RequirementSet

__all__ = ["Listed", "applies_when", "listed"]


@dataclass(frozen=True, slots=True)
class Listed:
    """One requirement as a list has it. `leaves`: name, kind and what is asked of each."""

    set_id: str
    clause: str
    id: str
    title: str
    applies: str
    leaves: tuple[tuple[str, str, str], ...]


def applies_when(requirement: Requirement, facts: Mapping[str, FactDefinition]) -> str:
    """To what the requirement applies: the parts, and what has to be so of the vehicle and of the part."""

    def named(key: str) -> str:
        return facts[key].title if key in facts else plain_name(key)

    each = requirement.each
    if each is not None:
        part = plain_name(each.part)
        words = (
            say("the design of each {part}", part=part)
            if requirement.about == "design"
            else say("each {part}", part=part)
        )
        if each.where is not None:
            words = say("{part} where the {condition}", part=words, condition=in_words(each.where, named))
    else:
        words = say("the workshop") if requirement.about == "workshop" else say("the vehicle")
    if requirement.applies is None:
        return words
    return say("{what}; only if the {condition}", what=words, condition=in_words(requirement.applies, named))


def listed(one: RequirementSet, facts: Mapping[str, FactDefinition]) -> tuple[Listed, ...]:
    """The requirements of a set, in its order."""
    return tuple(
        Listed(
            one.id,
            requirement.clause,
            requirement.id,
            requirement.title,
            applies_when(requirement, facts),
            tuple((name, leaf.kind.value, leaf_asks(leaf)) for name, leaf in requirement.leaves.items()),
        )
        for requirement in one.requirements
    )
