"""Drawings of measuring points: black lines, and the numbers of the readings where the probes go."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape

from witnessmark.language import say

__all__ = ["drawing"]

_FACE = 'font-family="Fira Sans" font-stretch="condensed"'
Numbers = Mapping[str, str]
"""The number of each reading on the sheet, by the name of its input."""


class _Pen:
    """One drawing in points, 230 wide."""

    def __init__(self, width: float, height: float) -> None:
        self.size = (width, height)
        self.parts: list[str] = []

    def line(self, *points: tuple[float, float], width: float = 0.9, dashed: bool = False) -> None:
        path = "M" + "L".join(f"{x:g} {y:g}" for x, y in points)
        dash = ' stroke-dasharray="3 2.4"' if dashed else ""
        self.parts.append(f'<path d="{path}" fill="none" stroke="#000" stroke-width="{width:g}"{dash}/>')

    def box(self, x: float, y: float, width: float, height: float, *, dashed: bool = False) -> None:
        dash = ' stroke-dasharray="4 3"' if dashed else ""
        self.parts.append(
            f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" fill="#fff" stroke="#000" '
            f'stroke-width="0.9"{dash}/>'
        )

    def words(
        self, x: float, y: float, text: str, *, anchor: str = "start", weight: int = 400, size: float = 8
    ) -> None:
        self.parts.append(
            f'<text x="{x:g}" y="{y:g}" {_FACE} font-size="{size:g}" font-weight="{weight}" text-anchor="{anchor}" '
            f'fill="#000">{escape(text)}</text>'
        )

    def dot(self, x: float, y: float) -> None:
        self.parts.append(f'<circle cx="{x:g}" cy="{y:g}" r="2.2" fill="#000"/>')

    def meter(self, x: float, y: float, text: str) -> None:
        self.parts.append(f'<circle cx="{x:g}" cy="{y:g}" r="10" fill="#fff" stroke="#000" stroke-width="1"/>')
        self.words(x, y + 2.8, text, anchor="middle", weight=600, size=7.6)

    def chassis(self, y: float, x1: float, x2: float) -> None:
        self.line((x1, y), (x2, y), width=1.2)
        for n in range(3):
            self.line((x1 + 12 + 7 * n, y + 1), (x1 + 7 + 7 * n, y + 7))

    def svg(self) -> str:
        width, height = self.size
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" width="{width:g}" '
            f'height="{height:g}">{"".join(self.parts)}</svg>'
        )


def _pack(pen: _Pen, y1: float, y2: float) -> None:
    pen.words(2, y1 - 20, say("traction pack"), weight=600)
    pen.box(2, y1 - 15, 56, y2 - y1 + 30)
    middle = (y1 + y2) / 2
    for n, half in enumerate((15, 8, 15, 8)):
        pen.line((30 - half, middle - 9 + 6 * n), (30 + half, middle - 9 + 6 * n))
    pen.line((58, y1), (30, y1), (30, middle - 9))
    pen.line((58, y2), (30, y2), (30, middle + 9))


def _own_source(numbers: Numbers) -> str:
    pen = _Pen(230, 148)
    plus, minus, ground = 38.0, 86.0, 126.0
    _pack(pen, plus, minus)
    pen.line((58, plus), (226, plus), width=3)
    pen.line((58, minus), (226, minus), width=3)
    pen.words(66, plus - 5, say("HV + (pos.)"))
    pen.words(66, minus - 4, say("HV − (neg.)"))
    pen.chassis(ground, 2, 226)
    pen.words(226, ground + 15, say("electrical chassis, bare metal"), anchor="end")

    def both(one: str, two: str) -> str:
        return ", ".join(n for n in (numbers.get(one, ""), numbers.get(two, "")) if n)

    for x, top, bottom, text in (
        (118.0, plus, minus, numbers.get("ub", "")),
        (146.0, minus, ground, both("u1", "u1_loaded")),
        (174.0, plus, ground, both("u2", "u2_loaded")),
    ):
        pen.line((x, top), (x, bottom))
        pen.dot(x, top)
        pen.dot(x, bottom)
        pen.meter(x, (top + bottom) / 2 + (8 if bottom - top > 80 else 0) - (24 if x > 170 else 0), text)
    pen.line((206, minus), (206, ground), dashed=True)
    pen.dot(206, ground)
    pen.box(201, 97, 10, 18)
    pen.words(214, 109, "Rₒ", size=8.4)
    return pen.svg()


def _tester(numbers: Numbers) -> str:
    pen = _Pen(230, 128)
    pen.words(2, 12, say("bus under test, dead; both poles joined"), weight=600)
    pen.line((2, 26), (150, 26), width=3)
    pen.line((2, 44), (150, 44), width=3)
    pen.line((120, 26), (120, 44))
    pen.dot(120, 26)
    pen.dot(120, 44)
    pen.words(4, 40, say("HV + and HV −"))
    pen.chassis(104, 2, 226)
    pen.words(226, 119, say("electrical chassis, bare metal"), anchor="end")
    pen.box(166, 50, 60, 30)
    pen.words(196, 63, say("tester"), anchor="middle")
    pen.words(196, 74, " ".join(f"({n})" for n in numbers.values()), anchor="middle", weight=600)
    pen.line((150, 44), (182, 44), (182, 50))
    pen.line((210, 80), (210, 104))
    pen.dot(150, 44)
    pen.dot(210, 104)
    return pen.svg()


def _four_wire(numbers: Numbers) -> str:
    pen = _Pen(230, 128)
    pen.box(2, 22, 92, 46)
    pen.words(8, 34, say("case, bare metal"), weight=600)
    pen.words(8, 45, say("not on the strap"))
    pen.chassis(104, 2, 226)
    pen.words(226, 119, say("electrical chassis, bare metal"), anchor="end")
    pen.line((22, 68), (22, 104), width=2.4)
    pen.words(28, 88, say("strap"))
    pen.box(140, 38, 86, 34)
    pen.words(183, 52, say("four wires"), anchor="middle")
    pen.words(183, 64, " ".join(f"({n})" for n in dict.fromkeys(numbers.values())), anchor="middle", weight=600)
    # The current leads lie outside, the sense leads inside and next to the joint.
    pen.line((94, 30), (154, 30), (154, 38))
    pen.words(98, 27, say("current"), size=7.2)
    pen.line((94, 56), (140, 56), dashed=True)
    pen.words(98, 53, say("sense"), size=7.2)
    pen.line((166, 72), (166, 104), dashed=True)
    pen.line((206, 72), (206, 104))
    pen.words(163, 92, say("sense"), size=7.2, anchor="end")
    pen.words(203, 92, say("current"), size=7.2, anchor="end")
    for x, y in ((94, 30), (94, 56), (166, 104), (206, 104)):
        pen.dot(x, y)
    return pen.svg()


_DRAWN: Mapping[str, Callable[[Numbers], str]] = {
    "voltmeter-own-source": _own_source,
    "insulation-tester": _tester,
    "bonding-four-wire": _four_wire,
}


def drawing(method: str, numbers: Numbers) -> str:
    """The measuring points of a method (its name without version) as one SVG element; "" where none is drawn."""
    drawn = _DRAWN.get(method)
    return drawn(numbers) if drawn else ""
