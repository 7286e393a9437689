"""Rule 5: what is sealed is append-only; what is not sound can hurt, but cannot help; drafts count for nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from witnessmark.records.world import Held

from .world import C, L, N, S, Story, code_of, one_leaf

SPOILED = [h for h in Held if h is not Held.UNCHANGED]


@pytest.mark.parametrize("held", SPOILED)
def test_a_record_that_the_tree_does_not_hold_as_sealed(held: Held) -> None:
    story = Story().rec("P1").hold("P1", held)
    assert story.state() is L
    assert f"act.{held.value}" in story.codes()
    assert story.hold("P1", Held.UNCHANGED).state() is C


def test_not_committed_is_not_sound() -> None:
    story = Story().rec("P1", commit=False)
    assert (story.state(), story.codes()) == (S, {"act.not-committed"})
    assert story.commit("P1").state() is C


def test_a_seal_that_does_not_fit_its_text() -> None:
    story = Story().rec("P1")
    story.acts[-1] = replace(story.acts[-1], seal_holds=False)
    assert story.state() is S


def test_two_texts_under_one_code_count_where_they_hurt() -> None:
    story = Story().rec("P1").rec("F2")
    other = story.acts[-1]
    story.acts[-2] = replace(story.acts[-2], clash=True)
    story.acts[-1] = replace(other, code=story.acts[-2].code, clash=True)
    assert story.state() is N
    story.withdraw("W", "P1", at=5).rec("P6")
    assert story.state() is C


def test_drafts_count_for_nothing_and_are_listed() -> None:
    story = Story().rec("F1", seal=False)
    assert story.state() is S
    assert [u.code for u in story.assess().unused] == ["act.draft"]


# Section 6 of the model: each sort of act, spoiled, never improves; where it was used it is at best lapsed.
EACH = one_leaf(each={"part": "thing"})


def used() -> Story:
    """A story in which every sort of act is at work, and the requirement conforms."""
    story = Story([EACH], parts={"thing": {"a": {"serial": "a1"}, "b": {}}}, facts={"charged": "yes"})
    story.rec("F1", part="a").rec("P2", part="a", names=["F1"], files={"photos/p.jpg": "p"})
    story.rec("F3", part="a", reading="401 V ± 1 V (k=2)").withdraw("W", "F3", at=4).rec(
        "P5", part="a", files={"log.csv": "l"}
    )
    story.event("E", "opened", "a", at=6).carry("Y", "P5", at=7, event="E")
    story.rec("F8", part="a").rec("P9", at=8, part="a", corrects="F8", sealed=9)
    return story.event("R", "removed", "b", at=10)


def test_the_story_with_every_sort_conforms() -> None:
    assert used().state() is C


@pytest.mark.parametrize("held", [Held.MISSING, Held.EDITED])
@pytest.mark.parametrize(
    ("label", "state"),
    [
        ("F1", C),  # an ended fail: its retest stands, and its text is known
        ("P2", N),
        ("F3", C),
        ("W", N),
        ("P5", C),  # older than the correction that governs
        ("P9", N),
        ("F8", C),
        ("E", C),  # it does not reach what was done later
        ("R", S),
        ("facts", N),  # the VIN is in it: no retest can be told to be of this vehicle
        ("parts-thing", N),  # the serials are in it
        ("cal-m1", N),  # the retest is no longer sound, so the fail is back
        ("auth-ann", N),
        ("policy", N),
        ("edition", N),
    ],
)
def test_each_sort_of_act_spoiled(label: str, state: object, held: Held) -> None:
    assert used().hold(label, held).state() is state


def test_a_carry_over_spoiled_lapses_its_record_again() -> None:
    story = Story([EACH], parts={"thing": {"a": {}}}).rec("P1", part="a").event("E", "opened", "a", at=2)
    assert story.state() is L
    assert story.carry("Y", "P1", at=3, event="E").state() is C
    assert story.hold("Y", Held.EDITED).state() is L


def test_an_attachment_changed_or_gone() -> None:
    story = Story().rec("P1", files={"photos/p.jpg": "p"})
    assert story.lose_files("P1").state() is L
    assert story.lose_files("P1", "0" * 64).state() is L
    assert story.keep_files("P1").state() is C
    assert Story().rec("F1", files={"log.csv": "l"}).lose_files("F1").state() is N


ADDED: list[tuple[str, Callable[[Story], Story]]] = [
    ("a pass that names all", lambda s: s.rec("P50", part="a", names=["F1", "F3", "F8"], commit=False)),
    ("a correction", lambda s: s.rec("P50", part="a", corrects="F1", commit=False)),
    ("a withdrawal", lambda s: s.withdraw("W50", "F1", at=50, commit=False)),
    ("a removed event", lambda s: s.event("R50", "removed", "a", at=50, commit=False)),
    ("a fact", lambda s: s.state_facts("X50", {"charged": "no"}, at=50, commit=False)),
    ("an empty list", lambda s: s.list_parts("X50", "thing", {}, at=50, commit=False)),
    (
        "a correction of the list",
        lambda s: s.list_parts("X50", "thing", {}, at=50, corrects="parts-thing", commit=False),
    ),
    ("a concession", lambda s: s.concession("K50", at=50, commit=False)),
]


@pytest.mark.parametrize("add", [a[1] for a in ADDED], ids=[a[0] for a in ADDED])
def test_what_is_sealed_but_not_committed_never_helps(add: Callable[[Story], Story]) -> None:
    story = Story([EACH], parts={"thing": {"a": {}}}, facts={"charged": "yes"})
    story.rec("F1", part="a").rec("F3", part="a").rec("F8", part="a")
    assert add(story).state() is N


def test_code_of_is_a_code() -> None:
    assert len(code_of("P1")) == 6
