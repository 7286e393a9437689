"""Time until the voltage at parted contacts is safe, from a log of voltage against time.

The time counts from the moment of parting to the last instant at which the voltage was above the safe one: a dip that
comes back does not count. Between two samples the crossing is put on the straight line between them, and its
uncertainty covers the whole step: the log cannot say more.

Source: UN Regulation No. 100, 03 series, 5.1.1: 60 V DC within 1 s after parting (seen); evaluation: common practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, cast

from witnessmark.language import declared, marked, say
from witnessmark.methods.base import (
    Alarm,
    Caution,
    ChannelSpec,
    ConditionSpec,
    FigureData,
    InputSpec,
    MeasurandSpec,
    Method,
    OptionSpec,
    Output,
    Reading,
    Refused,
    Result,
    RoleSpec,
    Step,
)
from witnessmark.methods.checking import Quantities, latex, output_of, spoken, unstated
from witnessmark.methods.series import as_floats, checked_time, log_fault, thinned
from witnessmark.quantities.evaluation import rectangular
from witnessmark.quantities.propagation import Input, Uncertain, uncertain
from witnessmark.quantities.units import parse_unit

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["METHOD"]

SAFE_VOLTAGE = 60.0
LIMIT_TIME = 1.0
_LEVELS = 401
_LEVEL_SPAN = 0.2
"""Crossings are kept for levels within ± 20 % of the safe voltage: a logger worse than that is none."""
_BINS = 400


def _crossing(
    time: NDArray[np.float64], size: NDArray[np.float64], falling: NDArray[np.float64], level: float, start: float
) -> dict[str, float] | None:
    """The crossing of `level` after which the voltage stays at or below it: time after `start` in s, and its bracket.

    `falling` is minus the largest of this and all later samples, which never falls. None when the log ends above.
    """
    import numpy as np

    last = int(np.searchsorted(falling, -level, side="left")) - 1
    if last == len(time) - 1:
        return None
    if last < 0:
        return {"t": 0.0, "before": 0.0, "after": 0.0}
    t0, t1, v0, v1 = (float(x) for x in (time[last], time[last + 1], size[last], size[last + 1]))
    t = t0 + (t1 - t0) * (v0 - level) / (v0 - v1)
    return {"t": t - start, "before": t0 - start, "after": t1 - start, "v_before": v0, "v_after": v1}


def _reduce(columns: Mapping[str, Any], options: Mapping[str, float]) -> dict[str, object]:
    import numpy as np

    time, faults = checked_time(columns)
    start = options.get("start", 0.0)
    safe = options.get("safe_voltage", SAFE_VOLTAGE)
    limit_time = options.get("limit_time", LIMIT_TIME)
    voltage, more = as_floats(columns, "voltage", len(time))
    faults += more
    if not faults and not (time[0] <= start <= time[-1]):
        faults.append(
            log_fault(
                "log.start",
                declared("the moment of parting, {start} s, is not in the log ({first} s to {last} s)"),
                declared("write start as an instant of the log's own time column, as in 1.250 s"),
                start=float(start),
                first=float(time[0]),
                last=float(time[-1]),
            )
        )
    figures: dict[str, object] = {"start": start, "safe_voltage": safe, "limit_time": limit_time, "faults": faults}
    if faults:
        return figures
    size = np.abs(voltage)
    counted = time >= start
    # The bracket may begin before the start: keep one sample from before it.
    first = max(int(np.argmax(counted)) - 1, 0)
    before = size[~counted] if first or not counted[0] else size[:1]
    t, v = time[first:], size[first:]
    at_start = float(np.interp(start, time, size))
    falling = -np.maximum.accumulate(v[::-1])[::-1]
    figures |= {
        "samples": len(time),
        "longest_step": float(np.max(np.diff(t))) if len(t) > 1 else 0.0,
        "end": float(time[-1]) - start,
        "voltage_at_start": at_start,
        "highest_before": max(float(np.max(before)) if before.size else 0.0, at_start),
        "last_voltage": float(v[-1]),
        "crossing": _crossing(t, v, falling, safe, start),
        "levels": [
            [float(level), None if (c := _crossing(t, v, falling, float(level), start)) is None else c["t"]]
            for level in np.linspace(safe * (1 - _LEVEL_SPAN), safe * (1 + _LEVEL_SPAN), _LEVELS)
        ],
        "at_limit": _at_limit(t, v, start + limit_time),
        "curve": thinned(t - start, v, _BINS),
    }
    return figures


def _at_limit(time: NDArray[np.float64], size: NDArray[np.float64], instant: float) -> dict[str, float] | None:
    """The highest voltage from `instant` on, and how far its samples lie apart; None if the log ends before."""
    import numpy as np

    if instant > time[-1]:
        return None
    here = float(np.interp(instant, time, size))
    after = int(np.searchsorted(time, instant))
    step = abs(float(size[after]) - float(size[max(after - 1, 0)])) if time[after] != instant else 0.0
    later = float(np.max(size[after:]))
    return {"v": max(here, later), "step": step if here >= later else 0.0}


def _time_at(levels: list[tuple[float, float | None]], level: float, *, late: bool) -> float | None:
    """The crossing time in s at a level in V, from the kept level below it (`late`) or above; None if not reached."""
    if late:
        return next((t for x, t in reversed(levels) if x <= level), None)
    return next((t for x, t in levels if x >= level), 0.0)


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    f = cast("Mapping[str, Any]", figures)
    safe, limit_time = float(f["safe_voltage"]), float(f["limit_time"])
    u_voltage, basis = _logger(readings)
    known = u_voltage is not None
    alarms: list[Alarm] = list(unstated([] if known else [say("the logger's voltage")]))
    if f["highest_before"] <= safe:
        alarms.append(
            Alarm(
                "decay.not-energised",
                say(
                    "Up to the moment of parting the voltage was {highest_before} V at most, never above "
                    "{safe} V: nothing was shown.",
                    highest_before=marked(f"{f['highest_before']:.1f}"),
                    safe=marked(f"{safe:g}"),
                ),
                say("Log again with the system energised, and write start as the moment of parting."),
                fatal=True,
            )
        )
    elif f["voltage_at_start"] <= safe:
        alarms.append(
            Alarm(
                "decay.safe-before",
                say(
                    "At the moment of parting the voltage was already {voltage_at_start} V.",
                    voltage_at_start=marked(f"{f['voltage_at_start']:.1f}"),
                ),
                say("Look whether start is right: it is the instant at which the contacts part."),
            )
        )
    time_output, bound_steps, more = _safe_time(f, safe, u_voltage, basis)
    alarms += more
    outputs = [time_output]
    steps = list(bound_steps)
    at_limit = f["at_limit"]
    volt, second = parse_unit("V"), parse_unit("s")
    if at_limit is None:
        alarms.append(
            Alarm(
                "decay.log-short",
                say(
                    "The log ends {end} s after parting, before {limit_time} s.",
                    end=marked(f"{f['end']:.3g}"),
                    limit_time=marked(f"{limit_time:g}"),
                ),
                say("Log for {time} s or more after parting.", time=marked(f"{2 * limit_time:g}")),
            )
        )
    else:
        step = float(at_limit["step"])
        voltage = uncertain(Input("voltage", float(at_limit["v"]), u_voltage or 0.0, basis=basis))
        if step:
            voltage = voltage + uncertain(rectangular("sampling", 0.0, step, say("the step between two samples")))
        outputs.append(output_of(METHOD.measurands[1], voltage, known=known))
        steps.append(
            Step(
                say("The highest voltage from {limit_time} s after parting on.", limit_time=marked(f"{limit_time:g}")),
                rf"U\left({latex(limit_time, second)}\right) = {latex(float(at_limit['v']), volt)}",
                say(
                    "U from {limit_time} on is at most {v}",
                    limit_time=spoken(limit_time, second),
                    v=spoken(float(at_limit["v"]), volt),
                ),
            )
        )
    return Result(METHOD.id, tuple(outputs), tuple(steps), tuple(alarms), (_figure(f, time_output, safe, limit_time),))


def _logger(readings: Mapping[str, tuple[Reading, ...]]) -> tuple[float | None, str]:
    """The standard uncertainty of the logger near the safe voltage in V, None when it is not known; and its basis."""
    given = readings.get("logger_check", ())
    if not given:
        return None, say("not stated")
    if given[0].input is not None:
        return given[0].input.u, given[0].input.basis
    quantity = given[0].quantity
    own = quantity.u_si if quantity is not None else None
    return own, say("as stated for the logger") if own is not None else say("not stated")


def _safe_time(
    f: Mapping[str, Any], safe: float, u_voltage: float | None, basis: str
) -> tuple[Output, list[Step], list[Alarm]]:
    spec = METHOD.measurands[0]
    second = parse_unit("s")
    crossing = f["crossing"]
    levels = [(float(x), None if y is None else float(y)) for x, y in f["levels"]]
    reach = 2 * (u_voltage or 0.0)
    early = _time_at(levels, safe + reach, late=False)
    if crossing is None:
        # With the logger's error the voltage may have been safe from `early` on; only that much is certain.
        least = float(f["end"]) if early is None else max(early, 0.0)
        output = output_of(spec, uncertain(Input("end", least, 0.0)), known=False, bound=">")
        alarm = Alarm(
            "decay.never-safe",
            say(
                "The log ends {end} s after parting at {last_voltage} V, still above {safe} V.",
                end=marked(f"{f['end']:.3g}"),
                last_voltage=marked(f"{f['last_voltage']:.1f}"),
                safe=marked(f"{safe:g}"),
            ),
            say("Keep clear, prove it dead another way, and log until the voltage is safe."),
        )
        step = Step(
            say("The voltage does not come to {safe} V or below and stay there in the log.", safe=marked(f"{safe:g}")),
            rf"t_{{safe}} > {latex(least, second)}",
            say("t safe is more than {least}", least=spoken(least, second)),
        )
        return output, [step], [alarm]
    before, after = max(float(crossing["before"]), 0.0), max(float(crossing["after"]), 0.0)
    t = max(float(crossing["t"]), 0.0)
    step = Step(
        say("The last crossing of {safe} V lies between two samples.", safe=marked(f"{safe:g}")),
        rf"t_{{safe}} = {latex(t, second)}",
        say(
            "t safe is {t}, between {before} and {after}",
            t=spoken(t, second),
            before=spoken(before, second),
            after=spoken(after, second),
        ),
    )
    alarms: list[Alarm] = []
    result: Uncertain = uncertain(
        rectangular("sampling", t, max(t - before, after - t), say("the step between two samples"))
    )
    if u_voltage:
        # The crossing moved by the logger's error, taken at two standard uncertainties: no slope is trusted for more.
        late = _time_at(levels, safe - reach, late=True)
        if late is None or early is None:
            alarms.append(
                Alarm(
                    "decay.logger",
                    say(
                        "With the logger's uncertainty the log does not show that {safe} V was reached: it "
                        "would have to stay below {least} V.",
                        safe=marked(f"{safe:g}"),
                        least=marked(f"{safe - reach:.1f}"),
                    ),
                    say("Log longer, or with a better logger."),
                )
            )
            certain = uncertain(Input("end", min(t, max(early or 0.0, 0.0)), 0.0))
            return output_of(spec, certain, known=False, bound=">"), [step], alarms
        moved = max(abs(late - t), abs(t - early))
        result = result + uncertain(
            Input(
                "voltage",
                0.0,
                moved / 2,
                basis=say(
                    "{basis}; {reach} V moves the crossing by {moved} s",
                    basis=basis,
                    reach=marked(f"{reach:.3g}"),
                    moved=marked(f"{moved:.3g}"),
                ),
            )
        )
    return output_of(spec, result, known=u_voltage is not None), [step], alarms


def _figure(f: Mapping[str, Any], output: Output, safe: float, limit_time: float) -> FigureData:
    curve = f["curve"]
    numbers = {"limit": safe, "limit_time": limit_time}
    if not output.bound:
        spread = output.U or 0.0
        numbers |= {
            "crossing": output.value,
            "crossing_low": max(output.value - spread, 0.0),
            "crossing_high": output.value + spread,
        }
    return FigureData(
        "decay",
        say("Voltage after parting"),
        say("time after parting"),
        say("voltage"),
        "s",
        "V",
        arrays={"time": tuple(curve["time"]), "voltage": tuple(curve["high"]), "voltage_low": tuple(curve["low"])},
        numbers=numbers,
    )


METHOD = Method(
    id="voltage-decay/1",
    title="Time to a safe voltage after parting, from a log",
    purpose="Shows that contacts that can be parted by hand are safe in time.",
    source="UN Regulation No. 100, 03 series, 5.1.1 (parting without a tool)",
    confidence="60 V DC and 1 s seen in a summary; evaluation of the log is common practice",
    equation=r"\left| U\left(t\right) \right| \leq U_{safe} \quad t \geq t_{safe}",
    validity="DC; the log begins before parting with the system energised and goes on after the voltage is safe; "
    "time in s from any zero, strictly rising. For AC the limit is 30 V rms, and this method does not apply.",
    cautions=(
        Caution("High voltage can kill. The contacts are live when they part: connect the logger with the bus dead."),
        Caution("Qualified persons only; local codes decide. A log that shows 60 V does not prove the bus dead."),
    ),
    inputs=(
        InputSpec(
            "logger_check",
            "U",
            "the logger near 60 V, for its accuracy",
            "V",
            1,
            1500,
            required=False,
            order=1,
            role="logger",
            preset="60 V",
        ),
    ),
    roles=(RoleSpec("logger", "voltage logger", "dc-voltage", "100 samples in a second or more (common practice)"),),
    conditions=(ConditionSpec("air", "air temperature", required=False),),
    channels=(
        ChannelSpec("time", "time", "s"),
        ChannelSpec("voltage", "voltage at the parted contacts", "V", moves=True),
    ),
    options=(
        OptionSpec("start", "moment of parting, in the log's own time", "s", 0.0),
        OptionSpec("safe_voltage", "voltage that is safe", "V", SAFE_VOLTAGE, bench_only=True),
        OptionSpec("limit_time", "time at which the voltage is read", "s", LIMIT_TIME, bench_only=True),
    ),
    measurands=(
        MeasurandSpec("time-to-safe-voltage", "time to 60 V after parting", "t_{safe}", "s"),
        MeasurandSpec("voltage-at-limit-time", "highest voltage from 1 s after parting on", "U_{1s}", "V"),
    ),
    evaluate_with=_evaluate,
    reduce_with=_reduce,
)
