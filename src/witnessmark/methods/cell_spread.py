r"""How far the cells of a pack lie apart at one instant, and how long any of them was outside its window.

The spread is the highest less the lowest cell of the same row. Outside counts twice: as read, and as it would be if the
cells were read wrong by the accuracy of the log; half the difference is the uncertainty.

Source: the limits are the cell maker's, or the settings of the battery management; the evaluation is common practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from witnessmark.language import declared, marked, say
from witnessmark.methods.base import (
    Caution,
    ChannelSpec,
    ConditionSpec,
    FactSpec,
    FigureData,
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
from witnessmark.methods.series import Fault, checked_time, log_fault, stuck, thinned
from witnessmark.methods.working import Working, ordered, worked
from witnessmark.quantities.evaluation import rectangular
from witnessmark.quantities.propagation import Input, deviation, uncertain

__all__ = ["METHOD"]

_BINS = 400
_EXACT = 2000
"""So many samples may lie outside a window and still be counted exactly."""


def _reduce(columns: Mapping[str, Any], options: Mapping[str, float]) -> dict[str, object]:
    import numpy as np

    time, faults = checked_time(columns)
    cells = {name.partition(":")[2]: columns[name] for name in columns if name.startswith("cell_voltage:")}
    if len(cells) < 2:
        faults.append(
            log_fault(
                "log.channel",
                declared("the log has {cells} cell voltages"),
                declared("name the columns of two cells or more in the record, as in cell_voltage: cell_*"),
                cells=len(cells),
            )
        )
    high, low = np.full(len(time), -np.inf), np.full(len(time), np.inf)
    dead: list[str] = []
    for name, column in cells.items():
        row = np.asarray(column, dtype=np.float64)
        if faults or len(row) != len(time) or not np.isfinite(row).all():
            faults += [] if faults else [_unlike(name, len(row), len(time))]
            continue
        high, low = np.maximum(high, row), np.minimum(low, row)
        dead += [name] if stuck(row) else []
    figures: dict[str, object] = {"faults": faults, **{n: options[n] for n in ("set_high", "set_low") if n in options}}
    if faults:
        return figures
    at = int(np.argmax(high - low))
    there = {name: float(np.asarray(column)[at]) for name, column in cells.items()}
    steps = np.diff(time)
    figures |= {
        "cells": len(cells),
        "spread": float(high[at] - low[at]),
        "at": float(time[at]),
        "highest_cell": max(there, key=lambda name: there[name]),
        "lowest_cell": min(there, key=lambda name: there[name]),
        "stuck": dead,
        # A step counts whole for a voltage that is reached at either of its ends.
        "above": _beyond(np.maximum(high[:-1], high[1:]), steps, rising=True),
        "below": _beyond(np.minimum(low[:-1], low[1:]), steps, rising=False),
        "longest_step": float(np.max(steps)),
        "band": thinned(time, high - low, _BINS),
    }
    return figures


def _unlike(name: str, rows: int, wanted: int) -> Fault:
    return log_fault(
        "log.length" if rows != wanted else "log.not-finite",
        declared("the channel {name} does not hold a number in each of the {rows} rows"),
        declared("take these rows out at the source and say so in the record, or log again"),
        name=name,
        rows=wanted,
    )


def _beyond(ends: Any, steps: Any, *, rising: bool) -> dict[str, Any]:
    """Voltages in V from the outermost inwards, and for how long in s the log was at each or further out.

    The first `exact` points follow each other in the log; further in only some are kept.
    """
    import numpy as np

    order = np.argsort(-ends if rising else ends, kind="stable")
    level, total = ends[order], np.cumsum(steps[order])
    exact = min(len(level), _EXACT)
    kept = np.unique(np.r_[np.arange(exact), np.linspace(0, len(level) - 1, _BINS).astype(int)])
    return {"voltage": level[kept].tolist(), "time": total[kept].tolist(), "exact": exact}


def _time_beyond(curve: Mapping[str, Any], limit: float, *, rising: bool) -> float:
    """The time in s with a voltage beyond `limit` in V; where points were left out, the most that it can be."""
    voltage, time = curve["voltage"], curve["time"]
    inside = next((n for n, v in enumerate(voltage) if not (v > limit if rising else v < limit)), None)
    if inside is None:
        return float(time[-1])
    if inside < curve["exact"]:
        return float(time[inside - 1]) if inside else 0.0
    return float(time[inside])


def _outside(w: Working, f: Mapping[str, Any], name: str, high: float, low: float, u: float, *, maker: bool) -> None:
    """The time outside a window in V: as read, and if the cells were read wrong by two standard uncertainties."""

    def total(shift: float) -> float:
        above = _time_beyond(f["above"], high - shift, rising=True)
        return above + _time_beyond(f["below"], low + shift, rising=False)

    read, most, least = total(0.0), total(2 * u), total(-2 * u)
    w.let("high", high, "V")
    w.let("low", low, "V")
    # Both ends cover two standard uncertainties of the reading: half of the way there is one of the time.
    half = max(most - read, read - least) / 2
    t = uncertain(Input(name, read, half, basis=say("accuracy of the log, at both ends of the window")))
    if most > 0:
        t = t + uncertain(rectangular(f"{name}_steps", 0.0, float(f["longest_step"]), say("steps counted whole")))
    w.let("t", t, "s")
    w.step(
        say("Time with any cell outside the window of their maker, steps counted whole.")
        if maker
        else say("Time with any cell outside the settings, steps counted whole."),
        r"t\left(U < <low>, U > <high>\right) = <t>",
    )
    w.output(name, t, among=("cell_voltage_check",))
    if read > 0:
        w.alarm(
            "cells.outside",
            say("Cells were outside the window of their maker for {time} s.", time=marked(f"{read:.4g}"))
            if maker
            else say("Cells were outside the settings for {time} s.", time=marked(f"{read:.4g}")),
            say("Find the cell and the cause before the vehicle is used."),
        )


def _work(w: Working, f: Mapping[str, Any]) -> Result | Refused:
    if not w.has("cell_voltage_check"):
        w.x["cell_voltage_check"] = w.unstated("cell_voltage_check")
    check = w.x["cell_voltage_check"]
    u = check.inputs["cell_voltage_check"].u
    if f["stuck"]:
        w.alarm(
            "cells.stuck",
            say("The cell voltage never moves on {channels}.", channels=", ".join(f["stuck"][:5])),
            say("Look whether the sensor is connected; a value that never moves shows nothing."),
            fatal=True,
        )
    # Two channels of one logger, each with its own error.
    other = uncertain(Input("other_cell", 0.0, u, basis=say("the other channel of the log")))
    value = deviation(check) + float(f["spread"]) - other
    spread = w.let("spread", value, "V")
    where = say(
        "{highest} over {lowest} at {time} s",
        highest=f["highest_cell"],
        lowest=f["lowest_cell"],
        time=marked(f"{f['at']:g}"),
    )
    w.step(
        say("Largest distance of {cells} cells at one instant: {where}.", cells=f["cells"], where=where),
        r"\Delta U = U_{max} - U_{min} = <spread>",
    )
    w.output("cell-spread", spread, where=where)
    if w.has("cell_voltage_max", "cell_voltage_min"):
        high, low = w.value("cell_voltage_max"), w.value("cell_voltage_min")
        _outside(w, f, "time-outside-window", high, low, u, maker=True)
    if "set_high" in f and "set_low" in f:
        _outside(w, f, "time-outside-settings", float(f["set_high"]), float(f["set_low"]), u, maker=False)
    band = f["band"]
    arrays = {name: tuple(band[name]) for name in ("time", "low", "high")}
    return w.result(FigureData("band", say("Spread of the cells"), say("time"), say("spread"), "s", "V", arrays=arrays))


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    found = cast("Mapping[str, Any]", figures)
    return worked(METHOD, lambda w: _work(w, found), readings, facts)


METHOD = Method(
    id="cell-spread/1",
    title="Spread of the cells and time outside their window, from a log",
    purpose="Shows how far the cells drift apart, and that none was outside its window for longer than is allowed.",
    source="the cell maker's window, the settings of the battery management; evaluation: common practice, no source",
    confidence="common practice, no source",
    equation=r"\Delta U = \max \left( U_{max} - U_{min} \right)",
    validity="Every cell has a channel, all in the same rows; time in s, strictly rising. A step counts whole when "
    "either of its ends lies outside; what happens between two samples is not seen.",
    cautions=(
        Caution("High voltage can kill. A log needs no open battery: read it over the vehicle's own data line."),
        Caution("Stop the trial when a cell leaves its window: a damaged cell can burn. Qualified persons decide."),
        Caution("Local codes decide what may be done."),
    ),
    inputs=ordered(
        InputSpec(
            "cell_voltage_check",
            "U",
            "a cell voltage, for the accuracy of the log",
            "V",
            0.5,
            5,
            required=False,
            role="logger",
            preset="4 V",
        ),
    ),
    facts=(
        FactSpec("cell_voltage_max", "highest cell voltage that the maker allows", "V", "U_{max}", required=False),
        FactSpec("cell_voltage_min", "lowest cell voltage that the maker allows", "V", "U_{min}", required=False),
    ),
    roles=(
        RoleSpec("logger", "battery management system or cell logger", "cell-voltage", "every cell", required=False),
    ),
    channels=(
        ChannelSpec("time", "time", "s"),
        ChannelSpec("cell_voltage", "cell voltages, one channel for each", "V", many=True),
    ),
    options=(
        OptionSpec("set_high", "highest cell voltage that the battery management allows", "V"),
        OptionSpec("set_low", "lowest cell voltage that the battery management allows", "V"),
    ),
    conditions=(ConditionSpec("air", "air temperature", required=False),),
    measurands=(
        MeasurandSpec("cell-spread", "largest distance of two cells at one instant", r"\Delta U", "V"),
        MeasurandSpec("time-outside-window", "time outside the window of the cell maker", "t", "s"),
        MeasurandSpec("time-outside-settings", "time outside the settings of the management", "t", "s"),
    ),
    evaluate_with=_evaluate,
    takes_held=True,
    reduce_with=_reduce,
)
