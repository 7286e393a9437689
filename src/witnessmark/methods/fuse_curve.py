"""A fuse's time-current curve as points, straight in log I and log t between neighbours.

Source: closed form (a power law through two points); the points are the maker's.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from itertools import pairwise

from witnessmark.language import marked, say
from witnessmark.methods.working import Working
from witnessmark.quantities.evaluation import rectangular
from witnessmark.quantities.propagation import Uncertain, exp, log, uncertain

__all__ = ["ADIABATIC_TIME", "Points", "current_for", "curve_error", "curve_points", "melting_time", "segment"]

ADIABATIC_TIME = 5.0
"""Longest time in s for which a conductor is taken to give off no heat (IEC 60364-4-43, 434.5.2, from memory)."""

Points = tuple[list[float], list[float]]
"""Currents in A, rising, and times in s, falling."""


def curve_points(w: Working) -> Points | None:
    """The points of `curve_current` and `curve_time`, sorted by current; None with a fault when they are no curve."""
    currents = [x.value for x in w.many["curve_current"]]
    times = [x.value for x in w.many["curve_time"]]
    if len(currents) != len(times) or len(currents) < 2:
        w.fault(
            "reading.repeated",
            say("the curve has {currents} currents and {times} times", currents=len(currents), times=len(times)),
            say("write two points or more, each with its current and its time, in the same order"),
        )
        return None
    pairs = sorted(zip(currents, times, strict=True))
    for (i0, t0), (i1, t1) in pairwise(pairs):
        if i1 == i0 or t1 >= t0:
            w.fault(
                "reading.range",
                say(
                    "the curve does not fall from {i0} A, {t0} s to {i1} A, {t1} s",
                    i0=marked(f"{i0:g}"),
                    t0=marked(f"{t0:g}"),
                    i1=marked(f"{i1:g}"),
                    t1=marked(f"{t1:g}"),
                ),
                say("look at the points again: more current melts sooner"),
            )
            return None
    return [p[0] for p in pairs], [p[1] for p in pairs]


def curve_error(w: Working) -> Uncertain:
    """The relative error of the curve in current: evenly within ± `curve_tolerance`; unknown when that is not stated.

    Source: makers state their curves to some per cent of the current (common practice, no source).
    """
    if not w.has("curve_tolerance"):
        return w.unstated("curve_tolerance")
    tolerance = w.value("curve_tolerance")
    return uncertain(rectangular("curve_tolerance", 0.0, tolerance, say("tolerance of the curve, in current")))


def _index(currents: list[float], current: float) -> int:
    return min(max(bisect_left(currents, current), 1), len(currents) - 1)


def segment(points: Points, current: float) -> tuple[float, float, float, float]:
    """The neighbours round `current` in A: both currents in A, both times in s."""
    currents, times = points
    n = _index(currents, current)
    return currents[n - 1], currents[n], times[n - 1], times[n]


def melting_time(points: Points, current: Uncertain) -> Uncertain:
    """Melting time in s at `current` in A within the points: straight in log-log. Source: closed form."""
    i0, i1, t0, t1 = segment(points, current.value)
    slope = math.log(t1 / t0) / math.log(i1 / i0)
    return exp(log(current / i0) * slope) * t0


def current_for(points: Points, time: Uncertain) -> Uncertain:
    """The current in A at which the fuse melts in `time` in s within the points: the inverse of `melting_time`."""
    currents, times = points
    falling = [-t for t in times]
    n = min(max(bisect_left(falling, -time.value), 1), len(times) - 1)
    slope = math.log(currents[n] / currents[n - 1]) / math.log(times[n] / times[n - 1])
    return exp(log(time / times[n - 1]) * slope) * currents[n - 1]
