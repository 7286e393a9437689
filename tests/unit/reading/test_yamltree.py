"""The tree and its positions. References: the file's own lines, and the pure Python event parsers of two libraries."""

from __future__ import annotations

from typing import Any

import pytest

from witnessmark.reading.yamltree import Node, as_text, place_of, read_tree

RECORD = """\
format: 1
# a person's comment
code: 7k4qxm
shows:
  isolation-joined-bus/isolation: {}
  un-x:isolation/set-up: {photo: "set-up.jpg", finding: meets}
part:
performed: 2026-10-14T16:20+02:00
conditions: {contactors: closed, air: 18 °C}
readings: {ub: 402.9 V, u1: '203.4 V', list: [1 V, 2 V]}
note: |
  two lines,
  the second
folded: >-
  one
  text
files:
- name: photos/Ω 🔋.jpg
  bytes: 812345
-   - deep
    - er
"""


def tree(text: str, **more: Any) -> Node:
    found = read_tree(text.encode(), "x.yaml", **more)
    assert isinstance(found, Node), found
    return found


def nodes(node: Node) -> list[Node]:
    found = [node]
    if isinstance(node.content, tuple):
        for item in node.content:
            found += nodes(item)
    elif not isinstance(node.content, str):
        for key, value in node.content.values():
            found += [key, *nodes(value)]
    return found


def test_text_as_written() -> None:
    text = as_text(tree(RECORD))
    assert isinstance(text, dict)
    assert text["part"] == ""
    assert text["note"] == "two lines,\nthe second\n"
    assert text["folded"] == "one text"
    assert text["shows"] == {
        "isolation-joined-bus/isolation": {},
        "un-x:isolation/set-up": {"photo": "set-up.jpg", "finding": "meets"},
    }
    assert text["files"] == ({"name": "photos/Ω 🔋.jpg", "bytes": "812345"}, ("deep", "er"))


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_every_plain_text_stands_where_it_says(end: str, mark: str) -> None:
    """Each position points at that very text: counted in characters, after emoji, marks and any line end."""
    lines = RECORD.splitlines()
    seen = 0
    for node in nodes(tree(mark + RECORD.replace("\n", end))):
        if isinstance(node.content, str) and node.plain:
            assert lines[node.line - 1][node.column - 1 :].startswith(node.content)
            seen += 1
    assert seen == 35


def test_slow_and_fast_parser_agree() -> None:
    assert tree(RECORD, pure=True) == tree(RECORD)


def test_agrees_with_another_library() -> None:
    """Reference: ruamel.yaml's own parser in pure Python, YAML 1.2, values as text."""
    from ruamel.yaml import YAML
    from ruamel.yaml.events import MappingStartEvent, ScalarEvent, SequenceStartEvent

    parser = YAML(typ="safe", pure=True)
    theirs: list[tuple[object, int, int]] = []
    for event in parser.parse(RECORD):
        if isinstance(event, (ScalarEvent, MappingStartEvent, SequenceStartEvent)):
            theirs.append((getattr(event, "value", None), event.start_mark.line + 1, event.start_mark.column + 1))
    found = nodes(tree(RECORD))
    ours = [(node.content if isinstance(node.content, str) else None, node.line, node.column) for node in found]
    # An empty value has no place of its own; the libraries put it differently.
    assert [row for row in ours if row[0] != ""] == [row for row in theirs if row[0] != ""]


def test_texts_and_keys_become_nfc() -> None:
    assert as_text(tree("u\u0308: 1 k\u2126\n")) == {"ü": "1 kΩ"}


@pytest.mark.parametrize(
    ("loc", "kind", "place"),
    [
        (("readings", "ub"), "value_error", "x.yaml:10:16"),
        (("readings", "u1"), "value_error", "x.yaml:10:29"),
        (("readings", "list", 1), "value_error", "x.yaml:10:52"),
        (("readings", "ub"), "extra_forbidden", "x.yaml:10:12"),
        (("measurement", "readings", "ub"), "value_error", "x.yaml:10:16"),
        (("shows", "isolation-joined-bus/isolation", "[key]"), "string_pattern_mismatch", "x.yaml:5:3"),
        (("files", 0, "sha256"), "missing", "x.yaml:18:3"),
        (("files", 7), "value_error", "x.yaml:18:1"),
        (("part",), "string_too_short", "x.yaml:7:6"),
        ((), "value_error", "x.yaml:1:1"),
    ],
)
def test_place_of(loc: tuple[str | int, ...], kind: str, place: str) -> None:
    assert str(place_of(tree(RECORD), loc, kind, "x.yaml")) == place


def test_width_only_where_it_is_known() -> None:
    root = tree(RECORD)
    assert place_of(root, ("readings", "ub"), "value_error", "x").width == len("402.9 V")
    assert place_of(root, ("readings", "u1"), "value_error", "x").width == 0
    assert place_of(root, ("note",), "value_error", "x").width == 0
