r"""Isolation of a bus from the isolation of its sections, each measured by itself: resistances in parallel.

Source: closed form (sum of conductances); calculation allowed beside measurement: UN Regulation No. 100, 5.1.3 (seen).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say, say_n
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
from witnessmark.methods.working import Working, ordered, total, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("resistance", "working_voltage")
    names = [n for n in w.bounds if n.partition(".")[0] == "resistance"]
    if any(w.bounds[name] == "<" for name in names):
        w.fault(
            "reading.bound",
            say("a section is only known to be below a value, so the bus cannot be computed"),
            say("measure it in a range that shows a number"),
        )
    if w.faults:
        return w.result()
    bound = ">" if any(w.bounds[name] == ">" for name in names) else ""
    ri = w.let("ri", 1 / total(1 / x for x in w.many["resistance"]), "Ω")
    per_volt = w.let("per_volt", ri / w.x["working_voltage"], "Ω/V")
    w.step(
        say_n("{n} section in parallel.", "{n} sections in parallel.", len(names)),
        r"R_i = \frac{1}{" + w.joined("resistance", r"\frac{1}{*}", " + ") + f"}} {bound or '='} <ri>",
    )
    w.step(
        say("Divided by the working voltage."),
        rf"\frac{{R_i}}{{U_w}} {bound or '='} \frac{{<ri>}}{{<working_voltage>}} = <per_volt>",
    )
    w.output("summed-isolation-resistance", ri, bound=bound)
    w.output("summed-isolation-per-volt", per_volt, bound=bound)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="isolation-parallel/1",
    title="Isolation of a bus from its sections",
    purpose="Adds sections that were measured apart, where a whole bus cannot be measured at once.",
    source="closed form; UN Regulation No. 100, 03 series, 5.1.3 (calculation, measurement or both)",
    confidence="closed form",
    equation=r"R_i = \frac{1}{\sum \frac{1}{R_n}}",
    validity="Every section of the bus is in the list, each measured to the same chassis; direct current.",
    cautions=(
        Caution(
            "High voltage can kill. A section that was left out makes the sum a lie: check the list by the schematic."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec(
            "resistance",
            "R_n",
            "isolation resistance of each section",
            "MΩ",
            1e-4,
            1e6,
            repeats=True,
            role="insulation-tester",
            bound_allowed=True,
        ),
    ),
    facts=(FactSpec("working_voltage", "highest voltage of the bus in use", "V", "U_w"),),
    roles=(
        RoleSpec(
            "insulation-tester", "insulation tester", "insulation-resistance", "test voltage as the section needs"
        ),
    ),
    conditions=(
        ConditionSpec("air", "air temperature", required=False),
        ConditionSpec("humidity", "relative humidity", required=False),
    ),
    measurands=(
        MeasurandSpec("summed-isolation-resistance", "isolation resistance of the bus", "R_i", "Ω"),
        MeasurandSpec("summed-isolation-per-volt", "isolation per volt of working voltage", "R_i/U_w", "Ω/V"),
    ),
    evaluate_with=_evaluate,
)
