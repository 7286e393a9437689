r"""Heat of a pack at a current, from the resistance of its cells.

Source: closed form, P = I² · R.
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.whole("series", "parallel")
    w.above_zero("cell_resistance", "current")
    if w.faults:
        return w.result()
    r = w.let("r", w.x["cell_resistance"] * w.x["series"] / w.x["parallel"], "Ω")
    heat = w.let("heat", w.x["current"] * w.x["current"] * r, "W")
    w.step(say("Resistance of the pack."), r"R = <cell_resistance> \cdot \frac{<series>}{<parallel>} = <r>")
    w.step(say("Heat."), r"P = \left( <current> \right)^2 \cdot <r> = <heat>")
    w.output("pack-heat", heat)
    w.output("calculated-pack-resistance", r)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="pack-heat/1",
    title="Heat of a pack",
    purpose="Gives the heat that a coolant has to carry at a current.",
    source="closed form: P = I² · R",
    confidence="closed form",
    equation=r"P = I^2 \cdot R_c \cdot \frac{N_s}{N_p}",
    validity="Resistance of the cell at this temperature and time scale; busbars and joints not counted; equal "
    "currents.",
    cautions=(
        Caution("High voltage can kill. Hot cells vent. Load tests are watched, and can be broken off from outside."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("series", "N_s", "cells in series", "1", 1, 400),
        InputSpec("parallel", "N_p", "cells in parallel", "1", 1, 200),
        InputSpec("cell_resistance", "R_c", "resistance of a cell", "mΩ", 0.05, 200),
        InputSpec("current", "I", "current of the pack", "A", 0.1, 2000),
    ),
    measurands=(
        MeasurandSpec("pack-heat", "heat", "P", "W"),
        MeasurandSpec("calculated-pack-resistance", "resistance of the cells", "R", "mΩ"),
    ),
    evaluate_with=_evaluate,
)
