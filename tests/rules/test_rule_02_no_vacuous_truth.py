"""Rule 2: no vacuous truth. An empty list says so; a part leaves only by an event or a corrected statement."""

from __future__ import annotations

from typing import Any

import pytest

from witnessmark.problems import Misuse
from witnessmark.records.world import Held

from .world import NA, C, L, N, S, Story, one_leaf

EACH: dict[str, Any] = {"each": {"part": "thing"}}


def test_a_list_that_nobody_stated_is_a_gap() -> None:
    found = Story([one_leaf(**EACH)]).requirement()
    assert found.state is S
    assert [g.code for g in found.gaps] == ["parts.not-stated"]


def test_without_a_list_the_parts_that_records_name_are_assessed() -> None:
    assert Story([one_leaf(**EACH)]).rec("P1", part="a").state() is S
    assert Story([one_leaf(**EACH)]).rec("F1", part="a").state() is N


def test_an_empty_list_is_not_applicable_and_never_conforms() -> None:
    found = Story([one_leaf(**EACH)], parts={"thing": {}}).requirement()
    assert found.state is NA
    assert "stated as empty" in found.why
    assert "the drawing" in found.why


def test_empty_after_where_is_not_applicable() -> None:
    each: dict[str, Any] = {"each": {"part": "thing", "where": {"metal": ["yes"]}}}
    parts = {"thing": {"a": {"facts": {"metal": "no"}}}}
    found = Story([one_leaf(**each)], parts=parts).requirement()
    assert found.state is NA
    assert "metal is stated as no" in found.why


def test_where_not_stated_is_a_gap_and_the_part_is_assessed() -> None:
    each: dict[str, Any] = {"each": {"part": "thing", "where": {"metal": ["yes"]}}}
    story = Story([one_leaf(**each)], parts={"thing": {"a": {}}})
    assert story.rec("P1", part="a").state() is S
    assert story.rec("F2", part="a").state() is N


def test_seven_of_eight_names_the_eighth() -> None:
    story = Story([one_leaf(**EACH)], parts={"thing": {f"x{i}": {} for i in range(1, 9)}})
    for i in range(1, 8):
        story.rec(f"P{i}", part=f"x{i}")
    (gap,) = story.requirement().gaps
    assert gap.part == "x8"
    assert gap.message == "7 of 8 are shown. There is no record for X8."
    assert story.rec("P9", part="x8").state() is C


def test_a_shorter_list_stated_later_takes_nothing_away() -> None:
    story = Story([one_leaf(**EACH)], parts={"thing": {"a": {}, "b": {}}}).rec("P1", part="a")
    story.list_parts("short", "thing", {"a": {}}, at=2)
    assert story.state() is S


def test_correcting_the_list_takes_a_part_away() -> None:
    story = Story([one_leaf(**EACH)], parts={"thing": {"a": {}, "b": {}}}).rec("P1", part="a")
    story.list_parts("right", "thing", {"a": {}}, at=2, corrects="parts-thing")
    assert story.state() is C


def test_an_empty_list_that_is_not_committed_helps_nothing() -> None:
    story = Story([one_leaf(**EACH)], parts={"thing": {"a": {}}}).rec("F1", part="a")
    assert story.list_parts("none", "thing", {}, at=2, commit=False).state() is N


def test_a_fitted_part_has_to_be_shown_too() -> None:
    story = Story([one_leaf(**EACH)], parts={"thing": {"a": {}}}).rec("P1", part="a")
    story.event("E", "fitted", "b", at=2, tree={"fitted": {"kind": "thing", "title": "B", "serial": "b9"}})
    assert story.state() is S
    assert story.rec("P3", part="b").state() is C
    assert story.event("R", "removed", "b", at=4).state() is C


def test_a_part_fitted_again_is_back() -> None:
    story = Story([one_leaf(**EACH)], parts={"thing": {"a": {}}}).rec("P1", part="a")
    fitted = {"fitted": {"kind": "thing", "title": "B"}}
    story.event("E", "fitted", "b", at=2, tree=fitted).event("R", "removed", "b", at=3)
    assert story.state() is C
    assert story.event("E2", "fitted", "b", at=4, tree=fitted).state() is S


def test_parts_of_a_fitted_component_come_from_its_design() -> None:
    story = Story([one_leaf(**EACH)])
    story.revision(
        "rev", "pack", "B", at=-20, parts={"x1": {"title": "X1", "kind": "thing"}, "bolt": {"title": "Bolt"}}
    )
    story.list_parts("packs", "pack", {"p": {"design": "pack/B"}}, at=-9).list_parts("things", "thing", {}, at=-8)
    assert story.state() is S
    assert story.rec("P1", part="p-x1").state() is C


def test_a_requirement_deleted_from_the_folder_is_still_listed() -> None:
    story = Story([one_leaf(), one_leaf("other")]).rec("P1").rec("P2", leaf="other/x")
    story.put_set("set", [one_leaf("other")])
    assert story.state() is L
    assert story.state("other") is C
    story = Story([one_leaf(), one_leaf("other")]).put_set("set", [one_leaf("other")])
    assert story.state() is S


def test_a_fail_outlives_the_text_of_its_requirement() -> None:
    story = Story([one_leaf(), one_leaf("other")]).rec("F1").put_set("set", [one_leaf("other")])
    assert story.state() is N


def test_a_leaf_taken_out_leaves_at_best_lapsed() -> None:
    leaves = {"x": one_leaf()["leaves"]["x"], "y": {"inspect": "it"}}
    both = one_leaf(leaves=leaves, shown={"all": ["x", "y"]})
    assert Story([both]).rec("P1").put_set("set", [one_leaf()]).state() is L
    story = Story([both]).rec("P1").rec("F2", leaf="level/y", finding=True)
    assert story.put_set("set", [one_leaf()]).state() is N


def test_a_lowered_limit_helps_nothing() -> None:
    lower = one_leaf(leaves={"x": {"measure": "level", "criteria": {"c": {"at_least": "300 V"}}}})
    assert Story().rec("U1").put_set("set", [lower]).state() is L
    assert Story().rec("F1").put_set("set", [lower]).state() is N


def test_made_not_applicable_by_an_edit_helps_nothing() -> None:
    edited = one_leaf(applies={"charged": ["yes"]})
    story = Story(facts={"charged": "no"}).put_set("set", [edited])
    assert story.state() is S
    assert story.rec("F1").state() is N


def test_a_set_without_edition_shows_nothing() -> None:
    story = Story(edition=False).rec("P1")
    assert story.state() is S
    assert "edition.missing" in {p.code for p in story.assess().problems}


def test_the_edition_that_is_not_sound_takes_its_set_down() -> None:
    story = Story().rec("P1")
    assert story.hold("edition", Held.EDITED).state() is L
    assert story.hold("edition", Held.UNCHANGED).state() is C
    story.put_set("set", [one_leaf(title="Other")])
    story.edition("edition-2", at=5, commit=False)
    assert story.state() is S


def test_an_empty_set_and_no_set_at_all_are_problems() -> None:
    story = Story(bare=True).state_facts("facts", {"vin": "X"}, at=0)
    found = story.assess()
    assert found.requirements == ()
    assert "vehicle.no-sets" in {p.code for p in found.problems}
    found = Story([]).assess()
    assert {"set.empty", "edition.count"} <= {p.code for p in found.problems}


def test_a_set_that_is_not_there_is_a_problem() -> None:
    story = Story(facts={"requirement_sets": ["set", "ghost"]})
    assert "set.unknown" in {p.code for p in story.assess().problems}


def test_the_choice_of_sets_in_doubt_leaves_nothing_shown() -> None:
    story = Story().rec("P1")
    assert story.hold("facts", Held.MISSING).state() is S
    assert Story().rec("F1").hold("facts", Held.MISSING).state() is N


def test_an_unknown_leaf_is_a_problem() -> None:
    story = Story().rec("P1", leaf="level/nothing", finding=True)
    assert "leaf.unknown" in {p.code for p in story.assess().problems}
    assert story.state() is S


def test_an_unknown_vehicle_is_misuse() -> None:
    with pytest.raises(Misuse):
        Story().assess("ghost")
