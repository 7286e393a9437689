"""Rule 10: a concession is an overlay from outside, never proof; it covers no later fail."""

from __future__ import annotations

import pytest

from witnessmark.records.world import Held

from .world import NA, C, K, L, N, S, Story, U, one_leaf, paper_leaf

TWO = paper_leaf("level", {"x": one_leaf()["leaves"]["x"], "y": {"inspect": "it"}}, {"all": ["x", "y"]})


@pytest.mark.parametrize(("label", "beneath"), [("F1", N), ("U1", U)])
def test_the_state_beneath_is_always_kept(label: str, beneath: object) -> None:
    found = Story().rec(label).concession("K", at=10).requirement()
    assert (found.state, found.beneath) == (K, beneath)
    assert found.axes.concession
    assert found.gaps
    assert not found.concessions[0].idle


def test_idle_where_it_covers_nothing() -> None:
    for story in (Story().rec("P1"), Story([one_leaf(applies={"charged": ["yes"]})], facts={"charged": "no"})):
        found = story.concession("K", at=10).requirement()
        assert found.state in (C, NA)
        assert found.concessions[0].idle


def test_it_covers_the_leaf_that_it_names_and_no_other() -> None:
    assert Story([TWO]).rec("F1").concession("K", at=10, leaf="x").state() is S
    story = Story([TWO]).rec("F1").rec("P2", leaf="level/y", finding=True)
    assert story.concession("K", at=10, leaf="x").state() is K
    assert Story([TWO]).rec("F1").concession("K", at=10, leaf="y").state() is N


def test_it_covers_the_part_that_it_names_and_no_other() -> None:
    story = Story([one_leaf(each={"part": "thing"})], parts={"thing": {"a": {}, "b": {}}})
    story.rec("F1", part="a").rec("P2", part="b").concession("K", at=10, part="a")
    assert story.state() is K
    assert story.rec("F3", part="b").state() is N


@pytest.mark.parametrize(("performed", "sealed", "state"), [(9, 9, K), (10, 10, N), (11, 11, N), (9, 10, N)])
def test_no_fail_performed_or_sealed_on_or_after_the_day_of_issue(
    performed: float, sealed: float, state: object
) -> None:
    assert Story().concession("K", at=10).rec("F1", at=performed, sealed=sealed + 0.1).state() is state


def test_a_conceded_fail_beside_a_conforming_route_is_never_conforms() -> None:
    routes = paper_leaf("level", {"x": {"inspect": "a"}, "y": {"inspect": "b"}}, {"any": ["x", "y"]})
    story = Story([routes]).rec("P1", finding=True).rec("F2", leaf="level/y", finding=True)
    assert story.state() is N
    assert story.concession("K", at=10, leaf="y").state() is K


def test_it_ends_on_its_last_day() -> None:
    assert Story().rec("U1").concession("K", at=10, last=100).state() is K
    assert Story().rec("U1").concession("K", at=10, last=99).state() is U


def test_not_from_the_workshop_and_not_without_its_document() -> None:
    assert Story().rec("U1").concession("K", at=10, issuer="Test workshop").state() is U
    assert Story().rec("U1").concession("K", at=10, issuer="ANN").state() is U
    assert Story().rec("U1").concession("K", at=10, document=False).state() is U


def test_not_sound_it_covers_nothing() -> None:
    assert Story().rec("U1").concession("K", at=10, commit=False).state() is U
    story = Story().rec("U1").concession("K", at=10)
    assert story.hold("K", Held.MISSING).state() is U
    assert Story().rec("U1").concession("K", at=10).withdraw("W", "K", at=11).state() is U


def test_a_missing_fact_or_list_is_not_conceded() -> None:
    story = Story([one_leaf(applies={"charged": ["yes"]})]).rec("F1").concession("K", at=10)
    assert story.state() is S
    lapsed = Story().rec("P1").hold("P1", Held.EDITED).concession("K", at=10)
    assert (lapsed.state(), lapsed.requirement().beneath) == (K, L)


def test_of_a_requirement_that_no_set_has() -> None:
    story = Story().concession("K", at=10, requirement="ghost")
    assert "concession.requirement" in {p.code for p in story.assess().problems}
