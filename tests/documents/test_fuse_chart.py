"""The demonstration's main fuse: what stands in its chapter, and the figures of the makers worked out here by hand.

Source of the figures: closed form (power law between two points of the curve, I²t), from the data sheets of the
demonstration, which are invented. The criteria are common practice, no source.
"""

from __future__ import annotations

import json
import math
from typing import Any

import pytest

from tests.sets.loading import ROOT
from witnessmark.assessment.assess import assess
from witnessmark.document.content import sources
from witnessmark.reading.workshop import read_workshop

FUSE = "main-fuse.traction-pack"


@pytest.fixture(scope="module")
def chapter() -> dict[str, Any]:
    world = read_workshop(ROOT)
    made = sources(world, assess(world, "van-07"))
    found: dict[str, Any] = json.loads(made.data["data/area-conversion-practice-switching.json"])
    return found


def _number(text: str) -> float:
    return float(text.replace("−", "-").replace("\u202f", "").replace("\u2009", ""))


def test_the_three_results_are_those_of_a_calculation_by_hand(chapter: dict[str, Any]) -> None:
    slope = math.log(0.045 / 0.12) / math.log(2000 / 1600)
    clears = 1600 * (0.1 / 0.12) ** (1 / slope)
    results = {leaf: chapter[f"{FUSE}.{leaf}.result"] for leaf in ("coordination", "cable", "contactor")}
    assert _number(results["coordination"]["value"]) == pytest.approx(clears - 2000, abs=5)  # printed to 10 A
    assert _number(results["coordination"]["u"]) == pytest.approx(2 * clears * 0.1 / math.sqrt(3), abs=5)
    assert _number(results["cable"]["value"]) == pytest.approx(100 * (143 * 50) ** 2 / (830**2 * 5), abs=0.5)
    assert _number(results["contactor"]["value"]) == pytest.approx(100 * 130000 / 450000, abs=0.005)
    assert all(result["statement"] == "Pass." for result in results.values())


def test_the_chart_stands_there_once(chapter: dict[str, Any]) -> None:
    charts = [
        block for name, block in chapter.items() if name.startswith(FUSE) and "fuse melts (maker" in json.dumps(block)
    ]
    assert len(charts) == 1


def test_a_budget_without_a_contribution_is_left_out_and_it_is_said(chapter: dict[str, Any]) -> None:
    for leaf in ("cable", "contactor"):
        assert f"{FUSE}.{leaf}.budget" not in chapter
        assert "which are taken as exact" in json.dumps(chapter[f"{FUSE}.{leaf}.result"])
        assert "about 95" not in json.dumps(chapter[f"{FUSE}.{leaf}.result"])


def test_the_tolerance_of_the_curve_is_a_part_of_its_current_and_not_an_ampere(chapter: dict[str, Any]) -> None:
    """10 % evenly spread are 10 %/√3 (JCGM 100:2008, 4.3.7)."""
    (row,) = chapter[f"{FUSE}.coordination.budget"]["rows"]
    assert row["unit"] == "%"
    assert float(row["u"]) == pytest.approx(10 / math.sqrt(3), abs=0.005)


def test_no_meter_is_claimed_for_what_a_data_sheet_says_and_the_points_of_the_curve_count(
    chapter: dict[str, Any],
) -> None:
    rows = chapter[f"{FUSE}.coordination.readings"]["rows"]
    assert len(rows) == 11 + 11 + 8
    assert {row.get("u", "") for row in rows} == {""}
    assert {row["used"] for row in rows} == {"formula"}
