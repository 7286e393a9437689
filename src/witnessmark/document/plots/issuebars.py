"""Gaps left at each issue: one bar below the other. A gap has no paint, so the bars are ink; the newest is hatched."""

from __future__ import annotations

from witnessmark.document.drawings import Issues

from .plot import Plot
from .svg import Drawing

__all__ = ["drawn"]

_ROW, _TALL, _LEFT, _BESIDE = 20.0, 9.0, 118.0, 74.0


def drawn(chart: Issues, width: float, *, narrow: bool = False) -> Drawing:
    """Each issue with its bar and its number. Narrow: the words stand above the bar."""
    left = 4.0 if narrow else _LEFT
    row = _ROW + (12.0 if narrow else 0.0)
    bottom = 4 + row * len(chart.bars)
    plot = Plot(width, bottom + 4)
    axes = plot.axes(left, 2, width - _BESIDE, bottom)
    axes.set(xlim=(0, max((bar.gaps for bar in chart.bars), default=0) or 1), ylim=(bottom, 2))
    axes.xaxis.set_visible(False)
    axes.yaxis.set_visible(False)
    axes.spines[["left", "bottom"]].set_visible(False)
    for index, bar in enumerate(chart.bars):
        y = 4 + row * index
        weight = 600 if bar.current else 400
        if narrow:
            plot.words(plot.page, left + 4, y + 8, bar.label, weight=weight)
            y += 12
        else:
            plot.words(plot.page, 0, y + _TALL - 1, bar.label, weight=weight)
        if bar.gaps and bar.current:
            plot.hatch(axes, (0, bar.gaps), (y, y + _TALL))
            plot.line(axes, (0, bar.gaps, bar.gaps, 0), (y, y, y + _TALL, y + _TALL), "ink", 1.0)
        elif bar.gaps:
            plot.box(axes, (0, bar.gaps), (y, y + _TALL), "ink")
        plot.words(axes, bar.gaps, y + _TALL - 1, bar.shown, by=(6, 0), weight=600)
    plot.line(axes, (0, 0), (2, bottom), "ink", 0.8)
    return plot.drawing()
