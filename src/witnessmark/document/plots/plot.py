"""The plotting library, kept to itself, and one plot in our style. No other module imports the library.

As it is imported it would read settings from the current folder and from the user's home, look through all fonts of the
machine and write what it found into a cache. Here it is imported in a private folder that is gone afterwards: it finds
no settings, an empty list of fonts, and is then given our own two faces. So a plot is the same on every machine.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import tempfile
import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path as File
from typing import Any, Literal

import numpy as np

from witnessmark.document.marks import LIGHT
from witnessmark.language import marked

from .svg import Drawing, fit_for_svg, plain

_FACE = "Fira Sans Condensed"
_FACES = ("FiraSansCondensed-Regular.ttf", "FiraSansCondensed-SemiBold.ttf")
_LIST = "3.11.0"
"""The version of the library's list of fonts. Of another version it makes its own: slower, the plots are the same."""


@contextlib.contextmanager
def _alone() -> Iterator[None]:
    """An empty private folder as the library's own and as the current one."""
    with tempfile.TemporaryDirectory(prefix="witnessmark-") as folder:
        (File(folder) / "matplotlibrc").touch()
        fonts: dict[str, Any] = {
            "__class__": "FontManager",
            "_version": _LIST,
            "_FontManager__default_weight": "normal",
            "default_size": None,
            "defaultFamily": {"ttf": _FACE, "afm": _FACE},
            "afmlist": [],
            "ttflist": [],
        }
        (File(folder) / f"fontlist-v{_LIST}.json").write_text(json.dumps(fonts), encoding="utf-8")
        before = os.environ.get("MPLCONFIGDIR")
        os.environ["MPLCONFIGDIR"] = folder
        try:
            with contextlib.chdir(folder):
                yield
        finally:
            if before is None:
                del os.environ["MPLCONFIGDIR"]
            else:
                os.environ["MPLCONFIGDIR"] = before


with _alone():
    import matplotlib
    from matplotlib import font_manager
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis, XAxis
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties
    from matplotlib.lines import Line2D
    from matplotlib.markers import CARETLEFT, CARETRIGHT
    from matplotlib.patches import PathPatch, Rectangle, StepPatch
    from matplotlib.path import Path
    from matplotlib.text import Text
    from matplotlib.textpath import text_to_path
    from matplotlib.ticker import Formatter, LogLocator, MaxNLocator, NullFormatter, ScalarFormatter
    from matplotlib.transforms import Affine2D, IdentityTransform, Transform

for _name in _FACES:
    font_manager.fontManager.addfont(File(__file__).parents[1] / "fonts" / _name)

__all__ = [
    "FONT",
    "LINE",
    "SMALL",
    "Anchor",
    "Axes",
    "Plot",
    "Transform",
    "broken",
    "from_decades",
    "in_style",
    "round_ends",
    "wide",
]

FONT, SMALL = 8.2, 7.6
LINE = 9.4
_HATCH = 4.2
"""The distance of hatching lines, measured along an axis, in points."""
Anchor = Literal["left", "center", "right"]
_STEPS = (1, 2, 5, 10)
_STYLE: Any = {
    "svg.fonttype": "none",
    "svg.hashsalt": "witnessmark",
    "font.family": [_FACE],
    "font.size": SMALL,
    "text.parse_math": False,
    "text.usetex": False,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.5,
    "axes.edgecolor": LIGHT["ink2"],
    "axes.facecolor": "none",
    "axes.xmargin": 0.0,
    "axes.ymargin": 0.0,
    "axes.unicode_minus": True,
    "axes.formatter.useoffset": False,
    "axes.formatter.use_locale": False,
    "lines.solid_capstyle": "butt",
    "lines.dash_capstyle": "butt",
    "lines.scale_dashes": False,
    "lines.solid_joinstyle": "round",
    "lines.dash_joinstyle": "round",
    "patch.linewidth": 0.0,
    **{f"{axis}tick.{key}": value for axis in "xy" for key, value in {
        "direction": "out",
        "color": LIGHT["ink2"],
        "labelcolor": LIGHT["ink2"],
        "labelsize": SMALL,
        "major.size": 3.0,
        "major.width": 0.5,
        "major.pad": 1.6,
        "minor.size": 2.0,
        "minor.width": 0.5,
        "minor.visible": False,
    }.items()},
}  # fmt: skip


def wide(words: str, *, size: float = FONT, weight: int = 400) -> float:
    """How wide the words are, in points, by the measures of the face."""
    return text_to_path.get_text_width_height_descent(fit_for_svg(words), _face(size, weight), ismath=False)[0]


def broken(words: str, room: float, *, size: float = FONT, weight: int = 400) -> tuple[str, ...]:
    """The words in lines that fit `room`; what fits in no line is broken within the word, so that nothing is lost."""
    lines = [""]
    for word in fit_for_svg(words).split(" "):
        if not lines[-1] or wide(f"{lines[-1]} {word}", size=size, weight=weight) <= room:
            lines[-1] = f"{lines[-1]} {word}" if lines[-1] else word
        else:
            lines[-1] += " "
            lines.append(word)
        while (whole := wide(lines[-1], size=size, weight=weight)) > room and len(lines[-1]) > 1:
            cut = max(1, int(len(lines[-1]) * room / whole))
            lines[-1:] = [lines[-1][:cut], lines[-1][cut:]]
    return tuple(lines)


def round_ends(low: float, high: float, parts: int) -> list[float]:
    """Round numbers from at or below `low` to at or above `high`, in about `parts` steps of 1, 2 or 5."""
    return [float(value) for value in MaxNLocator(parts, steps=_STEPS).tick_values(low, high)]


def from_decades(low: float, high: float) -> tuple[float, float]:
    """The nearest of 1, 2 and 5 times a power of ten at or below `low`, and at or above `high`."""
    near = LogLocator(subs=(1.0, 2.0, 5.0), numticks=10)
    below, above = near.tick_values(low / 10, low), near.tick_values(high, high * 10)
    return float(max(v for v in below if v <= low * (1 + 1e-9))), float(min(v for v in above if v >= high * (1 - 1e-9)))


class _Numbers(ScalarFormatter):
    """Plain numbers with the digits that the steps between them need, and the decimal mark of the language."""

    def __init__(self) -> None:
        super().__init__(useOffset=False, useMathText=False, useLocale=False)
        self.set_scientific(False)

    def __call__(self, x: float, pos: int | None = None) -> str:
        return marked(super().__call__(x, pos))


class _Decades(Formatter):
    """Plain numbers on a logarithmic axis, with the decimal mark of the language."""

    def __call__(self, x: float, pos: int | None = None) -> str:
        return marked(f"{x:.15f}".rstrip("0").rstrip(".") if x < 1 else f"{x:.0f}")


def _face(size: float, weight: int) -> FontProperties:
    return FontProperties(family=_FACE, size=size, weight=weight)


@contextlib.contextmanager
def in_style() -> Iterator[None]:
    """What is drawn within looks like ours. A character that the faces lack is no fault: whoever prints tells of it."""
    with matplotlib.rc_context(_STYLE), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from font", UserWarning)
        yield


class Plot:
    """One plot. `page` is its ground in points from the upper left corner; `axes` lie on it, in units of their own.

    Every method takes the page or the axes that its coordinates belong to; the limits of axes are set before anything
    is drawn on them. What has the greater `over` lies higher; axes lie over everything. Nothing is cut off: what is
    drawn has to fit.
    """

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height, self._texts = width, height, 0
        self._figure = Figure(figsize=(width / 72, height / 72), dpi=72)  # So one unit of the library is one point.
        self._figure.patch.set_visible(False)
        self.page: Transform = Affine2D().scale(1, -1).translate(0, height)

    def axes(self, left: float, top: float, right: float, bottom: float) -> Axes:
        """Axes between these edges on the page."""
        width, height = self.width, self.height
        axes = self._figure.add_axes(
            (left / width, 1 - bottom / height, (right - left) / width, (bottom - top) / height)
        )
        axes.set_zorder(6)
        return axes

    def _put(self, artist: Artist, on: Axes | Transform, over: float, by: tuple[float, float] = (0.0, 0.0)) -> None:
        place = on.transData if isinstance(on, Axes) else on
        artist.set_transform(place + Affine2D().translate(by[0], -by[1]) if any(by) else place)
        artist.set_zorder(over)
        self._figure.add_artist(artist)

    def scaled(self, axis: Axis, length: float, room: float, most: int = 12) -> None:
        """Ticks at round numbers on an axis `length` points long, each with `room` points or more; their limits must be
        set. Wide numbers stand further apart."""
        if isinstance(axis, XAxis):
            low, high = axis.get_view_interval()
            room = max(
                room, *(wide(f"{end:.0f}" if high - low > 9 else f"{end:.3g}", size=SMALL) + 10 for end in (low, high))
            )
        axis.set_major_locator(MaxNLocator(max(2, min(most, int(length / room))), steps=_STEPS))
        axis.set_major_formatter(_Numbers())

    def logarithmic(self, axis: Axis, named: Sequence[float]) -> None:
        """Ticks at 1 to 9 times each power of ten, with numbers at those in `named`."""
        axis.set_major_locator(LogLocator(subs=named))
        axis.set_minor_locator(LogLocator(subs=range(1, 10)))
        axis.set_major_formatter(_Decades())
        axis.set_minor_formatter(NullFormatter())

    def at(self, on: Axes, x: float, y: float) -> tuple[float, float]:
        """Where a point of the axes lies on the page."""
        across, up = on.transData.transform((x, y))
        return float(across), self.height - float(up)

    def line(
        self,
        on: Axes | Transform,
        x: Sequence[float],
        y: Sequence[float],
        token: str = "ink",
        width: float = 0.5,
        *,
        dash: Sequence[float] = (),
        over: float = 2,
    ) -> None:
        """A line through points; `dash` are dashes and gaps in points."""
        style: Any = (0, tuple(dash)) if dash else "-"
        self._put(Line2D(x, y, color=LIGHT[token], linewidth=width, linestyle=style), on, over)

    def box(
        self, on: Axes | Transform, x: tuple[float, float], y: tuple[float, float], token: str, *, over: float = 1
    ) -> None:
        """A filled rectangle."""
        box = Rectangle((x[0], y[0]), x[1] - x[0], y[1] - y[0], facecolor=LIGHT[token], edgecolor="none")
        self._put(box, on, over)

    def hatch(self, on: Axes | Transform, x: tuple[float, float], y: tuple[float, float], *, over: float = 1) -> None:
        """45 degree lines inside a rectangle: they survive a grey printer."""
        place = on.transData if isinstance(on, Axes) else on
        (x1, y1), (x2, y2) = place.transform([(x[0], y[0]), (x[1], y[1])])
        left, right, bottom, top = min(x1, x2), max(x1, x2), min(y1, y2), max(y1, y2)
        if right - left < 0.5 or top - bottom < 0.5:
            return
        side = max(self.width, self.height)
        lines = Path.hatch("/", density=2 * side / _HATCH).transformed(Affine2D().scale(side))
        # The library cuts one unit outside of the rectangle that it is given.
        lines = lines.cleaned(clip=(left + 1, bottom + 1, right - 1, top - 1), simplify=False)
        drawn = PathPatch(lines, fill=False, edgecolor=LIGHT["rule"], linewidth=0.5, capstyle="butt")
        self._put(drawn, IdentityTransform(), over)

    def steps(self, on: Axes, edges: Sequence[float], low: Sequence[float], high: Sequence[float]) -> None:
        """The area between two values in each bin."""
        base: Any = np.asarray(low)  # The library's types know only a level base.
        self._put(StepPatch(high, edges, baseline=base, facecolor=LIGHT["paint"], edgecolor="none"), on, 3)

    def dot(self, on: Axes, x: float, y: float, *, filled: bool, radius: float = 2.7) -> None:
        """Filled with paint, or hollow in ink."""
        fill, edge = ("paint", "paint") if filled else ("paper", "ink")
        self._mark(on, x, y, "o", 2 * radius, fill, edge, 1.7)

    def tip(self, on: Axes, x: float, y: float, token: str, *, right: bool) -> None:
        """The head of an arrow that ends at the point."""
        self._mark(on, x, y, CARETRIGHT if right else CARETLEFT, 5.8, token, token, 0.0)

    def _mark(self, on: Axes, x: float, y: float, marker: Any, size: float, fill: str, edge: str, width: float) -> None:
        mark = Line2D(
            [x], [y], linestyle="none", marker=marker, markersize=size, markerfacecolor=LIGHT[fill],
            markeredgecolor=LIGHT[edge], markeredgewidth=width,
        )  # fmt: skip
        self._put(mark, on, 4)

    def words(
        self,
        on: Axes | Transform,
        x: float,
        y: float,
        words: str | Sequence[str],
        *,
        by: tuple[float, float] = (0.0, 0.0),
        anchor: Anchor = "left",
        token: str = "ink",
        weight: int = 400,
        size: float = FONT,
        ground: bool = False,
    ) -> None:
        """Words with their base line at the point, moved `by` points to the right and down. Several lines hang `LINE`
        below one another and are one text. `ground` puts them on a piece of bare paper."""
        paper = {"boxstyle": "square,pad=0.25", "facecolor": LIGHT["paper"], "edgecolor": "none"}
        self._texts += 1
        for n, line in enumerate([words] if isinstance(words, str) else words):
            fit = fit_for_svg(line)
            if not fit:
                continue
            text = Text(
                x,
                y,
                fit + " " * line.endswith(" "),
                horizontalalignment=anchor,
                verticalalignment="baseline",
                color=LIGHT[token],
                fontproperties=_face(size, weight),
                parse_math=False,
            )
            text.set_gid(f"words-{self._texts}")
            if ground:
                text.set_bbox(paper)
            self._put(text, on, 5, (by[0], by[1] + LINE * n))

    def drawing(self) -> Drawing:
        """What was drawn, as small and plain SVG."""
        out = io.StringIO()
        nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
        self._figure.savefig(out, format="svg", metadata=nothing)
        return plain(out.getvalue(), self.width, self.height)
