"""Rule 6: sound (A1 to A7) and current (B1, B2), one test for each cause that `soundness` and its neighbours give."""

from __future__ import annotations

from typing import Any

import pytest

from witnessmark.records.world import Held

from .world import C, L, N, S, Story, one_leaf, paper_leaf

EACH = one_leaf(each={"part": "thing"})


def part_story(**entry: str) -> Story:
    return Story([EACH], parts={"thing": {"a": entry}})


# A3: in order.


def test_times_in_order() -> None:
    assert Story().rec("P5", sealed=4).codes() == {"time.order"}
    story = Story().rec("P1", sealed=200)
    assert story.codes() == {"time.ahead"}
    story.as_of = 201
    assert story.state() is C


def test_unknown_until_as_of_but_a_fail_hurts() -> None:
    assert Story().rec("P1").rec("F150").state() is N


# A4: vehicle, VIN, members as built when performed.


def test_vin_of_the_seal_is_the_vehicles() -> None:
    story = Story().rec("P1", vin="OTHERVIN000000001")
    assert (story.state(), story.codes()) == (S, {"vehicle.vin"})
    assert Story().rec("F1", vin="OTHERVIN000000001").state() is N


def test_serial_of_the_part_is_the_one_built_in_then() -> None:
    story = part_story(serial="a1").rec("P1", part="a")
    assert story.state() is C
    replaced = {"removed": {"serial": "a1"}, "fitted": {"serial": "a2"}}
    story.event("E", "replaced", "a", at=2, tree=replaced)
    assert story.codes() == {"event.replaced"}
    assert story.state() is L
    # A sheet of day 3 that still names the old serial is not about what was there.
    assert "part.serial" in story.rec("P3", part="a", members={"a": "a1"}).codes()
    assert story.rec("P4", part="a").state() is C


def test_serial_before_the_first_event_is_what_it_took_out() -> None:
    story = part_story(serial="a2")
    story.event("E", "replaced", "a", at=-20, tree={"removed": {"serial": "a1"}, "fitted": {"serial": "a2"}})
    assert story.rec("P1", at=-30, part="a", members={"a": "a2"}, sealed=-8).state() is L
    assert "part.serial" in {c.code for c in story.requirement().parts[0].leaves[0].causes}


def test_members_within_and_named_count() -> None:
    parts: dict[str, dict[str, Any]] = {
        "thing": {"bus": {"members": ["inverter"]}},
        "other": {"inverter": {}, "fan": {"within": "inverter"}, "door": {}},
    }
    story = Story([one_leaf(each={"part": "thing"})], parts=parts).rec("P1", part="bus")
    assert story.event("E1", "opened", "door", at=2).state() is C
    assert story.event("E2", "opened", "fan", at=3).state() is L


def test_the_vehicle_as_a_whole_rests_on_every_part_but_is_not_hurt_by_opening_one() -> None:
    story = Story(parts={"thing": {"a": {"serial": "a1"}}}).rec("P1")
    assert story.event("E", "opened", "a", at=2).state() is C
    assert story.event("E2", "changed", "a", at=3).state() is L
    assert Story().rec("P1").event("E", "opened", "vehicle", at=2).state() is L


def test_a_paper_about_the_vehicle_outlives_a_replaced_part() -> None:
    paper = paper_leaf("level", {"d": {"document": "certificate"}}, "d")
    story = Story([paper], parts={"thing": {"a": {}}})
    story.rec("P1", leaf="level/d", finding=True, claim={"file": "c.pdf"}, files={"c.pdf": "c"})
    assert story.event("E", "changed", "a", at=2).state() is C


# A5: instruments.


def test_no_calibration_overdue_unknown_missing() -> None:
    story = Story()
    story.acts = [a for a in story.acts if "cal-m2" not in a.path]
    assert story.rec("P1", meter="m2").codes() == {"instrument.not-calibrated"}
    overdue = Story().calibration("cal-3", "m1", on=-5, due=0)
    assert overdue.rec("P1").codes() == {"instrument.overdue"}
    assert "instrument.unknown" in Story().rec("P1", meter="m9").codes()
    assert "instrument.missing" in Story().rec("P1", record={"instruments": {}}).codes()


def test_one_overdue_meter_is_one_job() -> None:
    story = Story([EACH], parts={"thing": {"a": {}, "b": {}}}).calibration("cal-3", "m1", on=-5, due=0)
    story.rec("P1", part="a").rec("P2", part="b")
    (group,) = story.assess().jobs
    ((gap, hit),) = group.entries
    assert (gap.key, hit) == ("instrument:m1", ("level",))
    # What has to be done stands there for both parts, and what is wrong once for each day.
    assert "Measure (A)" in gap.remedy
    assert "Measure (B)" in gap.remedy
    assert gap.remedy.count("have m1 calibrated") == 1
    assert len(gap.records) == 2


def test_found_out_of_tolerance_next_time() -> None:
    story = Story().rec("P1").calibration("bad", "m1", on=20, found="out-of-tolerance")
    assert (story.state(), story.codes()) == (L, {"instrument.found-out-of-tolerance"})
    assert (
        Story()
        .rec("P1")
        .calibration("ok", "m1", on=20)
        .calibration("bad", "m1", on=30, found="out-of-tolerance")
        .state()
        is C
    )


def test_a_good_calibration_that_is_not_sound_shields_nothing() -> None:
    story = Story().rec("P1").calibration("ok", "m1", on=20, commit=False)
    assert story.calibration("bad", "m1", on=30, found="out-of-tolerance").state() is L


def test_a_bad_calibration_that_is_not_committed_hurts() -> None:
    assert Story().rec("P1").calibration("bad", "m1", on=20, found="out-of-tolerance", commit=False).state() is L


def test_calibration_not_sound() -> None:
    story = Story().rec("P1").hold("cal-m1", Held.EDITED)
    assert (story.state(), story.codes()) == (L, {"instrument.calibration-not-sound"})
    assert Story().rec("P1").uncommit("cal-m1").state() is S


def test_not_good_enough_for_the_method() -> None:
    story = Story().calibration("weak", "m1", on=-5, traits={"input_resistance": "1 MΩ"})
    assert story.rec("P1").codes() == {"instrument.not-good-enough"}


def test_outside_the_calibrated_range() -> None:
    assert Story().rec("P1", reading="1200 V ± 1 V (k=2)").codes() == {"instrument.range"}


# A6: people, conditions.


def test_tester_not_authorised_then() -> None:
    story = Story().authorisation("auth-ext", "ext", since=10, until=20)
    assert story.rec("P5", tester="ext").codes() == {"person.not-authorised"}
    assert story.rec("P15", tester="ext").state() is C
    assert "person.not-authorised" in story.rec("P25", tester="ext").codes()


def test_authorised_for_the_kind_of_work_or_the_method() -> None:
    for work, good in ((["measure"], True), (["steady"], True), (["inspect"], False), (["all"], True)):
        story = Story().authorisation("auth-ext", "ext", work=work)
        assert (story.rec("P5", tester="ext").state() is C) is good


def test_authorisation_no_longer_sound() -> None:
    assert Story().rec("P1").hold("auth-ann", Held.EDITED).state() is L
    assert Story().rec("P1").uncommit("auth-ann").state() is S


def test_a_second_person_where_one_is_needed() -> None:
    two = paper_leaf("level", {"x": {"inspect": "it", "second_person": "yes"}}, "x")
    assert "person.second" in Story([two]).rec("P1", finding=True).codes()
    assert Story([two]).rec("P1", finding=True, record={"by": {"tester": "ann", "witness": "ext"}}).state() is C
    assert (
        "act.person" in Story([two]).rec("P1", finding=True, record={"by": {"tester": "ann", "witness": "no"}}).codes()
    )


def test_conditions_of_the_leaf() -> None:
    live = paper_leaf("level", {"x": {"inspect": "it", "conditions": {"contactors": "closed"}}}, "x")
    assert Story([live]).rec("P1", finding=True).codes() == {"condition.not-stated"}
    assert Story([live]).rec("P1", finding=True, record={"conditions": {"contactors": "opened"}}).codes() == {
        "condition.not-met"
    }
    assert Story([live]).rec("P1", finding=True, record={"conditions": {"contactors": "closed"}}).state() is C


def test_a_condition_that_the_method_reads_is_taken_from_the_reading() -> None:
    """½ · 1 µF · (300 V)² = 0.045 J: by either form less than 0.2 J, and only the newer form is asked for."""
    leaf = {
        "measure": "energy-largest",
        "criteria": {"limit": {"less_than": "0.2 J"}},
        "conditions": {"form": "newer"},
    }
    pairs = {"cx": "1 µF ± 0.01 µF (k=2)", "cy1": "0.1 µF ± 0.01 µF (k=2)", "cy2": "0.1 µF ± 0.01 µF (k=2)"}
    readings = {**pairs, "ub": "300 V", "u1": "150 V", "u2": "150 V"}

    def story(read: str, /, **said: str) -> Story:
        record = {"method": "capacitor-energy/1", "readings": {**readings, "form": read}, "conditions": said}
        return Story([one_leaf(leaves={"x": leaf})]).rec("P1", record={**record, "instruments": {"voltmeter": "m1"}})

    assert story("newer").state() is C
    assert story("older").codes() == {"condition.not-met"}
    assert story("older", form="newer").codes() == {"condition.not-met"}
    assert story("newer", form="older").codes() == {"condition.not-met"}
    assert story("newer", form="newer").state() is C


def test_long_enough_after_another_leaf() -> None:
    leaves = {"wade": {"trial": "wade"}, "x": {"inspect": "again", "after": {"leaf": "wade", "wait": "24 h"}}}
    later = paper_leaf("level", leaves, {"all": ["wade", "x"]})
    story = Story([later])
    assert story.rec("P1", finding=True).codes() == {"after.missing", "leaf.no-record"}
    story.rec("P5", leaf="level/wade", finding=True)
    assert story.rec("P5.9", finding=True).codes() == {"after.too-early"}
    assert story.rec("P6", finding=True).state() is C
    assert story.rec("P7", leaf="level/wade", finding=True).state() is S


def test_a_wait_that_is_no_time() -> None:
    leaves = {"wade": {"trial": "wade"}, "x": {"inspect": "again", "after": {"leaf": "wade", "wait": "24 V"}}}
    assert "after.wait" in Story([paper_leaf("level", leaves, {"all": ["wade", "x"]})]).rec("P1", finding=True).codes()


def test_a_log_that_was_not_hashed() -> None:
    story = Story().rec("P1", record={"log": {"file": "logs/a.csv", "channels": {"v": "U"}}})
    assert story.codes() == {"file.not-hashed"}


# A7 stands in rule 4. B1, B2.


@pytest.mark.parametrize("kind", ["opened", "changed", "software"])
@pytest.mark.parametrize(("at", "lapsed"), [(0.9, False), (1, True), (2, True)])
def test_events_at_or_after_lapse(kind: str, at: float, lapsed: bool) -> None:
    story = part_story().rec("P1", part="a").event("E", kind, "a", at=at)
    assert story.state() is (L if lapsed else C)


def test_an_event_hurts_although_it_is_not_sound() -> None:
    assert part_story().rec("P1", part="a").event("E", "opened", "a", at=2, commit=False).state() is L


def test_a_carry_over_names_record_and_event_with_a_second_person() -> None:
    story = part_story().rec("P1", part="a").event("E", "opened", "a", at=2).event("E2", "changed", "a", at=3)
    assert story.carry("Y", "P1", at=4, event="E").state() is L
    assert story.carry("Y2", "P1", at=4, event="E2").state() is C
    alone = part_story().rec("P1", part="a").event("E", "opened", "a", at=2)
    assert alone.carry("Y", "P1", at=4, event="E", second=None).state() is L


def test_a_new_edition_a_changed_leaf_a_changed_rule() -> None:
    story = Story().rec("P1")
    story.edition("edition-2", at=5, name="2")
    assert (story.state(), story.codes()) == (L, {"against.changed"})
    story = Story().rec("P1").put_set("set", [one_leaf(title="Level, said better")])
    assert story.edition("edition-2", at=5).state() is C
    tighter = one_leaf(leaves={"x": {"measure": "level", "criteria": {"c": {"at_least": "550 V"}}}})
    story = Story().rec("P1").put_set("set", [tighter])
    assert story.edition("edition-2", at=5).state() is L
    assert story.carry("Y", "P1", at=6, against=story.against_now("P1")).state() is C


def test_a_carry_over_does_not_end_a_fail_of_the_seal() -> None:
    looser = one_leaf(leaves={"x": {"measure": "level", "criteria": {"c": {"at_least": "300 V"}}}})
    story = Story().rec("F1").put_set("set", [looser])
    story.edition("edition-2", at=5).carry("Y", "F1", at=6, against=story.against_now("F1"))
    assert story.state() is N


def test_a_log_counts_only_with_the_design_revision_that_names_its_channels() -> None:
    log = {"file": "a.csv", "channels": {"time": "clock"}, "design": "pack/B"}
    assert "design.unknown" in Story().rec("P1", record={"log": log}, files={"a.csv": "x"}).codes()
    without = Story().rec("P1", record={"log": {**log, "design": None}}, files={"a.csv": "x"})
    assert without.state() is C
