r"""Pulses through a fuse: I²t of a pulse by its shape, and how much of the melting I²t a number of pulses may use.

Source: integrals of i² over the shapes (closed form; printed in makers' guides, seen); fractions for 100 to 100 000
pulses seen in a maker's guide. Between them: straight in the logarithm of the number.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise
from typing import TypeVar

from witnessmark.language import Words, declared, say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import EXACT, Working, ordered, worked
from witnessmark.quantities.propagation import Uncertain

__all__ = ["METHOD", "pulse_energy", "pulse_fraction"]

T = TypeVar("T", float, Uncertain)


FRACTIONS = ((100.0, 0.48), (1000.0, 0.38), (10000.0, 0.29), (100000.0, 0.22))
"""Number of pulses and part of the nominal melting I²t that may be used (seen)."""

SHAPES = ("rectangle", "half-sine", "triangle", "trapezoid")
ONE_PULSE = Words(
    {
        "rectangle": declared("One pulse, rectangle."),
        "half-sine": declared("One pulse, half-sine."),
        "triangle": declared("One pulse, triangle."),
        "trapezoid": declared("One pulse, trapezoid."),
    }
)


def pulse_energy(shape: str, peak: T, base: T, duration: T) -> T:
    """I²t in A²·s of a pulse: `peak` and `base` (start of a trapezoid) in A, `duration` in s.

    Source: closed form, the integral of i² over the shape.
    """
    if shape == "trapezoid":
        return (peak * peak + peak * base + base * base) * duration / 3
    return peak * peak * duration / {"rectangle": 1.0, "half-sine": 2.0, "triangle": 3.0}[shape]


def pulse_fraction(pulses: float) -> float:
    """Part of the melting I²t that may be used for so many `pulses`, 100 to 100 000. Raises ValueError outside.

    Source: a fuse maker's selection guide (seen); straight in the logarithm of the number between its rows.
    """
    if not FRACTIONS[0][0] <= pulses <= FRACTIONS[-1][0]:
        raise ValueError("the table runs from 100 to 100 000 pulses")
    for (n0, f0), (n1, f1) in pairwise(FRACTIONS):
        if pulses <= n1:
            return f0 + (f1 - f0) * math.log(pulses / n0) / math.log(n1 / n0)
    raise ValueError("the table has no such row")


def _work(w: Working) -> Result | Refused:
    w.above_zero("peak", "duration", "melting")
    w.not_negative("base")
    w.valid("pulses", FRACTIONS[0][0], FRACTIONS[-1][0], "1", say("the guide states nothing beyond: ask the maker"))
    w.valid("duration", None, 10, "ms", say("in a longer pulse the element gives off heat: use the curve instead"))
    shape = w.words["shape"]
    if (shape == "trapezoid") != w.has("base"):
        w.fault(
            "reading.missing",
            say("base belongs to the trapezoid, and only to it"),
            say("write base in A for a trapezoid"),
        )
    if w.faults:
        return w.result()
    energy = w.let("energy", pulse_energy(shape, w.x["peak"], w.x.get("base", w.x["peak"]), w.x["duration"]), "A²·s")
    fraction = w.let("fraction", pulse_fraction(w.value("pulses")), "%")
    permitted = w.let("permitted", fraction * w.x["melting"], "A²·s")
    ratio = w.let("ratio", energy / permitted, "1")
    peak, base, t = r"\left( <peak> \right)^2", r"\left( <base> \right)^2", "<duration>"
    put_in = {
        "rectangle": rf"{peak} \cdot {t}",
        "half-sine": rf"\frac{{{peak} \cdot {t}}}{{2}}",
        "triangle": rf"\frac{{{peak} \cdot {t}}}{{3}}",
        "trapezoid": rf"\frac{{\left( {peak} + <peak> \cdot <base> + {base} \right) \cdot {t}}}{{3}}",
    }[shape]
    w.step(ONE_PULSE[shape], rf"I^2t = {put_in} = <energy>")
    w.step(say("Part that may be used for that many pulses (table)."), r"f = <fraction>")
    w.step(say("Permitted for one pulse."), r"f \cdot I^2t_m = <fraction> \cdot <melting> = <permitted>")
    w.step(say("The pulse over what is permitted."), r"q = \frac{<energy>}{<permitted>} = <ratio>")
    w.output("pulse-energy", energy)
    w.output("pulse-fraction", fraction, note=say(EXACT))
    w.output("permitted-pulse-energy", permitted)
    w.output("pulse-ratio", ratio)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="fuse-pulse/1",
    title="Pulses through a fuse",
    purpose="Shows that precharge and driving pulses do not wear the fuse out.",
    source="closed form (I²t by shape); a maker's selection guide (fractions)",
    confidence="shapes and fractions seen in makers' guides; between rows: common practice, no source",
    equation=r"I^2t = \int i^2 \, dt \leq f \cdot I^2t_m",
    validity="100 to 100 000 pulses of 10 ms or less, with time to cool between them; nominal melting I²t at that "
    "duration.",
    cautions=(
        Caution("High voltage can kill. A worn fuse opens in traffic. The maker's own figures come before this table."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("shape", "", "shape of the pulse", choices=SHAPES),
        InputSpec("peak", "I_p", "peak current", "A", 0.1, 1e5),
        InputSpec("base", "I_b", "current at the start of a trapezoid", "A", 0, 1e5, False),
        InputSpec("duration", "t", "duration", "ms", 1e-3, 10),
        InputSpec("pulses", "N", "number of pulses in its life", "1", 100, 100000),
        InputSpec("melting", "I^2t_m", "nominal melting I²t of the fuse", "A²·s", 0.1, 1e8),
    ),
    measurands=(
        MeasurandSpec("pulse-ratio", "pulse over what is permitted", "q", "1"),
        MeasurandSpec("pulse-energy", "I²t of one pulse", "I^2t", "A²·s"),
        MeasurandSpec("pulse-fraction", "part of the melting I²t that may be used", "f", "%"),
        MeasurandSpec("permitted-pulse-energy", "I²t that is permitted", "f I^2t_m", "A²·s"),
    ),
    evaluate_with=_evaluate,
)
