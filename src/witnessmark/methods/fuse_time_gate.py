r"""Opening time of a fuse in its test against the gate of its standard, at one multiple of the rated current.

Source: UL 248-14 as quoted in a maker's guide (seen); ISO 8820-3 blade fuses from memory, and its 350 % row is left out
because what is remembered disagrees (0.25 s against 0.5 s).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import (
    Caution,
    ConditionSpec,
    InputSpec,
    MeasurandSpec,
    Method,
    Reading,
    Refused,
    Result,
    RoleSpec,
)
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import HOW_SURE, Working, ordered, worked

__all__ = ["METHOD"]

GATES: Mapping[str, tuple[float | None, float | None, str]] = {
    "ul-248-14 135 %": (None, 3600.0, "seen"),
    "ul-248-14 200 % to 30 A": (None, 120.0, "seen"),
    "ul-248-14 200 % 35 to 60 A": (None, 240.0, "seen"),
    "iso-8820-3 110 %": (360000.0, None, "from memory"),
    "iso-8820-3 135 %": (0.75, 600.0, "from memory"),
    "iso-8820-3 200 %": (0.15, 5.0, "from memory"),
    "iso-8820-3 600 %": (None, 0.1, "from memory"),
}
"""Opening time in s: at least, at most, confidence."""


def _work(w: Working) -> Result | Refused:
    w.above_zero("opening_time")
    if w.faults:
        return w.result()
    low, high, told = GATES[w.words["gate"]]
    note = say("Gate: {confidence}.", confidence=HOW_SURE[told])
    t = w.x["opening_time"]
    if told != "seen":
        w.alarm(
            "table.from-memory",
            say("The gate is from memory and was not compared with the standard."),
            say("Compare it before you rely on the result."),
        )
    if low is not None:
        w.let("low", low, "s")
        at_least = w.let("q_low", t / low, "1")
        w.step(
            say("Opening time over the smallest of the gate ({confidence}).", confidence=HOW_SURE[told]),
            r"q = \frac{<opening_time>}{<low>} = <q_low>",
        )
        w.output("opening-over-least", at_least, note=note)
    if high is not None:
        w.let("high", high, "s")
        at_most = w.let("q_high", t / high, "1")
        w.step(
            say("Opening time over the largest of the gate ({confidence}).", confidence=HOW_SURE[told]),
            r"q = \frac{<opening_time>}{<high>} = <q_high>",
        )
        w.output("opening-over-most", at_most, note=note)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="fuse-time-gate/1",
    title="Opening time of a fuse against its gate",
    purpose="Shows that a fuse of a lot opens when its standard says.",
    source="UL 248-14 (as quoted by a maker); ISO 8820-3:2015",
    confidence="UL 248-14 seen; ISO 8820-3 from memory, its 350 % row left out as disputed",
    equation=r"t_{min} \leq t \leq t_{max}",
    validity="The test circuit and ambient of the standard; the multiple of the rated current that the gate names.",
    cautions=(
        Caution("High voltage can kill. An overload test burns: behind a barrier, off the vehicle."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("gate", "", "standard and multiple of the rated current", choices=tuple(GATES)),
        InputSpec("opening_time", "t", "opening time", "s", 1e-3, 4e5, role="clock"),
    ),
    roles=(RoleSpec("clock", "timer or logger", "time", "1 s or finer; a logger below that"),),
    conditions=(ConditionSpec("air", "air temperature", required=False),),
    measurands=(
        MeasurandSpec("opening-over-least", "opening time over the least of the gate", "q_1", "1"),
        MeasurandSpec("opening-over-most", "opening time over the most of the gate", "q_2", "1"),
    ),
    evaluate_with=_evaluate,
)
