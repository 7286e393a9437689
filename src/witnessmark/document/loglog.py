"""Curves on two logarithmic axes, with marks on either and the gap between two of them shaded.

Every line differs from the others by its dashes as well, and the gap is hatched: a grey printer shows the same.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.document.blocks import Curves, Mark
from witnessmark.document.figures import Canvas, Style, number_text

__all__ = ["drawn"]

_LEFT, _RIGHT, _TALL, _ROW = 40.0, 14.0, 170.0, 12.0
_LETTER = 3.9
"""The mean width of a condensed letter at 8.2 points."""
_LINES = (("paint", 2.0, ""), ("ink", 1.4, "6 2.5"), ("ink2", 1.4, "1.5 2"), ("ink", 0.8, "9 2 1.5 2"))
_UP = "3 2"
_n = number_text


@dataclass(frozen=True, slots=True)
class _Log:
    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        part = math.log10(value / self.low) / math.log10(self.high / self.low)
        return self.start + part * (self.end - self.start)

    def ticks(self) -> list[tuple[float, bool]]:
        """Each 1 to 9 times a power of ten on the axis, and whether its number is printed."""
        first, last = math.floor(math.log10(self.low)), math.ceil(math.log10(self.high))
        named = (1,) if last - first > 3 else (1, 2, 5)
        room = abs(self.end - self.start) / max(1, last - first)
        if room < 60:
            named = (1,)
        found = [(factor * 10.0**power, factor in named) for power in range(first, last + 1) for factor in range(1, 10)]
        return [(v, said) for v, said in found if self.low * (1 - 1e-9) <= v <= self.high * (1 + 1e-9)]


def _axis(values: Sequence[float], start: float, end: float) -> _Log:
    """An axis round `values` that ends at 1, 2 or 5 times a power of ten, with some room on both sides."""
    low, high = min(values) / 1.15, max(values) * 1.15
    below, above = 10.0 ** math.floor(math.log10(low)), 10.0 ** math.floor(math.log10(high))
    return _Log(
        max(factor * below for factor in (1, 2, 5) if factor * below <= low * (1 + 1e-9)),
        min(factor * above for factor in (1, 2, 5, 10) if factor * above >= high * (1 - 1e-9)),
        start,
        end,
    )


def _plain(value: float) -> str:
    return f"{value:.6f}".rstrip("0").rstrip(".") if value < 1 else f"{value:.0f}"


def drawn(chart: Curves, style: Style, width: float) -> str:
    """The chart as one SVG element, `width` points wide. Values that are not above nought have no place on it."""
    canvas = Canvas(style)
    across = sorted((mark for mark in chart.across if mark.value > 0), key=lambda mark: mark.value)
    up = [mark for mark in chart.up if mark.value > 0]
    lines = [
        (curve.words, [(x, y) for x, y in zip(curve.x, curve.y, strict=True) if x > 0 and y > 0])
        for curve in chart.curves
    ]
    xs = [x for _, points in lines for x, _ in points] + [mark.value for mark in across]
    ys = [y for _, points in lines for _, y in points] + [mark.value for mark in up]
    top = 14.0 + _ROW * len(across)
    bottom = top + _TALL
    x_axis, y_axis = _axis(xs or [1.0], _LEFT, width - _RIGHT), _axis(ys or [1.0], bottom, top)
    gap = chart.gap_from is not None and chart.gap_to is not None and 0 < chart.gap_from < chart.gap_to
    if gap and chart.gap_from and chart.gap_to:
        _gap(canvas, x_axis.at(chart.gap_from), x_axis.at(chart.gap_to), (top, bottom))
    _frame(canvas, chart, x_axis, y_axis, (top, bottom))
    for number, (_, points) in enumerate(lines):
        if len(points) > 1:
            d = "M" + "L".join(f"{_n(x_axis.at(x))} {_n(y_axis.at(y))}" for x, y in points)
            canvas.path(d, *_LINES[number % len(_LINES)])
    for mark in up:
        at = y_axis.at(mark.value)
        canvas.path(f"M{_n(_LEFT)} {_n(at)}H{_n(width - _RIGHT)}", "ink2", 0.8, _UP)
    _marks(canvas, across, x_axis, (top, bottom), width)
    return canvas.svg(width, _key(canvas, chart, bottom + 34, gap=gap))


def _gap(canvas: Canvas, x1: float, x2: float, ends: tuple[float, float]) -> None:
    canvas.box(x1, ends[0], x2 - x1, ends[1] - ends[0], "tint")
    canvas.hatch(x1, ends[0], x2, ends[1])


def _frame(canvas: Canvas, chart: Curves, x_axis: _Log, y_axis: _Log, ends: tuple[float, float]) -> None:
    top, bottom = ends
    for value, said in x_axis.ticks():
        x = x_axis.at(value)
        canvas.line(x, bottom, x, bottom + (3.5 if said else 2), "ink2", 0.5)
        if said:
            canvas.line(x, top, x, bottom, "hair", 0.3)
            canvas.text(x, bottom + 11, _plain(value), anchor="middle", token="ink2", size=7.6)
    for value, said in y_axis.ticks():
        y = y_axis.at(value)
        canvas.line(_LEFT - (3.5 if said else 2), y, _LEFT, y, "ink2", 0.5)
        if said:
            canvas.line(_LEFT, y, x_axis.end, y, "hair", 0.3)
            canvas.text(_LEFT - 6, y + 2.7, _plain(value), anchor="end", token="ink2", size=7.6)
    canvas.line(_LEFT, bottom, x_axis.end, bottom, "ink2", 0.5)
    canvas.line(_LEFT, top, _LEFT, bottom, "ink2", 0.5)
    canvas.text(x_axis.end, bottom + 21, chart.axis, anchor="end", token="ink2", size=7.6)
    canvas.text(0, top - 5, chart.unit, token="ink2", size=7.6)


def _marks(canvas: Canvas, marks: Sequence[Mark], axis: _Log, ends: tuple[float, float], width: float) -> None:
    """Each mark's words in a row of their own above the plot, so that marks close together can be read."""
    rows = [4.0 + _ROW * (n + 1) for n in range(len(marks))]
    for mark, y in zip(marks, rows, strict=True):
        x = axis.at(mark.value)
        canvas.line(x, y - 7, x, ends[1], "ink", 1.2)
    for mark, y in zip(marks, rows, strict=True):
        x = axis.at(mark.value)
        if x + 5 + len(mark.words) * _LETTER <= width:
            _words(canvas, x + 4, y, mark.words, "start")
        else:
            _words(canvas, x - 4, y, mark.words, "end")


def _words(canvas: Canvas, x: float, y: float, words: str, anchor: str) -> None:
    """Words on a piece of bare ground, for lines and hatching run there."""
    long = len(words) * _LETTER
    canvas.box(x - 1.5 if anchor == "start" else x - long - 1.5, y - 8, long + 3, 10.5, "paper")
    canvas.text(x, y, words, anchor=anchor, weight=600)


def _key(canvas: Canvas, chart: Curves, y: float, *, gap: bool) -> float:
    """Names of the lines, of the marks that run across and of the gap, one beneath the other; the height of it all."""
    for number, curve in enumerate(chart.curves):
        canvas.path(f"M{_n(_LEFT)} {_n(y - 2.8)}h24", *_LINES[number % len(_LINES)])
        canvas.text(_LEFT + 30, y, curve.words)
        y += _ROW
    for mark in chart.up:
        canvas.path(f"M{_n(_LEFT)} {_n(y - 2.8)}h24", "ink2", 0.8, _UP)
        canvas.text(_LEFT + 30, y, mark.words)
        y += _ROW
    if gap:
        _gap(canvas, _LEFT, _LEFT + 24, (y - 7, y + 1))
        canvas.text(_LEFT + 30, y, chart.gap_words, weight=600)
        y += _ROW
    return y - 4
