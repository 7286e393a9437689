"""Figures as SVG: plots from the plotting library, diagrams by hand.

A plot is drawn once for each width and then coloured: the screen takes the page's tokens, print the light ones. The
library is loaded when the first plot is drawn, in the confined child that builds; nothing else of the program needs it.

Not drawn here: the bars of an uncertainty budget. Each is a plain rectangle in a cell of its table (look at
`theme/blocks/budget.html` and the print template), as long as its share; it has no axis, no tick and no scale.
"""

from __future__ import annotations

import dataclasses
import functools
import math
from typing import TYPE_CHECKING, Any

from witnessmark.document.blocks import Band, Curves, Decay, IntervalChart, OneLine, Outlines
from witnessmark.document.canvas import Style, for_print, for_screen
from witnessmark.document.drawings import Issues
from witnessmark.language import decimal_mark

if TYPE_CHECKING:
    from witnessmark.document.plots.svg import Drawing

__all__ = ["Style", "draw", "for_print", "for_screen"]

_WIDTH = 368.5  # 130 mm
_WHOLE = 487.5  # 172 mm
_NARROW = 250.0

_Plotted = IntervalChart | Decay | Band | Curves | Issues


def draw(chart: _Plotted | OneLine | Outlines, style: Style, *, narrow: bool = False) -> str:
    """The chart as one SVG element. `narrow` draws it anew for a phone, with labels above the bars.

    Raises ValueError for a number that has no place on paper.
    """
    if isinstance(chart, Outlines):
        from witnessmark.document import outlines

        return outlines.drawn(chart, style, _NARROW if narrow else _WHOLE)
    if isinstance(chart, OneLine):
        from witnessmark.document import oneline

        return oneline.drawn(chart, style, _NARROW if narrow else _WIDTH)
    return _plotted(chart, narrow, decimal_mark()).svg(style)


@functools.lru_cache(maxsize=256)
def _plotted(chart: _Plotted, narrow: bool, decimal: str) -> Drawing:
    """Kept, for a figure is looked at before it stands on a page, and `build --watch` asks for the same ones again.
    `decimal` is what else a drawing depends on: the decimal mark of the language."""
    _finite(chart)
    from witnessmark.document.plots import courses, intervals, issuebars, loglog, plot

    width = _NARROW if narrow else _WIDTH
    with plot.in_style():
        if isinstance(chart, IntervalChart):
            return intervals.drawn(chart, width, narrow=narrow)
        if isinstance(chart, Issues):
            return issuebars.drawn(chart, width, narrow=narrow)
        if isinstance(chart, Curves):
            return loglog.drawn(chart, width)
        return courses.decay(chart, width) if isinstance(chart, Decay) else courses.band(chart, width)


def _finite(value: Any) -> None:
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError(f"{value} is no number that can be drawn")
    if isinstance(value, tuple):
        for item in value:
            _finite(item)
    elif dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            _finite(getattr(value, field.name))
