"""Evaluating the standard uncertainty of one input: from repeated readings (type A) or from what is known (type B).

Source: JCGM 100:2008, 4.2 (type A) and 4.3 (type B).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.language import say
from witnessmark.quantities.propagation import INFINITE, Input

__all__ = [
    "DIVISORS",
    "TypeA",
    "covariance_of_means",
    "pooled",
    "rectangular",
    "standard_uncertainty",
    "type_a",
    "type_a_input",
]

DIVISORS = {
    "normal": 1.0,
    "rectangular": math.sqrt(3.0),
    "triangular": math.sqrt(6.0),
    "arcsine": math.sqrt(2.0),
}
"""What a half-width is divided by; for `normal` the half-width is k·u and k is given."""


@dataclass(frozen=True, slots=True)
class TypeA:
    """Mean, experimental standard deviation `s`, standard uncertainty of the mean `u`, degrees of freedom, count."""

    mean: float
    s: float
    u: float
    dof: float
    n: int


def type_a(values: Sequence[float]) -> TypeA:
    """The mean of repeated readings and its standard uncertainty; at least two `values`, all in one unit.

    Two passes, so that many digits in common do no harm. Raises ValueError for fewer than two, or not finite.
    Source: JCGM 100:2008, 4.2.1 to 4.2.3, equations 3 to 5.
    """
    n = len(values)
    if n < 2:
        raise ValueError("type A needs at least two readings")
    if not all(math.isfinite(x) for x in values):
        raise ValueError("a reading is not finite")
    first = math.fsum(values) / n
    mean = first + math.fsum(x - first for x in values) / n
    offsets = [x - mean for x in values]
    drift = math.fsum(offsets)
    s = math.sqrt(max(math.fsum(d * d for d in offsets) - drift * drift / n, 0.0) / (n - 1))
    return TypeA(mean, s, s / math.sqrt(n), n - 1, n)


def type_a_input(name: str, values: Sequence[float]) -> Input:
    """An input from repeated readings `values`, in SI; see `type_a`."""
    found = type_a(values)
    return Input(name, found.mean, found.u, found.dof, "t", say("type A, {n} readings", n=found.n))


def pooled(deviations: Sequence[float], dofs: Sequence[float]) -> tuple[float, float]:
    """Pooled standard deviation and its degrees of freedom from several series.

    `deviations` are their standard deviations in one unit, `dofs` the degrees of freedom of each.
    Source: JCGM 100:2008, 4.2.4 and H.3.6.
    """
    if not deviations or len(deviations) != len(dofs):
        raise ValueError("pooling needs as many degrees of freedom as standard deviations")
    total = math.fsum(dofs)
    return math.sqrt(math.fsum(f * s * s for s, f in zip(deviations, dofs, strict=True)) / total), total


def covariance_of_means(one: Sequence[float], other: Sequence[float]) -> float:
    """The covariance of two means from readings taken in pairs; unit: product of the two.

    `one` and `other` hold the readings, equally many and in the same order.
    Source: JCGM 100:2008, 5.2.3, equation 17.
    """
    n = len(one)
    if n != len(other) or n < 2:
        raise ValueError("covariance needs at least two pairs of readings")
    a, b = type_a(one).mean, type_a(other).mean
    return math.fsum((x - a) * (y - b) for x, y in zip(one, other, strict=True)) / (n * (n - 1))


def standard_uncertainty(half_width: float, shape: str, *, k: float | None = None, beta: float | None = None) -> float:
    """The standard uncertainty of a quantity known to lie within ± `half_width`; unit as the half-width.

    `shape`: rectangular (a/√3), triangular (a/√6), arcsine (a/√2), trapezoidal with `beta` the ratio of top to base
    (a·√((1+β²)/6)), normal with coverage factor `k` (a/k). Raises ValueError for anything else.
    Source: JCGM 100:2008, 4.3.3, 4.3.7, 4.3.9 (equations 7, 9a, 9b) and H.1.3.4 (arcsine).
    """
    if not (math.isfinite(half_width) and half_width >= 0):
        raise ValueError("a half-width is a number from zero up")
    if shape == "normal":
        if k is None or not k > 0:
            raise ValueError("a normal half-width needs its coverage factor k")
        return half_width / k
    if shape == "trapezoidal":
        if beta is None or not 0 <= beta <= 1:
            raise ValueError("a trapezoid needs beta, the ratio of its top to its base, from 0 to 1")
        return half_width * math.sqrt((1 + beta * beta) / 6)
    if shape not in DIVISORS:
        raise ValueError(f"no distribution is called {shape!r}")
    return half_width / DIVISORS[shape]


def rectangular(name: str, value: float, half_width: float, basis: str = "") -> Input:
    """An input known to lie evenly within ± `half_width` of `value`, in SI."""
    return Input(name, value, standard_uncertainty(half_width, "rectangular"), INFINITE, "rectangular", basis)
