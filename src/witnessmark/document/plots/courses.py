"""What changes with time: the voltage after parting, and the band of the lowest and highest in each bin of a log."""

from __future__ import annotations

import numpy as np

from witnessmark.document.blocks import Band, Decay, Extreme

from .plot import SMALL, Axes, Plot, wide
from .svg import Drawing

__all__ = ["band", "decay"]

_LEFT, _RIGHT, _TOP, _UNDER = 36.0, 6.0, 14.0, 25.0
_LEAST = 1.2
"""A band is never drawn thinner than this, in points, so that a flat signal is still seen."""


def _plane(
    x: tuple[float, float], y: tuple[float, float], width: float, bottom: float, axis: str, unit: str
) -> tuple[Plot, Axes]:
    plot = Plot(width, bottom + _UNDER)
    axes = plot.axes(_LEFT, _TOP, width - _RIGHT, bottom)
    axes.set(xlim=x, ylim=y)
    plot.scaled(axes.xaxis, width - _RIGHT - _LEFT, 22)
    plot.scaled(axes.yaxis, bottom - _TOP, 13, 8)
    plot.words(plot.page, width - _RIGHT, bottom + 21, axis, anchor="right", token="ink2", size=SMALL)
    plot.words(plot.page, _LEFT, 8, unit, anchor="center", token="ink2", size=SMALL)
    return plot, axes


def decay(chart: Decay, width: float) -> Drawing:
    """The course against the limit, hatched after the time allowed, and the crossing with its interval."""
    top = 1.1 * (max([*chart.voltage, chart.limit]) or 1.0)
    end = max([*chart.time, chart.allowed * 1.25]) or 1.0
    plot, axes = _plane((0.0, end), (0.0, top), width, 150.0, chart.axis, chart.unit)
    plot.hatch(axes, (chart.allowed, end), (chart.limit, top))
    plot.line(axes, (0.0, end), (chart.limit, chart.limit), "ink", 1.6)
    plot.line(axes, (chart.allowed, chart.allowed), (chart.limit, top), "ink", 1.6)
    if chart.time:
        plot.line(axes, chart.time, chart.voltage, "paint", 1.8)
    allowed = plot.at(axes, chart.allowed, top)[0]
    if width - _RIGHT - allowed > wide(chart.allowed_words, weight=600) + 12:
        plot.words(axes, chart.allowed, top, chart.allowed_words, by=(7, 13), weight=600, ground=True)
    else:
        plot.words(axes, chart.allowed, top, chart.allowed_words, by=(-4, 8), anchor="right", weight=600)
    begin = _crossing(plot, axes, chart, allowed) if chart.crossing is not None else width
    if _LEFT + 10 + wide(chart.limit_words, weight=600) < begin:
        plot.words(axes, 0.0, chart.limit, chart.limit_words, by=(6, -4), weight=600)
    else:  # The crossing lies at the very left.
        plot.words(axes, end, chart.limit, chart.limit_words, by=(-2, 11.5), anchor="right", weight=600, ground=True)
    return plot.drawing()


def _crossing(plot: Plot, axes: Axes, chart: Decay, allowed: float) -> float:
    """The interval of the crossing as a box on the limit, with its words above where the course is not; where on the
    page it begins."""
    assert chart.crossing is not None
    x, y = plot.at(axes, chart.crossing, chart.limit)
    half = max(plot.at(axes, chart.crossing + chart.crossing_u, chart.limit)[0] - x, 2.4)
    plot.box(plot.page, (x - half, x + half), (y - 3, y + 3), "paint" if chart.passed else "ink", over=4)
    if not chart.passed:
        plot.box(plot.page, (x - half + 1, x + half - 1), (y - 2, y + 2), "paper", over=4)
    room = wide(chart.crossing_words, weight=600)
    right = x + 10 + room < (allowed - 4 if chart.crossing < chart.allowed else plot.width)
    middle = x + 10 + room / 2 if right else max(x - 8, _LEFT + room / 2 + 4)
    plot.line(plot.page, (x, x + 8 if right else x - 8), (y - 3, y - 24), "ink2", 0.5)
    plot.words(plot.page, middle, y - 27, chart.crossing_words, anchor="center", weight=600)
    return min(x - half, middle - room / 2)


def band(chart: Band, width: float) -> Drawing:
    """The band between lowest and highest, the limits with their forbidden sides, and the sample nearest to one."""
    values = [*chart.low, *chart.high, *(limit.value for limit in chart.limits)]
    low, high = min(values, default=0.0), max(values, default=1.0)
    room = 0.16 * (high - low) or abs(high) * 0.1 or 1.0
    bottom, top = low - room, high + room
    ends = (chart.x[0], chart.x[-1]) if len(chart.x) > 1 and chart.x[-1] > chart.x[0] else (0.0, 1.0)
    plot, axes = _plane(ends, (bottom, top), width, 120.0, chart.axis, chart.unit)
    for limit in chart.limits:
        plot.hatch(axes, ends, (limit.value, top) if limit.above else (bottom, limit.value))
        plot.line(axes, ends, (limit.value, limit.value), "ink", 1.6)
        down = -4.5 if limit.above else 10.5
        plot.words(axes, ends[0], limit.value, limit.words, by=(7, down), weight=600, ground=True)
    if chart.low:
        plot.steps(axes, chart.x, *_seen(chart, _LEAST * (top - bottom) / (120.0 - _TOP)))
    if chart.extreme is not None:
        plot.dot(axes, chart.extreme.x, chart.extreme.y, filled=chart.extreme.passed)
        _named(plot, axes, chart, chart.extreme)
    return plot.drawing()


def _named(plot: Plot, axes: Axes, chart: Band, extreme: Extreme) -> None:
    """The words of the extreme, at the nearest of some places beside it where neither the band nor a limit runs through
    them; further away with a line that leads there."""
    x, y = plot.at(axes, extreme.x, extreme.y)
    long = wide(extreme.words, weight=600)
    edges = np.array([plot.at(axes, edge, 0.0)[0] for edge in chart.x])
    tops = np.array([plot.at(axes, chart.x[0], value)[1] for value in chart.high])
    feet = np.array([plot.at(axes, chart.x[0], value)[1] for value in chart.low])
    limits = [(plot.at(axes, chart.x[0], limit.value)[1], limit.above) for limit in chart.limits]
    ceiling = max([_TOP, *(at for at, above in limits if above)])
    floor = min([120.0, *(at for at, above in limits if not above)])

    def free(left: float, base: float) -> bool:
        top, foot = base - 7.5, base + 2.5
        beneath = (edges[:-1] < left + long + 2) & (edges[1:] > left - 2)
        crossed = bool(np.any(beneath & (tops < foot) & (feet > top)))
        inside = left >= _LEFT + 2 and left + long <= plot.width
        return inside and not crossed and top > ceiling + 1 and foot < floor - 1

    right = x < (_LEFT + plot.width) / 2
    sides = (7.0, -7.0 - long) if right else (-7.0 - long, 7.0)
    places = [(side, down) for down in (5, -3, 12, -12, 20, -20, 30, -30, 40, -40, 55, -55) for side in sides]
    side, down = next(((s, d) for s, d in places if free(x + s, y + d)), (sides[0], 5))
    if abs(down) > 5:
        end = y + down - (8.5 if down > 0 else -3.5)
        plot.line(plot.page, (x, x + (5 if side > 0 else -5)), (y, end), "ink2", 0.5)
    plot.words(plot.page, x + side, y + down, extreme.words, weight=600)


def _seen(chart: Band, least: float) -> tuple[list[float], list[float]]:
    """Lowest and highest, apart by `least` at the least."""
    low, high = np.asarray(chart.low, dtype=float), np.asarray(chart.high, dtype=float)
    middle, half = (low + high) / 2, np.maximum((high - low) / 2, least / 2)
    return (middle - half).tolist(), (middle + half).tolist()
