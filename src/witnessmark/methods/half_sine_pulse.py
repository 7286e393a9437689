r"""Change of speed of a half-sine shock.

Source: closed form, Δv = 2 · A · T/π; IEC 60068-2-27, table 1 (rounded values from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("peak", "duration")
    if w.faults:
        return w.result()
    w.let("a", w.x["peak"], "m/s²")
    change = w.let("change", 2 * w.x["peak"] * w.x["duration"] / math.pi, "m/s")
    w.step(say("Area under the half sine."), r"\Delta v = \frac{2 \cdot <a> \cdot <duration>}{\pi} = <change>")
    w.output("half-sine-velocity", change)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="half-sine-pulse/1",
    title="Half-sine shock",
    purpose="Gives the change of speed by which a shock machine is set.",
    source="closed form; IEC 60068-2-27, table 1",
    confidence="closed form",
    equation=r"\Delta v = \frac{2 \cdot A \cdot T}{\pi}",
    validity="An ideal half sine.",
    cautions=(
        Caution("High voltage can kill. A shocked battery may catch fire hours later."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("peak", "A", "peak acceleration", "gₙ", 1, 1000),
        InputSpec("duration", "T", "duration", "ms", 0.1, 100),
    ),
    measurands=(MeasurandSpec("half-sine-velocity", "change of speed", r"\Delta v", "m/s"),),
    evaluate_with=_evaluate,
)
