"""Rule 3: the newest record governs, valid or not; an older pass never comes back; ties take the worst."""

from __future__ import annotations

from dataclasses import replace

from witnessmark.records.world import Held

from .world import C, L, S, Story, U, code_of, one_leaf


def test_newest_by_instant_performed_whatever_the_order_of_sealing() -> None:
    assert Story().rec("U2").rec("P1", sealed=5).state() is U
    assert Story().rec("P3").rec("U2", sealed=5).state() is C


def test_an_instant_is_the_same_in_any_zone() -> None:
    story = Story().rec("P1").rec("U2")
    act = story.acts[-1]
    assert story.state() is U
    # 14:00+02:00 is noon UTC.
    later = Story().rec("U1", record={"performed": "2026-01-02T14:00+02:00"}, sealed=2).rec("P1", at=1.01)
    assert later.state() is C
    assert act.appeared is not None


def test_lapsed_when_it_counted_once_not_shown_when_it_never_did() -> None:
    assert Story().rec("P1").rec("P2").hold("P2", Held.EDITED).state() is L
    assert Story().rec("P1").rec("P2").uncommit("P2").state() is S


def test_all_earlier_results_stay_in_sight() -> None:
    leaf = Story().rec("P1").rec("U2").rec("P3").requirement().parts[0].leaves[0]
    assert [r.act.code for r in leaf.records] == [code_of("P1"), code_of("U2"), code_of("P3")]
    assert leaf.governs == (code_of("P3"),)


def test_order_of_files_and_names_does_not_matter() -> None:
    story = Story().rec("P1").rec("U2").rec("U3", at=2)
    before = story.assess().requirements
    story.acts = [replace(a) for a in reversed(story.acts)]
    assert story.assess().requirements == before


def test_parts_have_chains_of_their_own() -> None:
    story = Story([one_leaf(each={"part": "thing"})], parts={"thing": {"a": {}, "b": {}}})
    story.rec("U1", part="a").rec("P2", part="b")
    states = {p.part: p.state for p in story.requirement().parts}
    assert states == {"a": U, "b": C}


def test_a_design_has_a_chain_per_revision() -> None:
    requirement = one_leaf(about="design", each={"part": "pack"})
    story = Story([requirement], parts={"pack": {"p": {"serial": "0421", "design": "pack/B"}}})
    story.revision("rev-a", "pack", "A", at=-30).revision("rev-b", "pack", "B", at=-20)
    assert story.rec("F1", design="pack/A").state() is S
    assert story.rec("P2", design="pack/B").state() is C
    # A record of a design counts for every part that is built to it, whatever happens to the part.
    assert story.event("E", "opened", "p", at=3).state() is C
    replaced = {"fitted": {"serial": "0500", "design": "pack/C"}, "removed": {"serial": "0421"}}
    assert story.event("E2", "replaced", "p", at=4, tree=replaced).state() is S


def test_a_design_without_its_revision_shows_nothing() -> None:
    requirement = one_leaf(about="design", each={"part": "pack"})
    story = Story([requirement], parts={"pack": {"p": {"design": "pack/B"}}}).rec("P1", design="pack/B")
    assert (story.state(), story.codes()) == (S, {"design.unknown"})
    assert story.revision("rev-b", "pack", "B", at=5).state() is C
    assert story.hold("rev-b", Held.MISSING).state() is L


def test_a_part_whose_design_is_not_stated_is_a_gap() -> None:
    story = Story([one_leaf(about="design", each={"part": "pack"})], parts={"pack": {"p": {}}})
    assert "part.design" in story.codes()


def test_a_workshop_requirement_takes_records_of_the_workshop() -> None:
    story = Story([one_leaf(about="workshop")])
    assert story.rec("P1").state() is S
    assert story.rec("P2", vehicle=False).state() is C


def test_a_record_belongs_to_the_vehicle_in_its_seal() -> None:
    assert Story().rec("P1", vehicle="other").state() is S
    assert Story().rec("P1").hold("P1", Held.MISPLACED).state() is L
