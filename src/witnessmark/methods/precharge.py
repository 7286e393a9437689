r"""Precharge of a bus through a resistor: time to a part of the pack voltage, energy and power in the resistor, and
what it has to bear when the bus is shorted until the time-out.

Source: closed form, U = Ub · (1 − exp(−t/RC)).
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
    w.above_zero("resistance", "capacitance", "voltage", "time_out")
    w.valid("close_at", 50, 99.9, "%", say("state the part of the pack voltage at which the second contactor closes"))
    if w.faults:
        return w.result()
    voltage, r, c = w.x["voltage"], w.x["resistance"], w.x["capacitance"]
    tau = w.let("tau", r * c, "s")
    time = w.let("time", tau * -log(1 - w.x["close_at"]), "s")
    energy = w.let("energy", 0.5 * c * voltage * voltage, "J")
    peak = w.let("peak", voltage * voltage / r, "W")
    inrush = w.let("inrush", voltage / r, "A")
    w.step(say("Time constant."), r"\tau = <resistance> \cdot <capacitance> = <tau>")
    w.step(
        say("Time to the part at which the second contactor closes."),
        r"t = <tau> \cdot \mathrm{ln} \frac{1}{1 - <close_at>} = <time>",
    )
    w.step(
        say("Energy in the resistor for one precharge."),
        r"E = \frac{1}{2} \cdot <capacitance> \cdot \left( <voltage> \right)^2 = <energy>",
    )
    w.step(say("Power in the first instant."), r"P = \frac{\left( <voltage> \right)^2}{<resistance>} = <peak>")
    w.step(say("Current in the first instant."), r"I = \frac{<voltage>}{<resistance>} = <inrush>")
    w.output("precharge-time", time)
    w.output("precharge-energy", energy)
    w.output("precharge-peak-power", peak)
    w.output("precharge-current", inrush)
    if w.has("time_out"):
        short = w.let("short", peak * w.x["time_out"], "J")
        w.step(say("Energy when the bus is shorted until the time-out."), r"E_s = <peak> \cdot <time_out> = <short>")
        w.output("precharge-short-energy", short)
        if time.value > w.value("time_out"):
            w.alarm(
                "precharge.time-out",
                say("The precharge takes longer than the time-out: it would never close."),
                say("Take a smaller resistor or a longer time-out."),
            )
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="precharge/1",
    title="Precharge, calculated",
    purpose="Shows that contactors close on a charged bus, and that the resistor survives a fault.",
    source="closed form: U = Ub (1 − exp(−t/RC))",
    confidence="closed form; 90 to 95 % is common practice, no source",
    equation=r"t = R \cdot C \cdot \mathrm{ln} \frac{1}{1 - p} \quad E = \frac{1}{2} \cdot C \cdot U^2",
    validity="Nothing on the bus draws current meanwhile; highest pack voltage.",
    cautions=(
        Caution("High voltage can kill. A bus that is precharged is live, with both contactors open on the display."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("voltage", "U_b", "highest voltage of the pack", "V", 10, 1500),
        InputSpec("resistance", "R", "precharge resistor", "Ω", 1, 1e4),
        InputSpec("capacitance", "C", "capacitance of the bus", "µF", 1, 1e5),
        InputSpec("close_at", "p", "part of the pack voltage at which the contactor closes", "%", 80, 99),
        InputSpec("time_out", "t_s", "time after which it is broken off", "s", 0.05, 60, False),
    ),
    measurands=(
        MeasurandSpec("precharge-time", "time to close", "t", "s"),
        MeasurandSpec("precharge-energy", "energy in the resistor", "E", "J"),
        MeasurandSpec("precharge-peak-power", "power in the first instant", "P", "W"),
        MeasurandSpec("precharge-current", "current in the first instant", "I", "A"),
        MeasurandSpec("precharge-short-energy", "energy with a shorted bus", "E_s", "J"),
    ),
    evaluate_with=_evaluate,
)
