r"""A shock pulse against the corridor of its vehicle class: how far above the lower curve, how far below the upper.

The pulse has to lie above the lower curve; beyond the upper one is the maker's wish, and no fault.

Source: UN Regulation No. 100, 03 series, Annex 9C, tables 1 to 3 (seen; which curve is which: from memory; point H of
the upper curve is read as zero at 120 ms, where memory of the 02 series differs).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from witnessmark.language import declared, marked, say
from witnessmark.methods.base import (
    Caution,
    ChannelSpec,
    ConditionSpec,
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
from witnessmark.methods.checking import Quantities, output_of
from witnessmark.methods.series import as_floats, checked_time, log_fault, thinned
from witnessmark.methods.shock_data import CFC_LIMITS, CORRIDOR_END, CORRIDORS, filtered, margin
from witnessmark.methods.working import Working, ordered, worked
from witnessmark.quantities.propagation import Input, uncertain

__all__ = ["METHOD"]


def _reduce(columns: Mapping[str, Any], options: Mapping[str, float]) -> dict[str, object]:
    import numpy as np

    time, faults = checked_time(columns)
    acceleration, more = as_floats(columns, "acceleration", len(time))
    faults += more
    start, cfc = options.get("start", 0.0), options.get("cfc", 0.0)
    figures: dict[str, object] = {"faults": faults, "cfc": cfc}
    if faults:
        return figures
    if time[0] > start or time[-1] < start + CORRIDOR_END:
        faults.append(
            log_fault(
                "log.start",
                declared("the log does not hold {span} ms from the start of the pulse on"),
                declared("write start as the begin of the pulse, in the log's own time"),
                span=1000 * CORRIDOR_END,
            )
        )
        return figures
    if cfc:
        steps = np.diff(time)
        rate = 1 / float(np.median(steps))
        if cfc not in CFC_LIMITS or float(np.max(steps)) > 1.01 * float(np.min(steps)) or rate < 10 * cfc:
            faults.append(
                log_fault(
                    "log.filter",
                    declared("the filter of class {cfc} needs even steps and {rate} samples in a second or more"),
                    declared("write cfc as 60, 180, 600 or 1000, and log evenly and fast enough"),
                    cfc=float(cfc),
                    rate=10 * float(cfc),
                )
            )
            return figures
        acceleration = np.asarray(filtered(acceleration, int(cfc), rate))
    size = acceleration if abs(float(np.max(acceleration))) >= abs(float(np.min(acceleration))) else -acceleration
    inside = (time >= start) & (time <= start + CORRIDOR_END)
    t = time[inside] - start
    figures |= {
        "pulse": thinned(t, size[inside], 2000),
        "peak": float(np.max(size[inside])),
        "velocity": float(np.trapezoid(size[inside], t)),
        "step": float(np.max(np.diff(t))),
    }
    return figures


def _work(w: Working, f: Mapping[str, Any]) -> Result | Refused:
    corridor = CORRIDORS[(w.words["class"], w.words["direction"])]
    pulse = f["pulse"]
    lower, low_at = margin(pulse["time"], pulse["low"], corridor.lower, above=True)
    upper, high_at = margin(pulse["time"], pulse["high"], corridor.upper, above=False)
    u = w.x["accelerometer_check"].inputs["accelerometer_check"].u if w.has("accelerometer_check") else 0.0
    known = w.has("accelerometer_check") and not w.unknown_in(w.x["accelerometer_check"])
    names = ("shock-lower-margin", "shock-upper-margin", "shock-peak")
    values = (lower, upper, float(f["peak"]))
    for name, value, at in zip(names, values, (low_at, high_at, None), strict=True):
        own = uncertain(Input("accelerometer", value, u, basis=say("accelerometer")))
        w.let("margin", own, "gₙ")
        where = "" if at is None else marked(f"{1000 * at:.4g}") + " ms"
        w.step(
            {
                names[0]: say("Smallest distance above the lower curve, at {time}.", time=where),
                names[1]: say("Smallest distance below the upper curve, at {time}.", time=where),
                names[2]: say("Peak."),
            }[name],
            {names[0]: "a - a_{low} = <margin>", names[1]: "a_{high} - a = <margin>", names[2]: "a = <margin>"}[name],
        )
        spec = METHOD.measurand(name)
        if spec is not None:
            w.outputs.append(output_of(spec, own, known=known, where=where))
    w.let("velocity", float(f["velocity"]), "m/s")
    w.step(say("Change of speed over the pulse."), r"\Delta v = \int a \, dt = <velocity>")
    speed = uncertain(Input("log", float(f["velocity"]), 0.0, basis=say("sum of the log")))
    w.outputs.append(output_of(METHOD.measurands[3], speed, known=False))
    if upper + 2 * u < 0:
        w.alarm(
            "shock.above-upper",
            say("The pulse lies above the upper curve: harder than asked, which is allowed when the maker wishes it."),
            say("Say in the report that it was agreed."),
        )
    if not known:
        w.alarm(
            "uncertainty.not-stated",
            say("The uncertainty of the accelerometer is not stated, so none can be given for the result."),
            say("Name the instrument with its calibration."),
        )
    figure = FigureData(
        "band",
        say("Shock pulse, {vehicles}, {direction}", vehicles=w.chosen("class"), direction=w.chosen("direction")),
        say("time from the start of the pulse"),
        say("acceleration"),
        "s",
        "gₙ",
        arrays={name: tuple(pulse[name]) for name in ("time", "low", "high")},
    )
    return w.result(figure)


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    found = cast("Mapping[str, Any]", figures)
    return worked(METHOD, lambda w: _work(w, found), readings, facts)


METHOD = Method(
    id="shock-corridor/1",
    title="Shock pulse against its corridor",
    purpose="Shows that a battery was shocked as hard as its vehicle class asks.",
    source="UN Regulation No. 100, 03 series, Annex 9C, tables 1 to 3; filter: SAE J211/1, ISO 6487",
    confidence="tables seen; roles of the curves from memory; point H at 120 ms disputed",
    equation=r"a_{low}\left(t\right) \leq a\left(t\right) \leq a_{high}\left(t\right)",
    validity="From the start of the pulse to 120 ms, one direction; classes M and N with their tables.",
    cautions=(
        Caution(
            "High voltage can kill. A shocked battery may catch fire hours later: watch it for an hour, outdoors or "
            "in a bunker."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("class", "", "vehicle class", choices=("M1/N1", "M2/N2", "M3/N3")),
        InputSpec("direction", "", "direction", choices=("longitudinal", "transverse")),
        InputSpec(
            "accelerometer_check",
            "a",
            "the accelerometer in use, for its accuracy",
            "gₙ",
            0.1,
            200,
            False,
            role="accelerometer",
            preset="20 gₙ",
        ),
    ),
    roles=(RoleSpec("accelerometer", "accelerometer", "acceleration", "1000 samples in a second or more"),),
    channels=(
        ChannelSpec("time", "time", "s"),
        ChannelSpec("acceleration", "acceleration of the table", "m/s²", moves=True),
    ),
    options=(
        OptionSpec("start", "begin of the pulse, in the log's own time", "s", 0.0),
        OptionSpec("cfc", "channel frequency class of the filter, 0 for none", "1", 0.0),
    ),
    conditions=(
        ConditionSpec("charge", "state of charge of the battery", required=False),
        ConditionSpec("air", "air temperature", required=False),
    ),
    measurands=(
        MeasurandSpec("shock-lower-margin", "distance above the lower curve", "m_1", "gₙ"),
        MeasurandSpec("shock-upper-margin", "distance below the upper curve", "m_2", "gₙ"),
        MeasurandSpec("shock-peak", "peak", "a", "gₙ"),
        MeasurandSpec("shock-velocity", "change of speed", r"\Delta v", "m/s"),
    ),
    evaluate_with=_evaluate,
    reduce_with=_reduce,
)
