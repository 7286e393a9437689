"""Charts as SVG, drawn by hand in one style: value with interval, decay, band.

One unit is one point, so that text is read at its size when the figure is 130 mm wide. Colours are tokens: `LIGHT` for
print, variables of the page for the screen. Coordinates have two decimals, nothing depends on order or chance.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from html import escape

from witnessmark.document.blocks import Band, Curves, Decay, IntervalChart, IntervalRow, OneLine, Outlines
from witnessmark.document.drawings import Issues
from witnessmark.document.marks import LIGHT
from witnessmark.language import marked

__all__ = ["Canvas", "Style", "draw", "for_print", "for_screen", "number_text"]

_WIDTH = 368.5  # 130 mm
_WHOLE = 487.5  # 172 mm
_NARROW = 250.0
_FONT = 8.2


@dataclass(frozen=True, slots=True)
class Style:
    """Colours by token, and how the condensed face is named: print and screen differ in it."""

    colours: Mapping[str, str]
    face: str


def for_print() -> Style:
    return Style(LIGHT, 'font-family="Fira Sans" font-stretch="condensed"')


def for_screen() -> Style:
    return Style({name: f"var(--{name})" for name in LIGHT}, "font-family=\"'Fira Sans Condensed', sans-serif\"")


def draw(
    chart: IntervalChart | Decay | Band | Curves | OneLine | Outlines | Issues, style: Style, *, narrow: bool = False
) -> str:
    """The chart as one SVG element. `narrow` draws it anew for a phone, with labels above the bars."""
    if isinstance(chart, IntervalChart):
        return _interval_narrow(chart, style) if narrow else _interval(chart, style)
    if isinstance(chart, Decay):
        return _decay(chart, style, _NARROW if narrow else _WIDTH)
    if isinstance(chart, Curves):
        from witnessmark.document import loglog

        return loglog.drawn(chart, style, _NARROW if narrow else _WIDTH)
    if isinstance(chart, Issues):
        from witnessmark.document import issuebars

        return issuebars.drawn(chart, style, _NARROW if narrow else _WIDTH, narrow=narrow)
    if isinstance(chart, Outlines):
        from witnessmark.document import outlines

        return outlines.drawn(chart, style, _NARROW if narrow else _WHOLE)
    if isinstance(chart, OneLine):
        from witnessmark.document.oneline import drawn

        return drawn(chart, style, _NARROW if narrow else _WIDTH)
    return _band(chart, style, _NARROW if narrow else _WIDTH)


def number_text(value: float) -> str:
    """A coordinate with at most two decimals."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


_n = number_text


def _label(value: float, step: float) -> str:
    places = max(0, -math.floor(math.log10(step) + 1e-9)) if step < 1 else 0
    text = f"{value:.{places}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return marked(text).replace("-", "\u2212")


def _nice(rough: float) -> float:
    """The step 1, 2 or 5 times a power of ten that lies nearest above `rough`."""
    if not rough > 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(rough))
    for factor in (1.0, 2.0, 5.0, 10.0):
        if rough <= factor * power * (1 + 1e-9):
            return factor * power
    return 10.0 * power


def _fine(span: float, least: int) -> float:
    """The largest nice step that divides `span` into at least `least` parts."""
    if not span > 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(span / least))
    return max(factor * power for factor in (1.0, 2.0, 5.0) if factor * power * least <= span * (1 + 1e-9))


def _steps(low: float, high: float, step: float) -> list[float]:
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [index * step for index in range(first, last + 1)]


@dataclass(slots=True)
class Canvas:
    """Paths and words of one drawing, in points, with colours by token."""

    style: Style
    parts: list[str] = field(default_factory=list)

    def colour(self, token: str) -> str:
        return self.style.colours[token]

    def line(self, x1: float, y1: float, x2: float, y2: float, token: str = "ink", width: float = 0.5) -> None:
        self.path(f"M{_n(x1)} {_n(y1)}L{_n(x2)} {_n(y2)}", token, width)

    def path(self, d: str, token: str, width: float, dash: str = "") -> None:
        """A line; `dash` gives dashes and gaps in points, as in "5 2.5"."""
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(
            f'<path d="{d}" fill="none" stroke="{self.colour(token)}" stroke-width="{_n(width)}"{dashes}/>'
        )

    def area(self, d: str, token: str) -> None:
        self.parts.append(f'<path d="{d}" fill="{self.colour(token)}"/>')

    def box(self, x: float, y: float, width: float, height: float, token: str) -> None:
        self.area(
            f"M{_n(x)} {_n(y)}h{_n(width)}v{_n(height)}h{_n(-width)}Z",
            token,
        )

    def dot(self, x: float, y: float, radius: float, *, filled: bool) -> None:
        fill, edge = ("paint", "paint") if filled else ("paper", "ink")
        self.parts.append(
            f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}" fill="{self.colour(fill)}" '
            f'stroke="{self.colour(edge)}" stroke-width="1.7"/>'
        )

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        anchor: str = "start",
        token: str = "ink",
        weight: int = 400,
        size: float = _FONT,
    ) -> None:
        self.parts.append(
            f'<text x="{_n(x)}" y="{_n(y)}" {self.style.face} font-size="{_n(size)}" font-weight="{weight}" '
            f'text-anchor="{anchor}" fill="{self.colour(token)}">{escape(words)}</text>'
        )

    def hatch(self, x1: float, y1: float, x2: float, y2: float, gap: float = 4.2) -> None:
        """45 degree lines inside a rectangle: they survive a grey printer."""
        if x2 - x1 < 0.5 or y2 - y1 < 0.5:
            return
        d = []
        total = (x2 - x1) + (y2 - y1)
        for index in range(1, math.ceil(total / gap)):
            along = index * gap  # the line x + y = x1 + y1 + along, from lower left to upper right
            left = (x1, y1 + along) if along <= y2 - y1 else (x1 + along - (y2 - y1), y2)
            right = (x1 + along, y1) if along <= x2 - x1 else (x2, y1 + along - (x2 - x1))
            d.append(f"M{_n(left[0])} {_n(left[1])}L{_n(right[0])} {_n(right[1])}")
        self.path("".join(d), "rule", 0.5)

    def svg(self, width: float, height: float) -> str:
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(width)} {_n(height)}" '
            f'width="{_n(width)}" height="{_n(height)}">' + "".join(self.parts) + "</svg>"
        )


# ---------------------------------------------------------------- value with interval


@dataclass(frozen=True, slots=True)
class _Scale:
    low: float
    high: float
    step: float
    left: float
    right: float

    def at(self, value: float) -> float:
        return self.left + (value - self.low) / (self.high - self.low) * (self.right - self.left)

    def shows(self, value: float) -> bool:
        return self.low <= value <= self.high


def _scale(chart: IntervalChart, left: float, right: float) -> _Scale:
    """A scale round the limit: results far away become arrows, so that what lies near the limit can be read.

    What may only be at most something and is never below nought starts at nought: there the distance to the limit is
    what one looks for. Where every result would be an arrow, the scale reaches as far as four times the limit.
    """
    limit = chart.limit
    never_below = limit > 0 and all(row.value >= 0 for row in chart.rows)
    if chart.side == "at-most" and never_below:
        return _from_nought(chart, left, right)
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
    step = _nice((below + above) / 6)
    low, high = (math.floor((limit - below) / step) * step, math.ceil((limit + above) / step) * step)
    if never_below:
        low = max(low, 0.0)
    return _Scale(low, high, step, left, right)


def _from_nought(chart: IntervalChart, left: float, right: float) -> _Scale:
    """From nought to a fifth above the limit, further where a result lies between that and twice the limit."""
    ends = [row.value + row.u for row in chart.rows if row.value + row.u <= 2 * chart.limit]
    top = max([1.2 * chart.limit, *ends])
    step = _nice(top / 6)
    return _Scale(0.0, math.ceil(top / step - 1e-9) * step, step, left, right)


def _bar(canvas: Canvas, scale: _Scale, row: IntervalRow, y: float) -> None:
    token = "paint" if row.passed else "ink"
    if not scale.shows(row.value):
        away = 1 if row.value > scale.high else -1
        end = scale.right if away > 0 else scale.left
        start = end - away * 0.17 * (scale.right - scale.left)
        canvas.line(start, y, end - away * 5, y, token, 1.4)
        tip = f"M{_n(end)} {_n(y)}L{_n(end - away * 7)} {_n(y - 2.8)}V{_n(y + 2.8)}Z"
        canvas.area(tip, token)
        canvas.dot(start, y, 2.1, filled=row.passed)
        return
    a, b = scale.at(max(row.value - row.u, scale.low)), scale.at(min(row.value + row.u, scale.high))
    canvas.line(a, y, b, y, token, 1.3)
    for end in (a, b):
        canvas.line(end, y - 3.6, end, y + 3.6, token, 1.3)
    canvas.dot(scale.at(row.value), y, 2.7, filled=row.passed)


def _forbidden(canvas: Canvas, chart: IntervalChart, scale: _Scale, top: float, bottom: float) -> None:
    at = scale.at(chart.limit)
    if chart.side == "at-least":
        canvas.hatch(scale.left, top, at, bottom)
    else:
        canvas.hatch(at, top, scale.right, bottom)


def _axis(canvas: Canvas, scale: _Scale, y: float, words: str) -> None:
    canvas.line(scale.left, y, scale.right, y, "ink2", 0.5)
    for value in _steps(scale.low, scale.high, scale.step):
        x = scale.at(value)
        canvas.line(x, y, x, y + 3, "ink2", 0.5)
        canvas.text(x, y + 11, _label(value, scale.step), anchor="middle", token="ink2", size=7.6)
    if words:
        canvas.text(scale.right, y + 21, words, anchor="end", token="ink2", size=7.6)


def _interval(chart: IntervalChart, style: Style) -> str:
    canvas, top, row_height = Canvas(style), 20.0, 17.0
    scale = _scale(chart, 94.0, 251.0)
    bottom = top + row_height * len(chart.rows)
    at = scale.at(chart.limit)
    for index, row in enumerate(chart.rows):
        y = top + row_height * index
        if row.current:
            canvas.box(0, y, 90, row_height, "tint")
        if index:
            canvas.line(0, y, _WIDTH, y, "hair", 0.3)
    _forbidden(canvas, chart, scale, top, bottom)
    if scale.shows(chart.limit):
        canvas.line(at, top - 6, at, bottom, "ink", 1.6)
    if at <= (scale.left + scale.right) / 2:
        canvas.text(at + 3, top - 7, chart.limit_words, weight=600)
    else:
        canvas.text(at - 3, top - 7, chart.limit_words, anchor="end", weight=600)
    for index, row in enumerate(chart.rows):
        middle = top + row_height * (index + 0.5)
        canvas.text(2, middle + 2.8, row.label, weight=600 if row.current else 400)
        if row.passes_from is not None and scale.shows(row.passes_from):
            x = scale.at(row.passes_from)
            canvas.line(x, middle - 6, x, middle + 6, "ink", 0.8)
        _bar(canvas, scale, row, middle)
        canvas.text(282, middle + 2.8, row.shown, anchor="end", weight=600)
        if row.shown_u:
            canvas.text(284.5, middle + 2.8, f"± {row.shown_u}", token="ink2", size=7.8)
        canvas.text(313, middle + 2.8, row.statement, weight=400 if row.passed else 600)
    _axis(canvas, scale, bottom, chart.axis)
    return canvas.svg(_WIDTH, bottom + 25)


def _interval_narrow(chart: IntervalChart, style: Style) -> str:
    canvas, top, row_height = Canvas(style), 20.0, 28.0
    scale = _scale(chart, 4.0, _NARROW - 6)
    at = scale.at(chart.limit)
    anchor, x = ("start", at + 3) if at <= _NARROW / 2 else ("end", at - 3)
    canvas.text(x, 9, chart.limit_words_short or chart.limit_words, anchor=anchor, weight=600)
    for index, row in enumerate(chart.rows):
        y = top + row_height * index
        canvas.line(0, y - 4, _NARROW, y - 4, "hair", 0.3)
        canvas.text(0, y + 6, row.label, weight=600)
        said = f"{row.shown} ± {row.shown_u}" if row.shown_u else row.shown
        canvas.text(_NARROW - 62, y + 6, said, anchor="end")
        canvas.text(_NARROW, y + 6, row.statement, anchor="end", weight=600)
        _forbidden(canvas, chart, scale, y + 10, y + 22)
        if scale.shows(chart.limit):
            canvas.line(at, y + 9, at, y + 23, "ink", 1.6)
        if row.passes_from is not None and scale.shows(row.passes_from):
            canvas.line(scale.at(row.passes_from), y + 10, scale.at(row.passes_from), y + 22, "ink", 0.8)
        _bar(canvas, scale, row, y + 16)
    bottom = top + row_height * len(chart.rows)
    _axis(canvas, scale, bottom, chart.axis)
    return canvas.svg(_NARROW, bottom + 25)


# ---------------------------------------------------------------- decay and band


@dataclass(frozen=True, slots=True)
class _Plane:
    """A plot with x to the right and y up."""

    x: _Scale
    y: _Scale

    def point(self, x: float, y: float) -> str:
        return f"{_n(self.x.at(x))} {_n(self.y.at(y))}"


def _plane(
    canvas: Canvas, x: tuple[float, float], y: tuple[float, float], width: float, height: float, axis: str, unit: str
) -> _Plane:
    x_step = _fine((x[1] - x[0]), 6 if width > 300 else 4)
    y_step = _fine((y[1] - y[0]), 4)
    plane = _Plane(_Scale(x[0], x[1], x_step, 36.0, width - 6), _Scale(y[0], y[1], y_step, height, 14.0))
    _axis(canvas, plane.x, height, axis)
    canvas.line(plane.x.left, 14, plane.x.left, height, "ink2", 0.5)
    for value in _steps(y[0], y[1], y_step):
        at = plane.y.at(value)
        canvas.line(plane.x.left - 3, at, plane.x.left, at, "ink2", 0.5)
        canvas.text(plane.x.left - 6, at + 2.7, _label(value, y_step), anchor="end", token="ink2", size=7.6)
    canvas.text(plane.x.left, 8, unit, anchor="middle", token="ink2", size=7.6)
    return plane


def _words_on(canvas: Canvas, x: float, y: float, words: str) -> None:
    """Words on hatching: on a piece of bare ground."""
    canvas.box(x - 2.5, y - 8, len(words) * 3.9 + 6, 11, "paper")
    canvas.text(x, y, words, weight=600)


def _polyline(plane: _Plane, xs: Iterable[float], ys: Iterable[float]) -> str:
    return "M" + "L".join(plane.point(x, y) for x, y in zip(xs, ys, strict=True))


def _decay(chart: Decay, style: Style, width: float) -> str:
    canvas, height = Canvas(style), 150.0
    top = max([*chart.voltage, chart.limit]) or 1.0
    end = max([*chart.time, chart.allowed * 1.25]) or 1.0
    plane = _plane(canvas, (0.0, end), (0.0, top * 1.1), width, height, chart.axis, chart.unit)
    at_x, at_y = plane.x.at(chart.allowed), plane.y.at(chart.limit)
    canvas.hatch(at_x, 14, plane.x.right, at_y)
    canvas.line(plane.x.left, at_y, plane.x.right, at_y, "ink", 1.6)
    canvas.line(at_x, 14, at_x, at_y, "ink", 1.6)
    if chart.time:
        canvas.path(_polyline(plane, chart.time, chart.voltage), "paint", 1.8)
    canvas.text(plane.x.left + 6, at_y - 4, chart.limit_words, weight=600)
    room = plane.x.right - at_x
    if room > len(chart.allowed_words) * 3.9 + 12:
        _words_on(canvas, at_x + 7, 27, chart.allowed_words)
    else:
        canvas.text(at_x - 4, 22, chart.allowed_words, anchor="end", weight=600)
    if chart.crossing is not None:
        x = plane.x.at(chart.crossing)
        half = max(plane.x.at(chart.crossing + chart.crossing_u) - x, 2.4)
        canvas.line(x, at_y - 3, x - 8, at_y - 24, "ink2", 0.5)
        canvas.box(x - half, at_y - 3, 2 * half, 6, "paint" if chart.passed else "ink")
        if not chart.passed:
            canvas.box(x - half + 1, at_y - 2, 2 * half - 2, 4, "paper")
        canvas.text(x - 8, at_y - 27, chart.crossing_words, anchor="middle", weight=600)
    return canvas.svg(width, height + 25)


def _band(chart: Band, style: Style, width: float) -> str:
    canvas, height = Canvas(style), 120.0
    values = [*chart.low, *chart.high, *(limit.value for limit in chart.limits)]
    low, high = min(values, default=0.0), max(values, default=1.0)
    room = 0.16 * (high - low) or abs(high) * 0.1 or 1.0
    ends = (chart.x[0], chart.x[-1]) if len(chart.x) > 1 and chart.x[-1] > chart.x[0] else (0.0, 1.0)
    plane = _plane(canvas, ends, (low - room, high + room), width, height, chart.axis, chart.unit)
    for limit in chart.limits:
        at = plane.y.at(limit.value)
        y1, y2 = (14.0, at) if limit.above else (at, height)
        canvas.hatch(plane.x.left + 0.5, y1, plane.x.right, y2)
        canvas.line(plane.x.left, at, plane.x.right, at, "ink", 1.6)
        _words_on(canvas, plane.x.left + 7, (at - 4) if limit.above else (at + 10), limit.words)
    if chart.low:
        canvas.area(_outline(plane, chart.x, chart.low, chart.high), "paint")
    if chart.extreme is not None:
        x, y = plane.x.at(chart.extreme.x), plane.y.at(chart.extreme.y)
        near_left = x < (plane.x.left + plane.x.right) / 2
        canvas.dot(x, y, 2.7, filled=chart.extreme.passed)
        canvas.text(
            x + 7 if near_left else x - 7,
            y + 5,
            chart.extreme.words,
            anchor="start" if near_left else "end",
            weight=600,
        )
    return canvas.svg(width, height + 25)


def _outline(plane: _Plane, edges: Sequence[float], low: Sequence[float], high: Sequence[float]) -> str:
    """The closed outline of the bins, never thinner than a line so that a flat signal is still seen."""
    upper, lower = [], []
    for index, (a, b) in enumerate(zip(low, high, strict=True)):
        y1, y2 = plane.y.at(b), plane.y.at(a)
        if y2 - y1 < 1.2:
            y1, y2 = (y1 + y2) / 2 - 0.6, (y1 + y2) / 2 + 0.6
        for edge in (edges[index], edges[index + 1]):
            x = plane.x.at(edge)
            upper.append(f"{_n(x)} {_n(y1)}")
            lower.append(f"{_n(x)} {_n(y2)}")
    return "M" + "L".join(upper + lower[::-1]) + "Z"
