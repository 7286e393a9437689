"""The high-voltage one-line diagram, drawn from the parts tree: only what is stated there stands in it."""

from __future__ import annotations

from collections.abc import Sequence

from witnessmark.document.blocks import Bus, OnBus, OneLine
from witnessmark.document.canvas import Canvas, Style, number_text
from witnessmark.document.marks import MARKS
from witnessmark.language import say

__all__ = ["drawn"]

_ROW = 92.0
_PLUS, _MINUS = 18.0, 78.0
_TOP, _BOTTOM = 29.0, 67.0
_PACK = 92.0
_LETTER = 3.5
"""The mean width of a condensed letter at 7.6 points."""


def drawn(chart: OneLine, style: Style, width: float) -> str:
    """The diagram as one SVG element, `width` points wide; on a phone's width with half as many parts in a row."""
    canvas = Canvas(style)
    per_row = 4 if width > 300 else 2
    trunk = _PACK + 10.0
    left = trunk + 10.0
    step = (width - left) / per_row
    y = 12.0
    pack_rows = max(1, len(chart.packs))
    for n, pack in enumerate(chart.packs):
        _pack(canvas, pack, y + n * _ROW)
    first = y
    fed = [bus for bus in chart.buses if bus.fed]
    others = [bus for bus in chart.buses if not bus.fed]
    rows = 0
    for bus in [*fed, *others]:
        for n, parts in enumerate(_chunks(bus.parts, per_row)):
            _row(canvas, bus, parts, y, (trunk, left, step, width), first_of_bus=n == 0)
            if bus.fed and rows == 0 and chart.packs:
                for end in (_PLUS, _MINUS):
                    _double(canvas, (_PACK, y + end), (trunk, y + end))
            elif rows:
                _joined(canvas, first, y, trunk, stated=bus.fed)
            rows += 1
            y += _ROW
    y = max(y, first + pack_rows * _ROW)
    if chart.apart:
        canvas.text(0, y + 10, chart.apart_words, token="ink2", size=7.6)
        y += 16
        for parts in _chunks(chart.apart, per_row + 1):
            for n, part in enumerate(parts):
                _part(canvas, part, n * width / (per_row + 1), y, width / (per_row + 1) - 8)
            y += _BOTTOM - _TOP + 8
    return canvas.svg(width, y + 4)


def _chunks(parts: Sequence[OnBus], size: int) -> list[Sequence[OnBus]]:
    return [parts[n : n + size] for n in range(0, len(parts), size)] or [()]


def _double(canvas: Canvas, start: tuple[float, float], end: tuple[float, float]) -> None:
    """High voltage: a double line with a core of its own colour."""
    canvas.line(*start, *end, "ink", 3.6)
    canvas.line(*start, *end, "hv", 1.9)


def _row(
    canvas: Canvas,
    bus: Bus,
    parts: Sequence[OnBus],
    y: float,
    at: tuple[float, float, float, float],
    *,
    first_of_bus: bool,
) -> None:
    trunk, left, step, width = at
    end = width if len(parts) * step + left > width - 1 else left + len(parts) * step
    for line in (_PLUS, _MINUS):
        _double(canvas, (trunk - 1.8, y + line), (end, y + line))
    if first_of_bus:
        canvas.text(left, y + _PLUS - 5, say("{bus}, HV +", bus=bus.title), token="ink2", size=7.6)
        canvas.text(left, y + _MINUS + 10, say("HV \u2212"), token="ink2", size=7.6)
    for n, part in enumerate(parts):
        x = left + n * step
        middle = x + (step - 6) / 2
        _double(canvas, (middle, y + _PLUS), (middle, y + _TOP))
        _double(canvas, (middle, y + _BOTTOM), (middle, y + _MINUS))
        _part(canvas, part, x, y + _TOP, step - 6)


def _joined(canvas: Canvas, first: float, y: float, trunk: float, *, stated: bool) -> None:
    """From the first row down to this one: the same bus as a double line, another bus as a dashed one, for nobody has
    stated where the two are joined."""
    if stated:
        _double(canvas, (trunk, first + _MINUS), (trunk, y + _MINUS))
        _double(canvas, (trunk - 5, first + _PLUS), (trunk - 5, y + _PLUS))
        _double(canvas, (trunk - 5, y + _PLUS), (trunk, y + _PLUS))
        return
    dash = 'stroke-dasharray="2.5 2.5"'
    path = f"M{number_text(trunk)} {number_text(y + _PLUS - 14)}V{number_text(y + _PLUS)}"
    canvas.parts.append(f'<path d="{path}" fill="none" stroke="{canvas.colour("ink2")}" stroke-width="0.8" {dash}/>')


def _part(canvas: Canvas, part: OnBus, x: float, y: float, width: float) -> None:
    height = _BOTTOM - _TOP
    canvas.box(x, y, width, height, "ink")
    canvas.box(x + 0.8, y + 0.8, width - 1.6, height - 1.6, "paper")
    lines = _wrapped(part.title, width - 6)[:3]
    total = len(lines) + bool(part.serial)
    at = y + height / 2 - 4.4 * total + 7.2
    for line in lines:
        canvas.text(x + width / 2, at, line, anchor="middle", weight=600, size=7.6)
        at += 8.8
    if part.serial:
        canvas.text(x + width / 2, at, part.serial, anchor="middle", token="ink2", size=7.4)
    if part.state:
        _mark(canvas, part.state, x + width - 7, y - 6)


def _mark(canvas: Canvas, state: str, x: float, y: float) -> None:
    body = MARKS[state].format(**canvas.style.colours)
    canvas.parts.append(f'<g transform="translate({number_text(x)} {number_text(y)}) scale(0.5)">{body}</g>')


def _pack(canvas: Canvas, pack: OnBus, y: float) -> None:
    """The pack as a dashed enclosure, with what is stated to lie within it."""
    dash = 'stroke-dasharray="4 3"'
    canvas.parts.append(
        f'<rect x="0.5" y="{number_text(y)}" width="{number_text(_PACK - 1)}" height="{number_text(_ROW - 6)}" '
        f'fill="none" stroke="{canvas.colour("ink2")}" stroke-width="0.9" {dash}/>'
    )
    title = f"{pack.title}, {pack.serial}" if pack.serial else pack.title
    canvas.text(0, y - 4, title, weight=600, size=7.6)
    for n in range(4):
        half = 13 if n % 2 == 0 else 7
        canvas.line(18 - half, y + 39 + 6 * n, 18 + half, y + 39 + 6 * n, "ink", 1.0)
    _double(canvas, (18, y + 39), (18, y + _PLUS))
    _double(canvas, (16.2, y + _PLUS), (_PACK, y + _PLUS))
    _double(canvas, (18, y + 57), (18, y + _MINUS))
    _double(canvas, (16.2, y + _MINUS), (_PACK, y + _MINUS))
    for n, inside in enumerate(pack.inside[:4]):
        for m, line in enumerate(_wrapped(inside, _PACK - 40)[:2]):
            canvas.text(37, y + 32 + 18 * n + 8.4 * m, line, size=7.4)
    if pack.state:
        _mark(canvas, pack.state, _PACK - 8, y - 6)


def _wrapped(text: str, width: float) -> list[str]:
    """Words in lines that fit, as far as words allow."""
    lines: list[str] = []
    for word in text.split():
        if lines and (len(lines[-1]) + 1 + len(word)) * _LETTER <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines
