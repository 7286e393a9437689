r"""Reaction time from a log: from the edge of an event to the last instant at which the response was not yet there.

An edge lies somewhere between two samples, and no log says where: both steps go into the uncertainty as rectangles.
When event and response fall into the same step, the answer is that the log was sampled too slowly to tell, with the
largest time that is possible.

Source: closed form; common practice, no source for the evaluation.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from witnessmark.language import declared, marked, say
from witnessmark.methods.base import (
    Caution,
    ChannelSpec,
    ConditionSpec,
    MeasurandSpec,
    Method,
    OptionSpec,
    Reading,
    Refused,
    Result,
    RoleSpec,
)
from witnessmark.methods.checking import Quantities
from witnessmark.methods.series import as_floats, checked_time, log_fault
from witnessmark.methods.working import Working, worked
from witnessmark.quantities.evaluation import rectangular
from witnessmark.quantities.propagation import uncertain

__all__ = ["METHOD"]


def _edges(values: Any, level: float, falls: bool) -> Any:
    return values < level if falls else values > level


def _reduce(columns: Mapping[str, Any], options: Mapping[str, float]) -> dict[str, object]:
    import numpy as np

    time, faults = checked_time(columns)
    event, more = as_floats(columns, "event", len(time))
    response, most = as_floats(columns, "response", len(time))
    faults += more + most
    levels = {name: options.get(name) for name in ("event_level", "response_level")}
    for name, level in levels.items():
        if level is None:
            faults.append(
                log_fault(
                    "log.option",
                    declared("{name} is not given"),
                    declared("write {name}: the value whose crossing counts, in the unit of the channel"),
                    name=name,
                )
            )
    limit = options.get("time_limit")
    figures: dict[str, object] = {"faults": faults, "limit": limit}
    if faults:
        return figures
    here = _edges(event, float(levels["event_level"] or 0.0), bool(options.get("event_falls", 0.0)))
    there = _edges(response, float(levels["response_level"] or 0.0), bool(options.get("response_falls", 0.0)))
    first = int(np.argmax(here)) if here.any() else -1
    if first <= 0:
        faults.append(
            log_fault(
                "log.event",
                declared("the event is there in the first sample")
                if first == 0
                else declared("the event never comes in this log"),
                declared("begin the log before the event, and look at event_level and event_falls"),
            )
        )
        return figures
    # A value that was held may have changed as long before the sample as the longest hold: both steps begin earlier.
    hold = options.get("hold", 0.0)
    absent = np.flatnonzero(~there)
    last = int(absent[-1]) if absent.size else -1
    figures |= {
        "event_before": float(time[first - 1]) - hold,
        "event_after": float(time[first]),
        "early": bool(there[first - 1]),
        "responded": last < len(time) - 1,
        "response_before": float(time[last]) - hold if last >= 0 else None,
        "response_after": float(time[last + 1]) if last < len(time) - 1 else None,
        "end": float(time[-1]),
        "step": float(np.median(np.diff(time))),
    }
    return figures


def _work(w: Working, f: Mapping[str, Any]) -> Result | Refused:
    e0, e1 = float(f["event_before"]), float(f["event_after"])
    w.let("e0", e0, "s")
    w.let("e1", e1, "s")
    limit = f.get("limit")
    if f["early"]:
        w.alarm(
            "reaction.early",
            say("The response was already there before the event: nothing was shown."),
            say("Log again from a state in which the response is absent."),
            fatal=True,
        )
    if not f["responded"]:
        least = w.let("least", float(f["end"]) - e1, "s")
        w.step(say("No response until the end of the log."), "t > <least>")
        w.alarm(
            "reaction.none",
            say("The response did not come, or did not stay, in this log."),
            say("Find the fault, or log longer."),
        )
        w.output("reaction-time", least, bound=">")
        return w.result()
    before, r1 = f["response_before"], float(f["response_after"])
    r0 = e0 if before is None else max(float(before), e0)
    w.let("r0", r0, "s")
    w.let("r1", r1, "s")
    low, high = max(r0 - e1, 0.0), r1 - e0
    w.step(say("The event lies between two samples."), r"<e0> < t_e \leq <e1>")
    w.step(say("So does the response."), r"<r0> < t_r \leq <r1>")
    slow = r0 < e1
    if slow:
        most = w.let("most", high, "s")
        w.step(say("Both may lie in one step: only a largest time can be told."), r"t < <r1> - <e0> = <most>")
        w.output("reaction-time", most, bound="<", note=say("Sampled too slowly to tell."))
    else:
        event = uncertain(rectangular("event_sampling", (e0 + e1) / 2, (e1 - e0) / 2, say("step round the event")))
        response = uncertain(
            rectangular("response_sampling", (r0 + r1) / 2, (r1 - r0) / 2, say("step round the response"))
        )
        t = w.let("t", response - event, "s")
        w.step(say("Between the middles of the two steps."), r"t = \frac{<r0> + <r1>}{2} - \frac{<e0> + <e1>}{2} = <t>")
        w.output("reaction-time", t)
    if slow or (limit is not None and low <= float(limit) <= high):
        w.alarm(
            "reaction.sampled-too-slowly",
            say(
                "Between {low} s and {high} s are possible: sampled too slowly to tell.",
                low=marked(f"{low:.4g}"),
                high=marked(f"{high:.4g}"),
            )
            if limit is None
            else say(
                "Between {low} s and {high} s are possible: sampled too slowly to tell against {limit} s.",
                low=marked(f"{low:.4g}"),
                high=marked(f"{high:.4g}"),
                limit=marked(f"{float(limit):g}"),
            ),
            say("Log with steps of a tenth of the time that is asked, or less."),
        )
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    found = cast("Mapping[str, Any]", figures)
    return worked(METHOD, lambda w: _work(w, found), readings, facts)


METHOD = Method(
    id="reaction-time/1",
    title="Reaction time from a log",
    purpose="Shows how fast a safety function acts: interlock opened, crash switch, disconnect pulled, connector "
    "parted, "
    "leak to warning.",
    source="closed form on the samples; evaluation: common practice, no source",
    confidence="common practice, no source",
    equation=r"t = t_r - t_e",
    validity="Both channels in one log and one time base; the log begins before the event. A response that goes "
    "away again "
    "counts from its last return.",
    cautions=(
        Caution("High voltage can kill. Trip the function with the vehicle secured and nobody near live parts."),
        Caution(
            "A contactor that has opened does not make the bus dead at once. Local codes and qualified persons decide."
        ),
    ),
    inputs=(),
    roles=(
        RoleSpec(
            "logger", "data logger", "time", "steps of a tenth of the time that is asked, or less", required=False
        ),
    ),
    channels=(
        ChannelSpec("time", "time", "s"),
        ChannelSpec("event", "channel of the event, in its own unit", "1"),
        ChannelSpec("response", "channel of the response, in its own unit", "1"),
    ),
    options=(
        OptionSpec("event_level", "value whose crossing is the event", "1"),
        OptionSpec("event_falls", "1 when the event is a fall, 0 when a rise", "1", 0.0),
        OptionSpec("response_level", "value whose crossing is the response", "1"),
        OptionSpec("response_falls", "1 when the response is a fall, 0 when a rise", "1", 0.0),
        OptionSpec("time_limit", "time that is asked, to see whether the log can tell", "s"),
    ),
    conditions=(ConditionSpec("before", "state of the vehicle before the event", required=False),),
    measurands=(MeasurandSpec("reaction-time", "time from event to response", "t", "s"),),
    evaluate_with=_evaluate,
    reduce_with=_reduce,
    takes_held=True,
)
