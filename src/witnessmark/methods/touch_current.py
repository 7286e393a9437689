r"""Current through a person who touches a live part and the chassis: what isolation and body let through.

Source: closed form (Ohm's law); body impedances are those of IEC 60479-1 and from memory.
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import (
    Caution,
    ConditionSpec,
    InputSpec,
    MeasurandSpec,
    Method,
    Reading,
    Refused,
    Result,
    RoleSpec,
)
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("voltage")
    w.not_negative("isolation", "body")
    if not w.faults and w.value("isolation") + w.value("body") <= 0:
        w.fault(
            "validity.range",
            say("isolation and body together are 0 Ω: no current can be stated"),
            say("state one of the two"),
        )
    if w.faults:
        return w.result()
    current = w.let("current", w.x["voltage"] / (w.x["isolation"] + w.x["body"]), "mA")
    w.step(say("Voltage over all that is in the way."), r"I = \frac{<voltage>}{<isolation> + <body>} = <current>")
    if w.value("isolation"):
        w.let("per_volt", w.x["isolation"] / w.x["voltage"], "Ω/V")
        w.step(say("The isolation per volt that is in the way."), r"\frac{<isolation>}{<voltage>} = <per_volt>")
    w.output("touch-current", current)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="touch-current/1",
    title="Touch current",
    purpose="Explains what an isolation figure means for a person: 500 Ω/V is 2 mA, 100 Ω/V is 10 mA, at any voltage.",
    source="closed form: I = U/(Ri + Zb)",
    confidence="closed form; body impedances of IEC 60479-1 from memory, and editions differ",
    equation=r"I = \frac{U}{R_i + Z_b}",
    validity="Direct current in the steady state; charge of Y capacitors comes on top in the first instant.",
    cautions=(
        Caution("High voltage can kill. No current computed here makes touching safe."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("voltage", "U", "voltage of the bus", "V", 1, 1500),
        InputSpec("isolation", "R_i", "isolation resistance of the other pole", "kΩ", 0, 1e6, role="insulation-tester"),
        InputSpec("body", "Z_b", "impedance of the body, 0 for the largest current", "Ω", 0, 10000),
    ),
    roles=(
        RoleSpec(
            "insulation-tester",
            "insulation tester",
            "insulation-resistance",
            "as for the isolation of this bus",
            required=False,
        ),
    ),
    conditions=(
        ConditionSpec("air", "air temperature", required=False),
        ConditionSpec("humidity", "relative humidity", required=False),
    ),
    measurands=(MeasurandSpec("touch-current", "current through the person", "I", "mA"),),
    evaluate_with=_evaluate,
)
