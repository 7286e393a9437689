r"""At which isolation a monitor warns, with a decade resistor turned down step by step.

The threshold lies between the last resistor without a warning and the first with one; nothing in between was seen.

Source: closed form (resistors in parallel); common practice, no source for the procedure.
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import (
    Caution,
    ConditionSpec,
    FactSpec,
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
from witnessmark.quantities.evaluation import rectangular
from witnessmark.quantities.propagation import uncertain

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("ri", "ro_silent", "ro_warned", "working_voltage")
    if not w.faults and w.value("ro_silent") <= w.value("ro_warned"):
        w.fault(
            "reading.range",
            say("ro_silent is not above ro_warned: a monitor warns below its threshold"),
            say("turn the decade down from a large value and write the last silent and the first warned setting"),
        )
    if w.faults:
        return w.result()
    ri, voltage = w.x["ri"], w.x["working_voltage"]
    silent = w.let("silent", 1 / (1 / w.x["ro_silent"] + 1 / ri) / voltage, "Ω/V")
    warned = w.let("warned", 1 / (1 / w.x["ro_warned"] + 1 / ri) / voltage, "Ω/V")
    step = uncertain(
        rectangular("decade_step", 0.0, (silent.value - warned.value) / 2, say("half a step of the decade"))
    )
    threshold = w.let("threshold", (silent + warned) / 2 + step, "Ω/V")
    form = r"\frac{1}{<working_voltage> \cdot \left( \frac{1}{<*>} + \frac{1}{<ri>} \right)}"
    w.step(
        say("Isolation per volt at the last setting without a warning."), form.replace("*", "ro_silent") + " = <silent>"
    )
    w.step(
        say("Isolation per volt at the first setting with a warning."), form.replace("*", "ro_warned") + " = <warned>"
    )
    w.step(say("The threshold lies between them."), r"\frac{<silent> + <warned>}{2} = <threshold>")
    w.output("monitor-threshold", threshold)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="isolation-monitor-threshold/1",
    title="Threshold of an isolation monitor, by decade",
    purpose="Shows at which isolation the warning comes.",
    source="closed form; procedure: common practice, no source",
    confidence="common practice, no source",
    equation=r"r = \frac{1}{U \cdot \left( \frac{1}{R_o} + \frac{1}{R_i} \right)}",
    validity="The decade is turned down slowly enough for the monitor; isolation does not move meanwhile.",
    cautions=(
        Caution(
            "High voltage can kill. The decade ties a live pole to chassis and is live itself: turn it with gloves on."
        ),
        Caution(
            "A decade box is seldom rated for the bus voltage: check it. Qualified persons only; local codes decide."
        ),
    ),
    inputs=ordered(
        InputSpec("ri", "R_i", "isolation measured before", "MΩ", 1e-3, 1e4, role="insulation-tester"),
        InputSpec("ro_silent", "R_{o,1}", "last setting without a warning", "kΩ", 1, 1e4, role="resistor"),
        InputSpec("ro_warned", "R_{o,2}", "first setting with a warning", "kΩ", 1, 1e4, role="resistor"),
    ),
    facts=(FactSpec("working_voltage", "highest voltage of the bus in use", "V", "U"),),
    roles=(
        RoleSpec("insulation-tester", "insulation tester", "insulation-resistance", "as for the isolation of this bus"),
        RoleSpec("resistor", "decade resistor", "resistance", "rated for the bus voltage"),
    ),
    conditions=(
        ConditionSpec("contactors", "main contactors, closed or not", required=False),
        ConditionSpec("air", "air temperature", required=False),
    ),
    measurands=(MeasurandSpec("monitor-threshold", "isolation per volt at which the monitor warns", "r", "Ω/V"),),
    evaluate_with=_evaluate,
)
