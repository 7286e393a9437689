r"""Discharge of a capacitance through a resistor: time constant, time to a safe voltage, voltage and energy left.

Source: closed form, U = U0 · exp(−t/(R·C)).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked
from witnessmark.quantities.propagation import exp, log

__all__ = ["METHOD", "work"]


def work(w: Working) -> Result | Refused:
    """The calculation itself, for both versions: in SI, faults gathered in `w`."""
    w.above_zero("resistance", "capacitance", "start_voltage", "safe_voltage", "elapsed")
    if not w.faults and w.value("safe_voltage") >= w.value("start_voltage"):
        w.fault(
            "validity.range",
            say("start_voltage is not above safe_voltage: there is nothing to discharge"),
            say("state the highest voltage that can stand on the bus"),
        )
    if w.faults:
        return w.result()
    c, u0 = w.x["capacitance"], w.x["start_voltage"]
    tau = w.let("tau", w.x["resistance"] * c, "s")
    t = w.let("t", tau * log(u0 / w.x["safe_voltage"]), "s")
    w.step(say("Time constant."), r"\tau = <resistance> \cdot <capacitance> = <tau>")
    w.step(
        say("Time to the safe voltage."), r"t = <tau> \cdot \mathrm{ln} \frac{<start_voltage>}{<safe_voltage>} = <t>"
    )
    w.output("calculated-time-constant", tau)
    w.output("calculated-time-to-safe-voltage", t)
    if w.has("elapsed"):
        left = w.let("left", u0 * exp(-w.x["elapsed"] / tau), "V")
        energy = w.let("energy", 0.5 * c * left * left, "J")
        w.step(
            say("Voltage that is left after the waiting time."),
            r"U = <start_voltage> \cdot \mathrm{exp} \left( - \frac{<elapsed>}{<tau>} \right) = <left>",
        )
        w.step(
            say("Energy that is left."),
            r"E = \frac{1}{2} \cdot <capacitance> \cdot \left( <left> \right)^2 = <energy>",
        )
        w.output("calculated-voltage-left", left)
        w.output("calculated-energy-left", energy)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, work, readings, facts)


METHOD = Method(
    id="discharge-resistor/1",
    title="Discharge through a resistor, calculated",
    purpose="Says how long to wait after switching off, and what is left then.",
    source="closed form: U = U0 · exp(−t/RC)",
    confidence="closed form",
    equation=r"\tau = R \cdot C \quad t = \tau \cdot \mathrm{ln} \frac{U_0}{U_s}",
    validity="One resistor and one capacitance; no source on the bus. Take capacitance at the upper, resistance at the "
    "upper end of its tolerance.",
    cautions=(
        Caution("High voltage can kill. A calculated time proves nothing dead: measure before touching, every time."),
        Caution("A broken discharge resistor leaves the charge for hours. Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("resistance", "R", "discharge resistor", "kΩ", 1e-3, 1e4),
        InputSpec("capacitance", "C", "capacitance of the bus", "µF", 0.01, 1e5),
        InputSpec("start_voltage", "U_0", "highest voltage of the bus", "V", 10, 1500),
        InputSpec("safe_voltage", "U_s", "voltage that is safe", "V", 1, 120),
        InputSpec("elapsed", "t_w", "waiting time", "s", 0.001, 3600, False),
    ),
    measurands=(
        MeasurandSpec("calculated-time-to-safe-voltage", "time to the safe voltage", "t", "s"),
        MeasurandSpec("calculated-time-constant", "time constant", r"\tau", "s"),
        MeasurandSpec("calculated-voltage-left", "voltage after the waiting time", "U", "V"),
        MeasurandSpec("calculated-energy-left", "energy after the waiting time", "E", "J"),
    ),
    evaluate_with=_evaluate,
)
