r"""Contactor sequence from a log: first pole, precharge, second pole, and how full the bus was when the second closed.

The ratio is that of the last sample before the second pole closed: the next one may already be pulled up by it.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from witnessmark.language import declared, say
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
from witnessmark.methods.series import as_floats, checked_time, log_fault
from witnessmark.methods.working import Working, ordered, worked
from witnessmark.quantities.evaluation import rectangular
from witnessmark.quantities.propagation import Input, uncertain

__all__ = ["METHOD"]

NAMES = ("first", "precharge", "second")


def _reduce(columns: Mapping[str, Any], options: Mapping[str, float]) -> dict[str, object]:
    import numpy as np

    time, faults = checked_time(columns)
    figures: dict[str, object] = {"faults": faults}
    series = {}
    for name in (*NAMES, "bus_voltage", "pack_voltage"):
        series[name], more = as_floats(columns, name, len(time))
        faults += more
    if faults:
        return figures
    closed = {}
    for name in NAMES:
        on = np.flatnonzero(series[name] > 0.5)
        if not on.size or on[0] == 0:
            faults.append(
                log_fault(
                    "log.event",
                    declared("{name} is closed in the first sample in this log")
                    if on.size
                    else declared("{name} never closes in this log"),
                    declared("begin the log before the first contactor closes; write 1 for closed and 0 for open"),
                    name=name,
                )
            )
        else:
            closed[name] = int(on[0])
    if faults:
        return figures
    k = closed["second"] - 1
    figures |= {
        **{name: float(time[index]) for name, index in closed.items()},
        "step": float(np.max(np.diff(time[: closed["second"] + 1]))),
        "bus": float(series["bus_voltage"][k]),
        "pack": float(series["pack_voltage"][k]),
        "bus_before": float(series["bus_voltage"][max(closed["precharge"] - 1, 0)]),
    }
    return figures


def _work(w: Working, f: Mapping[str, Any]) -> Result | Refused:
    times = {name: float(f[name]) for name in NAMES}
    if float(f["pack"]) <= 0:
        w.fault(
            "log.range",
            say("the pack voltage before the second pole closes is not above zero"),
            say("look at the channel"),
        )
        return w.result()
    for name in NAMES:
        w.let(name, times[name], "s")
    bus, pack = w.let("bus", float(f["bus"]), "V"), w.let("pack", float(f["pack"]), "V")
    if w.has("voltage_check"):
        check = w.x["voltage_check"]
        # Both channels are read with loggers of that accuracy; each has its own error.
        bus = bus + uncertain(Input("bus_voltage", 0.0, check.inputs["voltage_check"].u, basis=say("voltage logger")))
        pack = pack + uncertain(
            Input("pack_voltage", 0.0, check.inputs["voltage_check"].u, basis=say("voltage logger"))
        )
    ratio = w.let("ratio", bus / pack, "1")
    step = float(f["step"])
    span = uncertain(
        rectangular("sampling", times["second"] - times["precharge"], step, say("steps round the two edges"))
    )
    w.let("span", span, "s")
    ordered_well = times["first"] < times["second"] and times["precharge"] < times["second"]
    w.step(
        say("The edges in the log: first pole, precharge, second pole."), r"<first> \quad <precharge> \quad <second>"
    )
    w.step(
        say("Bus over pack in the last sample before the second pole closed."), r"q = \frac{<bus>}{<pack>} = <ratio>"
    )
    w.step(say("Time from precharge to the second pole."), r"t = <second> - <precharge> = <span>")
    known = w.has("voltage_check") and not w.unknown_in(w.x["voltage_check"])
    w.outputs.append(output_of(METHOD.measurands[0], ratio, known=known))
    w.output("precharge-span", span)
    w.output(
        "sequence-in-order",
        1.0 if ordered_well else 0.0,
        note=say("1: both before the second pole; 0: not. Observed, not measured: ask for more than 0.5."),
    )
    if not ordered_well:
        w.alarm(
            "sequence.order",
            say("The second pole closed before the first pole or the precharge."),
            say("Stop: find out why, before anything is closed again."),
        )
    if times["second"] - max(times["first"], times["precharge"]) <= step and ordered_well:
        w.alarm(
            "reaction.sampled-too-slowly",
            say("Edges lie in neighbouring samples: too slow to tell."),
            say("Log faster."),
        )
    if float(f["bus_before"]) > 60:
        w.alarm(
            "sequence.charged-before",
            say(
                "The bus was at {bus_before} V before the precharge: a pole may be welded.",
                bus_before=f"{float(f['bus_before']):.0f}",
            ),
            say("Check the contactors for welding."),
        )
    if not w.has("voltage_check"):
        w.alarm(
            "uncertainty.not-stated",
            say("The uncertainty of the loggers is not stated, so none can be given for the ratio."),
            say("Name the instrument with its calibration."),
        )
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    found = cast("Mapping[str, Any]", figures)
    return worked(METHOD, lambda w: _work(w, found), readings, facts)


METHOD = Method(
    id="contactor-sequence/1",
    title="Contactor sequence from a log",
    purpose="Shows that the second pole closes on a charged bus, and in order.",
    source="common practice, no source",
    confidence="common practice, no source",
    equation=r"q = \frac{U_{bus}}{U_{pack}}",
    validity="All channels in one log; contactors as 1 for closed, 0 for open; the log begins with all of them open.",
    cautions=(
        Caution(
            "High voltage can kill. Contactors that close on an empty bus weld. Keep clear of the bus while the "
            "sequence runs."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec(
            "voltage_check",
            "U",
            "the voltage loggers in use, for their accuracy",
            "V",
            1,
            1500,
            False,
            role="logger",
            preset="400 V",
        ),
    ),
    roles=(RoleSpec("logger", "voltage logger", "dc-voltage", "steps of a tenth of the precharge or less"),),
    channels=(
        ChannelSpec("time", "time", "s"),
        ChannelSpec("first", "first main contactor, 1 for closed", "1"),
        ChannelSpec("precharge", "precharge contactor, 1 for closed", "1"),
        ChannelSpec("second", "second main contactor, 1 for closed", "1"),
        ChannelSpec("bus_voltage", "voltage behind the contactors", "V", moves=True),
        ChannelSpec("pack_voltage", "voltage of the pack", "V"),
    ),
    conditions=(
        ConditionSpec("charge", "state of charge of the battery", required=False),
        ConditionSpec("air", "air temperature", required=False),
    ),
    measurands=(
        MeasurandSpec("precharge-ratio", "bus over pack voltage at closing", "q", "1"),
        MeasurandSpec("precharge-span", "time from precharge to the second pole", "t", "s"),
        MeasurandSpec("sequence-in-order", "order kept (1) or not (0)", "s", "1"),
    ),
    evaluate_with=_evaluate,
    reduce_with=_reduce,
)
