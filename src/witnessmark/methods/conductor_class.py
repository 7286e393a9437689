r"""Does a conductor keep its class: the measured resistance, reduced to 20 °C and one length, over the largest allowed.

Source: IEC 60228:2004, tables 2 to 4 and annex A (reduction to 20 °C and 1 km).
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
from witnessmark.methods.conductor_data import ALPHA_COPPER, CLASSES, resistance_per_length
from witnessmark.methods.working import HOW_SURE, Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("section", "resistance", "length")
    w.valid("temperature", 5, 40, "°C", say("measure at room temperature: the reduction is meant for it"))
    found = None
    if not w.faults:
        found = resistance_per_length(w.words["class"], round(w.value("section") * 1e6, 6))
        if found is None:
            w.fault(
                "validity.range",
                say(
                    "{section} mm² is no section of the table (0.5 mm² to 300 mm²)",
                    section=marked(f"{w.value('section') * 1e6:g}"),
                ),
                say("write a standard section"),
            )
    if w.faults or found is None:
        return w.result()
    r20 = w.let("r20", w.x["resistance"] / (1 + ALPHA_COPPER * (w.x["temperature"] - 293.15)), "Ω")
    per_length = w.let("per_length", r20 / w.x["length"], "Ω/km")
    limit = w.let("limit", found[0], "Ω/km")
    ratio = w.let("ratio", per_length / limit, "1")
    w.show("alpha", f"{ALPHA_COPPER:g}")
    w.step(
        say("Reduced to 20 °C."),
        r"R_{20} = \frac{<resistance>}{1 + <alpha> \cdot \left( <temperature> - 20\,^{\circ}\mathrm{C} \right)}"
        " = <r20>",
    )
    w.step(say("Per length."), r"R^{\prime}_{20} = \frac{<r20>}{<length>} = <per_length>")
    w.step(
        say(
            "Over the largest of {conductor} (table, {confidence}).",
            conductor=w.chosen("class"),
            confidence=HOW_SURE[found[1]],
        ),
        r"q = \frac{<per_length>}{<limit>} = <ratio>",
    )
    w.output("resistance-per-length-20", per_length)
    w.output("class-ratio", ratio, note=say("Table value: {confidence}.", confidence=HOW_SURE[found[1]]))
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="conductor-class/1",
    title="Conductor against its class",
    purpose="Shows that a cable has the copper that its marking says.",
    source="IEC 60228:2004, tables 2 to 4 and annex A",
    confidence="class 5, 10 to 120 mm²: seen; other rows and the annex from memory",
    equation=r"R^{\prime}_{20} = \frac{R}{l \cdot \left( 1 + \alpha_{20} \cdot \left( \theta - 20 \right) \right)}",
    validity="Copper at 5 °C to 40 °C, at rest long enough to have that temperature; four wires.",
    cautions=(
        Caution("High voltage can kill. The cable is off the vehicle, or the bus is dead and proven dead."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("class", "", "class of the conductor", choices=tuple(CLASSES)),
        InputSpec("section", "S", "section", "mm²", 0.5, 300),
        InputSpec("length", "l", "length between the sense clips", "m", 0.1, 100, role="tape"),
        InputSpec("temperature", r"\theta", "temperature of the conductor", "°C", 5, 40, role="thermometer"),
        InputSpec("resistance", "R", "resistance", "mΩ", 0.01, 1e4, role="ohmmeter"),
    ),
    roles=(
        RoleSpec(
            "ohmmeter", "four-wire resistance tester", "four-wire-resistance", "resolution of 1 µΩ for short pieces"
        ),
        RoleSpec("thermometer", "thermometer", "temperature", "at the cable"),
        RoleSpec("tape", "tape measure", "length", "1 mm or finer"),
    ),
    conditions=(ConditionSpec("air", "temperature of conductor and air", required=False),),
    measurands=(
        MeasurandSpec("class-ratio", "resistance over the largest of the class", "q", "1"),
        MeasurandSpec("resistance-per-length-20", "resistance per length at 20 °C", r"R^{\prime}_{20}", "Ω/km"),
    ),
    evaluate_with=_evaluate,
)
