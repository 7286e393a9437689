"""Reads a plot back from its SVG: where its ticks stand and what is written at them, lines, marks and words."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from dataclasses import dataclass

from witnessmark.document import figures
from witnessmark.document.figures import for_print

__all__ = ["Path", "Picture", "Words", "picture"]

_SVG = "{http://www.w3.org/2000/svg}"
_STEP = re.compile(r"([MLHVCQZ])([^MLHVCQZ]*)")
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_TOKENS = {colour: token for token, colour in for_print().colours.items()}


@dataclass(frozen=True)
class Path:
    """One path: its strokes as points, and its colours by token."""

    strokes: tuple[tuple[tuple[float, float], ...], ...]
    fill: str
    stroke: str
    width: float
    dash: str

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom."""
        xs, ys = zip(*(point for stroke in self.strokes for point in stroke), strict=True)
        return min(xs), min(ys), max(xs), max(ys)

    @property
    def middle(self) -> tuple[float, float]:
        left, top, right, bottom = self.box
        return (left + right) / 2, (top + bottom) / 2


@dataclass(frozen=True)
class Words:
    """One text with the place of its first line."""

    words: str
    x: float
    y: float
    anchor: str
    token: str
    size: float
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Picture:
    width: float
    height: float
    paths: tuple[Path, ...]
    words: tuple[Words, ...]

    def with_width(self, token: str, width: float) -> list[Path]:
        return [path for path in self.paths if path.stroke == token and path.width == width]

    def dots(self) -> list[Path]:
        """The marks of measured values, filled and hollow."""
        return [path for path in self.paths if path.width == 1.7]

    def ticks(self, axis: str) -> list[tuple[float, str]]:
        """Position and number of each tick that has one, from left to right or from below."""
        upright = axis == "x"
        marks = []
        for path in self.with_width("ink2", 0.5):
            left, top, right, bottom = path.box
            across, up = right - left, bottom - top
            if abs((up if upright else across) - 3) < 0.02 and (across if upright else up) == 0:
                marks.append(left if upright else top)
        numbers = [
            (w.x if upright else w.y, w.words)
            for w in self.words
            if (w.anchor, w.size, w.token) == ("middle" if upright else "end", 7.6, "ink2")
            and re.fullmatch(r"\N{MINUS SIGN}?[\d.,]+", w.words)
        ]
        assert len(marks) == len(numbers) > 1, (marks, numbers)
        marks.sort(reverse=not upright)
        numbers.sort(reverse=not upright)
        return [(mark, text) for mark, (_, text) in zip(marks, numbers, strict=True)]


def picture(chart: object, *, narrow: bool = False) -> Picture:
    """The chart drawn for print, and read back."""
    root = ElementTree.fromstring(figures.draw(chart, for_print(), narrow=narrow))  # type: ignore[arg-type]
    _, _, width, height = map(float, root.get("viewBox", "").split())
    paths = tuple(
        Path(
            tuple(_strokes(item.get("d", ""))),
            _TOKENS.get(item.get("fill", ""), item.get("fill", "")),
            _TOKENS.get(item.get("stroke", ""), ""),
            float(item.get("stroke-width", "1" if item.get("stroke") else "0")),
            item.get("stroke-dasharray", ""),
        )
        for item in root.iter(f"{_SVG}path")
    )
    return Picture(width, height, paths, tuple(map(_words, root.iter(f"{_SVG}text"))))


def _words(item: ElementTree.Element) -> Words:
    lines = [child for child in item if child.tag == f"{_SVG}tspan"] or [item]
    return Words(
        "".join(item.itertext()),
        float(lines[0].get("x", "nan")),
        float(lines[0].get("y", "nan")),
        item.get("text-anchor", ""),
        _TOKENS[item.get("fill", "")],
        float(item.get("font-size", "nan")),
        tuple(line.text or "" for line in lines),
    )


def _strokes(d: str) -> Iterator[tuple[tuple[float, float], ...]]:
    """Each stroke of a path; of a curve only where it ends."""
    points: list[tuple[float, float]] = []
    for step, rest in _STEP.findall(d):
        numbers = [float(number) for number in _NUMBER.findall(rest)]
        if step == "M" and points:
            yield tuple(points)
            points = []
        if step == "H":
            points.append((numbers[0], points[-1][1]))
        elif step == "V":
            points.append((points[-1][0], numbers[0]))
        elif step != "Z":
            points.append((numbers[-2], numbers[-1]))
    if points:
        yield tuple(points)
