"""The highest current of a log, and a method that strays: both reduce their log in the confined child."""

from __future__ import annotations

import os
import socket
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from witnessmark.methods.base import (
    Caution,
    ChannelSpec,
    InputSpec,
    MeasurandSpec,
    Method,
    Reading,
    Refused,
    Result,
    RoleSpec,
)
from witnessmark.methods.checking import Quantities
from witnessmark.methods.series import as_floats, checked_time
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD", "STRAYS"]


def _reduce(columns: Mapping[str, Any], options: Mapping[str, float]) -> dict[str, object]:
    time, faults = checked_time(columns)
    current, more = as_floats(columns, "current", len(time))
    figures: dict[str, object] = {"faults": faults + more, "process": os.getpid()}
    if not figures["faults"]:
        figures["highest"] = float(current.max())
    return figures


def _stray(columns: Mapping[str, Any], options: Mapping[str, float]) -> dict[str, object]:
    with socket.create_connection(("127.0.0.1", 9), timeout=1):
        return {"highest": 0.0}


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    def work(w: Working) -> Result | Refused:
        if w.faults:
            return w.result()
        check = w.x["current_check"]
        highest = w.let("highest", check - check.value + float(str(figures["highest"])), "A")
        w.step("The highest sample, with the error of the logger.", r"I = <highest>")
        w.output("highest-current", highest)
        return w.result()

    return worked(METHOD, work, readings, facts)


METHOD = Method(
    id="highest-current/1",
    title="Highest current of a log",
    purpose="Shows the highest current that was drawn.",
    source="closed form: the largest of the samples",
    confidence="closed form",
    equation=r"I = \max I_n",
    validity="Sampled fast enough for the highest to be among the samples.",
    cautions=(Caution("High voltage can kill. Qualified persons only; local codes decide."),),
    inputs=ordered(
        InputSpec("current_check", "I", "the logger in use, for its accuracy", "A", 1, 1000, role="logger"),
    ),
    roles=(RoleSpec("logger", "current logger", "dc-current"),),
    channels=(ChannelSpec("time", "time", "s"), ChannelSpec("current", "current", "A")),
    measurands=(MeasurandSpec("highest-current", "highest current", "I", "A"),),
    evaluate_with=_evaluate,
    reduce_with=_reduce,
)

STRAYS = replace(METHOD, id="strays/1", reduce_with=_stray)
