"""Rule 4: a fail counts at once, valid or not, and stays until a sound act ends it."""

from __future__ import annotations

import pytest

from witnessmark.records.world import Held

from .world import C, L, N, S, Story, U, code_of, one_leaf


@pytest.mark.parametrize("held", [h for h in Held if h is not Held.UNCHANGED])
def test_a_fail_counts_whatever_happens_to_its_file(held: Held) -> None:
    assert Story().rec("F1").hold("F1", held).state() is N


def test_a_fail_counts_although_its_meter_was_overdue_and_its_tester_not_authorised() -> None:
    story = Story().calibration("cal-2", "m1", on=-5, due=0)
    assert story.rec("F1").state() is N
    assert Story().rec("F1", tester="ext").state() is N


def test_the_gap_of_a_fail_names_the_record() -> None:
    (gap,) = Story().rec("F1").requirement().gaps
    assert gap.code == "leaf.fails"
    assert gap.records == (code_of("F1"),)
    assert code_of("F1") in gap.remedy


def test_every_open_fail_has_to_be_named() -> None:
    story = Story().rec("F1").rec("F2")
    assert story.rec("P3", names=["F2"]).state() is N
    assert story.rec("P4", names=["F1"]).state() is C


def test_a_retest_performed_earlier_ends_nothing() -> None:
    story = Story().rec("F3").rec("P2", names=["F3"], sealed=4)
    assert story.state() is N
    assert story.rec("P5").state() is N


def test_a_retest_that_does_not_pass_ends_nothing() -> None:
    assert Story().rec("F1").rec("U2", names=["F1"]).state() is N


def test_an_uncommitted_retest_ends_nothing() -> None:
    assert Story().rec("F1").rec("P2", names=["F1"], commit=False).state() is N


def test_a_retest_cannot_name_what_was_not_in_history() -> None:
    story = Story().rec("F1", commit=False).rec("P2", names=["F1"])
    assert story.state() is N
    assert story.commit("F1").state() is N


def test_a_retest_withdrawn_wakes_the_fail() -> None:
    assert Story().rec("F1").rec("P2", names=["F1"]).withdraw("W", "P2", at=3).state() is N


def test_a_withdrawal_of_one_person_a_stranger_or_without_reason_ends_nothing() -> None:
    assert Story().rec("F1").withdraw("W", "F1", at=2, second="ann").rec("P3").state() is N
    assert Story().rec("F1").withdraw("W", "F1", at=2, second="nobody").rec("P3").state() is N
    assert Story().rec("F1").withdraw("W", "F1", at=2, second="ext").rec("P3").state() is C


def _alone() -> Story:
    """A fail withdrawn by one person, with the reason; the second one has not looked yet."""
    return Story().rec("F1").withdraw("W", "F1", at=2, second=None)


def test_a_second_person_may_check_in_an_act_of_their_own() -> None:
    assert _alone().rec("P4").state() is N
    assert _alone().check("K", "W", at=3).rec("P4").state() is C
    assert _alone().check("K", "W", at=3, who="ext").rec("P4").state() is C, "somebody from outside"


@pytest.mark.parametrize("who", ["ann", "nobody"])
def test_who_made_it_or_is_not_known_is_no_second_person(who: str) -> None:
    assert _alone().check("K", "W", at=3, who=who).rec("P4").state() is N


def test_a_check_that_is_not_sound_helps_nothing() -> None:
    assert _alone().check("K", "W", at=3).uncommit("K").rec("P4").state() is N
    assert _alone().check("K", "W", at=3).hold("K", Held.EDITED).rec("P4").state() is N
    assert _alone().check("K", "W", at=3).withdraw("W2", "K", at=4).rec("P5").state() is N
    early = Story().rec("F1").check("K", "W", at=2).withdraw("W", "F1", at=3, second=None)
    assert early.rec("P4").state() is N, "nobody checks what is not there yet"


def test_who_does_not_agree_takes_away_what_would_help() -> None:
    disputed = Story().rec("F1").withdraw("W", "F1", at=2).check("K", "W", at=3, agrees="no")
    assert disputed.rec("P4").state() is N
    assert Story().rec("P1").check("K", "P1", at=2, agrees="no").state() is S
    # What is not committed may hurt too.
    assert Story().rec("P1").check("K", "P1", at=2, agrees="no").uncommit("K").state() is not C


def test_a_dispute_ends_when_the_check_is_soundly_withdrawn() -> None:
    story = Story().rec("P1").check("K", "P1", at=2, agrees="no")
    assert story.withdraw("W", "K", at=3, second=None).state() is S
    assert story.withdraw("W2", "K", at=4).state() is C


def test_acts_that_check_and_withdraw_each_other_in_a_ring_come_to_an_end() -> None:
    ring = Story().rec("F1").withdraw("W", "K", at=2).check("K", "W", at=3, agrees="no")
    assert ring.state() is N
    both = Story().rec("P1").check("K", "K2", at=2, agrees="no").check("K2", "K", at=3, agrees="no")
    assert both.state() is C, "they dispute each other, and not the record"


def test_a_dispute_of_a_fail_does_not_end_it() -> None:
    assert Story().rec("F1").check("K", "F1", at=2, agrees="no").rec("P3").state() is N


def test_a_withdrawal_is_final() -> None:
    story = Story().rec("P1").withdraw("W", "P1", at=2).withdraw("W2", "W", at=3)
    assert story.state() is S
    assert Story().rec("F1").withdraw("W", "F1", at=2).withdraw("W2", "W", at=3).rec("P4").state() is N


def test_a_correction_of_one_person_or_without_proof_ends_nothing() -> None:
    assert Story().rec("F1").rec("P2", at=1, corrects="F1", second=None, sealed=2).state() is N
    assert Story().rec("F1").rec("P2", at=1, corrects="F1", sealed=2).state() is C


def test_a_correction_that_is_not_sound_itself_ends_nothing() -> None:
    assert Story().rec("F1").rec("P2", at=1, corrects="F1", sealed=2, tester="ext", second="ann").state() is N


def test_a_correction_withdrawn_leaves_the_fail() -> None:
    story = Story().rec("F1").rec("P2", at=1, corrects="F1", sealed=2).withdraw("W", "P2", at=3)
    assert story.state() is N
    assert story.withdraw("W2", "F1", at=4).state() is S
    assert story.rec("P5").state() is C


def test_a_correction_of_another_sort_of_act_helps_nothing() -> None:
    story = Story().rec("F1").state_facts("X", {"vin": "TESTVIN0000000001"}, at=2, corrects="F1")
    assert story.state() is N


def test_a_correction_stands_where_the_corrected_record_stood() -> None:
    assert Story().rec("U3").rec("P4", at=1, corrects="U3", sealed=5).rec("U2", sealed=6).state() is C
    assert Story().rec("F1").rec("U2").rec("P3", at=1, corrects="F1", sealed=4).state() is U


def test_what_changes_afterwards_does_not_wake_an_ended_fail() -> None:
    story = Story([one_leaf(each={"part": "thing"})], parts={"thing": {"a": {}}})
    story.rec("F1", part="a").rec("P2", part="a", names=["F1"]).event("E", "changed", "a", at=3)
    assert story.state() is L
    leaf = story.requirement().parts[0].leaves[0]
    assert [(r.ended, r.withdrawn) for r in leaf.records] == [(True, False), (False, False)]


def test_found_keeps_a_fail_whose_log_is_gone() -> None:
    """The seal says fail; nothing can be computed from readings that no longer parse."""
    story = Story().rec("F1", reading="not a number", found={"level/x/c": "fail"})
    assert story.state() is N


def test_found_is_never_believed_where_it_helps() -> None:
    assert Story().rec("F1", found={"level/x/c": "pass"}).state() is N
    story = Story().rec("P1", reading="not a number", found={"level/x/c": "pass"})
    assert story.state() is S


def test_found_that_is_worse_counts_and_is_a_problem() -> None:
    story = Story().rec("P1", found={"level/x/c": "undecided"})
    assert story.state() is U
    assert "record.found-differs" in {p.code for p in story.assess().problems}
    assert Story().rec("P1", found={"level/x/c": "fail"}).state() is N
