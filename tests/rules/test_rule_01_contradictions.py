"""Rule 1: stated facts that cannot both be true are a problem, with the place, both values and the remedy.

Limits: 60 V DC, UN Regulation No. 100, definition of high voltage (seen in a summary); eight seats, UN R.E.3, section 2
(from memory; the choices of the fact say the same of M1). Everything else is arithmetic or the meaning of the words.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from tests.rules.world import VIN, Story, code_of
from tests.sets.loading import tree_of
from witnessmark.problems import Problem, Severity

CASES = tree_of(Path(__file__).parent / "contradictions.yaml")
CODES = {
    "fact.nominal-voltage",
    "fact.cell-voltage-window",
    "fact.cell-temperature-window",
    "fact.pack-voltage",
    "fact.excused-bus",
    "fact.external-charge",
    "fact.inlet-circuit",
    "fact.pure-electric",
    "fact.passengers",
    "fact.open-cells",
}


def case(entry: Mapping[str, Any]) -> list[Problem]:
    story = Story(facts=entry.get("facts"), parts=entry.get("parts"))
    return [p for p in story.assess().problems if p.code in CODES]


@pytest.mark.parametrize("entry", CASES["wrong"], ids=lambda e: e["name"])
def test_what_cannot_both_be_true(entry: Mapping[str, Any]) -> None:
    found = case(entry)
    assert [p.code for p in found] == [entry["code"]]
    assert found[0].severity is Severity.PROBLEM and found[0].place is not None
    assert all(value in found[0].message for value in entry["said"]), found[0].message
    assert found[0].remedy.startswith("correct the ") and found[0].remedy.endswith("with a second person")


@pytest.mark.parametrize("entry", CASES["right"], ids=lambda e: e["name"])
def test_what_may_be(entry: Mapping[str, Any]) -> None:
    assert case(entry) == []


def test_each_code_is_tried() -> None:
    assert {entry["code"] for entry in CASES["wrong"]} == CODES and len(CASES["right"]) >= len(CODES)


def test_both_places_are_named() -> None:
    """The fact of the vehicle stands in one file, that of its inlet in another."""
    inlet = {"charge-inlet": {"i": {"facts": {"inlet_circuit": "dc-separate"}}}}
    found = case({"facts": {"external_charge": "ac"}, "parts": inlet})
    assert len({found[0].place, *found[0].related}) == 2


def test_an_inlet_that_was_taken_out_contradicts_nothing() -> None:
    story = Story(facts={"external_charge": "none"}, parts={"charge-inlet": {"i": {}}})
    assert [p.code for p in story.assess().problems if p.code in CODES] == ["fact.external-charge"]
    story.event("out", "removed", "i", at=5)
    assert not [p for p in story.assess().problems if p.code in CODES]


def test_a_corrected_fact_contradicts_nothing() -> None:
    story = Story(facts={"pure_electric": "yes", "fuel_cell": "yes"})
    right = {"vin": VIN, "requirement_sets": ["set"], "pure_electric": "yes", "fuel_cell": "no"}
    assert [p.code for p in story.assess().problems if p.code in CODES] == ["fact.pure-electric"]
    story.state_facts("again", right, at=1, corrects=code_of("facts"))
    assert not [p for p in story.assess().problems if p.code in CODES]
