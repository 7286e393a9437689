"""Files that would be read wrongly, never end, or build something: each is refused at its place, quickly."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
import yaml

from witnessmark.problems import Problem
from witnessmark.reading.yamltree import MAX_BYTES, Node, as_text, read_tree

REFUSED = [
    # text, code, line:column
    ("a: 1\n\tb: 2\n", "yaml.tab", "2:1"),
    ("a:\n\t- b\n", "yaml.tab", "2:1"),
    ("a:\t1\n", "yaml.tab", "1:3"),
    ("a: 1\nb:2\nc: 3\n", "yaml.colon", "2:1"),
    ("by:\n  tester:jm\n  witness: ao\n", "yaml.colon", "2:3"),
    ("format:1\n", "yaml.colon", "1:1"),
    ("a: {u1:203.4 V}\n", "yaml.colon", "1:5"),
    ("a: {u1: 203,4 V}\n", "yaml.flow-value", "1:13"),
    ("a: 'x\nb: 2\n", "yaml.quote", "1:4"),
    ('a: "x\nb: 2\n', "yaml.quote", "1:4"),
    ("key: 'it's'\n", "yaml.quote", "1:10"),
    ("a: b: c\n", "yaml.colon", "1:5"),
    ("a: [1, 2\nb: 3\n", "yaml.bracket", "1:4"),
    ("a: {x: 1\nb: 3\n", "yaml.bracket", "1:4"),
    ("a: {b: c}}\n", "yaml.bracket", "1:10"),
    ("a: @x\n", "yaml.character", "1:4"),
    ("a: `x\n", "yaml.character", "1:4"),
    ("a: &x 1\nb: *x\n", "yaml.alias", "1:4"),
    ("a: *x\n", "yaml.alias", "1:4"),
    ("a: !!python/object/apply:os.system [ls]\n", "yaml.tag", "1:4"),
    ("a: !t 1\n", "yaml.tag", "1:4"),
    ("a: !x!y b\n", "yaml.tag", "1:4"),
    ("<<: {a: 1}\n", "yaml.merge", "1:1"),
    ("a: 1\nb: 2\na: 3\n", "yaml.doubled-key", "3:1"),
    ("é: 1\ne\u0301: 2\n", "yaml.doubled-key", "2:1"),
    ("a: {b: 1, b: 2}\n", "yaml.doubled-key", "1:11"),
    ("a: 1\n---\nb: 2\n", "yaml.documents", "2:1"),
    ("%YAML 1.3\n---\na: 1\n", "yaml.directive", "1:1"),
    ("%TAG ! tag:x,2000:\n---\na: 1\n", "yaml.directive", "1:1"),
    ("a: | text\n", "yaml.block", "1:6"),
    ("a:\n  b: 1\n c: 2\n", "yaml.indent", "3:2"),
    ("- a\nb: 1\n", "yaml.indent", "2:1"),
    ("a: - b\n", "yaml.dash", "1:4"),
    (": x\n", "yaml.key", "1:1"),
    ("[a]: b\n", "yaml.key", "1:1"),
    ("? |\n  a\n  b\n: c\n", "yaml.key", "1:3"),
    ("", "yaml.empty", "1:1"),
    ("# only a comment\n", "yaml.empty", "1:1"),
    ("a word\n", "yaml.root", "1:1"),
    ("a: x\u0085b: 2\n", "yaml.character", "1:5"),
    ("a: 1\nb: \u202ex\n", "yaml.character", "2:4"),
    ("a: x\u2028b: 2\n", "yaml.character", "1:5"),
    ("a: \0\n", "yaml.character", "1:4"),
    ("a: \x1b[2J\n", "yaml.character", "1:4"),
    ('a: "\\0"\n', "yaml.character", "1:4"),
    ('a: "\\u202e"\n', "yaml.character", "1:4"),
    ('a: "\\N"\n', "yaml.character", "1:4"),
    ('a: "\\q"\n', "yaml.escape", "1:5"),
    ("a: x\n\ufeffb: 1\n", "yaml.character", "2:1"),
]


@pytest.mark.parametrize(("text", "code", "place"), REFUSED)
def test_refused_at_its_place(text: str, code: str, place: str) -> None:
    problem = read_tree(text.encode(), "x.yaml")
    assert isinstance(problem, Problem)
    assert (problem.code, str(problem.place)) == (code, f"x.yaml:{place}")
    assert problem.remedy
    for word in ("token", "scanning", "parsing", "stream", "scalar", "block mapping", "simple key"):
        assert word not in problem.message + problem.remedy


@pytest.mark.parametrize(("text", "code", "place"), REFUSED)
def test_the_slow_parser_refuses_the_same(text: str, code: str, place: str) -> None:
    problem = read_tree(text.encode(), "x.yaml", pure=True)
    assert isinstance(problem, Problem)
    assert problem.code == code
    assert problem.place is not None
    assert str(problem.place.line) == place.split(":")[0] or code == "yaml.directive"


def test_doubled_key_names_the_first() -> None:
    problem = read_tree(b"a: 1\nbb: 2\nbb: 3\n", "x.yaml")
    assert isinstance(problem, Problem)
    assert [str(place) for place in problem.related] == ["x.yaml:2:1"]
    assert problem.place is not None
    assert problem.place.width == 2


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"a: \xe9\n", "yaml.encoding"),
        (b"a: 1\n" + b"\xff", "yaml.encoding"),
        ("a: 1\n".encode("utf-16"), "yaml.encoding"),
        (b"a: \xed\xa0\x80\n", "yaml.encoding"),
    ],
)
def test_encodings(data: bytes, code: str) -> None:
    problem = read_tree(data, "x.yaml")
    assert isinstance(problem, Problem)
    assert problem.code == code


BOMBS = {
    "deep brackets": b"a: " + b"[" * 100_000,
    "deep braces": b"a: " + b"{b: " * 50_000,
    "deep dashes": b"- " * 100_000 + b"a",
    "many keys": b"".join(b"k%d: 1\n" % i for i in range(90_000)),
    "many values": b"a: [" + b"1," * 400_000 + b"1]",
    "merge": b"a: &a {x: 1}\n" + b"".join(b"k%d: {<<: *a}\n" % i for i in range(9)),
    "laughs": b"a: &a [x, x]\nb: &b [*a, *a]\nc: [*b, *b]\n",
    "colons": b"a: 1" + b":59" * 300_000,
    "long text": b"a: " + b"x" * 999_000,
    "long quoted": b'a: "' + b"\\x41" * 240_000 + b'"',
    "long key": b"x" * 900_000 + b": 1",
    "comments": b"# x\n" * 249_000 + b"a: 1",
    "questions": b"? " * 200_000,
    "too large": b"a: 1\n" + b"#" * MAX_BYTES,
    "folded": b"a: >\n" + b"  x\n\n" * 150_000,
}


@pytest.mark.parametrize("name", BOMBS)
def test_bombs_end_soon(name: str) -> None:
    """A second is far more than any of them took (0.1 s), and far less than what makes a person wait."""
    start = time.perf_counter()
    result = read_tree(BOMBS[name], "x.yaml")
    assert time.perf_counter() - start < 2
    if name not in ("colons", "long text", "long quoted", "comments", "folded"):
        assert isinstance(result, Problem)


def test_nothing_is_built_and_nothing_guessed(tmp_path: Path) -> None:
    text = "a: no\nb: 010\nc: 3.10\nd: 12:30:00\ne: 2026-10-14\nf: ~\ng: null\nh: 1e3\ni: 0o17\nj: '<<'\nk: off\n"
    tree = read_tree(text.encode(), "x.yaml")
    assert isinstance(tree, Node)
    assert as_text(tree) == {
        "a": "no", "b": "010", "c": "3.10", "d": "12:30:00", "e": "2026-10-14", "f": "~", "g": "null",
        "h": "1e3", "i": "0o17", "j": "<<", "k": "off",
    }  # fmt: skip
    # What is avoided: the same library's own loader guesses (YAML 1.1).
    assert yaml.safe_load("a: no\nb: 010\nd: 12:30:00\n") == {"a": False, "b": 8, "d": 45000}
