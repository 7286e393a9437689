"""Rule 7: the decision rule in force, and numbers that decide with their uncertainty.

What the statements are for given value, U and limit is tested with the calculations; here it is which rule is taken,
and what its statement becomes. ILAC-G8:09/2019, 4.2: with guard band w = U a result whose interval holds the limit is a
conditional pass or fail, which is neither here.
"""

from __future__ import annotations

import pytest

from witnessmark.assessment.model import State
from witnessmark.records.world import Held

from .world import C, L, N, S, Story, U, code_of, one_leaf

SIMPLE = {"rule": "simple", "cap": "5 %"}
LIMIT = {"c": {"at_least": "500 V"}}


@pytest.mark.parametrize(
    ("reading", "guarded", "simple"),
    [
        ("600 V ± 10 V (k=2)", C, C),
        ("505 V ± 10 V (k=2)", U, C),
        ("495 V ± 10 V (k=2)", U, N),
        ("400 V ± 10 V (k=2)", N, N),
        ("505 V ± 30 V (k=2)", U, U),  # U is 6 % of the limit: more than the cap
        ("> 600 V", C, C),
        ("< 400 V", N, N),
        ("> 400 V", U, U),
    ],
)
def test_guarded_and_simple(reading: str, guarded: State, simple: State) -> None:
    assert Story().rec("P1", reading=reading).state() is guarded
    assert Story(policy=SIMPLE).rec("P1", reading=reading).state() is simple


def test_leaf_before_requirement_before_set_before_policy() -> None:
    near = "505 V ± 10 V (k=2)"
    assert Story([one_leaf(decision_rule=SIMPLE)]).rec("P1", reading=near).state() is C
    leaf = {"x": {"measure": "level", "criteria": LIMIT, "decision_rule": {"rule": "guarded"}}}
    assert Story([one_leaf(leaves=leaf, decision_rule=SIMPLE)]).rec("P1", reading=near).state() is U
    story = Story().put_set("set", [one_leaf()], decision_rule=SIMPLE).edition("e-2", at=0, name="2")
    assert story.rec("P1", reading=near).state() is C


def test_a_rule_of_the_set_that_no_edition_seals_helps_nothing() -> None:
    """Neither one that is put in afterwards, nor one that is taken out."""
    near = "505 V ± 10 V (k=2)"
    story = Story().put_set("set", [one_leaf()], decision_rule=SIMPLE)
    assert story.rec("P1", reading=near).state() is L
    sealed = Story().put_set("set", [one_leaf()], decision_rule={"rule": "guarded"}).edition("e-2", at=0, name="2")
    assert sealed.rec("P1").state() is C
    assert sealed.put_set("set", [one_leaf()], decision_rule=SIMPLE).rec("P2", reading=near).state() is L
    assert sealed.put_set("set", [one_leaf()]).state() is L
    failed = Story().put_set("set", [one_leaf()], decision_rule=SIMPLE).edition("e-2", at=0, name="2")
    failed.rec("F1", reading="495 V ± 10 V (k=2)")
    assert failed.state() is N
    assert failed.put_set("set", [one_leaf()]).state() is N, "a fail stays, whatever the rule is made to say"


def test_the_policy_in_force_when_performed() -> None:
    story = Story().policy("policy-2", SIMPLE, at=10)
    assert story.rec("P9", reading="505 V ± 10 V (k=2)").state() is U
    assert story.rec("P11", reading="505 V ± 10 V (k=2)").state() is C


def test_without_a_policy_guarded_holds() -> None:
    story = Story()
    story.acts = [a for a in story.acts if a.code != code_of("policy")]
    assert story.rec("P1", reading="505 V ± 10 V (k=2)").state() is U


def test_a_policy_that_is_not_sound_helps_nothing_and_hurts() -> None:
    story = Story().policy("policy-2", SIMPLE, at=10, commit=False)
    assert story.rec("P11", reading="505 V ± 10 V (k=2)").state() is S
    assert story.rec("F12", reading="495 V ± 10 V (k=2)").state() is N
    used = Story().policy("policy-2", SIMPLE, at=10).rec("P11", reading="505 V ± 10 V (k=2)")
    assert used.hold("policy-2", Held.EDITED).state() is L


def test_a_rule_relaxed_in_the_set_lapses_what_it_would_help() -> None:
    story = Story().rec("U1", reading="505 V ± 10 V (k=2)")
    assert story.put_set("set", [one_leaf()], decision_rule=SIMPLE).state() is L


def test_uncertainty_comes_from_the_calibration_in_force() -> None:
    """0.1 % of 500.2 V as a rectangle: u = 0.5002/√3 = 0.2888 V, U = 0.5776 V with k = 2: the limit is inside."""
    assert Story().rec("P1", reading="500.2 V").state() is U
    assert Story().rec("P1", reading="500.7 V").state() is C


def test_the_gap_says_what_would_pass() -> None:
    (gap,) = Story().rec("U1", reading="505 V ± 10 V (k=2)").requirement().gaps
    assert gap.code == "leaf.undecided"
    assert "lies inside the interval" in gap.message
    assert "510 V would pass" in gap.message


@pytest.mark.parametrize(
    ("reading", "code"),
    [
        ("NaN V", "quantity.not-finite"),
        ("600", "quantity.missing-unit"),
        ("600 Ω", "quantity.dimension"),
        ("600,5 V", "quantity.comma"),
        ("600 V ± 1 V", "quantity.coverage-factor"),
    ],
)
def test_what_is_no_quantity_shows_nothing(reading: str, code: str) -> None:
    story = Story().rec("P1", reading=reading)
    assert (story.state(), story.codes()) == (S, {code})


def test_a_limit_of_another_dimension_shows_nothing() -> None:
    leaf = {"x": {"measure": "level", "criteria": {"c": {"at_least": "500 Ω"}}}}
    assert Story([one_leaf(leaves=leaf)]).rec("P1").codes() == {"limit.unit"}


def test_a_limit_from_a_fact_that_is_not_stated() -> None:
    leaf = {"x": {"measure": "level", "criteria": {"c": {"at_least": {"fact": "least"}}}}}
    story = Story([one_leaf(leaves=leaf)]).rec("P1")
    assert (story.state(), story.codes()) == (S, {"fact.not-stated"})


def test_a_method_that_the_clause_does_not_prescribe() -> None:
    leaf = {"x": {"measure": "level", "criteria": LIMIT, "methods": ["other/1"]}}
    assert Story([one_leaf(leaves=leaf)]).rec("P1").codes() == {"method.not-prescribed"}


def test_unknown_method_and_unknown_measurand() -> None:
    assert "method.unknown" in Story().rec("P1", record={"method": "none/1"}).codes()
    leaf = {"x": {"measure": "other", "criteria": LIMIT}}
    assert "method.measurand" in Story([one_leaf(leaves=leaf)]).rec("P1").codes()


@pytest.mark.parametrize(
    ("reading", "states"),
    [
        # u = 5 V: by the normal quantiles a pass begins at 508.2, 511.6 and 515.5 V, a fail at 491.8 and 490 V.
        ("516 V ± 10 V (k=2)", (C, C, C)),
        ("512 V ± 10 V (k=2)", (C, C, U)),
        ("511 V ± 10 V (k=2)", (C, U, U)),
        ("508 V ± 10 V (k=2)", (U, U, U)),
        ("492 V ± 10 V (k=2)", (U, U, U)),
        ("491 V ± 10 V (k=2)", (N, U, U)),
        ("489.9 V ± 10 V (k=2)", (N, N, N)),
    ],
)
def test_a_guard_band_for_a_stated_probability(reading: str, states: tuple[State, ...]) -> None:
    """JCGM 106:2012, 8.3.2; quantiles 1.645, 2.326 and 3.090 of the normal distribution."""
    for probability, state in zip(("95 %", "99 %", "99.9 %"), states, strict=True):
        story = Story(policy={"rule": "guarded", "probability": probability}).rec("P1", reading=reading)
        assert story.state() is state, probability


def test_a_probability_that_is_changed_lapses_what_it_would_help() -> None:
    """The rule stands in the digest of what a record was judged against, and in the sealed edition of its set."""
    strict, kind = {"rule": "guarded", "probability": "99 %"}, {"rule": "guarded", "probability": "95 %"}
    near = "510 V ± 10 V (k=2)"
    story = Story().put_set("set", [one_leaf()], decision_rule=strict).edition("e-2", at=0, name="2")
    assert story.rec("U1", reading=near).state() is U
    assert story.put_set("set", [one_leaf()], decision_rule=kind).state() is L
    sealed = (
        Story()
        .put_set("set", [one_leaf()], decision_rule=strict)
        .edition("e-2", at=0, name="2")
        .rec("U1", reading=near)
    )
    sealed.put_set("set", [one_leaf()], decision_rule=kind).edition("e-3", at=5, name="3")
    assert sealed.state() is L, "an edition that asks less does not turn an old record into a pass"
