r"""Isolation resistance with two voltmeters left on, one on each side, and the vehicle's own DC source.

Each meter lies in parallel with the pole that it watches. The clause's formula then gives the opposite pole in parallel
with its meter, R ∥ r, and the meter has to be taken out: 1/(1/R_read − 1/r). The clause itself prints no r.

Source: UN Regulation No. 100, 03 series, Annex 5A (formula, seen); correction: nodal analysis of the two-meter circuit.
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import marked, say
from witnessmark.methods.base import ConditionSpec, FactSpec, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.formulas import isolation_resistance, two_meter_correction
from witnessmark.methods.isolation_checks import CAUTIONS, READINGS, ROLES, check_readings, sides
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    check_readings(w, both_meters_on=True)
    w.above_zero("meter_resistance", "working_voltage")
    w.valid("meter_resistance", 10, None, "MΩ", say("take two meters of 10 MΩ or more each"))
    if w.faults:
        return w.result()
    side, loaded, _, _ = sides(w)
    read = w.let("r_read", isolation_resistance(w.x["ro"], w.x["ub"], w.x[loaded], w.x[side]), "Ω")
    meter = w.x["meter_resistance"]
    if not read.value > 0 or read.value >= meter.value:
        w.fault(
            "validity.range",
            say(
                "the readings give {read} Ω, and only what lies above 0 Ω and below the meter's "
                "{meter} Ω can be corrected",
                read=marked(f"{read.value:.6g}"),
                meter=marked(f"{meter.value:.6g}"),
            ),
            say("use one meter moved from side to side, or an insulation tester"),
        )
        return w.result()
    ri = w.let("ri", two_meter_correction(read, meter), "Ω")
    per_volt = w.let("per_volt", ri / w.x["working_voltage"], "Ω/V")
    index = side[1]
    w.step(
        say("Ro sits on the negative side. What the readings give is the other side with its meter across it.")
        if w.words["ro_at"] == "negative"
        else say("Ro sits on the positive side. What the readings give is the other side with its meter across it."),
        rf"R_r = <ro> \cdot <ub> \cdot \left( \frac{{1}}{{<{loaded}>}} - \frac{{1}}{{<{side}>}} \right) = <r_read>",
    )
    w.step(
        say("The meter of that side taken out (U{index} was read with both meters on).", index=index),
        r"R_i = \frac{1}{\frac{1}{<r_read>} - \frac{1}{<meter_resistance>}} = <ri>",
    )
    w.step(say("Divided by the working voltage."), r"\frac{R_i}{U_w} = \frac{<ri>}{<working_voltage>} = <per_volt>")
    if read.value > 0.5 * meter.value:
        w.alarm(
            "isolation.meter-dominates",
            say("More than half of what the readings see is the meter itself: the uncertainty grows fast."),
            say("Use one meter moved from side to side, or an insulation tester."),
        )
    w.output("isolation-resistance", ri)
    w.output("isolation-per-volt", per_volt)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="voltmeter-pair-own-source/1",
    title="Isolation resistance, two voltmeters left on, own DC source",
    purpose="Shows how well a bus is isolated when both sides are watched at once; corrects for the meters.",
    source="UN Regulation No. 100, 03 series, Annex 5A (own DC source); correction by nodal analysis",
    confidence="formula seen; the clause prints no meter resistance, the correction is a closed form",
    equation=r"R_r = R_o \cdot U_b \cdot \left( \frac{1}{U_1^{\prime}} - \frac{1}{U_1} \right) \quad "
    r"R_i = \frac{1}{\frac{1}{R_r} - \frac{1}{r}}",
    validity="DC bus at nominal voltage or above; two equal meters of 10 MΩ or more, both left on for every reading; "
    "the resistance read lies below that of a meter. With one meter moved from side to side nothing is to be "
    "corrected.",
    cautions=CAUTIONS,
    inputs=ordered(
        *READINGS,
        InputSpec("meter_resistance", "r", "internal resistance of each voltmeter", "MΩ", 9, 20000),
    ),
    facts=(FactSpec("working_voltage", "highest voltage of the bus in use", "V", "U_w"),),
    roles=ROLES,
    conditions=(
        ConditionSpec("contactors", "main contactors", "closed"),
        ConditionSpec("air", "air temperature", required=False),
    ),
    measurands=(
        MeasurandSpec("isolation-resistance", "isolation resistance", "R_i", "Ω"),
        MeasurandSpec("isolation-per-volt", "isolation resistance per volt of working voltage", "R_i/U_w", "Ω/V"),
    ),
    evaluate_with=_evaluate,
)
