"""Facts that no requirement and no method asks, but the technical file prints: they are needed all the same."""

from __future__ import annotations

__all__ = ["PLACE", "PRINTED_FACTS", "PRODUCTION_FACTS", "RESPONDER_FACTS", "VENTS_TO"]

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

PRINTED_FACTS = frozenset((*RESPONDER_FACTS, *PRODUCTION_FACTS, PLACE, VENTS_TO))
