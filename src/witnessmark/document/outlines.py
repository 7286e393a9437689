"""The vehicle of the emergency responder sheet: a plain outline of our own from above and from the side, and on it a
symbol for each part whose place is stated. Nothing is placed by guessing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from itertools import groupby
from types import MappingProxyType

from witnessmark.document.blocks import Outlines, Placed
from witnessmark.document.canvas import Canvas, Style, number_text
from witnessmark.document.symbols import TURNS, symbol

__all__ = ["ALONG", "drawn", "unbroken"]

ALONG = (0.0, 0.12, 0.28, 0.47, 0.65, 0.86, 1.0)
"""Where each bin from nose to tail begins and ends, as a share of the length."""
_ACROSS = (0.03, 0.345, 0.655, 0.97)
_HEIGHT = (0.02, 0.42, 0.7, 0.97)
_SIZE = 14.2  # 5 mm
_TALL = 256.0
"""What both views may take together in height, in points."""
_LETTER = 3.15
_LINE = 9.4
_AREAS = ("pack", "no-cut", "cable")
"""What is drawn as far as it is stated to reach; all others are points."""

_Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class _Body:
    """One outline: width and height by its length, wheels along it, and lines in shares of length and height."""

    width: float
    height: float
    wheels: tuple[float, ...]
    radius: float
    side: str
    glass: str
    top: str


_BODIES: Mapping[str, _Body] = MappingProxyType(
    {
        "car": _Body(
            0.41,
            0.33,
            (0.19, 0.79),
            0.072,
            "M1 60C1 48 4 44 12 42L27 38C33 24 37 16 44 12C55 8 68 8 76 13L88 36C95 38 98 42 99 50L99 82H1Z",
            "M33 38L44 19H56V38ZM59 38V18H69L77 38Z",
            "M3 20Q4 7 16 5H88Q98 7 98.5 24V76Q98 93 88 95H16Q4 93 3 80Z"
            "M33 12Q28 50 33 88L42 82Q39 50 42 18ZM84 16L76 22Q78 50 76 78L84 84Q88 50 84 16Z",
        ),
        "van": _Body(
            0.37,
            0.40,
            (0.19, 0.77),
            0.066,
            "M1 66C1 56 3 52 8 50L18 45L29 12Q31 5 37 4H95Q99 4 99 9V84H1Z",
            "M22 44L32 13H42V44Z",
            "M3 18Q4 5 15 4H96Q99 4 99 9V91Q99 96 96 96H15Q4 95 3 82ZM19 12Q15 50 19 88L30 84Q27 50 30 16ZM34 8V92",
        ),
        "lorry": _Body(
            0.34,
            0.40,
            (0.15, 0.75),
            0.068,
            "M1 82V30Q2 14 8 12H26V74H30V3H99V74H99V82Z",
            "M5 40L8 19H19V40Z",
            "M2 10Q3 5 7 4H26V96H7Q3 95 2 90ZM30 2H99V98H30ZM5 12Q3 50 5 88L10 84Q8 50 10 16Z",
        ),
        "bus": _Body(
            0.235,
            0.27,
            (0.24, 0.72),
            0.042,
            "M1 84V22Q2 6 8 5H96Q99 5 99 9V84Z",
            "M4 46V16H14V46ZM17 46V16H32V46ZM35 46V16H50V46ZM53 46V16H68V46ZM71 46V16H94V46Z",
            "M2 12Q3 4 8 3H97Q99 3 99 6V94Q99 97 97 97H8Q3 96 2 88ZM5 14Q3 50 5 86L9 82Q7.5 50 9 18Z",
        ),
    }
)


def drawn(chart: Outlines, style: Style, width: float) -> str:
    """The figure as one SVG element, `width` points wide: both views, and below them the key."""
    canvas = Canvas(style)
    bottom = _picture(canvas, chart, width) + 10 if chart.body else 4.0
    return canvas.svg(width, _key(canvas, chart, bottom, width) + 4)


# ---------------------------------------------------------------- picture


def _picture(canvas: Canvas, chart: Outlines, width: float) -> float:
    """Both views, as large as leaves room for the key on one page with them; gives the lower end."""
    body = _BODIES[chart.body]
    length = min(width - 20, _TALL / (body.width + body.height))
    left, y = (width - length) / 2 + 8, 9.0
    canvas.text(left, y, chart.above, weight=600, size=7.6)
    canvas.text(left + length, y, chart.right, anchor="end", token="ink2", size=7.6)
    top = (left, y + 5, length, length * body.width)
    _from_above(canvas, body, top)
    y = top[1] + top[3]
    canvas.text(left + length, y + 10, chart.left, anchor="end", token="ink2", size=7.6)
    _front(canvas, chart.front, top)
    _parts(canvas, chart, top, "top")
    y += 26
    canvas.text(left, y, chart.side, weight=600, size=7.6)
    side = (left, y + 4, length, length * body.height)
    _from_the_side(canvas, body, side)
    _front(canvas, chart.front, side)
    _parts(canvas, chart, side, "side")
    return side[1] + side[3] + 4


def _front(canvas: Canvas, word: str, box: _Box) -> None:
    """An arrow to the nose, and the word along the edge."""
    x, y = box[0] - 7, box[1] + box[3] / 2
    canvas.area(f"M{number_text(x - 4)} {number_text(y)}l6 -3.4v6.8Z", "ink2")
    canvas.parts.append(
        f'<g transform="translate({number_text(x)} {number_text(y - 6)}) rotate(-90)">'
        f'<text {canvas.style.face} font-size="7.6" fill="{canvas.colour("ink2")}">{escape(word)}</text></g>'
    )


def _scaled(canvas: Canvas, d: str, box: _Box, stroke: float) -> None:
    """A path in shares of the box; its line stays `stroke` points wide, for it is written out in points."""
    out, number, axis, command = [], "", 0, "M"
    x0, y0, w, h = box

    def put() -> None:
        nonlocal number, axis
        if number:
            across = command == "H" or (command != "V" and axis == 0)
            value = x0 + float(number) / 100 * w if across else y0 + float(number) / 100 * h
            out.append(number_text(value))
            axis, number = 1 - axis, ""

    for char in d + " ":
        if char.isdigit() or char == ".":
            number += char
            continue
        put()
        if char.isalpha():
            command, axis = char, 0
        out.append(char)
    canvas.path("".join(out).strip(), "ink2", stroke)


def _from_above(canvas: Canvas, body: _Body, box: _Box) -> None:
    x, y, w, h = box
    for at in body.wheels:
        for edge in (y - 1.5, y + h - 5.5):
            canvas.box(x + (at - body.radius) * w, edge, 2 * body.radius * w, 7, "rule")
    canvas.box(x + 0.04 * w, y + 0.05 * h, 0.94 * w, 0.9 * h, "paper")
    _scaled(canvas, body.top, box, 0.9)


def _from_the_side(canvas: Canvas, body: _Body, box: _Box) -> None:
    x, y, w, h = box
    _scaled(canvas, body.side, box, 0.9)
    _scaled(canvas, body.glass, box, 0.6)
    for at in body.wheels:
        r = body.radius * w
        middle = f'cx="{number_text(x + at * w)}" cy="{number_text(y + h - r)}"'
        for radius, token in ((r, "paper"), (r * 0.52, "paper")):
            canvas.parts.append(
                f'<circle {middle} r="{number_text(radius)}" fill="{canvas.colour(token)}" '
                f'stroke="{canvas.colour("ink2")}" stroke-width="1"/>'
            )


def _parts(canvas: Canvas, chart: Outlines, box: _Box, view: str) -> None:
    """All parts that this view can show; parts of one sort at one place share a symbol, with all their numbers."""
    shown = [p for p in chart.items if p.along and (p.across if view == "top" else p.height)]

    def where(part: Placed) -> tuple[object, ...]:
        return (part.symbol, part.along, part.across if view == "top" else part.height, part.vents)

    groups: dict[tuple[object, ...], list[Placed]] = {}
    for part in shown:
        groups.setdefault(where(part), []).append(part)
    for parts in groups.values():
        for region in _regions(parts[0], box, view):
            if parts[0].symbol in _AREAS:
                _area(canvas, parts[0], region)
    taken: list[_Box] = []
    # What has the least room goes first.
    for parts in sorted(groups.values(), key=lambda found: len(found[0].along)):
        label = ", ".join(_runs(part.number for part in parts))
        for region in _regions(parts[0], box, view):
            _sign(canvas, parts[0], label, region, view, taken)


def _regions(part: Placed, box: _Box, view: str) -> Iterator[_Box]:
    """One region for each unbroken run of bins: left and right, but not the centre, are two."""
    x, y, w, h = box
    edges = _ACROSS if view == "top" else _HEIGHT
    for along in unbroken(part.along):
        for bins in unbroken(part.across if view == "top" else part.height):
            left, right = ALONG[along[0]], ALONG[along[-1] + 1]
            top, bottom = edges[bins[0]], edges[bins[-1] + 1]
            yield x + left * w, y + top * h, (right - left) * w, (bottom - top) * h


def unbroken(bins: Iterable[int]) -> Iterator[list[int]]:
    """The numbers in runs without a hole: 0, 1 and 3 are two."""
    for _, run in groupby(enumerate(sorted(bins)), key=lambda pair: pair[1] - pair[0]):
        yield [number for _, number in run]


def _area(canvas: Canvas, part: Placed, region: _Box) -> None:
    x, y, w, h = region
    if part.symbol == "no-cut":
        canvas.hatch(x + 2, y + 2, x + w - 2, y + h - 2)
    elif part.symbol == "pack":
        corner = f"M{number_text(x + 2)} {number_text(y + 2)}"
        canvas.path(f"{corner}h{number_text(w - 4)}v{number_text(h - 4)}h{number_text(4 - w)}Z", "ink", 1.6)
    elif len(part.along) > 1:
        d = f"M{number_text(x + 8)} {number_text(y + h / 2)}h{number_text(w - 16)}"
        canvas.path(d, "ink", 3.6)
        canvas.path(d, "paper", 1.4)


def _sign(canvas: Canvas, part: Placed, label: str, region: _Box, view: str, taken: list[_Box]) -> None:
    """The symbol with its numbers, on paper, as near to the middle of its region as the others leave room."""
    words = len(label) * 4.2 + 2
    wide, high = _SIZE + words, _SIZE
    x, y = _free(region, wide, high, taken)
    taken.append((x, y, wide, high))
    canvas.box(x - 0.8, y - 0.8, wide + 1, high + 1.6, "paper")
    name, turn = part.symbol, 0
    if name == "vent":
        turn = TURNS[view].get(part.vents, -1)
        name, turn = ("vent-somewhere", 0) if turn < 0 else (name, turn)
    canvas.parts.append(symbol(name, canvas.style.colours, x, y, _SIZE, turn))
    canvas.text(x + _SIZE + 1.4, y + _SIZE / 2 + 2.9, label, weight=600, size=8.2)


def _free(region: _Box, wide: float, high: float, taken: Sequence[_Box]) -> tuple[float, float]:
    x, y, w, h = region
    middle = (x + (w - wide) / 2, y + (h - high) / 2)

    def hits(at: tuple[float, float]) -> float:
        return sum(
            max(0.0, min(at[0] + wide, bx + bw) - max(at[0], bx))
            * max(0.0, min(at[1] + high, by + bh) - max(at[1], by))
            for bx, by, bw, bh in taken
        )

    reach = range(-12, 13)
    places = sorted(
        ((middle[0] + i * 4.0, middle[1] + j * 4.0) for i in reach for j in reach),
        key=lambda at: (abs(at[0] - middle[0]) + abs(at[1] - middle[1]), at),
    )
    inside = [
        at
        for at in places
        if x - 5 <= at[0] and at[0] + wide <= x + w + 5 and y - 3 <= at[1] and at[1] + high <= y + h + 3
    ] or [middle]
    return min(inside, key=lambda at: (round(hits(at), 3), abs(at[0] - middle[0]) + abs(at[1] - middle[1])))


def _runs(numbers: Iterable[int]) -> Iterator[str]:
    """`2`, `4–6`: neighbours as a run."""
    for found in unbroken(numbers):
        yield str(found[0]) if len(found) == 1 else f"{found[0]}{'–' if len(found) > 2 else ', '}{found[-1]}"


# ---------------------------------------------------------------- key


_INDENT = _SIZE + 5


def _key(canvas: Canvas, chart: Outlines, top: float, width: float) -> float:
    """Each symbol with its word, and below it the parts with their numbers and places; in columns where there is room.

    Gives the y of the lower end.
    """
    columns = 3 if width > 400 else 1
    room = (width - 10 * (columns - 1)) / columns
    units = [
        _unit(name, n, part, room) for name, group in groupby(chart.items, key=_sort) for n, part in enumerate(group)
    ]
    share = sum(unit.height for unit in units) / columns
    x, y, bottom, column = 0.0, top, top, 1
    for unit in units:
        if column < columns and y > top and y + unit.height / 2 > top + share:
            x, y, column = x + room + 10, top, column + 1
        if unit.name:
            y += 5 if y > top else 0
            canvas.parts.append(symbol(unit.name, canvas.style.colours, x, y, _SIZE))
            y += 8
            canvas.text(x + _INDENT, y, unit.part.word, weight=600, size=8.2)
        for n, line in enumerate(unit.lines):
            y += _LINE
            weight = 600 if unit.part.strong else 400
            canvas.text(x + _INDENT + (6 if n else 0), y, line, weight=weight, size=7.8)
        bottom = max(bottom, y)
    for note in chart.notes:
        bottom += 3
        for line in _wrapped(note, width):
            bottom += _LINE
            canvas.text(0, bottom, line, weight=600, size=7.8)
    return bottom


def _sort(part: Placed) -> str:
    return part.symbol


@dataclass(frozen=True, slots=True)
class _Unit:
    """What stays together in the key: a part, with its symbol and word above where it is the first of them."""

    name: str
    part: Placed
    lines: list[str]
    height: float


def _unit(name: str, n: int, part: Placed, room: float) -> _Unit:
    lines = _wrapped(f"{part.number} {part.title}: {part.place}", room - _INDENT - 8)
    return _Unit(name if n == 0 else "", part, lines, _LINE * len(lines) + (13 if n == 0 else 0))


def _wrapped(text: str, width: float) -> list[str]:
    lines: list[str] = []
    for word in text.split():
        if lines and (len(lines[-1]) + 1 + len(word)) * _LETTER <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines
