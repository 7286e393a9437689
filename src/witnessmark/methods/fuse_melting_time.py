r"""Melting time of a fuse at a current, from points of its maker's curve, straight in log I and log t between them.

Outside the points there is no answer. Makers state their curves to some per cent of the current; that is an input.

Source: the maker's curve; interpolation: closed form (power law between two points).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.fuse_curve import curve_error, curve_points, melting_time, segment
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("current", "curve_current", "curve_time")
    w.not_negative("curve_tolerance")
    points = curve_points(w)
    if w.faults or points is None:
        return w.result()
    currents, _ = points
    w.valid(
        "current",
        currents[0],
        currents[-1],
        "A",
        say("outside the maker's curve there is no answer: take its next page"),
    )
    if w.faults:
        return w.result()
    current = w.x["current"]
    current = current * (1 + curve_error(w))
    t = w.let("t", melting_time(points, current), "s")
    low, high, first, last = segment(points, w.value("current"))
    for name, value, unit in (("i1", low, "A"), ("i2", high, "A"), ("t1", first, "s"), ("t2", last, "s")):
        w.let(name, value, unit)
    w.step(say("The neighbouring points of the curve."), r"\left( <i1> , <t1> \right) \quad \left( <i2> , <t2> \right)")
    w.step(
        say("Straight between them in log current and log time."),
        r"\mathrm{ln} t = \mathrm{ln} <t1> + \mathrm{ln} \frac{<t2>}{<t1>} \cdot \frac{\mathrm{ln} "
        r"\frac{<current>}{<i1>}}{\mathrm{ln} \frac{<i2>}{<i1>}}",
    )
    w.step(say("Melting time."), r"t = <t>")
    w.output("melting-time", t)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="fuse-melting-time/1",
    title="Melting time of a fuse from its curve",
    purpose="Says how long a fault current flows before the fuse melts.",
    source="the maker's time-current curve; straight in log-log between its points",
    confidence="interpolation: closed form; the curve is the maker's",
    equation=r"\mathrm{ln} t = \mathrm{ln} t_1 + \mathrm{ln} \frac{t_2}{t_1} \cdot \frac{\mathrm{ln} "
    r"\frac{I}{I_1}}{\mathrm{ln} \frac{I_2}{I_1}}",
    validity="Between the first and the last point of the curve; for currents that do not fall while it melts. Arcing "
    "comes on top.",
    cautions=(
        Caution(
            "High voltage can kill. A fuse that is asked to break more than its rating bursts. Never replace it "
            "with the pack live."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("curve_current", "I_n", "currents of the curve", "A", 1, 1e5, repeats=True),
        InputSpec("curve_time", "t_n", "times of the curve, in the same order", "s", 1e-4, 1e5, repeats=True),
        InputSpec("curve_tolerance", r"\delta", "tolerance of the curve in current, to either side", "%", 0, 30, False),
        InputSpec("current", "I", "current", "A", 1, 1e5),
    ),
    measurands=(MeasurandSpec("melting-time", "melting time", "t", "s"),),
    evaluate_with=_evaluate,
)
