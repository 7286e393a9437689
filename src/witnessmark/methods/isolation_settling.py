r"""How long to wait before an isolation reading is steady: the Y capacitors charge through the isolation itself.

Seen from the mid-point, both sides lie in parallel: τ = (R+ ∥ R− ∥ Ro) · 2 · Cy.

Source: closed form (one node, two resistors, two capacitors).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked
from witnessmark.quantities.propagation import log

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("r_positive", "r_negative", "y_capacitance", "ro", "part_left")
    w.valid("part_left", 1e-6, 0.5, "1", say("write the part of the step that may be left, as in 0.1 %"))
    if w.faults:
        return w.result()
    conductance = 1 / w.x["r_positive"] + 1 / w.x["r_negative"]
    terms = [r"\frac{1}{<r_positive>}", r"\frac{1}{<r_negative>}"]
    if w.has("ro"):
        conductance = conductance + 1 / w.x["ro"]
        terms.append(r"\frac{1}{<ro>}")
    r = w.let("r", 1 / conductance, "Ω")
    tau = w.let("tau", r * 2 * w.x["y_capacitance"], "s")
    wait = w.let("wait", tau * -log(w.x["part_left"]), "s")
    w.step(say("All ways to chassis in parallel."), r"R = \frac{1}{" + " + ".join(terms) + "} = <r>")
    w.step(say("Time constant with the capacitors of both sides."), r"\tau = <r> \cdot 2 \cdot <y_capacitance> = <tau>")
    w.step(
        say("Until only the named part of the step is left."),
        r"t = <tau> \cdot \mathrm{ln} \frac{1}{<part_left>} = <wait>",
    )
    w.output("settling-time-constant", tau)
    w.output("settling-time", wait)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="isolation-settling/1",
    title="Settling time of an isolation reading",
    purpose="Says how long to wait after a change before a voltage to chassis may be read.",
    source="closed form",
    confidence="closed form",
    equation=r"\tau = \frac{2 \cdot C_y}{\frac{1}{R_p} + \frac{1}{R_n} + \frac{1}{R_o}} \quad t = \tau \cdot "
    r"\mathrm{ln} "
    r"\frac{1}{p}",
    validity="Equal Y capacitance on both sides, that of all components on the bus added; no active isolation monitor.",
    cautions=(
        Caution(
            "High voltage can kill. The Y capacitors hold charge after the contactors open: wait, then prove it dead."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("r_positive", "R_p", "isolation of the positive side, expected", "MΩ", 1e-3, 1e4),
        InputSpec("r_negative", "R_n", "isolation of the negative side, expected", "MΩ", 1e-3, 1e4),
        InputSpec("y_capacitance", "C_y", "Y capacitance of each side", "µF", 1e-4, 20),
        InputSpec("ro", "R_o", "known resistor, when it is fitted", "kΩ", 1, 1e4, False),
        InputSpec("part_left", "p", "part of the step that may be left", "%", 1e-4, 50),
    ),
    measurands=(
        MeasurandSpec("settling-time-constant", "time constant", r"\tau", "s"),
        MeasurandSpec("settling-time", "time to wait", "t", "s"),
    ),
    evaluate_with=_evaluate,
)
