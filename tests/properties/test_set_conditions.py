"""What the linter says of a condition against the rules of assessment themselves, over random conditions and answers.

The linter tries conditions in two values of its own; `holds` is what decides in an audit. Neither knows the other.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product

import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.assessment.facts import Fact, Truth, holds
from witnessmark.problems import Problem, Severity
from witnessmark.reading.set_linter import lint
from witnessmark.reading.sets import FACTS, read_facts, read_sets

DEFINED = {
    "charging": {"title": "c", "ask": "C?", "why": "R.", "choices": {"none": "n", "ac": "a", "dc": "d"}},
    "voltage": {"title": "v", "ask": "V?", "why": "R.", "unit": "V", "lowest": "0", "highest": "1500"},
    "seats": {"title": "s", "ask": "S?", "why": "R.", "unit": "1", "lowest": "0", "highest": "9"},
    "warmth": {"title": "w", "ask": "W?", "why": "R.", "unit": "°C", "lowest": "-40", "highest": "90"},
    "uses": {"title": "u", "ask": "U?", "why": "R.", "choices": {"post": "p", "taxi": "t"}, "several": "yes"},
}
LIMITS = {"voltage": ("0 V", "60 V", "0.06 kV", "1500 V"), "seats": ("0", "3", "4", "9"), "warmth": ("-40 °C", "20 °C")}
HOW = ("at_least", "more_than", "at_most", "less_than")
AREA = "requirements/mini/area.yaml"

_words = st.one_of(
    st.lists(st.sampled_from(["none", "ac", "dc"]), min_size=1, max_size=3, unique=True).map(lambda w: {"charging": w}),
    st.lists(st.sampled_from(["post", "taxi"]), min_size=1, max_size=2, unique=True).map(lambda w: {"uses": w}),
)
_compared = st.sampled_from(sorted(LIMITS)).flatmap(
    lambda key: st.tuples(st.sampled_from(HOW), st.sampled_from(LIMITS[key])).map(
        lambda pair: {key: {pair[0]: pair[1]}}
    )
)
CONDITIONS = st.recursive(
    st.one_of(_words, _compared),
    lambda inner: st.one_of(
        inner.map(lambda c: {"not": c}),
        st.tuples(st.sampled_from(["all", "any"]), st.lists(inner, min_size=1, max_size=3)).map(lambda p: {p[0]: p[1]}),
    ),
    max_leaves=5,
)
ANSWERS = st.fixed_dictionaries(
    {
        "charging": st.sampled_from(["none", "ac", "dc"]),
        "voltage": st.one_of(
            st.decimals(0, 1500, places=2).map(lambda v: f"{v} V"), st.sampled_from(["60 V", "0 V", "1500 V"])
        ),
        "seats": st.integers(0, 9).map(str),
        "warmth": st.one_of(st.integers(-40, 90), st.sampled_from([-40, 20, 90])).map(lambda v: f"{v} °C"),
        "uses": st.lists(st.sampled_from(["post", "taxi"]), min_size=1, max_size=2, unique=True).map(tuple),
    }
)


def _files(condition: Mapping[str, object]) -> dict[str, bytes]:
    requirement = {
        "id": "one", "clause": "1", "title": "One", "statement": "It is.", "source": {"confidence": "own", "note": "n"},
        "applies": condition, "leaves": {"a": {"inspect": "it"}}, "shown": "a", "hint": "h",
        "cautions": ["It can kill."],
    }  # fmt: skip
    area = {"format": "1", "area": "area", "title": "Area", "order": "1", "requirements": [requirement]}
    head = {"format": "1", "title": "t", "short": "s", "note": "n"}
    trees = {
        AREA: area,
        "requirements/mini/set.yaml": head,
        FACTS: {"format": "1", "facts": DEFINED},
    }
    return {path: yaml.safe_dump(tree, sort_keys=False, allow_unicode=True).encode() for path, tree in trees.items()}


def _found(condition: Mapping[str, object]) -> tuple[tuple[Problem, ...], object]:
    files = _files(condition)
    sets, problems = read_sets({p: d for p, d in files.items() if p != FACTS})
    facts, faults = read_facts(files[FACTS])
    assert not problems and not faults
    (requirement,) = sets["mini"].requirements
    return lint(sets, facts, files, (), used=tuple(DEFINED)), requirement.applies


def _truth(condition: object, answers: Mapping[str, str | tuple[str, ...]]) -> Truth:
    found, _ = holds(condition, lambda key: Fact(key, None, answers[key]))  # type: ignore[arg-type]
    return found


@settings(deadline=None, max_examples=300)
@given(CONDITIONS, st.lists(ANSWERS, min_size=5, max_size=5))
def test_what_never_or_always_holds_does_so_in_an_audit_too(
    condition: Mapping[str, object], answers: list[Mapping[str, str | tuple[str, ...]]]
) -> None:
    """And nothing else is found in a condition that can be answered."""
    problems, applies = _found(condition)
    assert {p.code for p in problems} <= {"set.never", "set.always", "set.idle"}
    truths = {_truth(applies, one) for one in answers}
    assert Truth.NOT_STATED not in truths
    if len(problems) == 1 and _is_whole(problems[0], condition):
        expected = Truth.NO if problems[0].code == "set.never" else Truth.YES
        assert truths == {expected}
    if not problems:
        assert _exists(applies, Truth.YES) and _exists(applies, Truth.NO)


def _is_whole(problem: Problem, condition: Mapping[str, object]) -> bool:
    """Whether the finding is about the condition as a whole: it points at its first key."""
    place = problem.place
    assert place is not None
    lines = _files(condition)[AREA].decode().splitlines()
    first = next(n for n, line in enumerate(lines, 1) if line.strip() == "applies:") + 1
    column = len(lines[first - 1]) - len(lines[first - 1].lstrip()) + 1
    return problem.code != "set.idle" and (place.line, place.column) == (first, column)


def _exists(condition: object, wanted: Truth) -> bool:
    """Some answer on a fine grid makes the condition so, by the rules of assessment."""
    grid: dict[str, list[str | tuple[str, ...]]] = {
        "charging": ["none", "ac", "dc"],
        "voltage": ["0 V", "30 V", "60 V", "700 V", "1500 V"],
        "seats": [str(n) for n in range(10)],
        "warmth": ["-40 °C", "0 °C", "20 °C", "55 °C", "90 °C"],
        "uses": [("post",), ("taxi",), ("post", "taxi")],
    }
    return any(_truth(condition, dict(zip(grid, combo, strict=True))) is wanted for combo in product(*grid.values()))


def test_a_finding_that_a_requirement_is_never_asked_stops_an_edition() -> None:
    """Never asked is worse than idle: one is a problem, the other a note."""
    (never,), _ = _found({"all": [{"charging": ["ac"]}, {"charging": ["dc"]}]})
    (always,), _ = _found({"charging": ["none", "ac", "dc"]})
    assert (never.severity, always.severity) == (Severity.PROBLEM, Severity.NOTE)
