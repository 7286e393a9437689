"""What the plotting library writes as SVG, made small and plain: paths and words with colours by token, and no more.

Its SVG comes with a prologue, metadata, a style sheet, groups and numbered definitions. Several plots stand in one page
here, and the page's own tokens colour them: so every path is written out where it stands, with at most two decimals and
without any identifier, and what this module does not know is refused and not passed on.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from html import escape
from xml.etree import ElementTree

from witnessmark.document.canvas import Style, number_text
from witnessmark.document.marks import LIGHT

__all__ = ["Drawing", "fit_for_svg", "plain"]

_SVG = "{http://www.w3.org/2000/svg}"
_HREF = "{http://www.w3.org/1999/xlink}href"
_TOKENS = {colour: token for token, colour in LIGHT.items()}
_STEP = re.compile(r"([MLQCz])([^MLQCz]*)")
_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_BLANKS = re.compile("[\t\n\r ]+")
_UPRIGHT = re.compile(r"(rotate\(-?0 [-\d.]+ [-\d.]+\))?")
_BENT = re.compile("[LHVQC][^M]*[LHVQCZ]")
_KEPT = ("stroke-width", "stroke-dasharray", "stroke-linecap", "stroke-linejoin")
_n = number_text


@dataclass(frozen=True, slots=True)
class _Shape:
    """A path; `paint` are its fill and stroke by token, `lines` its other attributes as they are written."""

    d: str
    paint: tuple[tuple[str, str], ...]
    lines: str


@dataclass(frozen=True, slots=True)
class _Words:
    """One text; a text of several lines has the place of each."""

    lines: tuple[tuple[str, str, str], ...]
    """x, y and the words."""
    size: str
    weight: str
    anchor: str
    token: str
    group: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """One plot, `width` by `height` points, from the ground up."""

    width: float
    height: float
    parts: tuple[_Shape | _Words, ...]

    def svg(self, style: Style) -> str:
        """As one SVG element in the colours and with the face of `style`."""
        body = "".join(_shape(p, style) if isinstance(p, _Shape) else _text(p, style) for p in self.parts)
        size = f'viewBox="0 0 {_n(self.width)} {_n(self.height)}" width="{_n(self.width)}" height="{_n(self.height)}"'
        return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{body}</svg>'


def fit_for_svg(words: str) -> str:
    """In one line, and without what no XML file may hold."""
    return _BLANKS.sub(" ", _NO_XML.sub("\ufffd", words)).strip(" ")


def _shape(shape: _Shape, style: Style) -> str:
    paint = "".join(f' {name}="{style.colours.get(token, token)}"' for name, token in shape.paint)
    return f'<path d="{shape.d}"{paint}{shape.lines}/>'


def _text(words: _Words, style: Style) -> str:
    given = (
        f'{style.face} font-size="{words.size}" font-weight="{words.weight}" text-anchor="{words.anchor}" '
        f'fill="{style.colours[words.token]}"'
    )
    if len(words.lines) == 1:
        ((x, y, line),) = words.lines
        return f'<text x="{x}" y="{y}" {given}>{escape(line)}</text>'
    lines = "".join(f'<tspan x="{x}" y="{y}">{escape(line)}</tspan>' for x, y, line in words.lines)
    return f"<text {given}>{lines}</text>"


def plain(svg: str, width: float, height: float) -> Drawing:
    """The plot that the library wrote. Raises ValueError for anything that our plots do not consist of."""
    root = ElementTree.fromstring(svg)
    named = {
        item.get("id", ""): item for defs in root.iter(f"{_SVG}defs") for item in defs if item.tag == f"{_SVG}path"
    }
    return Drawing(width, height, tuple(_joined(_parts(root, named))))


def _parts(parent: ElementTree.Element, named: Mapping[str, ElementTree.Element]) -> Iterator[_Shape | _Words]:
    if "clip-path" in parent.attrib:
        raise ValueError("a plot is cut to a shape: draw it so that nothing has to be cut")
    for item in parent:
        tag = item.tag.removeprefix(_SVG) if isinstance(item.tag, str) else "comment"
        if tag == "g":
            yield from _parts(item, named)
        elif tag == "text":
            yield _words(item, parent.get("id", ""))
        elif tag == "path":
            yield _path(item.get("d", ""), _styled(item), item)
        elif tag == "use":
            marker = named[item.get(_HREF, "").removeprefix("#")]
            at = (float(item.get("x", "0")), float(item.get("y", "0")))
            yield _path(marker.get("d", ""), {**_styled(marker), **_styled(item)}, item, at)
        elif tag not in ("defs", "metadata", "comment"):
            raise ValueError(f"a plot holds a {tag}")


def _styled(item: ElementTree.Element) -> dict[str, str]:
    return dict(pair.split(": ", 1) for pair in item.get("style", "").split("; ") if pair)


def _path(d: str, style: Mapping[str, str], item: ElementTree.Element, at: tuple[float, float] = (0.0, 0.0)) -> _Shape:
    if "clip-path" in item.attrib or "transform" in item.attrib:
        raise ValueError("a path of a plot is moved or cut")
    paint = [("fill", _token(style.get("fill", "")))]
    lines, path = "", _short(d, at)
    if "stroke" in style:
        paint.append(("stroke", _token(style["stroke"])))
        # The library leaves out what is the default of its own style sheet: round joins, width 1.
        given = {"stroke-linejoin": "round" if _BENT.search(path) else "miter", **style}
        lines = "".join(
            f' {name}="{_rounded(given[name])}"'
            for name in _KEPT
            if name in given and given[name] not in ("miter", "butt")
        )
    return _Shape(path, tuple(paint), lines)


def _token(colour: str) -> str:
    if colour == "none":
        return colour
    if colour not in _TOKENS:
        raise ValueError(f"a plot has the colour {colour or 'black'!r}, which is no token")
    return _TOKENS[colour]


def _rounded(text: str) -> str:
    return re.sub(r"\d+\.\d+", lambda found: _n(float(found[0])), text).replace(",", " ")


def _short(d: str, at: tuple[float, float]) -> str:
    """The path at its place, with two decimals; level and upright lines by their one coordinate."""
    out: list[str] = []
    last: tuple[str, str] | None = None
    for step, numbers in _STEP.findall(d):
        values = [float(number) for number in numbers.split()]
        points = [
            (_n(values[i] + at[0]), _n(values[i + 1] + at[1])) for i in range(0, len(values), 2)
        ]  # every pair is absolute
        if step == "z":
            out.append("Z")
            continue
        (x, y) = points[-1]
        if step == "L" and last is not None:
            if (x, y) != last or out[-1].startswith("M"):
                out.append(f"V{y}" if x == last[0] else f"H{x}" if y == last[1] else f"L{x} {y}")
        else:
            out.append(step + " ".join(f"{a} {b}" for a, b in points))
        last = (x, y)
    return "".join(out)


def _words(item: ElementTree.Element, group: str) -> _Words:
    style = _styled(item)
    if not _UPRIGHT.fullmatch(item.get("transform", "")):
        raise ValueError("a text of a plot stands askew")
    return _Words(
        ((_n(float(item.get("x", ""))), _n(float(item.get("y", ""))), item.text or ""),),
        _n(float(style["font-size"].removesuffix("px"))),
        style.get("font-weight", "400"),
        style["text-anchor"],
        _token(style.get("fill", "")),
        group,
    )


def _joined(parts: Iterable[_Shape | _Words]) -> Iterator[_Shape | _Words]:
    """Lines that belong together as one text."""
    before: _Shape | _Words | None = None
    for part in parts:
        if isinstance(part, _Words) and isinstance(before, _Words) and part.group == before.group:
            before = replace(before, lines=before.lines + part.lines)
            continue
        if before is not None:
            yield before
        before = part
    if before is not None:
        yield before
