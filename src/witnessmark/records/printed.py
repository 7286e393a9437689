"""Facts that no requirement and no method asks, but the technical file prints: they are needed all the same."""

from __future__ import annotations

from collections.abc import Mapping

from .sets import FactDefinition

__all__ = [
    "PLACE",
    "PRINTED_FACTS",
    "PRODUCTION_FACTS",
    "REMOVED",
    "RESPONDER_FACTS",
    "VENTS_TO",
    "groups_of_facts",
    "printed_facts",
]

PLACE = "sheet_place"
"""Where a part lies on the outline of the emergency responder sheet."""
VENTS_TO = "vents_to"
"""To which side an outlet blows."""

RESPONDER_FACTS = (
    "rescue_identify",
    "rescue_hold",
    "rescue_switch_off",
    "rescue_access",
    "rescue_stored",
    "rescue_fire",
    "rescue_water",
    "rescue_tow",
    "rescue_contact",
)
PRODUCTION_FACTS = ("production_clearance", "production_clearance_until", "records_kept")

REMOVED = "removed_from_base"
"""What was taken out of the base vehicle."""

PRINTED_FACTS = frozenset((*RESPONDER_FACTS, *PRODUCTION_FACTS, PLACE, VENTS_TO, REMOVED))


def groups_of_facts(facts: Mapping[str, FactDefinition]) -> Mapping[str, tuple[str, ...]]:
    """What the file prints of the vehicle, by the name of its sheet or chapter; in the order of the definitions."""
    pairs = [(fact.was, key) for key, fact in facts.items() if fact.was is not None and fact.of is None]
    return {
        "conversion": (*(key for pair in pairs for key in pair), REMOVED),
        "responders": RESPONDER_FACTS,
        "production": PRODUCTION_FACTS,
    }


def printed_facts(facts: Mapping[str, FactDefinition]) -> frozenset[str]:
    """Those, and what is printed of the base vehicle beside the conversion."""
    pairs = ((key, fact.was) for key, fact in facts.items() if fact.was is not None)
    return PRINTED_FACTS | {key for pair in pairs for key in pair}
