r"""Resistance from a log of current and voltage: every step of the current between two samples, fitted with one line.

R = Σ ΔU·ΔI / Σ ΔI² over all steps of the current that are large enough, discharge negative. What the voltage does
between two samples belongs to the result: the time of a step is the time into the pulse, and a slow log reads more.

Source: closed form, least squares through the origin; R(t) = ΔU/ΔI.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, cast

from witnessmark.language import marked, say, say_n
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
from witnessmark.methods.checking import Quantities
from witnessmark.methods.series import as_floats, checked_time
from witnessmark.methods.working import Working, ordered, worked
from witnessmark.quantities.propagation import Input, deviation, uncertain

__all__ = ["METHOD"]

LEAST_STEP = 10.0
"""Smallest step of the current in A that counts (common practice, no source)."""


def _reduce(columns: Mapping[str, Any], options: Mapping[str, float]) -> dict[str, object]:
    import numpy as np

    time, faults = checked_time(columns)
    current, more = as_floats(columns, "current", len(time))
    voltage, most = as_floats(columns, "voltage", len(time))
    faults += more + most
    least, longest = options.get("least_step", LEAST_STEP), options.get("longest_time")
    figures: dict[str, object] = {"faults": faults, "least_step": least}
    if faults:
        return figures
    steps, di, du = np.diff(time), np.diff(current), np.diff(voltage)
    used = np.abs(di) >= max(least, 1e-12)
    slow = int(np.count_nonzero(used & (steps > longest))) if longest is not None else 0
    if longest is not None:
        used &= steps <= longest
    figures |= {"found": int(np.count_nonzero(used)), "slow": slow}
    if not used.any():
        return figures
    i, u, t = di[used], du[used], steps[used]
    squares = float(np.sum(i * i))
    r = float(np.sum(u * i)) / squares
    left = u - r * i
    figures |= {
        "r": r,
        "squares": squares,
        "residual": float(np.sum(left * left)),
        "time_into": float(np.median(t)),
        "time_longest": float(np.max(t)),
        # A step that is spread over several samples is a ramp: its parts follow each other in one direction.
        "ramps": int(np.count_nonzero(used[1:] & used[:-1] & (di[1:] * di[:-1] > 0))),
    }
    return figures


def _work(w: Working, f: Mapping[str, Any]) -> Result | Refused:
    w.whole("series", "parallel")
    if not w.faults and not f["found"]:
        least = marked(f"{f['least_step']:g}")
        w.fault(
            "log.event",
            say_n(
                "the current never steps by {least} A or more between two samples of this log. {n} were found, "
                "in steps longer than longest_time.",
                "the current never steps by {least} A or more between two samples of this log. {n} were found, "
                "in steps longer than longest_time.",
                int(f["slow"]),
                least=least,
            )
            if f["slow"]
            else say("the current never steps by {least} A or more between two samples of this log.", least=least),
            say("log a pulse, with steps of the time into it that counts; or write least_step"),
        )
    if not w.faults and f["r"] <= 0:
        w.fault(
            "log.range",
            say("the voltage rises when the battery gives more"),
            say("write discharge as negative current"),
        )
    if w.faults:
        return w.result()
    n = int(f["found"])
    fit = Input("fit", float(f["r"]), 0.0, shape="", basis=say("least squares of the log"))
    if n > 1:
        scatter = math.sqrt(float(f["residual"]) / (n - 1) / float(f["squares"]))
        fit = Input(
            "fit",
            float(f["r"]),
            scatter,
            n - 1,
            "t",
            say_n("scatter of {n} step, type A", "scatter of {n} steps, type A", n),
        )
    r = uncertain(fit)
    # An error of the same sign at every step moves the line by no more than it moves one step of this size.
    size = math.sqrt(float(f["squares"]) / n)
    if w.has("voltage_check", "current_check"):
        # Errors of the loggers at both ends of a step, taken as independent: the cautious side.
        volts, amperes = w.x["voltage_check"], w.x["current_check"]
        other_volts = uncertain(
            Input("voltage_other", 0.0, volts.inputs["voltage_check"].u, basis=say("voltage logger"))
        )
        other_amperes = uncertain(
            Input("current_other", 0.0, amperes.inputs["current_check"].u, basis=say("current logger"))
        )
        r = r + (deviation(volts) - other_volts) / size - (deviation(amperes) - other_amperes) * (f["r"] / size)
    else:
        missing = [name for name in ("voltage_check", "current_check") if not w.has(name)]
        for name in missing:
            r = r + w.unstated(name)
    w.let("r", r, "Ω")
    w.step(
        say(
            "Line through {number} steps of the current of {least_step} A or more, {time_into} s long.",
            number=n,
            least_step=marked(f"{f['least_step']:g}"),
            time_into=marked(f"{f['time_into']:.4g}"),
        ),
        r"R = \frac{\sum \Delta U \cdot \Delta I}{\sum \Delta I^2} = <r>",
    )
    where = say("{time} s into the step", time=marked(f"{f['time_into']:.4g}"))
    w.output("pack-resistance", r, where=where)
    if w.has("series", "parallel"):
        cell = w.let("cell", r * w.x["parallel"] / w.x["series"], "Ω")
        w.step(say("Of one cell."), r"R_c = <r> \cdot \frac{<parallel>}{<series>} = <cell>")
        w.output("cell-resistance", cell, where=where)
    if n == 1:
        w.alarm(
            "log.one-step",
            say("Only one step of the current was found: its scatter is not known."),
            say("Log more pulses."),
        )
    if f["ramps"]:
        w.alarm(
            "log.sampled-unlike",
            say(
                "{ramps} steps of the current run over several samples: the time into the step is not what it seems.",
                ramps=f["ramps"],
            ),
            say("Step the current at once, or say so in the record."),
        )
    if float(f["time_longest"]) > 2 * float(f["time_into"]):
        w.alarm(
            "log.sampled-too-slowly",
            say(
                "Steps are from {time_into} s to {time_longest} s long: sampled too slowly to tell "
                "at which time into the step the resistance is.",
                time_into=marked(f"{f['time_into']:.3g}"),
                time_longest=marked(f"{f['time_longest']:.3g}"),
            ),
            say("Log evenly, with steps of the time that counts; or write longest_time."),
        )
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    found = cast("Mapping[str, Any]", figures)
    return worked(METHOD, lambda w: _work(w, found), readings, facts)


METHOD = Method(
    id="log-resistance/1",
    title="Resistance from a log of current and voltage",
    purpose="Gives the resistance of a pack for fault current, heat and voltage sag, from the steps in a log.",
    source="closed form: least squares through the origin, R = Σ ΔU·ΔI / Σ ΔI²",
    confidence="closed form",
    equation=r"R = \frac{\sum \Delta U \cdot \Delta I}{\sum \Delta I^2}",
    validity="Current and voltage in the same rows, discharge negative; steps at once, not ramps. The time of a step "
    "belongs to the result: early values are smaller, and count for fault currents.",
    cautions=(
        Caution(
            "High voltage can kill. Pulses of hundreds of amperes heat every bad joint. Watch and be able to break off."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec(
            "voltage_check",
            "U",
            "the voltage logger in use, for its accuracy",
            "V",
            0.1,
            1500,
            False,
            role="voltage-logger",
            preset="400 V",
        ),
        InputSpec(
            "current_check",
            "I",
            "the current logger in use, for its accuracy",
            "A",
            0.01,
            2000,
            False,
            role="current-logger",
            preset="50 A",
        ),
        InputSpec("series", "N_s", "cells in series", "1", 1, 1000, False),
        InputSpec("parallel", "N_p", "cells in parallel", "1", 1, 1000, False),
    ),
    roles=(
        RoleSpec("voltage-logger", "voltage logger", "dc-voltage", "sees a hundredth of the step", required=False),
        RoleSpec("current-logger", "current logger", "dc-current", "in one time base with the voltage", required=False),
    ),
    channels=(
        ChannelSpec("time", "time", "s"),
        ChannelSpec("current", "current, discharge negative", "A", moves=True),
        ChannelSpec("voltage", "voltage", "V", moves=True),
    ),
    options=(
        OptionSpec("least_step", "smallest step of the current that counts", "A", LEAST_STEP),
        OptionSpec("longest_time", "longest step in time that counts", "s"),
    ),
    conditions=(
        ConditionSpec("charge", "state of charge of the battery", required=False),
        ConditionSpec("cell_temperature", "temperature of the cells", required=False),
    ),
    measurands=(
        MeasurandSpec("pack-resistance", "resistance of the pack", "R_p", "Ω"),
        MeasurandSpec("cell-resistance", "resistance of one cell", "R_c", "Ω"),
    ),
    evaluate_with=_evaluate,
    reduce_with=_reduce,
)
