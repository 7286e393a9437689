"""Corridors of the shock pulse by vehicle class, and the channel filter of crash tests.

Source: UN Regulation No. 100, 03 series, Annex 9C, tables 1 to 3 (seen; lower and upper role from memory); SAE J211/1,
appendix C, and ISO 6487 (filter; coefficient formulas seen).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = [
    "CFC_LIMITS",
    "CORRIDORS",
    "CORRIDOR_END",
    "Corridor",
    "coefficients",
    "curve",
    "filtered",
    "margin",
]

STANDARD_GRAVITY = 9.80665
CORRIDOR_END = 0.12
"""Time in s at which the upper curve ends."""

Curve = tuple[tuple[float, float], ...]
"""Time in ms and acceleration in g, straight between points."""


@dataclass(frozen=True, slots=True)
class Corridor:
    """Points A to D (lower curve) and E to H (upper curve) of one class and direction."""

    lower: Curve
    upper: Curve


def _corridor(plateau: float, begin: float, top: float) -> Corridor:
    return Corridor(
        ((20, 0.0), (50, plateau), (65, plateau), (100, 0.0)), ((0, begin), (50, top), (80, top), (120, 0.0))
    )


CORRIDORS = {
    ("M1/N1", "longitudinal"): _corridor(20, 10, 28),
    ("M1/N1", "transverse"): _corridor(8, 4.5, 15),
    ("M2/N2", "longitudinal"): _corridor(10, 5, 17),
    ("M2/N2", "transverse"): _corridor(5, 2.5, 10),
    ("M3/N3", "longitudinal"): _corridor(6.6, 4, 12),
    ("M3/N3", "transverse"): _corridor(5, 2.5, 10),
}

CFC_LIMITS = {60: 100.0, 180: 300.0, 600: 1000.0, 1000: 1650.0}
"""3 dB limit frequency in Hz by channel frequency class. Source: table of ISO 6487 and SAE J211/1 (seen)."""


def curve(points: Curve, milliseconds: float) -> float | None:
    """Acceleration in g of a curve at `milliseconds` in ms; None where the curve has no point. Source: Annex 9C."""
    for (t0, a0), (t1, a1) in pairwise(points):
        if t0 <= milliseconds <= t1:
            return a0 + (milliseconds - t0) / (t1 - t0) * (a1 - a0)
    return None


def margin(time: Sequence[float], values: Sequence[float], points: Curve, *, above: bool) -> tuple[float, float]:
    """Smallest distance in m/s² of a pulse from a curve on its good side, and its time in s; negative on the other.

    `time` in s from the start of the pulse, `values` in m/s²; the corners of the curve are looked at too.
    """
    import numpy as np

    corners = [t / 1000 for t, _ in points]
    instants = np.unique(np.r_[np.asarray(time), corners])
    inside = instants[(instants >= corners[0]) & (instants <= corners[-1])]
    pulse = np.interp(inside, time, values)
    limit = np.interp(inside, corners, [a * STANDARD_GRAVITY for _, a in points])
    distance = pulse - limit if above else limit - pulse
    at = int(np.argmin(distance))
    return float(distance[at]), float(inside[at])


def coefficients(cfc: int, rate: float) -> tuple[float, float, float, float, float]:
    """a0, a1, a2, b1, b2 of one pass of the filter of channel frequency class `cfc` at a sampling `rate` in Hz.

    y[t] = a0·x[t] + a1·x[t−1] + a2·x[t−2] + b1·y[t−1] + b2·y[t−2]. Source: SAE J211/1, appendix C.
    """
    wd = 2 * math.pi * cfc * 2.0775
    wa = math.tan(wd / rate / 2)
    root = math.sqrt(2)
    below = 1 + root * wa + wa * wa
    a0 = wa * wa / below
    return a0, 2 * a0, a0, -2 * (wa * wa - 1) / below, (-1 + root * wa - wa * wa) / below


def filtered(values: NDArray[np.float64], cfc: int, rate: float) -> list[float]:
    """`values` through the filter forward and backward, so that no phase is left. Unit of `values`.

    `cfc` is the channel frequency class, `rate` the sampling rate in Hz.

    Source: SAE J211/1, appendix C; ISO 6487.
    """
    a0, a1, a2, b1, b2 = coefficients(cfc, rate)
    series = [float(v) for v in values]
    for _ in range(2):
        x1 = x2 = y1 = y2 = series[0]
        passed = []
        for x in series:
            y = a0 * x + a1 * x1 + a2 * x2 + b1 * y1 + b2 * y2
            passed.append(y)
            x2, x1, y2, y1 = x1, x, y1, y
        series = passed[::-1]
    return series
