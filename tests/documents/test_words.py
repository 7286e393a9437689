"""Small things that every page rests on: words and units, and the scale of a chart."""

from __future__ import annotations

from dataclasses import replace

import pytest

from witnessmark.document import figures
from witnessmark.document.blocks import IntervalChart, IntervalRow
from witnessmark.document.text import tied


def test_a_chart_of_what_may_be_at_most_something_starts_at_nought() -> None:
    """Six joints of a few milliohms against 0.1 Ω are points, not arrows: one sees how far they lie from the limit."""
    rows = tuple(
        IntervalRow(f"joint {n}", value, 0.06, f"{value}", "0.06", "pass", True, 99.94)
        for n, value in enumerate((3.2, 5.8, 9.6))
    )
    chart = IntervalChart(rows, 100.0, "less than 100", "bonding resistance, mΩ", "at-most")
    drawing = figures.draw(chart, figures.for_print())
    assert drawing.count("<circle") == 3
    assert ">0</text>" in drawing
    far = IntervalChart((*rows, replace(rows[0], value=450.0)), 100.0, "less than 100", "", "at-most")
    assert ">450</text>" not in figures.draw(far, figures.for_print())


@pytest.mark.parametrize(
    ("written", "tied_"),
    [
        ("1097 Ω/V ± 10 Ω/V", "1097\u00a0Ω/V\u00a0±\u00a010\u00a0Ω/V"),
        ("≥ 500 Ω/V", "≥\u00a0500\u00a0Ω/V"),
        ("18 °C, 95 %", "18\u00a0°C, 95\u00a0%"),
        ("24 h later", "24\u00a0h later"),
        ("7 of 8 are shown", "7 of 8 are shown"),
        ("14 Ampere Lane", "14 Ampere Lane"),
        ("issue 5 A-team", "issue 5 A-team"),
        ("no number", "no number"),
    ],
)
def test_a_number_keeps_its_unit_on_its_line(written: str, tied_: str) -> None:
    """SI brochure, 9th edition, 5.4.3: a space, unbroken, between the number and the unit."""
    assert tied(written) == tied_
