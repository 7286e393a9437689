"""Terms of second order in the uncertainty of a calculation, for a method whose model is bent within its uncertainties.

The derivatives of the engine are exact; how they change is seen by moving one input at a time by a small part of its
own standard uncertainty to both sides. With g_i = (∂f/∂x_i)·u_i and z_i = (x_i − its value)/u_i the terms are

    Σ_i Σ_j [ ½ (∂g_i/∂z_j)² + g_i · ∂²g_i/∂z_j² ]

for independent inputs of normal distribution. Source: JCGM 100:2008, 5.1.2, note (and H.1.7, where they count).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping

__all__ = ["STEP", "second_order_variance"]

STEP = 2.0**-8
"""How far an input is moved, in its own standard uncertainties: a power of two, so that the move itself is exact. The
terms come out to about one part in 10^5."""

Slopes = Callable[[Mapping[str, float]], Mapping[str, float]]


def second_order_variance(slopes_at: Slopes, names: Iterable[str]) -> float:
    """What the terms of second order add to the variance of one result; unit of the result, squared.

    `slopes_at` takes moves by name of the input, in its standard uncertainties, and gives g_i by name, in the unit of
    the result, as they are there. `names` are the inputs with an uncertainty. The sum may be below zero: a caller that
    guards a verdict adds only what enlarges. Raises ValueError where a slope is not finite.
    Source: JCGM 100:2008, 5.1.2, note.
    """
    moved = sorted(names)
    here = slopes_at({})
    terms: list[float] = []
    for j in moved:
        above, below = slopes_at({j: STEP}), slopes_at({j: -STEP})
        for i in moved:
            up, down, still = above.get(i, 0.0), below.get(i, 0.0), here.get(i, 0.0)
            bend = (up - down) / (2 * STEP)
            turn = (up - 2 * still + down) / (STEP * STEP)
            terms.append(0.5 * bend * bend + still * turn)
    total = math.fsum(terms)
    if not math.isfinite(total):
        raise ValueError("a slope near the result is not finite")
    return total
