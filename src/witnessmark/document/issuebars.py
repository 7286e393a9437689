"""Gaps left at each issue: one bar below the other. A gap has no paint, so the bars are ink; the newest is hatched."""

from __future__ import annotations

from witnessmark.document.drawings import Issues
from witnessmark.document.figures import Canvas, Style

__all__ = ["drawn"]

_ROW, _TALL, _LEFT, _BESIDE = 20.0, 9.0, 118.0, 74.0


def drawn(chart: Issues, style: Style, width: float, *, narrow: bool = False) -> str:
    """Each issue with its bar and its number. Narrow: the words stand above the bar."""
    canvas = Canvas(style)
    left = 4.0 if narrow else _LEFT
    row = _ROW + (12.0 if narrow else 0.0)
    right = width - _BESIDE
    most = max((bar.gaps for bar in chart.bars), default=0) or 1
    for index, bar in enumerate(chart.bars):
        y = 4 + row * index
        weight = 600 if bar.current else 400
        if narrow:
            canvas.text(left, y + 8, bar.label, weight=weight)
            y += 12
        else:
            canvas.text(0, y + _TALL - 1, bar.label, weight=weight)
        end = left + (right - left) * bar.gaps / most
        if bar.gaps and bar.current:
            canvas.hatch(left, y, end, y + _TALL)
            canvas.path(f"M{left:g} {y:g}H{end:.2f}V{y + _TALL:g}H{left:g}Z", "ink", 1.0)
        elif bar.gaps:
            canvas.box(left, y, end - left, _TALL, "ink")
        canvas.text(end + 6, y + _TALL - 1, bar.shown, weight=600)
    bottom = 4 + row * len(chart.bars)
    canvas.line(left, 2, left, bottom, "ink", 0.8)
    return canvas.svg(width, bottom + 4)
