"""What a record is judged against, as one digest: leaf, requirement, edition, decision rule, each fact value used."""

from __future__ import annotations

from typing import Any

from witnessmark.assessment.facts import words_of
from witnessmark.assessment.judging import Asked, World
from witnessmark.assessment.references import References, Target, split
from witnessmark.records.acts import Record
from witnessmark.records.canonical import digest_of
from witnessmark.records.sets import Leaf, LeafKind, Limit

__all__ = ["NOT_STATED", "against_digest", "facts_used", "leaf_text"]

NOT_STATED = "not stated"
"""It stands in sealed digests, so it is the same in every language."""


def leaf_text(leaf: Leaf) -> dict[str, Any]:
    """Everything in a leaf that a record is judged by; not how the job is planned."""
    return {
        "kind": leaf.kind.value,
        "asks": leaf.words,
        "criteria": {
            name: {c.how: f"fact {c.limit.fact}" if isinstance(c.limit, Limit) else str(c.limit)}
            for name, c in leaf.criteria.items()
        },
        "methods": sorted(leaf.methods),
        "conditions": dict(leaf.conditions),
        "exemptions": dict(leaf.exemptions),
        "after": "" if leaf.after is None else f"{leaf.after.leaf} {leaf.after.wait}",
        "second_person": leaf.second_person,
    }


def facts_used(world: World, record: Record, leaf: Leaf) -> dict[str, str]:
    """Each fact value that judging the leaf takes, as text; `not stated` where it is not."""
    if leaf.kind is not LeafKind.MEASURE:
        return {}
    method = world.methods(record.method) if record.method else None
    keys = {f.name for f in method.facts} if method else set()
    keys |= {c.limit.fact for c in leaf.criteria.values() if isinstance(c.limit, Limit)}
    values = {key: world.fact(record, key).value for key in sorted(keys)}
    return {key: NOT_STATED if value is None else words_of(value) for key, value in values.items()}


def _entry(world: World, references: References, record: Record, ref: str, target: Target) -> dict[str, Any]:
    _, _, name = split(ref)
    entry: dict[str, Any] = {
        "set": target.set_id,
        "requirement": target.id,
        "edition": references.editions[target.set_id].edition,
    }
    leaf = target.requirement.leaves.get(name) if target.requirement else None
    if leaf is None or target.requirement is None:
        return entry | {"leaf": "none"}
    asked = Asked(references.folder[target.set_id], target.requirement, name, leaf, ref, record.shows[ref])
    rule = world.rule(record, asked).words if leaf.kind is LeafKind.MEASURE else ""
    return entry | {"leaf": leaf_text(leaf), "rule": rule, "facts": facts_used(world, record, leaf)}


def against_digest(world: World, record: Record, *, of_vehicle: bool) -> str:
    """The digest for all leaves that the record shows."""
    references = world.scope(record, of_vehicle)
    return digest_of(
        {
            ref: [_entry(world, references, record, ref, t) for t in references.meant(ref)]
            for ref in sorted(record.shows)
        }
    )
