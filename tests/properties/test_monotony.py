"""Whole vehicles, sampled: no change to what is known and nothing uncommitted ever improves a state (rule 12).

Worlds are told through the concrete layer: two requirements (one for each of two parts with two routes, one for the
vehicle, which applies by a fact), records, retests, corrections, withdrawals, events, carry-overs, facts, concessions,
calibrations. The oracle for "conforms" reads the acts as plain text trees and knows nothing of the implementation;
there is no outside source for these rules.
"""

from __future__ import annotations

import copy
import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.rules.world import Story, code_of, one_leaf, paper_leaf, text
from witnessmark.assessment.model import RequirementState, State
from witnessmark.records.world import Act, Held

RANK = {
    State.NOT_APPLICABLE: 0,
    State.CONFORMS: 1,
    State.UNDER_CONCESSION: 2,
    State.UNDECIDED: 3,
    State.NOT_SHOWN: 4,
    State.LAPSED: 4,
    State.NONCONFORMING: 5,
}
LEVEL = {"measure": "level", "criteria": {"c": {"at_least": "500 V"}}}
ROUTES = paper_leaf("level", {"x": LEVEL, "y": {"inspect": "it"}}, {"any": ["x", "y"]}, each={"part": "thing"})
SINGLE = one_leaf("other", applies={"charged": ["yes"]})
REQUIREMENTS = [ROUTES, SINGLE]
SPOILED = (Held.EDITED, Held.UNSEALED, Held.DOUBLED, Held.MISSING, Held.MISPLACED)


def _template() -> Story:
    story = Story(REQUIREMENTS, parts={"thing": {"a": {"serial": "a1"}, "b": {}}})
    return story.state_facts("charged", {"charged": "yes"}, at=-8)


TEMPLATE = _template()


def told(seed: int, acts: int) -> Story:
    """A random story: most of it sound, so that many of them conform."""
    chance = random.Random(seed)
    story = copy.copy(TEMPLATE)
    story.acts, story.drafts, story.sets = list(TEMPLATE.acts), [], dict(TEMPLATE.sets)
    records: list[str] = []
    events: list[str] = []
    checkable: list[str] = []
    now = 1
    for i in range(acts):
        now += chance.choice((0, 1, 1))
        committed = chance.random() > 0.1
        how = chance.random()
        if how < 0.6 or not records:
            verdict = chance.choice("PPPPUF")
            label = f"{verdict}r{i}"
            part = chance.choice(("a", "b", None))
            leaf = "other/x" if part is None else chance.choice(("level/x", "level/x", "level/y"))
            names = [r for r in records if chance.random() < 0.5] if verdict == "P" and chance.random() < 0.5 else []
            corrects = chance.choice(records) if records and chance.random() < 0.15 else None
            at = now - chance.choice((0, 0, 0, 1))
            story.rec(
                label, says=verdict, at=at, sealed=now + 0.1 + i / 1000, leaf=leaf, part=part,
                finding=leaf == "level/y", names=names, corrects=corrects,
                second=chance.choice(("bob", "bob", "bob", None)),
                files={"p.jpg": label} if chance.random() < 0.3 else None, commit=committed,
                meter=chance.choice(("m1", "m2")),
            )  # fmt: skip
            records.append(label)
        elif how < 0.72:
            label = f"Er{i}"
            kind = chance.choice(("opened", "removed", "replaced"))
            tree = {"fitted": {"serial": f"s{i}"}} if kind == "replaced" else None
            story.event(label, kind, chance.choice(("a", "b")), at=now, tree=tree, sealed=now + 0.2, commit=committed)
            events.append(label)
        elif how < 0.84:
            target = chance.choice([*records, *events])
            second = chance.choice(("bob", "bob", "ext", None))
            story.withdraw(f"Wr{i}", target, at=now, sealed=now + 0.3, second=second, commit=committed)
            checkable.append(f"Wr{i}")
        elif how < 0.88 and checkable:
            what, who = chance.choice([*checkable, *checkable, *records]), chance.choice(("bob", "bob", "ext", "ann"))
            agrees = chance.choice(("yes", "yes", "yes", "no"))
            story.check(f"Zr{i}", what, at=now, who=who, agrees=agrees, sealed=now + 0.4, commit=committed)
            checkable.append(f"Zr{i}")
        elif how < 0.92 and events:
            story.carry(
                f"Yr{i}",
                chance.choice(records),
                at=now,
                event=chance.choice(events),
                sealed=now + 0.3,
                commit=committed,
            )
        elif how < 0.95:
            story.concession(
                f"Kr{i}", at=now, requirement=chance.choice(("level", "other")), sealed=now + 0.3, commit=committed
            )
        else:
            fact = {"charged": chance.choice(("yes", "no"))}
            story.state_facts(
                f"Xr{i}",
                fact,
                at=now,
                corrects="charged" if chance.random() < 0.5 else None,
                sealed=now + 0.3,
                commit=committed,
            )
    return story


def mutate(story: Story, chance: random.Random) -> str:
    """One change that is not a new committed sound act."""
    acts = [i for i, a in enumerate(story.acts) if a.appeared is not None]
    records = [a for a in story.acts if "performed" in a.tree]
    kinds: list[Callable[[], str]] = []

    def spoil() -> str:
        i = chance.choice(acts)
        story.acts[i] = replace(story.acts[i], held=chance.choice(SPOILED))
        return f"{story.acts[i].path} {story.acts[i].held}"

    def files() -> str:
        with_files = [i for i in acts if story.acts[i].files]
        if not with_files:
            return spoil()
        i = chance.choice(with_files)
        act = story.acts[i]
        story.acts[i] = replace(act, files=tuple(replace(f, found=None) for f in act.files))
        return f"files of {act.path}"

    def passes() -> str:
        tree = {"retest_of": [r.code for r in records], "cause": "c", "correction": "d"} if records else {}
        part = chance.choice(("a", "b", None))
        leaf = "other/x" if part is None else "level/x"
        story.rec("PN", says="P", at=chance.choice((1, 90)), leaf=leaf, part=part, record=tree, sealed=91, commit=False)
        return "a pass that names all, not committed"

    def checks() -> str:
        if not acts:
            return spoil()
        agrees = chance.choice(("yes", "no"))
        one = story.acts[chance.choice(acts)]
        tree = {"checks": one.code, "agrees": agrees, "at": text(91), "by": "bob", "reason": "r"}
        story.act("ZN", tree, at=91, sealed=91, commit=False)
        return f"{one.path} checked ({agrees}), not committed"

    def corrects() -> str:
        if not records:
            return spoil()
        one = chance.choice(records)
        ref = next(iter(one.tree["shows"]))
        tree = {"corrects": one.code, "proof": "p", "second": "bob"}
        story.rec(
            "PC",
            says="P",
            at=1,
            leaf=ref,
            part=one.tree.get("part"),
            finding=ref == "level/y",
            record=tree,
            sealed=91,
            commit=False,
        )
        return f"a correction of {one.path}, not committed"

    def others() -> str:
        which = chance.randrange(6)
        if which == 0 and records:
            one = chance.choice(records)
            tree = {
                "withdraws": one.code,
                "because": "mistaken",
                "at": "2026-03-01T12:00+00:00",
                "by": "ann",
                "reason": "r",
                "second": "bob",
            }
            story.act("WN", tree, at=90, commit=False)
            return f"{one.path} withdrawn, not committed"
        if which == 1:
            story.event("EN", "removed", chance.choice(("a", "b")), at=90, commit=False)
            return "a part removed, not committed"
        if which == 2:
            story.state_facts("XN", {"charged": "no"}, at=90, commit=False, corrects="charged")
            return "a fact, not committed"
        if which == 3:
            story.list_parts("LN", "thing", {}, at=90, commit=False, corrects="parts-thing")
            return "an empty list, not committed"
        if which == 4:
            story.concession("KN", at=90, commit=False, requirement=chance.choice(("level", "other")))
            return "a concession, not committed"
        looser = [
            paper_leaf(
                "level",
                {"x": {**LEVEL, "criteria": {"c": {"at_least": "1 V"}}}, "y": {"inspect": "it"}},
                {"any": ["x", "y"]},
                each={"part": "thing"},
            ),
            one_leaf("other", applies={"charged": ["no"]}),
        ]
        story.put_set("set", chance.choice((looser, looser[:1], [SINGLE], [ROUTES])))
        return "the set edited"

    kinds = [spoil, spoil, spoil, files, passes, corrects, others, others, checks]
    return chance.choice(kinds)()


def joint(state: RequirementState) -> bool:
    """A nonconforming that no single record causes."""
    return state.beneath is State.NONCONFORMING and all(g.code != "leaf.fails" for g in state.gaps)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(seed=st.integers(0, 10**9), acts=st.integers(1, 9), twice=st.booleans())
def test_no_mutation_improves(seed: int, acts: int, twice: bool) -> None:
    story = told(seed, acts)
    before = {r.id: r for r in story.assess().requirements}
    original = (list(story.acts), dict(story.sets))
    for round_ in range(5):
        story.acts, story.sets = list(original[0]), dict(original[1])
        chance = random.Random(seed * 7 + round_)
        names = [mutate(story, chance)]
        if twice:
            names.append(mutate(story, chance))
        after = {r.id: r for r in story.assess().requirements}
        for ident, was in before.items():
            assert ident in after, names
            now = after[ident]
            worse = RANK[now.state] >= RANK[was.state] or (joint(was) and now.state in (State.LAPSED, State.NOT_SHOWN))
            assert worse, (ident, was.state, now.state, names)


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(seed=st.integers(0, 10**9), acts=st.integers(1, 8))
def test_conforms_only_where_it_must(seed: int, acts: int) -> None:
    story = told(seed, acts)
    states = {r.id: r.state for r in story.assess().requirements}
    trees = [(a, a.tree) for a in story.acts]
    if states["level"] is State.CONFORMS:
        for part in parts_there(trees):
            assert shown_for(trees, part, ("level/x", "level/y")), (part, [a.path for a in story.acts])
    if states["other"] is State.CONFORMS:
        assert shown_for(trees, None, ("other/x",)), [a.path for a in story.acts]


def test_the_samples_reach_every_state() -> None:
    """The worlds are not all of one kind: otherwise the two properties would say little."""
    seen = {r.state for seed in range(120) for r in told(seed, 1 + seed % 9).assess().requirements}
    assert seen == set(State)


# The oracle: over plain text trees. It takes only acts that are committed and unharmed as help.

Trees = Sequence[tuple[Act, Mapping[str, Any]]]


def instant(text: object) -> datetime:
    return datetime.fromisoformat(str(text))


def helps(act: Act) -> bool:
    return act.appeared is not None and act.held is Held.UNCHANGED and all(f.found == f.sha256 for f in act.files)


def two_persons(tree: Mapping[str, Any]) -> bool:
    by = tree.get("by")
    one = by["tester"] if isinstance(by, dict) else by
    return tree.get("second") not in (None, one)


def agreed(trees: Trees, act: Act, tree: Mapping[str, Any]) -> bool:
    """Two persons stand behind it: named in it, or by a check that can help."""
    return two_persons(tree) or any(
        t.get("checks") == act.code and t["agrees"] == "yes" and t["by"] != "ann" and helps(a) for a, t in trees
    )


def disputed(trees: Trees, act: Act) -> bool:
    """Somebody has checked it and does not agree, and nobody has taken that back."""
    return any(
        t.get("checks") == act.code and t["agrees"] == "no" and not taken(trees, a, soundly=False) for a, t in trees
    )


def taken(trees: Trees, act: Act, *, soundly: bool) -> bool:
    """Withdrawn or corrected: by anything, or by an act that can help."""
    for other, tree in trees:
        if act.code in (tree.get("withdraws"), tree.get("corrects")) and other is not act:
            if not soundly:
                return True
            sound = helps(other) and agreed(trees, other, tree) and not taken(trees, other, soundly=False)
            if sound and not disputed(trees, other):
                return True
    return False


def parts_there(trees: Trees) -> set[str]:
    gone = {
        str(tree["part"])
        for act, tree in trees
        if tree.get("event") == "removed" and helps(act) and not taken(trees, act, soundly=False)
    }
    back = {str(t["part"]) for _, t in trees if t.get("event") == "replaced"}
    return {"a", "b"} - (gone - back)


def shown_for(trees: Trees, part: str | None, refs: tuple[str, ...]) -> bool:
    """No fail of any route is left unanswered, and one route has a good pass, the last of its kind."""
    chain = [
        (act, tree)
        for act, tree in trees
        if "performed" in tree and tree.get("part") == part and set(tree["shows"]) & set(refs)
    ]
    fails = [(a, t) for a, t in chain if verdict(t) == "fail"]
    for act, tree in fails:
        retests = [
            (a, t)
            for a, t in chain
            if helps(a) and verdict(t) == "pass" and act.code in t.get("retest_of", ())
            and set(t["shows"]) == set(tree["shows"])
            and not taken(trees, a, soundly=False) and not disputed(trees, a)
        ]  # fmt: skip
        if not retests and not taken(trees, act, soundly=True):
            return False
    for ref in refs:
        good = [
            (a, t) for a, t in chain
            if ref in t["shows"] and helps(a) and verdict(t) == "pass" and not taken(trees, a, soundly=False)
            and not moved_on(trees, a, t) and not disputed(trees, a)
        ]  # fmt: skip
        if not good:
            continue
        newest = max(instant(t["performed"]) for a, t in chain if ref in t["shows"])
        # A correction stands where the corrected record stood, so its own date may be older than the newest.
        if any(instant(t["performed"]) == newest or t.get("corrects") for _, t in good) or any(
            taken(trees, a, soundly=True) for a, t in chain if ref in t["shows"] and instant(t["performed"]) == newest
        ):
            return True
    return False


def verdict(tree: Mapping[str, Any]) -> str:
    readings = tree.get("readings")
    if isinstance(readings, dict):
        number = float(str(readings["value"]).split()[0])
        return "pass" if number >= 510 else "fail" if number <= 490 else "undecided"
    finding = next(claim["finding"] for claim in tree["shows"].values() if "finding" in claim)
    return {"meets": "pass", "does-not-meet": "fail", "undecided": "undecided"}[finding]


def moved_on(trees: Trees, act: Act, tree: Mapping[str, Any]) -> bool:
    """Something happened to the part since, that no sound carry-over names."""
    for other, event in trees:
        if "event" not in event or "carries_over" in event or event.get("part") != tree.get("part"):
            continue
        if instant(event["at"]) < instant(tree["performed"]) or taken(trees, other, soundly=True):
            continue
        carried = any(
            t.get("carries_over") == act.code and t.get("event") == other.code and helps(a) and agreed(trees, a, t)
            for a, t in trees
        )
        if not carried:
            return True
    return False


def test_codes_differ() -> None:
    labels = [f"{v}r{i}" for v in "PUFEWYKXZ" for i in range(12)]
    assert len({code_of(label) for label in labels}) == len(labels)
