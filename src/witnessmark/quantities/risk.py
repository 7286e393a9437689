"""Global risk: how often a decision rule is wrong over many items, given what the items and the measurement scatter.

Source: JCGM 106:2012, 9.1 to 9.5 (consumer's and producer's risk before measurement).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

__all__ = ["GlobalRisk", "global_risk"]

_REACH = 9.0
"""Standard deviations of the process that the integral covers on each side; beyond lies less than 1e-18."""

_STEPS = 4000


@dataclass(frozen=True, slots=True)
class GlobalRisk:
    """Probabilities: `false_accept` (outside the tolerance, accepted: consumer's risk) and `false_reject` (inside,
    rejected: producer's risk)."""

    false_accept: float
    false_reject: float


def global_risk(
    mean: float,
    deviation: float,
    u: float,
    *,
    lower: float | None = None,
    upper: float | None = None,
    guard: float = 0.0,
) -> GlobalRisk:
    """Global risks for normally distributed items (`mean`, `deviation`) measured with standard uncertainty `u`.

    `lower` and `upper` are the tolerance limits, `guard` the guard band inside each; all in one unit. Raises ValueError
    without a limit, for a deviation or u not above zero, or a guard band that leaves no acceptance interval.
    Source: JCGM 106:2012, 9.4.2 and 9.4.3, equations 17 to 20; the integral by Simpson's rule, split at the limits.
    """
    if lower is None and upper is None:
        raise ValueError("a risk needs a limit")
    if not (deviation > 0 and u > 0 and math.isfinite(mean) and math.isfinite(deviation) and math.isfinite(u)):
        raise ValueError("deviation and standard uncertainty have to be finite and above zero")
    low = -math.inf if lower is None else lower
    high = math.inf if upper is None else upper
    accept_low, accept_high = low + guard, high - guard
    if not accept_low < accept_high:
        raise ValueError("the guard band leaves no acceptance interval")
    items, error = NormalDist(mean, deviation), NormalDist(0.0, u)

    def accepted(x: float) -> float:
        return error.cdf(accept_high - x) - error.cdf(accept_low - x)

    begin, end = mean - _REACH * deviation, mean + _REACH * deviation
    below, above = min(max(low, begin), end), max(min(high, end), begin)
    outside = _integral(lambda x: items.pdf(x) * accepted(x), begin, below) + _integral(
        lambda x: items.pdf(x) * accepted(x), above, end
    )
    inside = _integral(lambda x: items.pdf(x) * (1 - accepted(x)), below, above)
    return GlobalRisk(outside, inside)


def _integral(f: Callable[[float], float], a: float, b: float) -> float:
    """Simpson's rule with a fixed number of steps: the same on every machine."""
    if b <= a:
        return 0.0
    h = (b - a) / _STEPS
    odd = math.fsum(f(a + h * i) for i in range(1, _STEPS, 2))
    even = math.fsum(f(a + h * i) for i in range(2, _STEPS, 2))
    return h / 3 * (f(a) + 4 * odd + 2 * even + f(b))
