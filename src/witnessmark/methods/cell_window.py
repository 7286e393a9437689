"""Highest and lowest cell voltage and cell temperature in a log of the battery management system.

Every sample of every cell is looked at; the band that is drawn keeps the smallest and the largest of each bin.

Source: the limits are the cell maker's; the evaluation is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, cast

from witnessmark.language import Words, declared, marked, say, say_n
from witnessmark.methods.base import (
    Alarm,
    Caution,
    ChannelSpec,
    ConditionSpec,
    FigureData,
    InputSpec,
    MeasurandSpec,
    Method,
    Output,
    Reading,
    Refused,
    Result,
    RoleSpec,
    Step,
)
from witnessmark.methods.checking import Quantities, latex, output_of, spoken, unstated
from witnessmark.methods.series import Fault, checked_time, coverage, log_fault, stuck, thinned
from witnessmark.quantities.propagation import Input, uncertain
from witnessmark.quantities.units import parse_unit

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["METHOD"]

_BINS = 400
_KINDS = {
    "cell_voltage": ("V", 0.0, "voltage"),
    "cell_temperature": ("°C", 273.15, "temperature"),
}
_TITLES = {
    "voltage": declared("Cell voltage: lowest and highest of {channels}"),
    "temperature": declared("Cell temperature: lowest and highest of {channels}"),
}
_LABELS = Words({"voltage": declared("cell voltage"), "temperature": declared("cell temperature")})
_NOT_STATED = Words({"voltage": declared("the cell voltage"), "temperature": declared("the cell temperature")})
_FOUND = {
    "cell-voltage-highest": declared("The highest voltage of {channels} channels: {where}."),
    "cell-voltage-lowest": declared("The lowest voltage of {channels} channels: {where}."),
    "cell-temperature-highest": declared("The highest temperature of {channels} channels: {where}."),
    "cell-temperature-lowest": declared("The lowest temperature of {channels} channels: {where}."),
}
_SPOKEN = {
    "cell-voltage-highest": declared("the highest cell voltage is {value}"),
    "cell-voltage-lowest": declared("the lowest cell voltage is {value}"),
    "cell-temperature-highest": declared("the highest cell temperature is {value}"),
    "cell-temperature-lowest": declared("the lowest cell temperature is {value}"),
}
_STUCK = {
    "voltage": declared("The cell voltage never moves on {channels}."),
    "temperature": declared("The cell temperature never moves on {channels}."),
}
_STUCK_AND_MORE = {
    "voltage": declared("The cell voltage never moves on {channels} and {more} more."),
    "temperature": declared("The cell temperature never moves on {channels} and {more} more."),
}
_STUCK_ALL = {
    "voltage": declared("The cell voltage never moves on any of {channels} channels."),
    "temperature": declared("The cell temperature never moves on any of {channels} channels."),
}


def _reduce(columns: Mapping[str, Any], options: Mapping[str, float]) -> dict[str, object]:
    time, faults = checked_time(columns)
    if not faults and not any(name.startswith("cell_voltage:") for name in columns):
        faults.append(
            log_fault(
                "log.channel",
                declared("the log has no cell voltage"),
                declared("name the columns in the record, as in cell_voltage: cell_*"),
            )
        )
    figures: dict[str, object] = {"faults": faults}
    if faults:
        return figures
    kinds: dict[str, object] = {}
    for kind in _KINDS:
        names = [name for name in columns if name.startswith(kind + ":")]
        if names:
            kinds[kind] = _extremes(time, {name.partition(":")[2]: columns[name] for name in names}, faults)
    figures |= {"coverage": coverage(time), "kinds": kinds}
    return figures


def _extremes(time: NDArray[np.float64], columns: Mapping[str, Any], faults: list[Fault]) -> dict[str, object]:
    """Highest and lowest of many channels with channel and time, the band, and channels that say nothing."""
    import numpy as np

    low_band = np.full(len(time), np.inf)
    high_band = np.full(len(time), -np.inf)
    highest: dict[str, Any] | None = None
    lowest: dict[str, Any] | None = None
    dead: list[str] = []
    missing: list[dict[str, object]] = []
    largest_step = 0.0
    for name, column in columns.items():
        values = np.asarray(column, dtype=np.float64)
        if len(values) != len(time):
            faults.append(
                log_fault(
                    "log.length",
                    declared("the channel {name} has {rows} rows, time has {wanted}"),
                    declared("export them together"),
                    name=name,
                    rows=len(values),
                    wanted=len(time),
                )
            )
            continue
        finite = np.isfinite(values)
        if not finite.all():
            missing.append(
                {"channel": name, "rows": int((~finite).sum()), "first": int(np.flatnonzero(~finite)[0]) + 1}
            )
        if not finite.any():
            continue
        kept, when = values[finite], time[finite]
        if stuck(kept):
            dead.append(name)
        if len(kept) > 1:
            largest_step = max(largest_step, float(np.max(np.abs(np.diff(kept)))))
        top, bottom = int(np.argmax(kept)), int(np.argmin(kept))
        if highest is None or kept[top] > highest["value"]:
            highest = {"value": float(kept[top]), "channel": name, "time": float(when[top])}
        if lowest is None or kept[bottom] < lowest["value"]:
            lowest = {"value": float(kept[bottom]), "channel": name, "time": float(when[bottom])}
        low_band = np.fmin(low_band, np.where(finite, values, np.inf))
        high_band = np.fmax(high_band, np.where(finite, values, -np.inf))
    seen = np.isfinite(low_band) & np.isfinite(high_band)
    band = (
        thinned(time[seen], low_band[seen], _BINS, high_band[seen])
        if seen.any()
        else {"time": [], "low": [], "high": []}
    )
    return {
        "channels": len(columns),
        "highest": highest,
        "lowest": lowest,
        "stuck": dead,
        "not_finite": missing,
        "largest_step": largest_step,
        "band": band,
    }


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    f = cast("Mapping[str, Any]", figures)
    outputs: list[Output] = []
    steps: list[Step] = []
    alarms: list[Alarm] = []
    drawn: list[FigureData] = []
    unknown: list[str] = []
    for kind, (symbol, offset, word) in _KINDS.items():
        found = f["kinds"].get(kind)
        if found is None:
            continue
        alarms += _channel_alarms(found, word)
        u, shape, basis = _accuracy(readings, f"{kind}_check")
        if u is None:
            unknown.append(_NOT_STATED[word])
        unit = parse_unit(symbol)
        for end in ("highest", "lowest"):
            extreme = found[end]
            if extreme is None:
                continue
            spec = METHOD.measurand(f"cell-{word}-{end}")
            assert spec is not None
            value = float(extreme["value"]) + offset
            number = uncertain(Input(f"cell {word}", value, u or 0.0, shape=shape, basis=basis))
            where = say("{channel} at {time} s", channel=extreme["channel"], time=marked(f"{float(extreme['time']):g}"))
            outputs.append(output_of(spec, number, known=u is not None, where=where))
            shown = latex(value, unit)
            steps.append(
                Step(
                    say(_FOUND[spec.name], channels=found["channels"], where=where),
                    rf"{spec.symbol} = {shown}",
                    say(_SPOKEN[spec.name], value=spoken(value, unit)),
                )
            )
        band = found["band"]
        drawn.append(
            FigureData(
                "band",
                say(_TITLES[word], channels=found["channels"]),
                say("time"),
                _LABELS[word],
                "s",
                symbol,
                arrays={name: tuple(band[name]) for name in ("time", "low", "high")},
                numbers={
                    f"{end}_{what}": float(found[end][what])
                    for end in ("highest", "lowest")
                    if found[end] is not None
                    for what in ("value", "time")
                },
                words={end: str(found[end]["channel"]) for end in ("highest", "lowest") if found[end] is not None},
            )
        )
    covered = f["coverage"]
    if covered["gaps"]:
        alarms.append(
            Alarm(
                "cells.gaps",
                say(
                    "The log has {gaps} gaps, the longest {longest_step} s from {longest_step_at} s on; "
                    "{covered} % of its time is covered.",
                    gaps=f"{covered['gaps']:.0f}",
                    longest_step=marked(f"{covered['longest_step']:.3g}"),
                    longest_step_at=marked(f"{covered['longest_step_at']:g}"),
                    covered=marked(f"{100 * covered['covered']:.1f}"),
                ),
                say("What happened in the gaps is not shown. Log again, or say why it does not matter."),
                fatal=covered["covered"] < 0.5,
            )
        )
    alarms += unstated(unknown)
    return Result(METHOD.id, tuple(outputs), tuple(steps), tuple(alarms), tuple(drawn))


def _accuracy(readings: Mapping[str, tuple[Reading, ...]], name: str) -> tuple[float | None, str, str]:
    """Standard uncertainty in SI, None when not known, with its shape and basis."""
    given = readings.get(name, ())
    if not given:
        return None, "", say("not stated")
    if given[0].input is not None:
        return given[0].input.u, given[0].input.shape, given[0].input.basis
    quantity = given[0].quantity
    own = quantity.u_si if quantity is not None else None
    if own is None:
        return None, "", say("not stated")
    return own, "normal", say("as stated for the log")


def _without_number(word: str, n: int, first: Mapping[str, Any]) -> str:
    channel, rows, row = first["channel"], first["rows"], first["first"]
    if word == "voltage":
        return say_n(
            "{n} channel of cell voltage has rows that are no number; {channel} in {rows} rows, first in data row "
            "{row}.",
            "{n} channels of cell voltage have rows that are no number; {channel} in {rows} rows, first in data row "
            "{row}.",
            n,
            channel=channel,
            rows=rows,
            row=row,
        )
    return say_n(
        "{n} channel of cell temperature has rows that are no number; {channel} in {rows} rows, first in data row "
        "{row}.",
        "{n} channels of cell temperature have rows that are no number; {channel} in {rows} rows, first in data row "
        "{row}.",
        n,
        channel=channel,
        rows=rows,
        row=row,
    )


def _channel_alarms(found: Mapping[str, Any], word: str) -> list[Alarm]:
    alarms: list[Alarm] = []
    if found["not_finite"]:
        alarms.append(
            Alarm(
                "cells.not-finite",
                _without_number(word, len(found["not_finite"]), found["not_finite"][0]),
                say("A cell that is not read is not shown. Find out why, and log again."),
                fatal=True,
            )
        )
    if 0 < len(found["stuck"]) < max(found["channels"], 2):
        alarms.append(
            Alarm(
                "cells.stuck",
                say(_STUCK[word], channels=", ".join(found["stuck"]))
                if len(found["stuck"]) <= 5
                else say(_STUCK_AND_MORE[word], channels=", ".join(found["stuck"][:5]), more=len(found["stuck"]) - 5),
                say("Look whether the sensor is connected; a value that never moves shows nothing."),
                # A voltage moves whenever the battery works. A temperature may stand still in a short log.
                fatal=word == "voltage",
            )
        )
    elif found["stuck"]:
        alarms.append(
            Alarm(
                "cells.stuck",
                say(_STUCK_ALL[word], channels=found["channels"]),
                say("Log while the battery works; a log in which nothing moves shows nothing."),
                fatal=True,
            )
        )
    return alarms


METHOD = Method(
    id="cell-window/1",
    title="Cell voltages and temperatures, from a log",
    purpose="Shows that every cell stayed inside its maker's window of voltage and temperature during a trial.",
    source="the cell maker's window; evaluation of the log: common practice, no source",
    confidence="common practice",
    equation=r"U_{min} \leq U_{cell} \leq U_{max} \quad \vartheta_{min} \leq \vartheta_{cell} \leq \vartheta_{max}",
    validity="Every cell of the pack has a channel; time in s from any zero, strictly rising. What happens between two "
    "samples is not seen: the log has to be fast against what it shows.",
    cautions=(
        Caution("High voltage can kill. A log needs no open battery: read it over the vehicle's own data line."),
        Caution("Stop the trial when a cell leaves its window: a damaged cell can burn. Qualified persons decide."),
    ),
    inputs=(
        InputSpec(
            "cell_voltage_check",
            "U",
            "a cell voltage, for the accuracy of the log",
            "V",
            0.5,
            5,
            required=False,
            order=1,
            role="logger",
            preset="4 V",
        ),
        InputSpec(
            "cell_temperature_check",
            r"\vartheta",
            "a cell temperature, for the accuracy of the log",
            "°C",
            -40,
            120,
            required=False,
            order=2,
            role="thermometer",
            preset="40 °C",
        ),
    ),
    roles=(
        RoleSpec("logger", "battery management system or cell logger", "cell-voltage", "every cell", required=False),
        RoleSpec("thermometer", "its temperature sensors", "temperature", "at the cells", required=False),
    ),
    conditions=(ConditionSpec("air", "air temperature", required=False),),
    channels=(
        ChannelSpec("time", "time", "s"),
        ChannelSpec("cell_voltage", "cell voltages, one channel for each", "V", many=True),
        ChannelSpec("cell_temperature", "cell temperatures", "°C", many=True, required=False),
    ),
    measurands=(
        MeasurandSpec("cell-voltage-highest", "highest cell voltage", "U_{max}", "V"),
        MeasurandSpec("cell-voltage-lowest", "lowest cell voltage", "U_{min}", "V"),
        MeasurandSpec("cell-temperature-highest", "highest cell temperature", r"\vartheta_{max}", "°C"),
        MeasurandSpec("cell-temperature-lowest", "lowest cell temperature", r"\vartheta_{min}", "°C"),
    ),
    evaluate_with=_evaluate,
    takes_held=True,
    reduce_with=_reduce,
)
