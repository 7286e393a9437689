"""What assessment tells sealing about a record: members, what it is judged against, and what is found."""

from __future__ import annotations

from typing import Any

from witnessmark.assessment import seals
from witnessmark.records.acts import Record

from .world import VAN, VIN, Story, find_method, one_leaf

PARTS: dict[str, dict[str, Any]] = {
    "thing": {"bus": {"members": ["pack"]}},
    "pack": {"pack": {"serial": "0421"}, "fuse": {"serial": "f1", "within": "pack"}, "door": {"serial": "d1"}},
}


def last(story: Story) -> Record:
    body = story.acts[-1].body
    assert isinstance(body, Record)
    return body


def test_members_are_what_was_built_in_when_performed() -> None:
    story = Story([one_leaf(each={"part": "thing"})], parts=PARTS).rec("P5", part="bus")
    assert seals.members(story.workshop(), VAN, last(story), methods=find_method) == {"pack": "0421", "fuse": "f1"}
    swapped = {"removed": {"serial": "0421"}, "fitted": {"serial": "0500"}}
    story.event("E", "replaced", "pack", at=6, tree=swapped).rec("P7", part="bus")
    assert seals.members(story.workshop(), VAN, last(story), methods=find_method)["pack"] == "0500"
    story.rec("P4", part="bus", sealed=8)
    assert seals.members(story.workshop(), VAN, last(story), methods=find_method)["pack"] == "0421"


def test_found_has_a_verdict_per_criterion() -> None:
    criteria = {"full": {"at_least": "500 V"}, "reduced": {"at_least": "100 V"}}
    leaves = {"x": {"measure": "level", "criteria": criteria}, "y": {"inspect": "it"}}
    requirement = one_leaf(leaves=leaves, shown={"any": ["x/full", {"all": ["x/reduced", "y"]}]})
    story = Story([requirement]).rec("F1", reading="300 V ± 1 V (k=2)", also={"level/y": {"finding": "meets"}})
    assert seals.found(story.workshop(), VAN, last(story), methods=find_method) == {
        "level/x/full": "fail",
        "level/x/reduced": "pass",
        "level/y/meets": "pass",
    }


def test_nothing_is_found_where_nothing_can_be_computed() -> None:
    story = Story().rec("P1", reading="no number")
    assert seals.found(story.workshop(), VAN, last(story), methods=find_method) == {}


def test_against_changes_with_what_judges_and_with_nothing_else() -> None:
    limit = {"x": {"measure": "level", "criteria": {"c": {"at_least": {"fact": "least"}}}}}
    story = Story([one_leaf(leaves=limit)], facts={"least": "500 V", "colour": "red"}).rec("P1")
    before = story.against_now("P1")
    story.state_facts("more", {"weight": "1 kg"}, at=2).rec("P3").put_set(
        "set", [one_leaf(leaves=limit, title="Other")]
    )
    assert story.against_now("P1") == before
    story.event("E", "changed", "vehicle", at=4, tree={"facts": {"least": {"value": "400 V", "source": "plate"}}})
    assert story.against_now("P1") != before


def test_the_vin_is_the_stated_one() -> None:
    assert seals.vin(Story().workshop(), VAN) == VIN
    assert seals.vin(Story(bare=True).workshop(), VAN) is None
