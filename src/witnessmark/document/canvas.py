"""Drawings that are no plots, as SVG by hand: diagrams, outlines. Plots come from the plotting library (`plots`).

One unit is one point, so that text is read at its size when the drawing is 130 mm wide. Colours are tokens: `LIGHT` for
print, variables of the page for the screen. Coordinates have two decimals, nothing depends on order or chance.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from html import escape

from witnessmark.document.marks import LIGHT

__all__ = ["Canvas", "Style", "for_print", "for_screen", "number_text"]

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


def number_text(value: float) -> str:
    """A coordinate with at most two decimals."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


_n = number_text


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
