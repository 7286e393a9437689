"""The chart of curves: where points, marks and the gap stand, and what is written beside them."""

from __future__ import annotations

import itertools
import math

import pytest

from tests.documents.picture import picture
from tests.unit.methods.wider_examples import evaluate
from witnessmark.document import figures
from witnessmark.document.blockdata import as_json, load
from witnessmark.document.blocks import Curve, Curves, Figure, Mark
from witnessmark.document.plots.plot import wide
from witnessmark.document.views.charts import drawn
from witnessmark.methods.base import FigureData, Result


def _coordination(**changed: str) -> Figure:
    result = evaluate("fuse-coordination/1", changed)
    assert isinstance(result, Result)
    figure = drawn(result.figures[0], (), "8-1", "b.figure", passed=False)
    assert figure is not None
    return figure


def _points(chart: Curves, token: str, width: float) -> list[list[tuple[float, float]]]:
    return [list(stroke) for path in picture(chart).with_width(token, width) for stroke in path.strokes]


def test_a_power_law_is_a_straight_line_and_decades_are_equally_long() -> None:
    """Source: t = c I^n is straight in log I and log t, with slope n (closed form)."""
    xs = (10.0, 30.0, 100.0, 1000.0)
    chart = Curves((Curve("law", xs, tuple(1e5 * x**-2 for x in xs)),), "current, A", "time, s")
    line = _points(chart, "paint", 2)[-1]  # before it stands its sample in the key
    per_decade = line[2][0] - line[0][0]
    assert line[3][0] - line[2][0] == pytest.approx(per_decade, abs=0.02)
    assert (line[1][0] - line[0][0]) / per_decade == pytest.approx(math.log10(3), abs=1e-3)
    slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in itertools.pairwise(line)]
    assert slopes == pytest.approx([slopes[0]] * 3, rel=2e-3)


def test_the_gap_is_hatched_between_what_contactors_break_and_what_the_fuse_clears() -> None:
    figure = _coordination()
    chart = figure.data
    assert isinstance(chart, Curves)
    assert [curve.words for curve in chart.curves] == [
        "fuse melts (maker's curve)",
        "cable bears (adiabatic, up to 5 s)",
    ]
    assert chart.gap_from == 800
    assert chart.gap_to == pytest.approx(1225, abs=1)
    assert "800 to 1225 A: neither breaks in time" in figures.draw(chart, figures.for_print())
    assert "800 to 1225 A: neither breaks in time" in figure.spoken
    hatching = max(picture(chart).with_width("rule", 0.5), key=lambda path: len(path.strokes))  # not that in the key
    gap = [x for stroke in hatching.strokes for x, _ in stroke]
    marks = {points[0][0] for points in _points(chart, "ink", 1.2)}
    left, right, _ = sorted(marks)
    assert left <= min(gap) <= max(gap) <= right


def test_without_a_gap_nothing_is_hatched_and_it_is_said() -> None:
    figure = _coordination(contactor_break="1300 A")
    assert isinstance(figure.data, Curves)
    assert not _points(figure.data, "rule", 0.5)
    assert figure.key.endswith("No gap.")


def test_lines_differ_by_their_dashes_too() -> None:
    chart = _coordination().data
    assert isinstance(chart, Curves)
    lines = [path for path in picture(chart).paths if path.width in (2, 1.4)]
    assert len({path.dash for path in lines}) == 2


def test_let_through_stands_against_cable_and_contactor() -> None:
    """I²t is a straight line of slope −2 in log-log (closed form): three parallels, the let-through ends at 5040 A."""
    chart = _coordination(let_through="60000 A²·s", contactor_withstand="150000 A²·s").data
    assert isinstance(chart, Curves)
    assert [curve.words.partition(" (")[0] for curve in chart.curves] == [
        "fuse melts",
        "cable bears",
        "closed contactor bears",
        "fuse lets through in all",
    ]
    for curve, energy in zip(chart.curves[1:], (143.0**2 * 35.0**2, 150000.0, 60000.0), strict=True):
        assert [x * x * y for x, y in zip(curve.x, curve.y, strict=True)] == pytest.approx([energy] * len(curve.x))
    assert max(chart.curves[3].x) == pytest.approx(5040)
    assert {min(curve.y) for curve in chart.curves[1:]} == {min(chart.curves[3].y)}
    dashes = [path.dash for path in picture(chart).paths]
    assert {"6 2.5", "1.5 2", "9 2 1.5 2", "3 2"} <= set(dashes), "each told apart without colour"


@pytest.mark.parametrize("narrow", [False, True])
def test_everything_stays_on_the_picture(narrow: bool) -> None:
    chart = _coordination(let_through="60000 A²·s", contactor_withstand="150000 A²·s").data
    assert isinstance(chart, Curves)
    drawn = picture(chart, narrow=narrow)
    for words in drawn.words:
        assert 0 <= words.x <= drawn.width
        if words.anchor == "start":
            assert words.x + 3.9 * len(words.words) <= drawn.width + 4, words.words
        assert 0 < words.y <= drawn.height


def test_what_is_not_above_nought_has_no_place_and_too_little_is_not_drawn() -> None:
    chart = Curves((Curve("a", (0.0, 1.0, 10.0), (5.0, 1.0, 0.1)),), "x", "y", (Mark(0.0, "nought"),), (), 0.0, 5.0)
    assert "nought" not in figures.draw(chart, figures.for_print())
    empty = FigureData("curves", "t", "current", "time", "A", "s", arrays={"fuse_current": (1.0,), "fuse_time": (1.0,)})
    assert drawn(empty, (), "1", "b", passed=False) is None
    assert load(as_json(_coordination())) == _coordination()


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("highest", [2000.0, 100000.0])
def test_numbers_along_the_axis_keep_clear_of_each_other(narrow: bool, highest: float) -> None:
    """From 200 A to 200 kA in three decades, on a telephone the numbers at 1, 2 and 5 stood upon each other."""
    chart = Curves((Curve("a", (250.0, highest), (100.0, 0.01)),), "current, A", "time, s")
    drawn = picture(chart, narrow=narrow)
    numbers = [words for words in drawn.words if words.words.isdigit() and words.anchor == "middle"]
    row = sorted((words.x, wide(words.words, size=words.size)) for words in numbers)
    assert len(row) >= 2
    for (left, one), (right, other) in itertools.pairwise(row):
        assert right - left >= (one + other) / 2 + 2
