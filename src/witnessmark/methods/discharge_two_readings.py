r"""Time to a safe voltage from two voltages of one decay, each read at a known time after switching off.

Two readings cannot show that the decay is exponential: three or a log can.

Source: closed form, U = U0 · exp(−t/τ).
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
from witnessmark.methods.working import Working, ordered, worked
from witnessmark.quantities.propagation import exp, log

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("u_first", "u_second", "safe_voltage")
    w.not_negative("t_first", "t_second")
    if not w.faults and not w.value("t_second") > w.value("t_first"):
        w.fault(
            "reading.range",
            say("t_second is not later than t_first"),
            say("write both from the same zero, the later second"),
        )
    if not w.faults and not w.value("u_second") < w.value("u_first"):
        w.fault(
            "reading.range",
            say("u_second is not below u_first: nothing decays"),
            say("read again, or look for a source"),
        )
    if w.faults:
        return w.result()
    t1, t2, u1, u2 = w.x["t_first"], w.x["t_second"], w.x["u_first"], w.x["u_second"]
    tau = w.let("tau", (t2 - t1) / log(u1 / u2), "s")
    start = w.let("start", u1 * exp(t1 / tau), "V")
    t = w.let("t", t1 + tau * log(u1 / w.x["safe_voltage"]), "s")
    w.step(
        say("Time constant from the two readings."),
        r"\tau = \frac{<t_second> - <t_first>}{\mathrm{ln} \frac{<u_first>}{<u_second>}} = <tau>",
    )
    w.step(say("Voltage at the zero of time."), r"U_0 = <u_first> \cdot \mathrm{exp} \frac{<t_first>}{<tau>} = <start>")
    w.step(say("Time to the safe voltage."), r"t = <tau> \cdot \mathrm{ln} \frac{<start>}{<safe_voltage>} = <t>")
    if start.value <= w.value("safe_voltage"):
        w.alarm(
            "decay.not-energised",
            say(
                "By these readings the voltage was {start} V at the zero of time, not above the safe "
                "one: nothing was shown.",
                start=marked(f"{start.value:.1f}"),
            ),
            say("Read again with the system energised, both times from the moment of switching off."),
            fatal=True,
        )
    if w.value("safe_voltage") < u2.value:
        w.alarm(
            "discharge.extrapolated",
            say(
                "The safe voltage lies below both readings ({u2} V at last): the time is extrapolated.",
                u2=marked(f"{u2.value:.1f}"),
            ),
            say("Read once more near the safe voltage."),
        )
    w.output("discharge-time-constant", tau)
    w.output("voltage-at-start", start)
    w.output("estimated-time-to-safe-voltage", t)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="discharge-two-readings/1",
    title="Time to a safe voltage from two readings",
    purpose="Estimates the discharge with a meter and a stop watch, where no logger is at hand.",
    source="closed form: U = U0 · exp(−t/τ)",
    confidence="closed form",
    equation=r"\tau = \frac{t_2 - t_1}{\mathrm{ln} \frac{U_1}{U_2}} \quad t = t_1 + \tau \cdot \mathrm{ln} "
    r"\frac{U_1}{U_s}",
    validity="A decay through a resistor with no source on the bus; both times from the moment of switching off.",
    cautions=(
        Caution("High voltage can kill. The bus is live while it decays: connect the meter with the bus dead."),
        Caution("An estimated time proves nothing dead. Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("t_first", "t_1", "time of the first reading", "s", 0, 3600, role="clock"),
        InputSpec("u_first", "U_1", "first voltage", "V", 1, 1500, role="voltmeter"),
        InputSpec("t_second", "t_2", "time of the second reading", "s", 0, 3600, role="clock"),
        InputSpec("u_second", "U_2", "second voltage", "V", 0.1, 1500, role="voltmeter"),
        InputSpec("safe_voltage", "U_s", "voltage that is safe", "V", 1, 120),
    ),
    roles=(
        RoleSpec("voltmeter", "voltmeter", "dc-voltage", "rated for the bus; its own resistance discharges too"),
        RoleSpec("clock", "stop watch", "time", "a person's start and stop: 0.2 s or so each", required=False),
    ),
    conditions=(
        ConditionSpec("parted", "how the bus was parted from its source", required=False),
        ConditionSpec("air", "air temperature", required=False),
    ),
    measurands=(
        MeasurandSpec("estimated-time-to-safe-voltage", "time to the safe voltage", "t", "s"),
        MeasurandSpec("discharge-time-constant", "time constant", r"\tau", "s"),
        MeasurandSpec("voltage-at-start", "voltage at the zero of time", "U_0", "V"),
    ),
    evaluate_with=_evaluate,
)
