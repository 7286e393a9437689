r"""What the contactors can break, what the fuse clears and in which time, and the gap between them, on one chart.

Below the current that the contactors can break, they open. From the current on at which the fuse clears in the time
named, the fuse does. A fault in between is broken by neither in time: that is the gap. Where the total let-through of
the fuse is stated, it stands on the chart against what cable and closed contactor bear: I²t is a straight line there.

Source: the makers' curves and ratings; straight in log I and log t between points (closed form).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal

from witnessmark.language import marked, say
from witnessmark.methods.base import Caution, FigureData, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.fuse_curve import ADIABATIC_TIME, current_for, curve_error, curve_points, melting_time
from witnessmark.methods.working import Working, ordered, smaller, worked
from witnessmark.quantities.propagation import Uncertain

__all__ = ["METHOD"]

CONTACTOR_TIME = 0.1
"""Longest time in s for which the I²t of a contactor's maker is drawn (common practice, no source)."""


def _line(energy: float, shortest: float, longest: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Currents in A and times in s of one I²t in A²·s, from the shortest to the longest time in s: closed form."""
    times = tuple(longest * (shortest / longest) ** (n / 20) for n in range(21))
    return tuple(math.sqrt(energy / t) for t in times), times


def _through(w: Working, borne: Uncertain, name: Literal["cable", "contactor"]) -> None:
    """The let-through of the fuse over what cable or contactor bears, `borne` in A²·s."""
    w.let(f"{name}_bears", borne, "A²·s")
    ratio = w.let(f"q_{name}", w.x["let_through"] / borne, "1")
    w.step(
        say("What comes through over what the cable bears.")
        if name == "cable"
        else say("What comes through over what the contactor bears."),
        rf"q = \frac{{<let_through>}}{{<{name}_bears>}} = <q_{name}>",
    )
    w.output(f"{name}-let-through-ratio", ratio)
    if ratio.value > 1:
        times = marked(f"{ratio.value:.3g}")
        w.alarm(
            "coordination.let-through",
            say("The fuse lets through {ratio} times what the cable bears.", ratio=times)
            if name == "cable"
            else say("The fuse lets through {ratio} times what the contactor bears.", ratio=times),
            say("Take a fuse that lets less through, or a cable that bears more.")
            if name == "cable"
            else say("Take a fuse that lets less through, or a contactor that bears more."),
        )


def _work(w: Working) -> Result | Refused:
    w.not_negative("curve_tolerance")
    w.above_zero(
        "curve_current", "curve_time", "contactor_break", "prospective", "clear_within", "cable_section", "cable_k"
    )
    w.above_zero("let_through", "contactor_withstand")
    points = curve_points(w)
    if w.has("cable_section") != w.has("cable_k"):
        w.fault("reading.missing", say("cable_section and cable_k belong together"), say("write both"))
    if w.faults or points is None:
        return w.result()
    currents, times = points
    w.valid("clear_within", times[-1], times[0], "s", say("the curve does not hold this time: take its next page"))
    w.valid("prospective", currents[0], None, "A", say("the fuse does not melt at all at the prospective current"))
    if w.faults:
        return w.result()
    cleared = w.let("cleared", current_for(points, w.x["clear_within"]) * (1 + curve_error(w)), "A")
    breaks = w.x["contactor_break"]
    gap = w.let("gap", cleared - breaks, "A")
    w.step(say("Current from which the fuse clears within the time named (from the curve)."), r"I_f = <cleared>")
    w.step(say("Less what the contactors can break."), r"I_f - I_k = <cleared> - <contactor_break> = <gap>")
    w.output("fuse-clears-from", cleared)
    w.output(
        "coordination-gap",
        gap,
        note=say("At most zero: the contactors break all that the fuse does not clear in time."),
    )
    margin = w.let("margin", w.x["prospective"] / cleared, "1")
    w.step(
        say("Prospective current over that from which the fuse clears."),
        r"q = \frac{<prospective>}{<cleared>} = <margin>",
    )
    w.output("prospective-over-clearing", margin)
    if currents[0] <= breaks.value <= currents[-1]:
        at_break = w.let("at_break", melting_time(points, breaks * (1 + curve_error(w))), "s")
        w.step(say("Time of the fuse at the current that the contactors can just break."), r"t = <at_break>")
        w.output("melting-time-at-contactor-limit", at_break)
    arrays = {"fuse_current": tuple(currents), "fuse_time": tuple(times)}
    shortest = times[-1]
    if w.has("let_through"):
        # At the prospective current the let-through is that of this time (its virtual time).
        shortest = min(shortest, w.value("let_through") / w.value("prospective") ** 2)
    if w.has("cable_section"):
        section = w.x["cable_section"] * 1e6
        withstand = w.x["cable_k"] * w.x["cable_k"] * section * section
        ratios = [withstand / (i * i * t) for i, t in zip(currents, times, strict=True) if t <= ADIABATIC_TIME]
        if ratios:
            least = w.let("least", smaller(ratios), "1")
            w.step(
                say("Smallest ratio of what the cable bears to what the fuse melts with, at its points up to 5 s."),
                r"\frac{k^2 \cdot S^2}{I^2 \cdot t} \geq <least>",
            )
            w.output("cable-over-fuse", least)
        arrays["cable_current"], arrays["cable_time"] = _line(withstand.value, shortest, ADIABATIC_TIME)
        if w.has("let_through"):
            _through(w, withstand, "cable")
    if w.has("contactor_withstand"):
        borne = w.x["contactor_withstand"]
        arrays["contactor_current"], arrays["contactor_time"] = _line(
            borne.value, shortest, max(CONTACTOR_TIME, times[-1])
        )
        if w.has("let_through"):
            _through(w, borne, "contactor")
    if w.has("let_through"):
        longest = max(times[-1], 10 * shortest)
        arrays["through_current"], arrays["through_time"] = _line(w.value("let_through"), shortest, longest)
    if gap.value > 0:
        w.alarm(
            "coordination.gap",
            say(
                "From {breaks} A to {cleared} A neither the contactors can break nor the fuse clears in time.",
                breaks=marked(f"{breaks.value:.5g}"),
                cleared=marked(f"{cleared.value:.5g}"),
            ),
            say("Keep the contactors closed above their limit, take a faster fuse, or contactors that break more."),
        )
    figure = FigureData(
        "curves",
        say("What contactors break and what the fuse clears"),
        say("current"),
        say("time"),
        "A",
        "s",
        arrays=arrays,
        numbers={
            "contactor_break": breaks.value,
            "fuse_clears_from": cleared.value,
            "prospective": w.value("prospective"),
            "clear_within": w.value("clear_within"),
        },
        words={
            "fuse": say("fuse melts (maker's curve)"),
            "cable": say("cable bears (adiabatic, up to 5 s)"),
            "contactor": say("closed contactor bears (I²t, up to {time} s)", time=marked("0.1")),
            "through": say("fuse lets through in all (I²t)"),
            "contactor_break": say("contactors break up to"),
            "fuse_clears_from": say("fuse clears in time from"),
            "prospective": say("prospective"),
            "clear_within": say("in time: within"),
            "up": "clear_within",
        }
        | (
            {"gap": say("neither breaks in time"), "between": "contactor_break fuse_clears_from"}
            if gap.value > 0
            else {"gap": say("no gap")}
        ),
    )
    return w.result(figure)


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="fuse-coordination/1",
    title="Contactors, fuse and cable on one chart",
    purpose="Shows whether every fault current is broken by something in time.",
    source="the makers' curves and ratings; interpolation: closed form",
    confidence="closed form; criteria are common practice, no source",
    equation=r"I_f - I_k \leq 0",
    validity="Melting curve between its points; break rating of the contactors at the highest pack voltage; total "
    "let-through (melting and arcing) at the highest voltage and the prospective current of this pack.",
    cautions=(
        Caution("High voltage can kill. Contactors that open above their rating weld or burn. Never try a fault out."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("curve_current", "I_n", "currents of the fuse curve", "A", 1, 1e5, repeats=True),
        InputSpec("curve_time", "t_n", "times of the fuse curve, in the same order", "s", 1e-4, 1e5, repeats=True),
        InputSpec("curve_tolerance", r"\delta", "tolerance of the curve in current, to either side", "%", 0, 30, False),
        InputSpec("contactor_break", "I_k", "current that the contactors can break", "A", 1, 1e5),
        InputSpec("prospective", "I_p", "prospective short-circuit current", "A", 1, 1e5),
        InputSpec("clear_within", "t", "time in which the fuse has to melt", "s", 1e-3, 1e3),
        InputSpec("cable_section", "S", "section of the cable", "mm²", 0.35, 300, False),
        InputSpec("cable_k", "k", "k of the cable in A·√s/mm²", "1", 50, 250, False),
        InputSpec(
            "let_through", "I^2t", "total let-through of the fuse at the prospective current", "A²·s", 1, 1e9, False
        ),
        InputSpec("contactor_withstand", "I^2t_k", "what the contactor bears closed", "A²·s", 1, 1e9, False),
    ),
    measurands=(
        MeasurandSpec("coordination-gap", "from what contactors break to what the fuse clears", r"\Delta I", "A"),
        MeasurandSpec("fuse-clears-from", "current from which the fuse clears in time", "I_f", "A"),
        MeasurandSpec("prospective-over-clearing", "prospective current over that", "q", "1"),
        MeasurandSpec("melting-time-at-contactor-limit", "time of the fuse at the contactors' limit", "t", "s"),
        MeasurandSpec("cable-over-fuse", "smallest ratio of cable to fuse", "q_c", "1"),
        MeasurandSpec("cable-let-through-ratio", "let-through over what the cable bears", "q_c", "1"),
        MeasurandSpec("contactor-let-through-ratio", "let-through over what the contactor bears", "q_k", "1"),
    ),
    evaluate_with=_evaluate,
)
