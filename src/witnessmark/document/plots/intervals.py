"""All results against one limit: measured value with its interval, off the scale as an arrow, the numbers beside it."""

from __future__ import annotations

from witnessmark.document.blocks import IntervalChart, IntervalRow

from .plot import LINE, SMALL, Axes, Plot, broken, round_ends, wide
from .svg import Drawing

__all__ = ["drawn"]

_TOP, _ROW, _UNDER = 20.0, 17.0, 25.0
_LEFT, _RIGHT = 94.0, 251.0
"""Between these the axis lies; the labels stand left of it, the numbers right."""
_MIDDLE = 2.8
"""From the middle of a row down to the base line of its words."""


def drawn(chart: IntervalChart, width: float, *, narrow: bool = False) -> Drawing:
    """One row for each result. `narrow`: on a phone the words stand above the bar."""
    return _narrow(chart, width) if narrow else _wide(chart, width)


def _wide(chart: IntervalChart, width: float) -> Drawing:
    labels = [broken(row.label, _LEFT - 8, weight=_weight(row)) for row in chart.rows]
    tops = [_TOP]
    for label in labels:
        tops.append(tops[-1] + _ROW + LINE * (len(label) - 1))
    bottom = tops[-1]
    plot = Plot(width, bottom + _UNDER)
    axes = _axes(plot, chart, (_LEFT, _TOP, _RIGHT, bottom))
    axes.set_ylim(bottom, _TOP)
    for n, row in enumerate(chart.rows):
        if row.current:
            plot.box(plot.page, (0, _LEFT - 4), (tops[n], tops[n + 1]), "tint", over=0)
        if n:
            plot.line(plot.page, (0, width), (tops[n], tops[n]), "hair", 0.3, over=0)
    _forbidden(plot, axes, chart, (_TOP, bottom))
    _limit(plot, axes, chart, (_TOP - 6, bottom))
    at = plot.at(axes, chart.limit, bottom)[0]
    if at <= (_LEFT + _RIGHT) / 2:
        plot.words(plot.page, at + 3, _TOP - 7, chart.limit_words, weight=600)
    else:
        plot.words(plot.page, at - 3, _TOP - 7, chart.limit_words, anchor="right", weight=600)
    for n, (row, label) in enumerate(zip(chart.rows, labels, strict=True)):
        middle = (tops[n] + tops[n + 1]) / 2
        base = middle + _MIDDLE
        plot.words(plot.page, 2, base - LINE / 2 * (len(label) - 1), label, weight=_weight(row))
        _bar(plot, axes, row, chart.limit, middle)
        plot.words(plot.page, 282, base, row.shown, anchor="right", weight=600)
        if row.shown_u:
            plot.words(plot.page, 284.5, base, f"± {row.shown_u}", token="ink2", size=7.8)
        plot.words(plot.page, 313, base, row.statement, weight=400 if row.passed else 600)
    return plot.drawing()


def _narrow(chart: IntervalChart, width: float) -> Drawing:
    said = [f"{row.shown} ± {row.shown_u}" if row.shown_u else row.shown for row in chart.rows]
    beside = max((wide(row.statement, weight=600) for row in chart.rows), default=0.0) + 8
    numbers = max((wide(words) for words in said), default=0.0) + 8
    labels = [broken(row.label, max(60.0, width - beside - numbers), weight=600) for row in chart.rows]
    tops = [_TOP]
    for label in labels:
        tops.append(tops[-1] + 28 + LINE * (len(label) - 1))
    bottom = tops[-1]
    plot = Plot(width, bottom + _UNDER)
    axes = _axes(plot, chart, (4.0, _TOP, width - 6, bottom))
    axes.set_ylim(bottom, _TOP)
    at = plot.at(axes, chart.limit, bottom)[0]
    words = chart.limit_words_short or chart.limit_words
    if at <= width / 2:
        plot.words(plot.page, at + 3, 9, words, weight=600)
    else:
        plot.words(plot.page, at - 3, 9, words, anchor="right", weight=600)
    for n, (row, label) in enumerate(zip(chart.rows, labels, strict=True)):
        top, foot = tops[n], tops[n + 1] - 12
        plot.line(plot.page, (0, width), (top - 4, top - 4), "hair", 0.3, over=0)
        plot.words(plot.page, 0, top + 6, label, weight=600)
        plot.words(plot.page, width - beside, top + 6, said[n], anchor="right")
        plot.words(plot.page, width, top + 6, row.statement, anchor="right", weight=600)
        _forbidden(plot, axes, chart, (foot - 6, foot + 6))
        _limit(plot, axes, chart, (foot - 7, foot + 7))
        _bar(plot, axes, row, chart.limit, foot)
    return plot.drawing()


def _weight(row: IntervalRow) -> int:
    return 600 if row.current else 400


def _axes(plot: Plot, chart: IntervalChart, edges: tuple[float, float, float, float]) -> Axes:
    """Axes whose y is that of the page, so that bars stand in the rows of the words."""
    axes = plot.axes(*edges)
    axes.spines.left.set_visible(False)
    axes.yaxis.set_visible(False)
    low, high = _ends(chart)
    axes.set_xlim(low, high)
    plot.scaled(axes.xaxis, edges[2] - edges[0], 20, 6)
    plot.words(plot.page, edges[2], edges[3] + 21, chart.axis, anchor="right", token="ink2", size=SMALL)
    return axes


def _ends(chart: IntervalChart) -> tuple[float, float]:
    """A scale round the limit: results far away become arrows, so that what lies near the limit can be read.

    What may only be at most something and is never below nought starts at nought: there the distance to the limit is
    what one looks for. Where every result would be an arrow, the scale reaches as far as four times the limit.
    """
    limit = chart.limit
    never_below = limit > 0 and all(row.value >= 0 for row in chart.rows)
    if chart.side == "at-most" and never_below:
        near_ends = [row.value + row.u for row in chart.rows if row.value + row.u <= 2 * limit]
        return 0.0, round_ends(0.0, max([1.2 * limit, *near_ends]), 6)[-1]
    near = 0.4 * abs(limit) or max((abs(row.value) + row.u for row in chart.rows), default=1.0) or 1.0
    ends = [end for row in chart.rows for end in (row.value - row.u, row.value + row.u) if abs(end - limit) <= near]
    below = max([limit - end for end in ends if end < limit] + [0.15 * near])
    above = max([end - limit for end in ends if end > limit] + [0.15 * near])
    if not ends and limit > 0:
        far = [row.value + row.u for row in chart.rows if limit < row.value + row.u <= 4 * limit]
        above = max([above, *(end - limit for end in far)])
    if chart.side == "at-least":
        above = max(above, 0.5 * near)
    else:
        below = max(below, 0.5 * near)
    found = round_ends(limit - below, limit + above, 6)
    return max(found[0], 0.0) if never_below else found[0], found[-1]


def _forbidden(plot: Plot, axes: Axes, chart: IntervalChart, y: tuple[float, float]) -> None:
    low, high = axes.get_xlim()
    plot.hatch(axes, (low, chart.limit) if chart.side == "at-least" else (chart.limit, high), y)


def _limit(plot: Plot, axes: Axes, chart: IntervalChart, y: tuple[float, float]) -> None:
    low, high = axes.get_xlim()
    if low <= chart.limit <= high:
        plot.line(axes, (chart.limit, chart.limit), y, "ink", 1.6)


def _bar(plot: Plot, axes: Axes, row: IntervalRow, limit: float, y: float) -> None:
    """The value with its interval; a tick where a pass begins; an arrow at the edge for what lies beyond it."""
    low, high = axes.get_xlim()
    token = "paint" if row.passed else "ink"
    if row.passes_from is not None and low <= row.passes_from <= high:
        plot.line(axes, (row.passes_from, row.passes_from), (y - 6, y + 6), "ink", 0.8)
    if not low <= row.value <= high:
        right = row.value > high
        end = high if right else low
        room = abs(end - limit) if low < limit < high else high - low
        # The whole arrow stays on its own side of the limit, however near that is to the edge.
        away = (-1 if right else 1) * min(0.17 * (high - low), 0.75 * room)
        back = (-1 if right else 1) * 4.5 * (high - low) / (plot.at(axes, high, y)[0] - plot.at(axes, low, y)[0])
        if abs(away) > abs(back):
            plot.line(axes, (end + away, end + back), (y, y), token, 1.4, over=3)
            plot.dot(axes, end + away, y, filled=row.passed, radius=2.1)
        plot.tip(axes, end, y, token, right=right)
        return
    ends = (row.value - row.u, row.value + row.u)
    plot.line(axes, (max(ends[0], low), min(ends[1], high)), (y, y), token, 1.3, over=3)
    for end in ends:
        if low <= end <= high:
            plot.line(axes, (end, end), (y - 3.6, y + 3.6), token, 1.3, over=3)
        else:
            plot.tip(axes, max(low, min(high, end)), y, token, right=end > high)
    plot.dot(axes, row.value, y, filled=row.passed)
