r"""Peak of the half-sine shock that the transport test asks for, by the mass of the battery.

Source: UN Manual of Tests and Criteria, 38.3.4.3, test T.3 (formulas from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TypeVar

from witnessmark.language import marked, say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import EXACT, Working, ordered, worked
from witnessmark.quantities.propagation import Uncertain

__all__ = ["METHOD", "transport_peak"]

T = TypeVar("T", float, Uncertain)


KINDS = {"small": (150.0, 100850.0, 6.0), "large": (50.0, 30000.0, 11.0)}
"""Highest peak in g, constant in g²·kg, duration in ms."""

LARGE_FROM = 12.0
"""Mass in kg above which a battery is large (from memory)."""


def transport_peak(kind: str, mass: float) -> float:
    """Peak in g for a `mass` in kg. Source: UN 38.3, test T.3 (from memory)."""
    most, constant, _ = KINDS[kind]
    return min(most, math.sqrt(constant / mass))


def _work(w: Working) -> Result | Refused:
    w.above_zero("mass")
    kind = w.words["kind"]
    if w.faults:
        return w.result()
    if (kind == "large") != (w.value("mass") > LARGE_FROM):
        mass, limit = marked(f"{w.value('mass'):g}"), marked(f"{LARGE_FROM:g}")
        w.alarm(
            "shock.size",
            say("{mass} kg is no large battery: large ones lie above {limit} kg (from memory).", mass=mass, limit=limit)
            if kind == "large"
            else say(
                "{mass} kg is no small battery: large ones lie above {limit} kg (from memory).", mass=mass, limit=limit
            ),
            say("Choose the other size."),
        )
    most, constant, duration = KINDS[kind]
    w.show("constant", f"{constant:g}")
    w.show("most", f"{most:g}")
    peak = w.let("peak", transport_peak(kind, w.value("mass")) * 9.80665, "gₙ")
    w.let("m", w.x["mass"], "kg")
    w.step(
        say("Peak in g, for {duration} ms (formula from memory).", duration=marked(f"{duration:g}")),
        r"A = \min \left( <most> , \sqrt{\frac{<constant>}{<m>}} \right) = <peak>",
    )
    w.output("shock-level", peak.value, note=say("From memory: compare with the Manual before you order the test."))
    w.output("shock-duration", duration / 1000, note=say(EXACT))
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="transport-shock/1",
    title="Shock level of the transport test",
    purpose="Gives the level by which a transport test report is read.",
    source="UN Manual of Tests and Criteria, 38.3.4.3, T.3",
    confidence="from memory",
    equation=r"A = \min \left( A_{max} , \sqrt{\frac{k}{m}} \right)",
    validity="Small batteries up to 12 kg, large ones above; cells have fixed levels.",
    cautions=(
        Caution("High voltage can kill. A battery without a transport test may not be shipped."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("kind", "", "size of the battery", choices=tuple(KINDS)),
        InputSpec("mass", "m", "mass of the battery", "kg", 0.1, 1000),
    ),
    measurands=(
        MeasurandSpec("shock-level", "peak", "A", "gₙ"),
        MeasurandSpec("shock-duration", "duration", "T", "ms"),
    ),
    evaluate_with=_evaluate,
)
