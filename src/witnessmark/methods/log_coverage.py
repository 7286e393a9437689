r"""What a log has seen: how long the battery gave, took and rested, how much of the time is covered, and the gaps.

A step counts for the state that holds at both of its ends; a step between two states is shared out evenly. Time in a
gap belongs to no state. Source: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, cast

from witnessmark.language import Words, declared, marked, say
from witnessmark.methods.base import (
    Caution,
    ChannelSpec,
    MeasurandSpec,
    Method,
    OptionSpec,
    Reading,
    Refused,
    Result,
)
from witnessmark.methods.checking import Quantities
from witnessmark.methods.series import as_floats, checked_time, coverage, log_fault
from witnessmark.methods.working import Working, worked
from witnessmark.quantities.evaluation import rectangular
from witnessmark.quantities.propagation import uncertain

__all__ = ["METHOD"]

STATES = Words(
    {
        "discharge": declared("the battery gives"),
        "charge": declared("the battery takes"),
        "rest": declared("at rest"),
    }
)
"""States by name, with their words."""

TIMES = {
    "discharge": declared("Time in which the battery gives, by current against {rest_current} A."),
    "charge": declared("Time in which the battery takes, by current against {rest_current} A."),
    "rest": declared("Time in which at rest, by current against {rest_current} A."),
}

REST_CURRENT = 1.0
"""Current in A below which a battery counts as at rest (common practice, no source)."""


def _reduce(columns: Mapping[str, Any], options: Mapping[str, float]) -> dict[str, object]:
    import numpy as np

    time, faults = checked_time(columns)
    current, more = as_floats(columns, "current", len(time))
    faults += more
    rest = options.get("rest_current", REST_CURRENT)
    moving = None
    if columns.get("speed") is not None:
        moving, more = as_floats(columns, "speed", len(time))
        faults += more
    if not rest > 0:
        faults.append(
            log_fault("log.option", declared("rest_current is not above zero"), declared("write it as in 1 A"))
        )
    figures: dict[str, object] = {"faults": faults, "rest_current": rest}
    if faults:
        return figures
    steps = np.diff(time)
    whole = coverage(time)
    inside = steps <= 10 * whole["typical_step"]
    state = np.where(current < -rest, 0, np.where(current > rest, 1, 2))
    times: dict[str, float] = {}
    edges: dict[str, float] = {}
    for number, name in enumerate(STATES):
        here = (state == number).astype(np.float64)
        share = (here[:-1] + here[1:]) / 2
        times[name] = float(np.sum(steps[inside] * share[inside]))
        # Each step between two states is uncertain by half of itself, evenly.
        between = inside & (share == 0.5)
        edges[name] = float(np.sum((steps[between] / 2) ** 2))
    figures |= {"coverage": whole, "times": times, "edges": edges}
    if moving is not None:
        rolls = np.abs(moving) > options.get("standing_speed", 1.0)
        figures["moving"] = float(np.sum((steps * (rolls[:-1] & rolls[1:]))[inside]))
        figures["still_moving"] = float(np.sum((steps * (rolls[:-1] != rolls[1:]))[inside]))
    return figures


def _work(w: Working, f: Mapping[str, Any]) -> Result | Refused:
    covered, times, edges = f["coverage"], f["times"], f["edges"]
    w.let("rest", float(f["rest_current"]), "A")
    for name in STATES:
        # The sum of even halves, taken as one rectangle of the same standard uncertainty.
        spread = rectangular(
            "edges", float(times[name]), math.sqrt(float(edges[name])), say("steps between two states")
        )
        t = w.let("t", uncertain(spread), "s")
        w.step(
            say(TIMES[name], rest_current=marked(f"{f['rest_current']:g}")),
            r"t = \sum \Delta t = <t>",
        )
        w.output(f"logged-{name}-time", t)
    if "moving" in f:
        half = float(f["still_moving"]) / 2
        roll = uncertain(rectangular("speed_edges", float(f["moving"]) + half, half, say("steps between two states")))
        w.let("t", roll, "s")
        w.step(say("Time in which the vehicle moved."), r"t = \sum \Delta t = <t>")
        w.output("logged-moving-time", roll)
    w.let("span", covered["span"], "s")
    part = w.let("part", covered["covered"], "%")
    w.step(say("Part of the time of the log outside gaps."), r"q = <part>")
    w.output("log-covered", part, note=say("A gap is a step of more than ten typical ones."))
    w.output("log-longest-step", float(covered["longest_step"]))
    seen = [words for name, words in STATES.items() if times[name] > 0]
    missed = [words for name, words in STATES.items() if not times[name] > 0]
    w.step(
        say("Seen in this log: {states}.", states=", ".join(seen)) if seen else say("Seen in this log: nothing."), ""
    )
    if missed:
        w.alarm(
            "log.states",
            say("The log never saw: {states}.", states=", ".join(missed)),
            say("What was not visited is not shown. Log a drive, a charge and a rest, in one log or in several."),
        )
    if covered["gaps"]:
        w.alarm(
            "log.gaps",
            say(
                "The log has {gaps} gaps, the longest {longest_step} s from {longest_step_at} s on; "
                "they belong to no state.",
                gaps=f"{covered['gaps']:.0f}",
                longest_step=marked(f"{covered['longest_step']:.4g}"),
                longest_step_at=marked(f"{covered['longest_step_at']:.6g}"),
            ),
            say("What happened in the gaps is not shown. Log again, or say why it does not matter."),
        )
    shortest = min((times[name] for name in STATES if times[name] > 0), default=0.0)
    if shortest and shortest < 10 * covered["typical_step"]:
        w.alarm(
            "log.sampled-too-slowly",
            say("A state lasts less than ten typical steps: sampled too slowly to tell how long."),
            say("Log faster, or longer in each state."),
        )
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    found = cast("Mapping[str, Any]", figures)
    return worked(METHOD, lambda w: _work(w, found), readings, facts)


METHOD = Method(
    id="log-coverage/1",
    title="What a log has seen",
    purpose="Shows that a log holds a drive, a charge and a rest, long enough and without gaps.",
    source="common practice, no source",
    confidence="common practice, no source",
    equation=r"t_s = \sum_{s} \Delta t",
    validity="One log with the current of the battery, discharge negative; time in s from any zero, strictly rising.",
    cautions=(
        Caution("High voltage can kill. A log needs no open battery: read it over the vehicle's own data line."),
        Caution(
            "A vehicle on trial moves: area clear, one person at the switch. Qualified persons; local codes decide."
        ),
    ),
    inputs=(),
    channels=(
        ChannelSpec("time", "time", "s"),
        ChannelSpec("current", "current of the battery, discharge negative", "A", moves=True),
        ChannelSpec("speed", "speed of the vehicle, or of its motor", "1", required=False),
    ),
    options=(
        OptionSpec("rest_current", "current below which the battery counts as at rest", "A", REST_CURRENT),
        OptionSpec("standing_speed", "speed up to which it stands, in the unit of the channel", "1", 1.0),
    ),
    measurands=(
        MeasurandSpec("logged-discharge-time", "time in which the battery gave", "t_d", "s"),
        MeasurandSpec("logged-charge-time", "time in which the battery took", "t_c", "s"),
        MeasurandSpec("logged-rest-time", "time at rest", "t_r", "s"),
        MeasurandSpec("logged-moving-time", "time in which the vehicle moved", "t_m", "s"),
        MeasurandSpec("log-covered", "part of the time outside gaps", "q", "%"),
        MeasurandSpec("log-longest-step", "longest step between two samples", r"\Delta t", "s"),
    ),
    evaluate_with=_evaluate,
    takes_held=True,
    reduce_with=_reduce,
)
