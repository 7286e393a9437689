r"""Resistance between two touchable parts within reach of a person: measured, or summed from both to chassis.

Source: UN Regulation No. 94, 04 series (after impact: 0.2 Ω within 2.5 m, seen); not read in Regulation No. 100 in use.
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

REACH = 2.5
"""Distance in m within which two parts count as reachable at once."""


def _work(w: Working) -> Result | Refused:
    w.not_negative("direct", "first", "second")
    w.above_zero("distance")
    summed = w.has("first", "second")
    if not summed and not w.has("direct"):
        w.fault(
            "reading.missing",
            say("neither the resistance between the parts nor those of both parts to chassis are given"),
            say("write direct, or first and second, in mΩ"),
        )
    if summed and w.has("direct"):
        w.fault(
            "reading.repeated",
            say("both ways are given, and one result is asked for"),
            say("make a record for each way"),
        )
    w.valid("distance", None, REACH, "m", say("farther apart no person reaches both: the rule does not ask"))
    if w.faults:
        return w.result()
    if summed:
        r = w.let("r", w.x["first"] + w.x["second"], "Ω")
        w.step(say("Both parts to chassis, in series."), r"R = <first> + <second> = <r>")
    else:
        r = w.let("r", w.x["direct"], "Ω")
        w.step(say("Read between the two parts."), "R = <r>")
    w.output("part-to-part-resistance", r, where=say("summed") if summed else say("measured"))
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="bonding-part-to-part/1",
    title="Resistance between two touchable parts",
    purpose="Shows that no dangerous voltage can stand between two parts that a person reaches at once.",
    source="UN Regulation No. 94, 04 series, after impact (0.2 Ω, 2.5 m)",
    confidence="seen for after impact; not read in the in-use clause of Regulation No. 100",
    equation=r"R = R_1 + R_2",
    validity="Parts not more than 2.5 m apart; each resistance measured with four wires or with leads subtracted.",
    cautions=(
        Caution("High voltage can kill. The bus is dead and proven dead before anybody touches covers and chassis."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("distance", "d", "distance between the parts", "m", 0.01, 2.5),
        InputSpec("direct", "R", "measured between the parts", "mΩ", 0, 2000, False, role="ohmmeter"),
        InputSpec("first", "R_1", "first part to chassis", "mΩ", 0, 2000, False, role="ohmmeter"),
        InputSpec("second", "R_2", "second part to chassis", "mΩ", 0, 2000, False, role="ohmmeter"),
    ),
    roles=(RoleSpec("ohmmeter", "resistance tester", "resistance", "0.2 A or more", finest="0.01 Ω"),),
    conditions=(ConditionSpec("bus", "high-voltage bus", "dead"),),
    measurands=(MeasurandSpec("part-to-part-resistance", "resistance between the parts", "R", "mΩ"),),
    evaluate_with=_evaluate,
)
