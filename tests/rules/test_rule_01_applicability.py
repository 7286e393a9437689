"""Rule 1: applicability is three-valued over stated facts; a missing fact hides no fail; what can be checked is."""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest

from witnessmark.assessment.facts import Fact, Truth, holds
from witnessmark.assessment.model import Applies
from witnessmark.records.conditions import AllOf, AnyOf, Condition, Not, OneOf
from witnessmark.records.world import Held

from .world import NA, C, L, N, S, Story, one_leaf

CHARGED: dict[str, Any] = {"applies": {"charged": ["yes"]}}
YES, NO, UNKNOWN = Truth.YES, Truth.NO, Truth.NOT_STATED
# Kleene's strong logic of three values (S. C. Kleene, Introduction to Metamathematics, 1952, section 64; from memory).
KLEENE_AND = {
    (a, b): NO if NO in (a, b) else UNKNOWN if UNKNOWN in (a, b) else YES for a, b in product(Truth, repeat=2)
}
KLEENE_OR = {
    (a, b): YES if YES in (a, b) else UNKNOWN if UNKNOWN in (a, b) else NO for a, b in product(Truth, repeat=2)
}


def truth_of(condition: Condition, **stated: Truth) -> Truth:
    words = {YES: "yes", NO: "no", UNKNOWN: None}
    return holds(condition, lambda key: Fact(key, None, words[stated[key]]))[0]


@pytest.mark.parametrize(("a", "b"), list(product(Truth, repeat=2)))
def test_three_valued_logic(a: Truth, b: Truth) -> None:
    one, other = OneOf("a", ("yes",)), OneOf("b", ("yes",))
    assert truth_of(AllOf((one, other)), a=a, b=b) is KLEENE_AND[a, b]
    assert truth_of(AnyOf((one, other)), a=a, b=b) is KLEENE_OR[a, b]
    assert truth_of(Not(one), a=a) is {YES: NO, NO: YES, UNKNOWN: UNKNOWN}[a]


def test_not_applicable_names_fact_source_and_condition() -> None:
    found = Story([one_leaf(**CHARGED)], facts={"charged": "no"}).requirement()
    assert found.state is NA
    assert "Charged is stated as no (the plate" in found.why
    assert "charged is yes" in found.why
    assert found.gaps == ()


def test_not_stated_is_a_gap_and_the_rest_is_assessed() -> None:
    story = Story([one_leaf(**CHARGED)])
    found = story.requirement()
    assert (found.state, found.axes.applies) == (S, Applies.NOT_STATED)
    assert {g.code for g in found.gaps} == {"fact.not-stated", "leaf.no-record"}
    assert story.rec("F1").state() is N


def test_the_newest_statement_governs_and_does_not_fall_back() -> None:
    story = Story([one_leaf(**CHARGED)], facts={"charged": "no"})
    story.state_facts("again", {"charged": "no"}, at=1)
    assert story.state() is NA
    story.hold("again", Held.EDITED)
    assert story.state() is S


def test_a_value_does_not_change_by_stating_another() -> None:
    story = Story([one_leaf(**CHARGED)], facts={"charged": "yes"}).rec("F1")
    story.state_facts("other", {"charged": "no"}, at=2)
    assert story.state() is N
    assert "fact.unlike" in story.codes()


def test_a_value_changes_by_an_event() -> None:
    story = Story([one_leaf(**CHARGED)], facts={"charged": "yes"})
    story.event(
        "E", "changed", "vehicle", at=2, tree={"facts": {"charged": {"value": "no", "source": "inlet taken out"}}}
    )
    assert story.state() is NA


def test_an_event_that_is_not_committed_only_hurts() -> None:
    story = Story([one_leaf(**CHARGED)], facts={"charged": "yes"})
    story.event(
        "E", "changed", "vehicle", at=2, commit=False, tree={"facts": {"charged": {"value": "no", "source": "out"}}}
    )
    assert story.state() is S


def test_a_value_is_corrected_with_a_second_person() -> None:
    story = Story([one_leaf(**CHARGED)]).state_facts("one", {"charged": "yes"}, at=0)
    assert story.state() is S
    assert story.state_facts("two", {"charged": "no"}, at=2, corrects="one").state() is NA


def test_one_person_cannot_correct_a_fact() -> None:
    story = Story([one_leaf(**CHARGED)]).state_facts("one", {"charged": "yes"}, at=0).rec("F1")
    story.state_facts("two", {"charged": "no"}, at=2, corrects="one", second=None)
    assert story.state() is N


def test_two_unlike_at_one_instant_are_not_stated() -> None:
    story = Story([one_leaf(**CHARGED)]).state_facts("one", {"charged": "no"}, at=0)
    assert story.state() is NA
    assert story.state_facts("two", {"charged": "yes"}, at=0).state() is S


def test_a_quantity_is_compared_in_any_unit() -> None:
    fast: dict[str, Any] = {"applies": {"speed": {"more_than": "25 km/h"}}}
    assert Story([one_leaf(**fast)], facts={"speed": "6 m/s"}).state() is NA
    assert Story([one_leaf(**fast)], facts={"speed": "7 m/s"}).state() is S
    assert Story([one_leaf(**fast)], facts={"speed": "7"}).requirement().axes.applies is Applies.NOT_STATED


def test_a_fact_that_a_record_used_lapses_it_when_it_changes() -> None:
    limited = one_leaf(leaves={"x": {"measure": "level", "criteria": {"c": {"at_least": {"fact": "least"}}}}})
    story = Story([limited], facts={"least": "500 V"}).rec("P1")
    assert story.state() is C
    story.event("E", "changed", "vehicle", at=0.5, tree={"facts": {"least": {"value": "400 V", "source": "plate"}}})
    assert story.state() is L
    story.carry("Y", "P1", at=3, against=story.against_now("P1"))
    assert story.state() is C


@pytest.mark.parametrize(("stated", "problem"), [("403.2 V", False), ("403.1 V", True), ("450 V", False)])
def test_working_voltage_below_cells_times_their_voltage(stated: str, problem: bool) -> None:
    """96 × 4.20 V = 403.2 V: arithmetic, done by hand."""
    story = Story(
        facts={"working_voltage": stated},
        parts={"pack": {"p": {"facts": {"cells_in_series": "96", "cell_voltage_max": "4.20 V"}}}},
    )
    assert any(p.code == "fact.working-voltage" for p in story.assess().problems) is problem


def test_working_voltage_below_what_a_record_saw() -> None:
    iso = one_leaf(leaves={"x": {"measure": "isolation-resistance", "criteria": {"c": {"at_least": "1 Ω"}}}})
    readings = {
        "ub": "402.9 V",
        "u1": "203.4 V",
        "u2": "199.8 V",
        "ro": "200.0 kΩ",
        "ro_at": "negative",
        "u1_loaded": "96.1 V",
    }
    for stated, problem in (("403.2 V", False), ("400 V", True)):
        story = Story([iso], facts={"working_voltage": stated})
        story.rec("P1", record={"method": "voltmeter-own-source/1", "readings": readings, "instruments": {}})
        assert any(p.code == "fact.working-voltage" for p in story.assess().problems) is problem
