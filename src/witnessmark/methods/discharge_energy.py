r"""Energy that comes out of a bus through a known resistor, from a log of voltage and current until the bus is at 60 V.

TE = ∫ Ub · Ie dt from the closing of the switch to the last instant above 60 V. The step between two samples is counted
by trapezoids; how much the sum changes when every second sample is left out says how coarse the log is.

Source: UN Regulation No. 94, revision 4, pages 61 and 62 (seen; that the integral ends at 60 V is from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from witnessmark.language import declared, marked, say
from witnessmark.methods.base import (
    Caution,
    ChannelSpec,
    ConditionSpec,
    InputSpec,
    MeasurandSpec,
    Method,
    OptionSpec,
    Reading,
    Refused,
    Result,
    RoleSpec,
)
from witnessmark.methods.checking import Quantities, output_of
from witnessmark.methods.series import as_floats, checked_time, log_fault
from witnessmark.methods.working import Working, ordered, worked
from witnessmark.quantities.evaluation import rectangular
from witnessmark.quantities.propagation import Input, deviation, uncertain

__all__ = ["METHOD"]


def _reduce(columns: Mapping[str, Any], options: Mapping[str, float]) -> dict[str, object]:
    import numpy as np

    start, safe = options.get("start", 0.0), options.get("safe_voltage", 60.0)
    time, faults = checked_time(columns)
    voltage, more = as_floats(columns, "voltage", len(time))
    current, most = as_floats(columns, "current", len(time))
    faults += more + most
    figures: dict[str, object] = {"start": start, "safe_voltage": safe, "faults": faults}
    if faults:
        return figures
    if not time[0] <= start < time[-1]:
        faults.append(
            log_fault(
                "log.start",
                declared("the closing of the switch, {start} s, lies outside the log"),
                declared("write start as an instant of the log's own time column"),
                start=float(start),
            )
        )
        return figures
    above = np.flatnonzero(np.abs(voltage) > safe)
    last = int(above[-1]) if above.size else -1
    ended = last < len(time) - 1
    end = float(time[-1])
    if last >= 0 and ended:
        v0, v1 = abs(float(voltage[last])), abs(float(voltage[last + 1]))
        end = float(time[last]) + float(time[last + 1] - time[last]) * (v0 - safe) / (v0 - v1)
    inner = (time > start) & (time < end)
    t = np.r_[start, time[inner], end]
    power = np.abs(np.interp(t, time, voltage) * np.interp(t, time, current))
    fine = float(np.trapezoid(power, t))
    keep = np.r_[0 : len(t) - 1 : 2, len(t) - 1]
    figures |= {
        "energy": fine,
        "coarse": float(np.trapezoid(power[keep], t[keep])),
        "end": end - start,
        "ended": ended,
        "above": last >= 0 and end > start,
        "samples": len(t),
        "step": float(np.max(np.diff(t))),
    }
    return figures


def _work(w: Working, f: Mapping[str, Any]) -> Result | Refused:
    safe, energy = float(f["safe_voltage"]), float(f["energy"])
    if not f["above"]:
        w.alarm(
            "decay.not-energised",
            say(
                "The voltage was not above {safe} V after the switch closed: nothing was shown.",
                safe=marked(f"{safe:g}"),
            ),
            say("Log again with the system energised, and write start as the closing of the switch."),
            fatal=True,
        )
    w.let("end", float(f["end"]), "s")
    value = uncertain(Input("log", energy, 0.0, shape="", basis=say("sum of the log")))
    coarse = abs(float(f["coarse"]) - energy)
    value = value + uncertain(rectangular("sampling", 0.0, coarse, say("change when every second sample is left out")))
    missing = []
    for name in ("voltage_check", "current_check"):
        if w.has(name) and w.value(name):
            check = w.x[name]
            value = value + deviation(check) * (energy / check.inputs[name].value)
        else:
            missing.append(name)
    w.let("te", value, "J")
    w.step(
        say("Voltage times current, summed from the closing of the switch until {safe} V.", safe=marked(f"{safe:g}")),
        r"T_E = \int_{0}^{<end>} U_b \cdot I_e \, dt = <te>",
    )
    if not f["ended"]:
        w.alarm(
            "decay.never-safe",
            say("The log ends above {safe} V: what came after is not counted.", safe=marked(f"{safe:g}")),
            say("Keep clear, and log until the voltage is safe."),
            fatal=True,
        )
    if coarse > 0.1 * energy:
        w.alarm(
            "log.coarse",
            say(
                "Leaving out every second sample changes the energy by {coarse} %.",
                coarse=f"{100 * coarse / energy:.0f}",
            ),
            say("Log faster."),
        )
    if missing:
        w.alarm(
            "uncertainty.not-stated",
            say("The accuracy behind {one} is not stated, so no uncertainty can be given.", one=missing[0])
            if len(missing) == 1
            else say(
                "The accuracy behind {one} and {two} is not stated, so no uncertainty can be given.",
                one=missing[0],
                two=missing[1],
            ),
            say("Name the loggers with their calibration."),
        )
    known = not missing and not w.unknown_in(value)
    w.outputs.append(output_of(METHOD.measurands[0], value, known=known))
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    found = cast("Mapping[str, Any]", figures)
    return worked(METHOD, lambda w: _work(w, found), readings, facts)


METHOD = Method(
    id="discharge-energy/1",
    title="Energy of a bus through a resistor, from a log",
    purpose="Shows that what a parted bus can still give is too little to hurt.",
    source="UN Regulation No. 94, revision 4 (04 series), pages 61 and 62",
    confidence="integral seen; its end at 60 V from memory",
    equation=r"T_E = \int_{t_c}^{t_h} U_b \cdot I_e \, dt",
    validity="The log begins before the switch closes and goes on until the bus is at 60 V or below.",
    cautions=(
        Caution(
            "High voltage can kill. The resistor gets hot and is live: fit it with the bus dead, behind a barrier."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec(
            "voltage_check",
            "U_b",
            "the voltage logger in use, for its accuracy",
            "V",
            1,
            1500,
            False,
            role="voltage-logger",
            preset="200 V",
        ),
        InputSpec(
            "current_check",
            "I_e",
            "the current logger in use, for its accuracy",
            "A",
            1e-3,
            1000,
            False,
            role="current-logger",
            preset="2 A",
        ),
    ),
    roles=(
        RoleSpec("voltage-logger", "voltage logger", "dc-voltage", "rated for the bus"),
        RoleSpec("current-logger", "current logger", "dc-current", "sampled together with the voltage"),
    ),
    channels=(
        ChannelSpec("time", "time", "s"),
        ChannelSpec("voltage", "voltage of the bus", "V", moves=True),
        ChannelSpec("current", "current through the resistor", "A", moves=True),
    ),
    options=(
        OptionSpec("start", "closing of the switch, in the log's own time", "s", 0.0),
        OptionSpec("safe_voltage", "voltage at which the sum ends", "V", 60.0, bench_only=True),
    ),
    conditions=(
        ConditionSpec("parted", "how the bus was parted from its source", required=False),
        ConditionSpec("air", "air temperature", required=False),
    ),
    measurands=(MeasurandSpec("discharge-energy", "energy through the resistor", "T_E", "J"),),
    evaluate_with=_evaluate,
    reduce_with=_reduce,
)
