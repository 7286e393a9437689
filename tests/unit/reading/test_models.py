"""Text trees to models: each fault with its exact place, in words of our own, once.

Expected places are counted by hand in the texts below; the words are ours and are pinned.
"""

from __future__ import annotations

import pytest
from pydantic import BaseModel, ValidationError

from witnessmark.problems import Problem
from witnessmark.reading.models import nearest, read_model
from witnessmark.reading.yamltree import Node, as_text, read_tree
from witnessmark.records.acts import Event, Policy, Record
from witnessmark.records.sets import Criterion, FactDefinition, Requirement, SetFile, Source

HEAD = "format: 1\nperformed: 2026-10-14T16:20+02:00\n"


def _problems(model: type[BaseModel], text: str) -> list[tuple[str, str, str, str, int]]:
    root = read_tree(text.encode(), "f")
    assert isinstance(root, Node), root
    value, problems = read_model(model, root, "f")
    assert (value is None) == bool(problems)
    return [(str(p.place), p.code, p.message, p.remedy, p.place.width if p.place else 0) for p in problems]


CASES: tuple[tuple[str, type[BaseModel], str, list[tuple[str, str, str, str, int]]], ...] = (
    (
        "an unknown key with the nearest known one, and a bad key, in one file",
        Record,
        HEAD + "by: {tester: jm}\nshows:\n  A/b: {findin: meets}\n  c/d: meets\n",
        [
            ("f:5:3", "model.key", "'A/b' cannot be a key here",
             "a leaf is named requirement/leaf, with set: before it where two chosen sets share the id", 3),
            ("f:5:9", "model.unknown-key", "the key 'findin' is not known here", "did you mean 'finding'?", 6),
            ("f:6:8", "model.form", "'c/d' is the text 'meets', but a mapping of keys and values is needed",
             "write c/d: {finding: …}", 5),
        ],
    ),
    (
        "a mistyped key is not also a missing one",
        Criterion,
        "at_least: {fct: x}\n",
        [("f:1:12", "model.unknown-key", "the key 'fct' is not known here", "did you mean 'fact'?", 3)],
    ),
    (
        "a mistyped role",
        Record,
        HEAD + "by: {testr: jm}\nshows: {a/b: {}}\n",
        [("f:3:6", "model.unknown-key", "the key 'testr' is not known here", "did you mean 'tester'?", 5)],
    ),
    (
        "a quantity without unit, reported once and not once per branch of the union",
        Criterion,
        "at_least: 500\n",
        [("f:1:11", "quantity.missing-unit", "'500' has no unit", "write the unit behind the number, as in 500 V", 3)],
    ),
    (
        "a comma decimal",
        Criterion,
        "at_most: 5,3 V\n",
        [("f:1:10", "quantity.comma", "'5,3 V' has a comma in the number", "write 5.3, with a point", 5)],
    ),
    (
        "a list where a text or a mapping is needed",
        Criterion,
        "at_least: [500, 1]\n",
        [("f:1:11", "model.form", "'at_least' is a list, but a text or a mapping of keys and values is needed",
          "write at_least: …", 0)],
    ),
    (
        "a word that is not one of a few",
        Source,
        "confidence: sen\n",
        [("f:1:13", "model.choice", "'confidence' is 'sen', which is not one of its words",
          "did you mean 'seen'? possible are seen, seen-summary, seen-family-text, from-memory, mixed, practice, own",
          3)],
    ),
    (
        "a key of an earlier form that is known no more",
        Source,
        "confidence: seen\ncompared_with_official: none\n",
        [("f:2:1", "model.unknown-key", "the key 'compared_with_official' is not known here",
          "leave it out; known here are confidence, note", 22)],
    ),
    (
        "missing keys of the file",
        SetFile,
        "title: aaa\n",
        [
            ("f:1:1", "model.missing-key", "'format' is missing", "write format: 1", 0),
            ("f:1:1", "model.missing-key", "'note' is missing", "write note: …", 0),
            ("f:1:1", "model.missing-key", "'short' is missing", "write short: …", 0),
        ],
    ),
    (
        "an empty text, a list for a text, a number that is none",
        FactDefinition,
        "title: t\nask: ''\nwhy: [a]\nchoices: {a: b}\nlowest: x\n",
        [
            ("f:2:6", "model.value", "'ask' is empty", "write it, or leave the key out", 0),
            ("f:3:6", "model.form", "'why' is a list, but a text is needed", "write why: …", 0),
            ("f:5:9", "model.value", "'lowest' is 'x', which does not fit",
             "a number is written with digits and a point, such as 203.4", 1),
        ],
    ),
    (
        "times, days and codes",
        Policy,
        "format: 1\npolicy: {decision_rule: {rule: simple}}\nin_force: 2026-02-30\nby: x\ncode: o23456\n",
        [
            ("f:2:25", "model.rule", "simple needs a cap on U relative to the limit", "write cap: 5 %", 0),
            ("f:3:11", "model.value", "'in_force' is '2026-02-30', which does not fit",
             "2026-02-30 is not a day that exists", 10),
            ("f:5:7", "model.value", "'code' is 'o23456', which does not fit",
             "a code is six characters, none of 0 o 1 l i", 6),
        ],
    ),
    (
        "a time without its difference to UTC",
        Event,
        "format: 1\nevent: opened\nat: 2026-10-14T16:20\nby: a\npart: x\n",
        [("f:3:5", "model.value", "'at' is '2026-10-14T16:20', which does not fit",
          "a time is written 2026-10-14T16:20+02:00: day, T, time and the difference to UTC", 16)],
    ),
    (
        "another format",
        Event,
        "format: 2\nevent: opened\nat: 2026-10-14T16:20+02:00\nby: a\npart: x\n",
        [("f:1:9", "model.value", "'format' is '2', which does not fit", "this version reads format: 1", 1)],
    ),
    (
        "each part of a rule over a whole requirement is a fault of its own",
        Requirement,
        "id: a\nclause: 1\ntitle: x\nstatement: y\nsource: {confidence: seen}\n"
        "leaves: {a: {inspect: x}}\nshown: b\n",
        [
            ("f:6:10", "model.rule", "the leaf 'a' is used nowhere in 'shown', so nobody needs it",
             "write a into shown, or take the leaf out", 1),
            ("f:7:1", "model.rule", "'shown' names the leaf 'b', which is not among the leaves",
             "name one of a, or write the leaf", 5),
        ],
    ),
)  # fmt: skip


@pytest.mark.parametrize(("what", "model", "text", "expected"), CASES, ids=[case[0] for case in CASES])
def test_each_fault_has_its_place_and_words(
    what: str, model: type[BaseModel], text: str, expected: list[tuple[str, str, str, str, int]]
) -> None:
    assert _problems(model, text) == expected, what


def test_no_message_of_the_validator_reaches_a_person() -> None:
    """Every kind of fault above, compared with what the validator itself says of it."""
    for what, model, text, _ in CASES:
        root = read_tree(text.encode(), "f")
        assert isinstance(root, Node)
        with pytest.raises(ValidationError) as caught:
            model.model_validate(as_text(root))
        theirs = {error["msg"] for error in caught.value.errors() if not error["msg"].startswith("Value error")}
        ours = " ".join(m + r for _, _, m, r, _ in _problems(model, text))
        assert not [t for t in theirs if t in ours], what
        assert "Input should" not in ours
        assert "Value error" not in ours


def test_a_good_file_has_no_problems() -> None:
    root = read_tree((HEAD + "by: {tester: jm}\nshows: {a/b: {finding: meets}}\n").encode(), "f")
    assert isinstance(root, Node)
    value, problems = read_model(Record, root, "f")
    assert problems == ()
    assert value is not None
    assert value.shows["a/b"].finding == "meets"


def test_the_nearest_word_or_none() -> None:
    assert nearest("isolaton", ["isolation", "insulation"]) == "isolation"
    assert nearest("zzz", ["isolation"]) is None


def test_problems_are_values_in_order_of_place() -> None:
    root = read_tree((HEAD + "zzzz: 1\nby: {tester: jm}\nshows: {}\nyyyy: 2\n").encode(), "f")
    assert isinstance(root, Node)
    _, problems = read_model(Record, root, "f")
    assert all(isinstance(p, Problem) for p in problems)
    lines = [p.place.line for p in problems if p.place]
    assert lines == sorted(lines)
