"""What sealing writes about a record: members, what it is judged against, and what is found. Pure, as assessment is."""

from __future__ import annotations

from dataclasses import replace

from witnessmark.assessment.against import against_digest
from witnessmark.assessment.evidence import Evidence
from witnessmark.assessment.facts import VEHICLE
from witnessmark.assessment.judging import Asked, FindMethod, World
from witnessmark.assessment.ledger import Ledger, seconds
from witnessmark.assessment.references import split
from witnessmark.methods.registry import method as registered
from witnessmark.records.acts import Record
from witnessmark.records.world import Workshop

__all__ = ["against", "found", "members", "vin", "with_figures"]


def _world(workshop: Workshop, vehicle: str | None, methods: FindMethod) -> World:
    world = World(Ledger(workshop), vehicle or "", None, methods)
    Evidence(world)
    return world


def vin(workshop: Workshop, vehicle: str) -> str | None:
    """The VIN as it is stated now; None when it is not."""
    return World(Ledger(workshop), vehicle, (), registered).facts.vins()[0]


def members(
    workshop: Workshop, vehicle: str | None, record: Record, *, methods: FindMethod = registered
) -> dict[str, str]:
    """Serial of every member of the record's part that was built in when it was performed, by part.

    Empty for a record of a design or of the workshop.
    """
    if vehicle is None or record.design is not None:
        return {}
    parts = World(Ledger(workshop), vehicle, (), methods).parts
    part = None if record.part == VEHICLE else record.part
    return parts.serials(parts.members(part), seconds(record.performed), sound_only=True)


def against(workshop: Workshop, vehicle: str | None, record: Record, *, methods: FindMethod = registered) -> str:
    """The digest of all that the record is judged against now."""
    return against_digest(
        _world(workshop, vehicle, methods), record, of_vehicle=vehicle is not None and record.design is None
    )


def found(
    workshop: Workshop,
    vehicle: str | None,
    record: Record,
    *,
    code: str | None = None,
    methods: FindMethod = registered,
) -> dict[str, str]:
    """The verdict per `requirement/leaf/criterion`, as it is computed now; nothing where nothing can be computed.

    `code` is the one that the record gets; the figures of its log stand under it.
    """
    of_vehicle = vehicle is not None and record.design is None
    world = _world(workshop, vehicle if of_vehicle else None, methods)
    verdicts: dict[str, str] = {}
    for ref, claim in sorted(record.shows.items()):
        _, _, name = split(ref)
        for target in world.scope(record, of_vehicle).meant(ref):
            leaf = target.requirement.leaves.get(name) if target.requirement else None
            if target.requirement is None or leaf is None:
                continue
            asked = Asked(workshop.sets.get(target.set_id), target.requirement, name, leaf, ref, claim)
            judged = world.judge(record, code or record.code, asked)
            verdicts |= {f"{ref}/{c.criterion}": c.verdict.value for c in judged.criteria}
    return verdicts


def with_figures(workshop: Workshop, code: str, figures: dict[str, object]) -> Workshop:
    """The workshop with the figures of one log that is about to be sealed."""
    return replace(workshop, figures={**workshop.figures, code: figures})
