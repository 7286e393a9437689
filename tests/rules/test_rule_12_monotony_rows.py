"""Rule 12: each mutation row of the model, on a requirement with two parts; sampled worlds stand in the properties."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from witnessmark.assessment.model import State
from witnessmark.records.world import Held

from .world import Story, one_leaf, paper_leaf

RANK = {
    State.NOT_APPLICABLE: 0,
    State.CONFORMS: 1,
    State.UNDER_CONCESSION: 2,
    State.UNDECIDED: 3,
    State.NOT_SHOWN: 4,
    State.LAPSED: 4,
    State.NONCONFORMING: 5,
}
EACH = one_leaf(each={"part": "thing"})
PARTS: dict[str, dict[str, Any]] = {"thing": {"a": {"serial": "a1"}, "b": {}}, "door": {"d": {}}}


def start() -> Story:
    return Story([EACH], parts=PARTS, facts={"charged": "yes"})


WORLDS: dict[str, Callable[[], Story]] = {
    "conforms": lambda: start().rec("P1", part="a", files={"p.jpg": "p"}).rec("P2", part="b"),
    "ended fail": lambda: (
        start().rec("F1", part="a").rec("P2", part="a", names=["F1"], files={"p.jpg": "p"}).rec("P3", part="b")
    ),
    "undecided": lambda: start().rec("P1", part="a").rec("U2", part="b"),
    "open fail": lambda: start().rec("F1", part="a", files={"p.jpg": "p"}).rec("P2", part="b"),
    "carried": lambda: (
        start()
        .rec("P1", part="a")
        .event("E", "opened", "a", at=2)
        .carry("Y", "P1", at=3, event="E")
        .rec("P2", part="b", at=4)
    ),
    "conceded": lambda: start().rec("F1", part="a").rec("P2", part="b").concession("K", at=10),
    "corrected": lambda: (
        start().rec("F1", part="a").rec("P2", at=1, part="a", corrects="F1", sealed=2).rec("P3", part="b")
    ),
    "withdrawn": lambda: (
        start()
        .rec("P1", part="a")
        .rec("F2", part="a")
        .withdraw("W", "F2", at=3)
        .rec("P4", part="a")
        .rec("P5", part="b")
    ),
    "removed": lambda: start().rec("P1", part="a").event("R", "removed", "b", at=2),
}


@pytest.mark.parametrize("world", WORLDS)
def test_nothing_known_improves_anything_when_it_is_spoiled(world: str) -> None:
    story = WORLDS[world]()
    before = RANK[story.state()]
    for act in story.acts:
        original = list(story.acts)
        for held in (Held.EDITED, Held.UNSEALED, Held.DOUBLED, Held.MISSING, Held.MISPLACED):
            story.acts = [
                a if a.code != act.code else type(a)(**{f: getattr(a, f) for f in a.__slots__} | {"held": held})
                for a in original
            ]
            assert RANK[story.state()] >= before, (act.path, held)
        story.acts = original


@pytest.mark.parametrize("world", [w for w in WORLDS if w in ("conforms", "ended fail", "open fail")])
def test_attachments_gone(world: str) -> None:
    story = WORLDS[world]()
    before = RANK[story.state()]
    label = "P2" if world == "ended fail" else "F1" if world == "open fail" else "P1"
    assert RANK[story.lose_files(label).state()] >= before


SET_CHANGES: dict[str, dict[str, object]] = {
    "limit lowered": one_leaf(
        each={"part": "thing"}, leaves={"x": {"measure": "level", "criteria": {"c": {"at_least": "1 V"}}}}
    ),
    "kind of leaf changed": paper_leaf("level", {"x": {"inspect": "it"}}, "x", each={"part": "thing"}),
    "route added": paper_leaf(
        "level", {"x": one_leaf()["leaves"]["x"], "z": {"inspect": "it"}}, {"any": ["x", "z"]}, each={"part": "thing"}
    ),
    "made not applicable": one_leaf(each={"part": "thing"}, applies={"charged": ["no"]}),
    "parts filtered away": one_leaf(each={"part": "thing", "where": {"charged": ["no"]}}),
    "about another kind": one_leaf(each={"part": "other"}),
    "about the vehicle": one_leaf(),
    "about the workshop": one_leaf(about="workshop"),
    "about a design": one_leaf(about="design", each={"part": "thing"}),
    "about a kind that was stated": one_leaf(each={"part": "door"}),
}


@pytest.mark.parametrize("change", SET_CHANGES)
@pytest.mark.parametrize("world", WORLDS)
def test_a_requirement_edited_never_improves(world: str, change: str) -> None:
    story = WORLDS[world]()
    before = RANK[story.state()]
    story.put_set("set", [SET_CHANGES[change]])
    assert RANK[story.state()] >= before


@pytest.mark.parametrize("world", WORLDS)
def test_a_requirement_or_set_taken_out_never_improves(world: str) -> None:
    story = WORLDS[world]()
    before = RANK[story.state()]
    assert RANK[story.put_set("set", [one_leaf("other")]).state()] >= before
    del story.sets["set"]
    assert RANK[story.state()] >= before


def test_an_uncommitted_event_does_not_change_the_design_that_has_to_be_shown() -> None:
    swapped = {"removed": {"serial": "1"}, "fitted": {"serial": "2", "design": "pack/C"}}

    def packs(**more: Any) -> Story:
        story = Story(
            [one_leaf(each={"part": "pack"}, **more)], parts={"pack": {"p": {"serial": "1", "design": "pack/B"}}}
        )
        story.revision(
            "rev-b", "pack", "B", at=-20, facts={"cells": "loose"}, parts={"x": {"title": "X", "kind": "thing"}}
        )
        return story.revision("rev-c", "pack", "C", at=-19, facts={"cells": "closed"})

    story = packs(about="design").rec("F1", design="pack/B")
    assert story.event("E", "replaced", "p", at=2, tree=swapped, commit=False).state() is State.NONCONFORMING
    assert story.commit("E").state() is State.NOT_SHOWN
    filtered = packs()
    filtered.put_set("set", [one_leaf(each={"part": "pack", "where": {"cells": ["loose"]}})]).edition("e-2", at=0)
    filtered.rec("F1", part="p").event("E", "replaced", "p", at=2, tree=swapped, commit=False)
    assert filtered.state() is State.NONCONFORMING
    inner = Story([EACH], parts={"pack": {"p": {"serial": "1", "design": "pack/B"}}, "thing": {}})
    inner.revision("rev-b", "pack", "B", at=-20, parts={"x": {"title": "X", "kind": "thing"}})
    inner.rec("F1", part="p-x").event("E", "replaced", "p", at=2, tree=swapped, commit=False)
    assert inner.state() is State.NONCONFORMING


def test_an_uncommitted_record_does_not_help_what_comes_after_it() -> None:
    leaves = {"wade": {"trial": "wade"}, "x": {"inspect": "again", "after": {"leaf": "wade", "wait": "24 h"}}}
    story = Story([paper_leaf("level", leaves, {"any": ["wade", "x"]})]).rec("P5", finding=True)
    assert story.state() is State.NOT_SHOWN
    assert story.rec("P1", leaf="level/wade", finding=True, commit=False).state() is State.NOT_SHOWN


@pytest.mark.parametrize("world", WORLDS)
def test_drafts_and_the_order_of_files_change_nothing(world: str) -> None:
    story = WORLDS[world]()
    before = story.requirement()
    story.acts.reverse()
    story.rec("P60", part="a", seal=False)
    after = story.requirement()
    assert (after.state, after.parts, after.gaps) == (before.state, before.parts, before.gaps)


@pytest.mark.parametrize("world", ["conforms", "undecided", "carried"])
def test_withdrawals_of_any_date_revive_nothing(world: str) -> None:
    story = WORLDS[world]()
    labels = [a.body for a in story.acts]
    assert labels
    for label in ("P1", "P2", "U2"):
        if any(label.lower() + ".yaml" in a.path for a in story.acts):
            for at in (-5.0, 0.5, 60.0):
                again = WORLDS[world]().withdraw("W", label, at=at, sealed=61)
                assert RANK[again.state()] >= RANK[State.NOT_SHOWN]


def test_the_one_exception() -> None:
    """A nonconforming that no single record causes may become lapsed when one of its records is spoiled."""
    leaves = {
        n: {"measure": "level", "criteria": {"a": {"at_least": "500 V"}, "b": {"at_most": "550 V"}}} for n in ("x", "y")
    }
    routes = paper_leaf("level", leaves, {"any": [{"all": ["x/a", "y/a"]}, {"all": ["x/b", "y/b"]}]})
    story = (
        Story([routes]).rec("P1", reading="400 V ± 1 V (k=2)").rec("P2", leaf="level/y", reading="600 V ± 1 V (k=2)")
    )
    assert story.state() is State.NONCONFORMING
    assert story.hold("P1", Held.EDITED).state() is State.LAPSED
