r"""Clearance in air that an impulse voltage needs, at the altitude of use, and how much of it is there.

Source: IEC 60664-1:2020, tables F.2 (clearance) and A.2 (altitude), as in public transcriptions (seen).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import marked, say
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
from witnessmark.methods.insulation_tables import ALTITUDE, CLEARANCE, RULES, look_up, reinforced_impulse
from witnessmark.methods.working import EXACT, Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("impulse", "distance")
    w.not_negative("altitude")
    rule = w.words["between_rows"]
    impulse = w.value("impulse")
    if not w.faults and w.words["insulation"] == "reinforced":
        impulse = reinforced_impulse(impulse)
    row = CLEARANCE[w.words["field"]][w.words["pollution_degree"]]
    w.let("counted", impulse, "V")
    w.valid("counted", None, row[-1][0], "V", say("the table ends there"))
    w.valid("altitude", 0, ALTITUDE[-1][0], "m", say("the table ends there"))
    if w.faults:
        return w.result()
    base, low, high = look_up(row, max(impulse, row[0][0]), rule)
    factor, _, _ = look_up(ALTITUDE, max(w.value("altitude"), ALTITUDE[0][0]), rule)
    w.let("base", base / 1000, "mm")
    w.let("factor", factor, "1")
    needed = w.let("needed", base * factor / 1000, "mm")
    if impulse != w.value("impulse"):
        w.step(
            say("Reinforced insulation is dimensioned for the next impulse voltage (from memory)."), r"U = <counted>"
        )
    told = say(
        "{field} field, pollution degree {degree}",
        field=w.chosen("field"),
        degree=w.words["pollution_degree"],
    )
    if rule == "interpolate" and low != high:
        w.let("v_low", low[0], "V")
        w.let("v_high", high[0], "V")
        w.let("d_low", low[1] / 1000, "mm")
        w.let("d_high", high[1] / 1000, "mm")
        w.step(
            say("On the straight line between two rows of the table ({told}).", told=told),
            r"d = <d_low> + \frac{<counted> - <v_low>}{<v_high> - <v_low>} \cdot \left( <d_high> - <d_low> \right)"
            " = <base>",
        )
    else:
        w.step(say("The row of {high} V of the table ({told}).", high=marked(f"{high[0]:g}"), told=told), "d = <base>")
    w.step(say("Factor for the altitude (table A.2), 1 up to 2000 m."), r"k = <factor>")
    w.step(say("Clearance at that altitude."), r"d = <base> \cdot <factor> = <needed>")
    w.output("required-clearance", needed.value, note=say(EXACT))
    w.output("altitude-factor", factor, note=say(EXACT))
    if w.has("distance"):
        ratio = w.let("ratio", w.x["distance"] / needed, "1")
        w.step(say("What is there over what is needed."), r"q = \frac{<distance>}{<needed>} = <ratio>")
        w.output("clearance-ratio", ratio)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="clearance/1",
    title="Clearance in air",
    purpose="Shows that an overvoltage cannot jump, at the altitude of use.",
    source="IEC 60664-1:2020, tables F.2 and A.2",
    confidence="tables seen (transcriptions agree); step for reinforced insulation from memory",
    equation=r"d \geq k_h \cdot d_{table} \left( U_{imp} , PD , field \right)",
    validity="Up to 100 kV and 20 000 m; below the first row the first row counts. Homogeneous field only with a test.",
    cautions=(
        Caution("High voltage can kill. Measure on the dead part, with the parts as they are fitted."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("impulse", r"U_{imp}", "impulse voltage that is required", "V", 330, 15000),
        InputSpec("pollution_degree", "", "pollution degree", choices=("1", "2", "3")),
        InputSpec("field", "", "field", choices=("inhomogeneous", "homogeneous")),
        InputSpec("insulation", "", "insulation", choices=("basic", "reinforced")),
        InputSpec("altitude", "h", "highest altitude of use", "m", 0, 6000),
        InputSpec("between_rows", "", "value between two rows", choices=RULES),
        InputSpec("distance", "d_m", "clearance that is there", "mm", 0.01, 500, False, role="gauge"),
    ),
    roles=(RoleSpec("gauge", "caliper or gauge", "length", "0.1 mm or finer", required=False),),
    conditions=(ConditionSpec("surface", "state of the parts: fitted, clean", required=False),),
    measurands=(
        MeasurandSpec("clearance-ratio", "clearance over what is needed", "q", "1"),
        MeasurandSpec("required-clearance", "clearance that is needed", "d", "mm"),
        MeasurandSpec("altitude-factor", "factor for the altitude", "k_h", "1"),
    ),
    evaluate_with=_evaluate,
)
