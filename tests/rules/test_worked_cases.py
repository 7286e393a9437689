"""Every worked case of the assessment model, through the concrete layer.

The cases are ours (there is no standard for them): digits are days; P, U, F the verdict; `names` the fails that a
record names as its retest.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from witnessmark.assessment.model import State
from witnessmark.records.world import Held

from .world import NA, C, K, L, N, S, Story, U, one_leaf, paper_leaf

PHOTO = {"photo.jpg": "picture"}


def base() -> Story:
    return Story()


def water() -> Story:
    requirement = paper_leaf(
        "level", {"papers": {"document": "papers"}, "wade": {"trial": "wade test"}}, {"any": ["papers", "wade"]}
    )
    return Story([requirement])


def papers(story: Story) -> Story:
    return story.rec("P1", leaf="level/papers", finding=True, claim={"file": "p.pdf"}, files={"p.pdf": "paper"})


def wade(story: Story, label: str) -> Story:
    return story.rec(label, leaf="level/wade", finding=True)


def where_applies(**facts: str) -> Story:
    return Story([one_leaf(applies={"charged": ["yes"]})], facts=facts)


def two_parts() -> Story:
    return Story([one_leaf(each={"part": "thing"})], parts={"thing": {"a": {}, "b": {}}}).rec("P1", part="a")


def one_part() -> Story:
    return Story([one_leaf(each={"part": "thing"})], parts={"thing": {"a": {}}})


JOINED = paper_leaf(
    "level",
    {
        "iso": {"measure": "level", "criteria": {"full": {"at_least": "500 V"}, "reduced": {"at_least": "100 V"}}},
        "ac": {"inspect": "every AC bus protected"},
        "set-up": {"photograph": "meter and poles"},
    },
    {"all": ["set-up", {"any": ["iso/full", {"all": ["iso/reduced", "ac"]}]}]},
)


def joined() -> Story:
    return Story([JOINED]).rec("P1", leaf="level/set-up", finding=True, claim={"photo": "photo.jpg"}, files=PHOTO)


def iso(story: Story, label: str, volts: str, names: tuple[str, ...] = ()) -> Story:
    return story.rec(label, leaf="level/iso", reading=volts, says="P", names=names)


ROUTES = paper_leaf(
    "level",
    {
        "x": {"measure": "level", "criteria": {"a": {"at_least": "500 V"}, "b": {"at_most": "550 V"}}},
        "y": {"measure": "level", "criteria": {"a": {"at_least": "500 V"}, "b": {"at_most": "550 V"}}},
    },
    {"any": [{"all": ["x/a", "y/a"]}, {"all": ["x/b", "y/b"]}]},
)

CASES: list[tuple[str, Callable[[], Story], State]] = [
    ("1: a later fail counts", lambda: base().rec("P1").rec("F2"), N),
    ("1: also when it is spoiled", lambda: base().rec("P1").rec("F2").hold("F2", Held.EDITED), N),
    ("1: also when it is deleted", lambda: base().rec("P1").rec("F2").delete("F2"), N),
    ("1: also when it is not committed", lambda: base().rec("P1").rec("F2", commit=False), N),
    ("2: a draft counts for nothing", lambda: base().rec("P1").rec("F2", seal=False), C),
    ("3: a pass that names nothing ends nothing", lambda: base().rec("P1").rec("F2").rec("P3"), N),
    ("3: naming ends it", lambda: base().rec("P1").rec("F2").rec("P3", names=["F2"]), C),
    ("3: in the same minute too", lambda: base().rec("P1").rec("F2").rec("P3", at=2, names=["F2"]), C),
    (
        "4: only a sound retest ends a fail",
        lambda: base().rec("F1").rec("P2", names=["F1"], files=PHOTO).rec("P3").lose_files("P2"),
        N,
    ),
    (
        "4: put back",
        lambda: base().rec("F1").rec("P2", names=["F1"], files=PHOTO).rec("P3").lose_files("P2").keep_files("P2"),
        C,
    ),
    (
        "5: the fail stays ended, the pass is out of date",
        lambda: one_part().rec("F1", part="a").rec("P2", part="a", names=["F1"]).event("E", "opened", "a", at=3),
        L,
    ),
    (
        "5: then tested again",
        lambda: (
            one_part()
            .rec("F1", part="a")
            .rec("P2", part="a", names=["F1"])
            .event("E", "opened", "a", at=3)
            .rec("P4", part="a")
        ),
        C,
    ),
    (
        "6: the retest was never good",
        lambda: (
            base()
            .rec("F1")
            .rec("P2", names=["F1"])
            .calibration("bad", "m1", on=3, found="out-of-tolerance")
            .rec("P4", meter="m2")
        ),
        N,
    ),
    (
        "6: the later pass corrected to name the fail",
        lambda: (
            base()
            .rec("F1")
            .rec("P2", names=["F1"])
            .calibration("bad", "m1", on=3, found="out-of-tolerance")
            .rec("P4", meter="m2")
            .rec("P5", at=4, meter="m2", corrects="P4", names=["F1"], sealed=5)
        ),
        C,
    ),
    ("7: no older pass comes back", lambda: base().rec("P1").rec("F2").withdraw("W", "F2", at=3, because="moved"), S),
    (
        "7: one test mends it",
        lambda: base().rec("P1").rec("F2").withdraw("W", "F2", at=3, because="moved").rec("P4"),
        C,
    ),
    (
        "8: a pass newer than the blank",
        lambda: base().rec("P1").rec("F2").rec("P3").withdraw("W", "F2", at=4, because="moved"),
        C,
    ),
    (
        "9: a fail withdrawn by one person stays",
        lambda: base().rec("F1").withdraw("W", "F1", at=2, second=None).rec("P3"),
        N,
    ),
    ("9: a pass withdrawn by one person goes", lambda: base().rec("P1").withdraw("W", "P1", at=2, second=None), S),
    (
        "10: a deleted withdrawal still takes the pass away",
        lambda: base().rec("P1").withdraw("W", "P1", at=2).delete("W"),
        S,
    ),
    ("11: a sheet of an earlier fail entered late", lambda: base().rec("P2").rec("F1", sealed=3), N),
    (
        "11: the pass corrected to name it",
        lambda: base().rec("P2").rec("F1", sealed=3).rec("P4", at=2, corrects="P2", names=["F1"], sealed=4),
        C,
    ),
    ("12: a typing error corrected", lambda: base().rec("F1").rec("P2", at=1, corrects="F1", sealed=2), C),
    (
        "12: the correction not committed",
        lambda: base().rec("F1").rec("P2", at=1, corrects="F1", sealed=2, commit=False),
        N,
    ),
    (
        "13: a correction never stands earlier",
        lambda: base().rec("P2").rec("U3").rec("U4", at=1, corrects="U3", sealed=4),
        U,
    ),
    ("14: worst of ties", lambda: base().rec("P1").rec("U2", at=1), U),
    ("15: the newest governs and does not count yet", lambda: base().rec("P1").rec("P2", commit=False), S),
    ("16: dated next year", lambda: base().rec("P1", at=400, sealed=10), S),
    (
        "16: withdrawn and tested again",
        lambda: base().rec("P1", at=400, sealed=10).withdraw("W", "P1", at=11).rec("P12"),
        C,
    ),
    ("17: a blank stays where it was", lambda: base().rec("P2").rec("U3").withdraw("W", "U3", at=1, sealed=4), S),
    ("18: papers pass, the wade test fails", lambda: wade(papers(water()), "F2"), N),
    ("18: the fail conceded", lambda: wade(papers(water()), "F2").concession("K", at=10, leaf="wade"), K),
    ("18: set aside by two", lambda: wade(papers(water()), "F2").withdraw("W", "F2", at=3, because="set-aside"), C),
    ("19: a lapse blocks nothing", lambda: wade(papers(water()), "P2").hold("P2", Held.EDITED), C),
    ("20: no later fail under a concession", lambda: base().concession("K", at=10).rec("F20"), N),
    ("21: not stated, with a pass", lambda: where_applies().rec("P1"), S),
    ("21: not stated, with a fail", lambda: where_applies().rec("F1"), N),
    ("21: stated as not applying", lambda: where_applies(charged="no").rec("F1"), NA),
    ("22: only one of two tested", two_parts, S),
    ("22: the other removed", lambda: two_parts().event("E", "removed", "b", at=2), C),
    ("22: the removal not committed", lambda: two_parts().event("E", "removed", "b", at=2, commit=False), S),
    ("23: an event for the wrong vehicle", lambda: one_part().rec("P1", part="a").event("E", "opened", "a", at=2), L),
    (
        "23: withdrawn",
        lambda: one_part().rec("P1", part="a").event("E", "opened", "a", at=2).withdraw("W", "E", at=3),
        C,
    ),
    (
        "24: deleted after it lapsed",
        lambda: one_part().rec("P1", part="a").event("E", "opened", "a", at=2).delete("E"),
        L,
    ),
    (
        "25: 50, then 300 naming it, not inspected",
        lambda: iso(iso(joined(), "F1", "50 V ± 1 V (k=2)"), "P2", "300 V ± 10 V (k=2)", ("F1",)),
        S,
    ),
    (
        "25: 600, then 300, not inspected",
        lambda: iso(iso(joined(), "P2", "600 V ± 10 V (k=2)"), "P3", "300 V ± 10 V (k=2)"),
        S,
    ),
    (
        "26: together they meet no combination",
        lambda: (
            Story([ROUTES])
            .rec("P1", leaf="level/x", reading="400 V ± 1 V (k=2)")
            .rec("P2", leaf="level/y", reading="600 V ± 1 V (k=2)")
        ),
        N,
    ),
    ("27: edited and committed", lambda: base().rec("P1").hold("P1", Held.EDITED), L),
    ("27: put back and committed", lambda: base().rec("P1").hold("P1", Held.EDITED).hold("P1", Held.UNCHANGED), C),
]


@pytest.mark.parametrize(("story", "expected"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_worked_case(story: Callable[[], Story], expected: State) -> None:
    assert story().state() is expected


def test_every_case_of_the_table_is_here() -> None:
    assert {int(name.split(":")[0]) for name, _, _ in CASES} == set(range(1, 28))


def test_drafts_are_listed() -> None:
    unused = base().rec("P1").rec("F2", seal=False).assess().unused
    assert "act.draft" in {u.code for u in unused}


def test_the_gap_names_the_part_that_is_missing() -> None:
    (gap,) = two_parts().requirement().gaps
    assert (gap.part, gap.code) == ("b", "leaf.no-record")
    assert gap.message == "1 of 2 are shown. There is no record for B."


def test_joint_closure_names_both_records() -> None:
    (gap,) = CASES[[c[0] for c in CASES].index("26: together they meet no combination")][1]().requirement().gaps
    assert gap.code == "requirement.joint-closure"
    assert len(gap.records) == 2


# The joined bus: isolation in volts here, full at 500, reduced at 100; the set-up is shown.
VOLTS = {
    "600": "600 V ± 10 V (k=2)",
    "300": "300 V ± 10 V (k=2)",
    "480": "480 V ± 30 V (k=2)",
    "102": "102 V ± 5 V (k=2)",
    "50": "50 V ± 1 V (k=2)",
}
BUSES = ("meets", "not inspected", "does not meet", "lapsed", "set aside")
JOINED_BUS = {
    "600": (C, C, N, C, C),
    "300": (C, S, N, L, S),
    "480": (C, U, N, U, U),
    "102": (U, S, N, L, S),
    "50": (N, N, N, N, N),
    "no record": (S, S, N, S, S),
}


@pytest.mark.parametrize("buses", BUSES)
@pytest.mark.parametrize("isolation", JOINED_BUS)
def test_joined_bus(isolation: str, buses: str) -> None:
    story = joined()
    if isolation in VOLTS:
        iso(story, "P2", VOLTS[isolation])
    if buses != "not inspected":
        label = "F3" if buses in ("does not meet", "set aside") else "P3"
        story.rec(label, leaf="level/ac", finding=True)
        if buses == "lapsed":
            story.hold("P3", Held.EDITED)
        if buses == "set aside":
            story.withdraw("W", "F3", at=4, because="set-aside")
    assert story.state() is JOINED_BUS[isolation][BUSES.index(buses)]
