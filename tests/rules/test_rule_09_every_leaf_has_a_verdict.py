"""Rule 9: a photograph, report or drawing shows nothing by existing; the same evidence used twice is listed."""

from __future__ import annotations

from typing import Any

import pytest

from .world import C, N, S, Story, U, one_leaf, paper_leaf

PICTURE = {"p.jpg": "picture"}


def leaf(kind: str) -> Story:
    return Story([paper_leaf("level", {"x": {kind: "it"}}, "x")])


@pytest.mark.parametrize(("kind", "key"), [("photograph", "photo"), ("report", "file"), ("document", "file")])
def test_without_a_finding_it_proves_nothing(kind: str, key: str) -> None:
    story = leaf(kind).rec("P1", claim={key: "p.jpg"}, files=PICTURE)
    assert (story.state(), story.codes()) == (S, {"finding.missing"})
    (gap,) = story.requirement().gaps
    assert gap.group == "desk"
    assert "p.jpg" in gap.remedy
    assert leaf(kind).rec("P1", finding=True, claim={key: "p.jpg"}, files=PICTURE).state() is C


@pytest.mark.parametrize(("kind", "key"), [("photograph", "photo"), ("report", "file"), ("document", "file")])
def test_without_its_file_it_proves_nothing(kind: str, key: str) -> None:
    assert leaf(kind).rec("P1", finding=True).codes() == {"file.none"}
    assert leaf(kind).rec("P1", finding=True, claim={key: "p.jpg"}).codes() == {"file.not-hashed"}


@pytest.mark.parametrize("kind", ["inspect", "trial"])
def test_findings_are_verdicts(kind: str) -> None:
    assert leaf(kind).rec("P1", finding=True).state() is C
    assert leaf(kind).rec("U1", finding=True).state() is U
    assert leaf(kind).rec("F1", finding=True).state() is N


def test_who_states_the_finding_is_known() -> None:
    assert leaf("inspect").rec("P1", finding=True, claim={"by": "nobody"}).codes() == {"act.person"}


def test_an_exemption_has_to_be_named() -> None:
    story = Story([paper_leaf("level", {"x": {"inspect": "it", "exemptions": {"high": "stands high"}}}, "x")])
    assert story.rec("P1", finding=True).codes() == {"finding.exemption"}
    assert story.rec("P2", finding=True, claim={"exemption": "high"}).state() is C
    assert "finding.exemption" in story.rec("P3", finding=True, claim={"exemption": "low"}).codes()


def unused(story: Story) -> set[str]:
    return {u.code for u in story.assess().unused}


def test_the_same_picture_for_two_parts_needs_a_reason() -> None:
    requirement = paper_leaf("level", {"x": {"photograph": "it"}}, "x", each={"part": "thing"})
    parts: dict[str, dict[str, Any]] = {"thing": {"a": {}, "b": {}}}
    story = Story([requirement], parts=parts)
    for number, part in ((1, "a"), (2, "b")):
        story.rec(f"P{number}", finding=True, part=part, claim={"photo": "p.jpg"}, files=PICTURE)
    assert "picture.twice" in unused(story)
    story = Story([requirement], parts=parts)
    for number, part in ((1, "a"), (2, "b")):
        claim = {"photo": "p.jpg", "shared": "both are in the frame"}
        story.rec(f"P{number}", finding=True, part=part, claim=claim, files=PICTURE)
    assert "picture.twice" not in unused(story)


def test_the_same_readings_for_two_parts_need_a_reason() -> None:
    story = Story([one_leaf(each={"part": "thing"})], parts={"thing": {"a": {}, "b": {}}})
    readings = {"readings": {"value": "600 V", "other": "1 V"}}
    story.rec("P1", part="a", record=readings).rec("P2", part="b", record=readings)
    assert "readings.twice" in unused(story)


def test_evidence_and_facts_that_nothing_uses_are_listed() -> None:
    story = Story([one_leaf(each={"part": "thing"})], parts={"thing": {"a": {}}}, facts={"colour": "red"})
    story.rec("P1", part="z").unused_files = (
        "evidence/vehicles/van/photos/x.jpg",
        "evidence/vehicles/other/photos/y.jpg",
    )
    found = story.assess().unused
    assert {u.code for u in found} == {"record.unused", "fact.unused", "file.unused"}
    assert [u.path for u in found if u.code == "file.unused"] == ["evidence/vehicles/van/photos/x.jpg"]


def test_a_record_of_one_part_does_not_show_the_vehicle() -> None:
    assert Story().rec("P1", part="a").codes() == {"part.not-asked"}
    assert Story().rec("F1", part="a").state() is N
