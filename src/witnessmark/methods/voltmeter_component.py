r"""Isolation resistance of a component (a battery on the bench) with one voltmeter and the device's own voltage.

As on the vehicle, with the device's ground point in place of the chassis, and divided by the nominal voltage.

Source: UN Regulation No. 100, 03 series, Annex 5B (four formulas seen; nominal voltage seen for the 02 series).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import marked, say
from witnessmark.methods.base import ConditionSpec, FactSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.formulas import isolation_resistance
from witnessmark.methods.isolation_checks import CAUTIONS, READINGS, ROLES, check_readings, sides
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    check_readings(w, both_meters_on=False)
    w.above_zero("nominal_voltage")
    if w.faults:
        return w.result()
    side, loaded, _, _ = sides(w)
    ub = w.x["ub"]
    if ub.value + 2 * ub.inputs["ub"].u < w.value("nominal_voltage"):
        w.alarm(
            "isolation.bus-low",
            say(
                "The device is at {ub} V, below its nominal voltage of {nominal_voltage} V.",
                ub=marked(f"{ub.value:.1f}"),
                nominal_voltage=marked(f"{w.value('nominal_voltage'):.1f}"),
            ),
            say("Charge first: the test is made at nominal voltage or above."),
            fatal=True,
        )
    ri = w.let("ri", isolation_resistance(w.x["ro"], ub, w.x[loaded], w.x[side]), "Ω")
    per_volt = w.let("per_volt", ri / w.x["nominal_voltage"], "Ω/V")
    w.step(
        say("Ro sits on the negative side; the result is the other side to the device's ground point.")
        if w.words["ro_at"] == "negative"
        else say("Ro sits on the positive side; the result is the other side to the device's ground point."),
        rf"R_i = <ro> \cdot <ub> \cdot \left( \frac{{1}}{{<{loaded}>}} - \frac{{1}}{{<{side}>}} \right) = <ri>",
    )
    w.step(
        say("Divided by the nominal voltage of the device."),
        r"\frac{R_i}{U_n} = \frac{<ri>}{<nominal_voltage>} = <per_volt>",
    )
    w.output("isolation-resistance", ri)
    w.output("isolation-per-nominal-volt", per_volt)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="voltmeter-component/1",
    title="Isolation resistance of a component, one voltmeter, its own voltage",
    purpose="Shows how well a battery is isolated from its ground point before it is built in.",
    source="UN Regulation No. 100, 03 series, Annex 5B (tested device as source)",
    confidence="formulas seen; division by the nominal voltage seen for the 02 series",
    equation=r"R_i = R_o \cdot U_b \cdot \left( \frac{1}{U_1^{\prime}} - \frac{1}{U_1} \right)",
    validity="Device at nominal voltage or above; one meter of 10 MΩ or more, moved from side to side; any Ro.",
    cautions=CAUTIONS,
    inputs=ordered(*READINGS),
    facts=(FactSpec("nominal_voltage", "nominal voltage of the device", "V", "U_n"),),
    roles=ROLES,
    conditions=(ConditionSpec("air", "temperature at which the device was stabilised", required=False),),
    measurands=(
        MeasurandSpec("isolation-resistance", "isolation resistance", "R_i", "Ω"),
        MeasurandSpec("isolation-per-nominal-volt", "isolation per volt of nominal voltage", "R_i/U_n", "Ω/V"),
    ),
    evaluate_with=_evaluate,
)
