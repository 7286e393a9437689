r"""Prospective short-circuit current of a pack and its time constant, from cell data.

Take the highest open-circuit voltage and the lowest resistance: the largest current is the one that has to be broken.

Source: closed form, I = U/R and τ = L/R.
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
    w.above_zero("cell_voltage", "cell_resistance", "inductance")
    w.not_negative("wiring_resistance")
    if w.faults:
        return w.result()
    voltage = w.let("voltage", w.x["series"] * w.x["cell_voltage"], "V")
    pack = w.let("pack", w.x["cell_resistance"] * w.x["series"] / w.x["parallel"], "Ω")
    loop = w.let("loop", pack + w.x["wiring_resistance"], "Ω")
    current = w.let("current", voltage / loop, "A")
    w.step(say("Open-circuit voltage."), r"U = <series> \cdot <cell_voltage> = <voltage>")
    w.step(say("Resistance of the cells."), r"R_p = <cell_resistance> \cdot \frac{<series>}{<parallel>} = <pack>")
    w.step(say("With wiring, fuse and contactors."), r"R = <pack> + <wiring_resistance> = <loop>")
    w.step(say("Prospective current."), r"I_p = \frac{<voltage>}{<loop>} = <current>")
    w.output("prospective-current", current)
    w.output("open-circuit-voltage", voltage)
    w.output("loop-resistance", loop)
    if w.has("inductance"):
        tau = w.let("tau", w.x["inductance"] / loop, "s")
        w.step(say("Time constant of the loop."), r"\tau = \frac{<inductance>}{<loop>} = <tau>")
        w.output("loop-time-constant", tau)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="prospective-current/1",
    title="Prospective short-circuit current of a pack",
    purpose="Says what fuse and contactors have to be able to break.",
    source="closed form: I = U/R, τ = L/R",
    confidence="closed form",
    equation=r"I_p = \frac{N_s \cdot U_c}{\frac{N_s}{N_p} \cdot R_c + R_w} \quad \tau = \frac{L}{R}",
    validity="A dead short at the terminals; resistance of the cells in the first milliseconds, warm and full.",
    cautions=(
        Caution("High voltage can kill. A short circuit of a pack cannot be switched off by hand. Never try it out."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("series", "N_s", "cells in series", "1", 1, 400),
        InputSpec("parallel", "N_p", "cells in parallel", "1", 1, 200),
        InputSpec("cell_voltage", "U_c", "highest open-circuit voltage of a cell", "V", 1, 5),
        InputSpec("cell_resistance", "R_c", "smallest resistance of a cell", "mΩ", 0.05, 200),
        InputSpec("wiring_resistance", "R_w", "wiring, fuse and contactors", "mΩ", 0, 1000),
        InputSpec("inductance", "L", "inductance of the loop", "µH", 0.1, 1000, False),
    ),
    measurands=(
        MeasurandSpec("prospective-current", "prospective short-circuit current", "I_p", "A"),
        MeasurandSpec("open-circuit-voltage", "highest open-circuit voltage", "U", "V"),
        MeasurandSpec("loop-resistance", "resistance of the loop", "R", "mΩ"),
        MeasurandSpec("loop-time-constant", "time constant of the loop", r"\tau", "ms"),
    ),
    evaluate_with=_evaluate,
)
