"""Keys come in and go out, and everything that a person wrote stays byte for byte.

Independent check: ruamel.yaml's own safe loader must read what was written as the same texts.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from witnessmark.reading.yamltree import Node, as_text, read_tree
from witnessmark.recording.roundtrip import plain_yaml, with_keys, without_keys

WRITTEN = b"""\
# top
format: 1   # the format
shows:
    a/b: {}   # shown
    x/y: {photo: photos/a.jpg,
          finding: meets}
note: >
   folded
   text

   and on
serial: 0421
quoted: "0421"
version: 3.10
off: no
empty:
it: 'it''s'
list:
  - a: 1
    b: 2
  # between
  - c
flow: [1_000, 0o17, 12:30:00, ~]
block: |
  a
   b
# the end
"""
ADDED: dict[str, Any] = {
    "code": "abc234",
    "files": [{"name": "photos/a.jpg", "bytes": 12, "sha256": "00ff"}],
    "seal": {"on": "2026-10-14T18:05+02:00", "members": {"a": "0421", "b": "D-07", "c": "1e5", "d": "x: y", "e": "#1"}},
}


def _tree(data: bytes) -> Any:
    root = read_tree(data, "f")
    assert isinstance(root, Node), root
    return as_text(root)


def test_new_keys_leave_every_line_as_it_was() -> None:
    done = with_keys(WRITTEN, "f", ADDED, after={"code": "format"})
    kept = [line for line in done.splitlines(keepends=True) if line in WRITTEN.splitlines(keepends=True)]
    assert b"".join(kept) == WRITTEN
    assert list(_tree(done))[:2] == ["format", "code"]
    assert list(_tree(done))[-2:] == ["files", "seal"]


def test_taking_them_out_gives_the_same_bytes_back() -> None:
    done = with_keys(WRITTEN, "f", ADDED, after={"code": "format"})
    assert without_keys(done, "f", tuple(ADDED)) == WRITTEN


def test_serials_and_the_like_stay_texts_for_other_parsers() -> None:
    done = with_keys(b"format: 1\n", "f", ADDED)
    members = YAML(typ="safe", pure=True).load(done)["seal"]["members"]
    assert members == {"a": "0421", "b": "D-07", "c": "1e5", "d": "x: y", "e": "#1"}


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"{format: 1, a: {b: 0x1}}", b"{format: 1, code: abc234, a: {b: 0x1}}\n"),
        (b"format: 1\r\na: b\r\n", b"format: 1\r\ncode: abc234\r\na: b\r\n"),
        (b"format: 1\na: b", b"format: 1\ncode: abc234\na: b\n"),
        (b"\xef\xbb\xbfformat: 1\n", b"\xef\xbb\xbfformat: 1\ncode: abc234\n"),
    ],
    ids=["braces", "CR LF", "no last line end", "byte-order mark"],
)
def test_other_ways_of_writing(data: bytes, expected: bytes) -> None:
    assert with_keys(data, "f", {"code": "abc234"}, after={"code": "format"}) == expected


def test_a_key_that_is_there_is_replaced_in_its_place() -> None:
    done = with_keys(b"format: 1\na: old # why\nb: 2\n", "f", {"a": "new"})
    assert _tree(done) == {"format": "1", "a": "new", "b": "2"}
    assert list(_tree(done)) == ["format", "a", "b"]


_TEXT = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Cf", "Zl", "Zp", "Co", "Cn")), max_size=30
)


@settings(max_examples=150, deadline=None)
@given(
    st.dictionaries(
        st.from_regex(r"\A[a-z][a-z0-9_]{0,8}\Z"), _TEXT | st.lists(_TEXT, max_size=3), min_size=1, max_size=5
    )
)
def test_any_text_comes_back_as_it_went_in(tree: dict[str, Any]) -> None:
    """`plain_yaml` reads its own result again and compares; here PyYAML's events are the second witness."""
    import unicodedata

    def normal(value: Any) -> Any:
        return tuple(normal(v) for v in value) if isinstance(value, list) else unicodedata.normalize("NFC", value)

    assert _tree(plain_yaml({k: normal(v) for k, v in tree.items()})) == {k: normal(v) for k, v in tree.items()}
