"""Curves on two logarithmic axes, with marks on either and the gap between two of them shaded.

Every line differs from the others by its dashes as well, and the gap is hatched: a grey printer shows the same.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from witnessmark.document.blocks import Curves, Mark

from .plot import SMALL, Anchor, Axes, Plot, Transform, from_decades, wide
from .svg import Drawing

__all__ = ["drawn"]

_LEFT, _RIGHT, _TALL, _ROW = 40.0, 14.0, 170.0, 12.0
_LINES: tuple[tuple[str, float, tuple[float, ...]], ...] = (
    ("paint", 2.0, ()),
    ("ink", 1.4, (6, 2.5)),
    ("ink2", 1.4, (1.5, 2)),
    ("ink", 0.8, (9, 2, 1.5, 2)),
)
_UP = (3, 2)


def drawn(chart: Curves, width: float) -> Drawing:
    """The chart, `width` points wide. Values that are not above nought have no place on it."""
    across = sorted((mark for mark in chart.across if mark.value > 0), key=lambda mark: mark.value)
    up = [mark for mark in chart.up if mark.value > 0]
    lines = [[(x, y) for x, y in zip(curve.x, curve.y, strict=True) if x > 0 and y > 0] for curve in chart.curves]
    xs = [x for points in lines for x, _ in points] + [mark.value for mark in across]
    ys = [y for points in lines for _, y in points] + [mark.value for mark in up]
    gap = (chart.gap_from or 0.0, chart.gap_to or 0.0)
    gap = gap if 0 < gap[0] < gap[1] else (0.0, 0.0)
    top = 14.0 + _ROW * len(across)
    bottom = top + _TALL
    rows = len(chart.curves) + len(chart.up) + bool(gap[1])
    plot = Plot(width, bottom + 30 + _ROW * rows)
    axes = plot.axes(_LEFT, top, width - _RIGHT, bottom)
    axes.set(xscale="log", yscale="log", xlim=_ends(xs), ylim=_ends(ys))
    words = max(wide(f"{end:.0f}", size=SMALL) for end in axes.get_xlim()) + 4
    plot.logarithmic(axes.xaxis, _named(axes.get_xlim(), width - _RIGHT - _LEFT, words))
    plot.logarithmic(axes.yaxis, _named(axes.get_ylim(), _TALL, 18))
    plot.words(plot.page, width - _RIGHT, bottom + 21, chart.axis, anchor="right", token="ink2", size=SMALL)
    plot.words(plot.page, 0, top - 5, chart.unit, token="ink2", size=SMALL)
    if gap[1]:
        _gap(plot, axes, gap, axes.get_ylim())
    for number, points in enumerate(lines):
        if len(points) > 1:
            token, thick, dash = _LINES[number % len(_LINES)]
            plot.line(axes, [x for x, _ in points], [y for _, y in points], token, thick, dash=dash, over=3)
    for mark in up:
        plot.line(axes, axes.get_xlim(), (mark.value, mark.value), "ink2", 0.8, dash=_UP)
    _marks(plot, axes, across, bottom)
    _key(plot, chart, bottom + 34, gap=bool(gap[1]))
    return plot.drawing()


def _ends(values: Sequence[float]) -> tuple[float, float]:
    """An axis round `values` that ends at 1, 2 or 5 times a power of ten, with some room on both sides."""
    return from_decades(min(values, default=1.0) / 1.15, max(values, default=1.0) * 1.15)


def _named(ends: tuple[float, float], length: float, room: float) -> tuple[float, ...]:
    """Which ticks of a decade have their number: as many as there is room for, each `room` points along the axis."""
    decades = math.log10(ends[1]) - math.log10(ends[0])
    nearest = length / decades * math.log10(2)
    return (1.0, 2.0, 5.0) if decades <= 3.01 and nearest >= room else (1.0,)


def _gap(plot: Plot, on: Axes | Transform, x: tuple[float, float], y: tuple[float, float]) -> None:
    plot.box(on, x, y, "tint", over=0.5)
    plot.hatch(on, x, y)


def _marks(plot: Plot, axes: Axes, marks: Sequence[Mark], bottom: float) -> None:
    """Each mark's words in a row of their own above the plot, so that marks close together can be read."""
    places = [(plot.at(axes, mark.value, 1.0)[0], 4.0 + _ROW * (n + 1), mark.words) for n, mark in enumerate(marks)]
    for x, y, _ in places:
        plot.line(plot.page, (x, x), (y - 7, bottom), "ink", 1.2)
    for x, y, words in places:
        right = x + 5 + wide(words, weight=600) <= plot.width
        anchor: Anchor = "left" if right else "right"
        plot.words(plot.page, x + (4 if right else -4), y, words, anchor=anchor, weight=600, ground=True)


def _key(plot: Plot, chart: Curves, y: float, *, gap: bool) -> None:
    """Names of the lines, of the marks that run across and of the gap, one beneath the other: lines that cross and run
    side by side leave no room for words beside them."""
    for number, curve in enumerate(chart.curves):
        token, thick, dash = _LINES[number % len(_LINES)]
        plot.line(plot.page, (_LEFT, _LEFT + 24), (y - 2.8, y - 2.8), token, thick, dash=dash)
        plot.words(plot.page, _LEFT + 30, y, curve.words)
        y += _ROW
    for mark in chart.up:
        plot.line(plot.page, (_LEFT, _LEFT + 24), (y - 2.8, y - 2.8), "ink2", 0.8, dash=_UP)
        plot.words(plot.page, _LEFT + 30, y, mark.words)
        y += _ROW
    if gap:
        _gap(plot, plot.page, (_LEFT, _LEFT + 24), (y - 7, y + 1))
        plot.words(plot.page, _LEFT + 30, y, chart.gap_words, weight=600)
