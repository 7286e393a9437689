r"""Charge and energy from a log of current (and voltage), by trapezoids over uneven steps.

Discharge is negative. How much the sum changes when each value is held until the next says how coarse the log is.

Source: closed form.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from witnessmark.language import marked, say
from witnessmark.methods.base import (
    Caution,
    ChannelSpec,
    ConditionSpec,
    InputSpec,
    MeasurandSpec,
    Method,
    Reading,
    Refused,
    Result,
    RoleSpec,
)
from witnessmark.methods.checking import Quantities, output_of
from witnessmark.methods.series import as_floats, checked_time
from witnessmark.methods.working import Working, ordered, worked
from witnessmark.quantities.evaluation import rectangular
from witnessmark.quantities.propagation import Input, deviation, uncertain

__all__ = ["METHOD"]


def _reduce(columns: Mapping[str, Any], options: Mapping[str, float]) -> dict[str, object]:
    import numpy as np

    time, faults = checked_time(columns)
    current, more = as_floats(columns, "current", len(time))
    faults += more
    voltage = None
    if columns.get("voltage") is not None:
        voltage, more = as_floats(columns, "voltage", len(time))
        faults += more
    figures: dict[str, object] = {"faults": faults}
    if faults:
        return figures
    steps = np.diff(time)
    figures |= {
        "charge": float(np.trapezoid(current, time)),
        "held": float(np.sum(current[:-1] * steps)),
        "span": float(time[-1] - time[0]),
        "throughput": float(np.trapezoid(np.abs(current), time)),
        "samples": len(time),
        "longest": float(np.max(steps)),
        "typical": float(np.median(steps)),
    }
    if voltage is not None:
        power = voltage * current
        figures |= {"energy": float(np.trapezoid(power, time)), "energy_held": float(np.sum(power[:-1] * steps))}
    return figures


def _work(w: Working, f: Mapping[str, Any]) -> Result | Refused:
    w.above_zero("capacity")
    w.valid("soc_start", 0, 100, "%", say("state the part of the capacity that was left at the start"))
    if w.faults:
        return w.result()
    charge, held = float(f["charge"]), float(f["held"])
    w.let("span", float(f["span"]), "s")
    value = uncertain(Input("log", charge, 0.0, shape="", basis=say("sum of the log")))
    # Trapezoid and held value are both guesses of what happened between samples; half their difference is the width.
    value = value + uncertain(rectangular("sampling", 0.0, abs(charge - held) / 2, say("trapezoid against held value")))
    known = w.has("current_check") and w.value("current_check") != 0
    if known:
        check = w.x["current_check"]
        # An offset counts for the whole time, whatever the current: the cautious reading of an accuracy.
        value = value + deviation(check) * float(f["span"])
        known = not w.unknown_in(value)
    w.let("charge", value, "Ah")
    w.step(
        say("Current summed over {samples} samples.", samples=f["samples"]), r"Q = \int_{0}^{<span>} I \, dt = <charge>"
    )
    w.outputs.append(output_of(METHOD.measurands[0], value, known=known))
    if "energy" in f:
        energy = uncertain(Input("log", float(f["energy"]), 0.0, shape="", basis=say("sum of the log")))
        w.let("energy", energy, "Wh")
        w.step(say("Voltage times current, summed."), r"E = \int_{0}^{<span>} U \cdot I \, dt = <energy>")
        w.outputs.append(output_of(METHOD.measurands[1], energy, known=False))
    if w.has("capacity", "soc_start"):
        soc = w.let("soc", w.x["soc_start"] + value / w.x["capacity"], "%")
        w.step(say("State of charge at the end."), r"s = <soc_start> + \frac{<charge>}{<capacity>} = <soc>")
        w.outputs.append(output_of(METHOD.measurands[2], soc, known=known))
    if float(f["longest"]) > 10 * float(f["typical"]):
        w.alarm(
            "log.gaps",
            say(
                "The longest step is {longest} s, more than ten typical ones: what happened there is a guess.",
                longest=marked(f"{float(f['longest']):.4g}"),
            ),
            say("Log without gaps."),
        )
    if not known:
        w.alarm(
            "uncertainty.not-stated",
            say("The accuracy of the current logger is not stated, so no uncertainty can be given."),
            say("Name the logger with its calibration."),
        )
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    found = cast("Mapping[str, Any]", figures)
    return worked(METHOD, lambda w: _work(w, found), readings, facts)


METHOD = Method(
    id="log-capacity/1",
    title="Charge and energy from a log",
    purpose="Shows the capacity of a pack or cell from a discharge that was logged.",
    source="closed form: Q = ∫ I dt",
    confidence="closed form",
    equation=r"Q = \int I \, dt \quad E = \int U \cdot I \, dt",
    validity="One log without gaps from full to empty; discharge negative; time in s.",
    cautions=(
        Caution("High voltage can kill. A discharge to the end is watched, and can be broken off from outside."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec(
            "current_check",
            "I",
            "the current logger in use, for its accuracy",
            "A",
            0.01,
            2000,
            False,
            role="logger",
            preset="50 A",
        ),
        InputSpec("capacity", "Q_n", "capacity by which the state of charge counts", "Ah", 0.1, 1000, False),
        InputSpec("soc_start", "s_0", "state of charge at the start", "%", 0, 100, False),
    ),
    roles=(RoleSpec("logger", "current logger", "dc-current", "offset set to zero just before"),),
    channels=(
        ChannelSpec("time", "time", "s"),
        ChannelSpec("current", "current, discharge negative", "A"),
        ChannelSpec("voltage", "voltage", "V", required=False, moves=True),
    ),
    conditions=(
        ConditionSpec("air", "air temperature", required=False),
        ConditionSpec("cell_temperature", "temperature of the cells", required=False),
    ),
    measurands=(
        MeasurandSpec("log-charge", "charge, discharge negative", "Q", "Ah"),
        MeasurandSpec("log-energy", "energy, discharge negative", "E", "Wh"),
        MeasurandSpec("state-of-charge", "state of charge at the end", "s", "%"),
    ),
    evaluate_with=_evaluate,
    reduce_with=_reduce,
)
