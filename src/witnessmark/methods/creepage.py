r"""Creepage distance that a voltage needs on a surface, and how much of it is there.

A voltage between two rows of the table is either taken to the next row or put on the straight line between them: the
record says which.

Source: IEC 60664-1:2020, table F.5 (table F.4 of the 2007 edition), as reprinted and in public transcriptions (seen).
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
from witnessmark.methods.insulation_tables import GROUPS, RULES, creepage_rows, look_up, material_group
from witnessmark.methods.working import EXACT, Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("voltage", "distance", "clearance")
    degree, rule = w.words["pollution_degree"], w.words["between_rows"]
    group = w.words.get("material_group")
    if (group is None) == (not w.has("cti")):
        w.fault("reading.missing", say("the material has to come from one place"), say("write material_group, or cti"))
    elif group is None:
        group = material_group(w.value("cti"))
        if group is None:
            w.fault(
                "validity.range",
                say("cti is {cti}: below 100, where the groups begin", cti=marked(f"{w.value('cti'):g}")),
                say("use another material"),
            )
    if w.faults or group is None:
        return w.result()
    row = creepage_rows(degree, group, w.words["construction"])
    if row is None:
        w.fault(
            "validity.range",
            say(
                "the table has no column for {construction}, pollution degree {degree}, group {group}",
                construction=w.chosen("construction"),
                degree=degree,
                group=group,
            ),
            say("printed wiring is stated for pollution degrees 1 and 2 only, and for IIIb only in degree 1"),
        )
        return w.result()
    last = 630.0 if group == "IIIb" and degree == "3" else row[-1][0]
    w.valid("voltage", row[0][0], last, "V", say("the table ends there for this material and pollution degree"))
    if w.faults:
        return w.result()
    basic, low, high = look_up(row, w.value("voltage"), rule)
    needed = basic * (2 if w.words["insulation"] == "reinforced" else 1)
    w.let("basic", basic / 1000, "mm")
    w.let("needed", needed / 1000, "mm")
    w.let("v_low", low[0], "V")
    w.let("v_high", high[0], "V")
    w.let("d_low", low[1] / 1000, "mm")
    w.let("d_high", high[1] / 1000, "mm")
    where = say(
        "pollution degree {degree}, material group {group}, {construction}",
        degree=degree,
        group=group,
        construction=w.chosen("construction"),
    )
    if rule == "interpolate" and low != high:
        w.step(
            say("On the straight line between two rows of the table ({where}).", where=where),
            r"d = <d_low> + \frac{<voltage> - <v_low>}{<v_high> - <v_low>} \cdot \left( <d_high> - <d_low> \right)"
            " = <basic>",
        )
    else:
        w.step(
            say("The row of {high} V of the table ({where}).", high=marked(f"{high[0]:g}"), where=where), "d = <basic>"
        )
    if needed != basic:
        w.step(say("Reinforced insulation takes twice that (from memory)."), r"d = 2 \cdot <basic> = <needed>")
    governing = needed / 1000
    if w.has("clearance"):
        governing = max(governing, w.value("clearance"))
        w.let("governing", governing, "mm")
        w.step(say("Never less than the clearance."), r"\max \left( <needed> , <clearance> \right) = <governing>")
    w.output("required-creepage", governing, note=say(EXACT))
    if w.has("distance"):
        w.let("governing", governing, "mm")
        ratio = w.let("ratio", w.x["distance"] / governing, "1")
        w.step(say("What is there over what is needed."), r"q = \frac{<distance>}{<governing>} = <ratio>")
        w.output("creepage-ratio", ratio)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="creepage/1",
    title="Creepage distance",
    purpose="Shows that dirt and moisture on a surface cannot bridge the voltage.",
    source="IEC 60664-1:2020, table F.5; material groups 4.8.1",
    confidence="table seen (reprint and two transcriptions); interpolation, factor 2 for reinforced and the end of "
    "IIIb at "
    "630 V from memory",
    equation=r"d \geq d_{table} \left( U , PD , group \right)",
    validity="10 V up to the end of the column, rms or DC; altitude does not count for creepage. Path by the rules "
    "of 6.8: "
    "grooves narrower than X do not count.",
    cautions=(
        Caution(
            "High voltage can kill. Measure on the dead part. A distance on the drawing is not the distance after "
            "assembly."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("voltage", "U", "working voltage, rms or DC", "V", 10, 1500),
        InputSpec("pollution_degree", "", "pollution degree", choices=("1", "2", "3")),
        InputSpec("material_group", "", "material group", required=False, choices=GROUPS),
        InputSpec("cti", "", "comparative tracking index", "1", 100, 700, False),
        InputSpec("construction", "", "kind of surface", choices=("general", "printed wiring")),
        InputSpec("insulation", "", "insulation", choices=("basic", "reinforced")),
        InputSpec("between_rows", "", "voltage between two rows", choices=RULES),
        InputSpec("clearance", "d_c", "clearance that is required", "mm", 0.01, 100, False),
        InputSpec("distance", "d_m", "creepage that is there", "mm", 0.01, 500, False, role="gauge"),
    ),
    roles=(RoleSpec("gauge", "caliper or gauge", "length", "0.1 mm or finer", required=False),),
    conditions=(ConditionSpec("surface", "state of the surface: clean, coated, dusty", required=False),),
    measurands=(
        MeasurandSpec("creepage-ratio", "creepage over what is needed", "q", "1"),
        MeasurandSpec("required-creepage", "creepage that is needed", "d", "mm"),
    ),
    evaluate_with=_evaluate,
)
