"""Rule 11: one word, worst first; behind it four axes; gaps are empty only where nothing stands in the way."""

from __future__ import annotations

from itertools import product

import pytest

from witnessmark.assessment.model import State
from witnessmark.assessment.requirement import WORST_FIRST, under_concession, worst

from .world import NA, C, K, L, N, S, Story, U, one_leaf


def test_the_order() -> None:
    assert WORST_FIRST == (N, L, S, U, K, C, NA)
    assert tuple(State) == WORST_FIRST


def test_worst_of_several() -> None:
    for one, other in product(State, repeat=2):
        assert worst((one, other)) is WORST_FIRST[min(WORST_FIRST.index(one), WORST_FIRST.index(other))]


def test_worst_of_none_is_nothing() -> None:
    with pytest.raises(ValueError):
        worst(())


def test_a_concession_changes_only_what_it_covers_altogether() -> None:
    for beneath, covered in product(State, repeat=2):
        found = under_concession(beneath, covered)
        assert found is (beneath if beneath in (C, NA) else K if covered is C else covered)


def test_a_requirement_takes_the_worst_of_its_parts() -> None:
    story = Story([one_leaf(each={"part": "thing"})], parts={"thing": {"a": {}, "b": {}, "c": {}}})
    story.rec("P1", part="a").rec("U2", part="b").rec("F3", part="c")
    assert story.state() is N


def test_gaps_are_empty_only_for_conforms_and_not_applicable() -> None:
    stories = {
        N: Story().rec("F1"),
        S: Story(),
        U: Story().rec("U1"),
        K: Story().rec("F1").concession("K", at=10),
        C: Story().rec("P1"),
        NA: Story([one_leaf(applies={"charged": ["yes"]})], facts={"charged": "no"}),
    }
    for state, story in stories.items():
        found = story.requirement()
        assert found.state is state
        assert bool(found.gaps) is (state not in (C, NA))
        assert all(g.message and g.remedy and g.group in ("dead", "desk", "live", "away") for g in found.gaps)


def test_a_state_has_no_truth_value() -> None:
    for state in State:
        with pytest.raises(TypeError):
            bool(state)


def test_the_summary_counts_every_requirement() -> None:
    story = Story([one_leaf(), one_leaf("other")]).rec("P1")
    found = story.assess()
    assert sum(found.summary.values()) == len(found.requirements) == 2
    assert (found.summary[C], found.summary[S], found.gap_count) == (1, 1, 1)
