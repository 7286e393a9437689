"""Voltage that stands on a part while a fault current flows through its bonding: an example of a method of your own."""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result, RoleSpec
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("resistance", "fault_current")
    w.valid("fault_current", None, 5000, "A", "above that the current itself has to be measured")
    if w.faults:
        return w.result()
    voltage = w.let("voltage", w.x["resistance"] * w.x["fault_current"], "V")
    w.step("Ohm's law over the bonding.", r"U_t = <resistance> \cdot <fault_current> = <voltage>")
    w.output("touch-voltage", voltage)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="touch-voltage/1",
    title="Touch voltage over a bonding",
    purpose="Shows what stands on an enclosure while a fault current flows through its bonding.",
    source="closed form: U = R · I (Ohm's law)",
    confidence="closed form",
    equation=r"U_t = R_b \cdot I_f",
    validity="Direct current in the steady state, up to 5000 A.",
    cautions=(
        Caution("High voltage can kill. A small figure here is no permission to touch."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("resistance", "R_b", "resistance of the bonding", "mΩ", 0.001, 1000, role="ohmmeter"),
        InputSpec("fault_current", "I_f", "current that the fuse lets through for long", "A", 1, 10000),
    ),
    roles=(RoleSpec("ohmmeter", "four-wire ohmmeter", "low-resistance"),),
    measurands=(MeasurandSpec("touch-voltage", "voltage on the enclosure", "U_t", "V"),),
    evaluate_with=_evaluate,
)
