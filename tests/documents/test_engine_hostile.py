"""Hostile text through every text field of every block: it arrives as plain text, on the screen and in print."""

from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.documents import sample
from tests.documents.test_engine import _Page
from witnessmark.document import typesetting
from witnessmark.document.blockdata import as_json
from witnessmark.document.engine import PDF_NAME, build
from witnessmark.document.templates import render_templates
from witnessmark.document.text import clean, covered, escape
from witnessmark.problems import Severity

# What could be taken for markup or for a command by one of the parsers on the way, or for nothing at all.
HOSTILE = (
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    '"><svg onload=alert(1)>',
    "</title></svg></math><b>bold</b>",
    "<!-- comment --> &lt; &amp; &#60;",
    "<![CDATA[x]]> <?php echo 1 ?>",
    "javascript:alert(1)",
    "' onmouseover='alert(1)",
    "{{ 7*7 }}",
    "{% raw %}{% endraw %}",
    "{# gone #}",
    "${7*7} #{7*7} <%= 7 %>",
    ".. raw:: html",
    ".. include:: /etc/passwd",
    ".. image:: x.png",
    ".. |x| replace:: y",
    ".. _target:",
    ".. [1] footnote",
    "::",
    ":ref:`x` :math:`x` :raw-html:`<b>`",
    "|subst|",
    "name_ and `name`_ and name__ and `a <http://x.example>`_",
    "[1]_ [#]_ [*]_ [cit]_",
    "*emphasis **strong ``literal",
    "*a* **b** ``c`` `d`",
    "====",
    "Title\n=====",
    "+---+---+",
    "| line block",
    "- list",
    "1. list",
    "A. list",
    ":field: value",
    "-o option",
    ">>> doctest",
    "\\ \\* \\\\ \\n",
    "term\n    definition",
    "#panic()",
    '#read("/etc/passwd")',
    "@label <label>",
    "$x^2$ $ y $",
    "[content] #[x]",
    "_under_ *star* `raw`",
    "= heading",
    "// comment /* comment */",
    "~ -- --- ... -? \"q\" 'q'",
    "\\u{48} \\#",
    "\\input{x} \\write18{x} \\frac",
    "% comment & column ~ tie",
    "quote \" and ' and `",
    "back\\slash at the end\\",
    "new\nline",
    "carriage\r\nreturn\rhere",
    "tab\there",
    "nul\x00here",
    "bell\x07 escape\x1b[31mred",
    "delete\x7f c1\x85 here",
    "line\u2028separator\u2029paragraph",
    "right\u202eto left\u202c",
    "isolate\u2067x\u2069 mark\u200f",
    "private\ue000use",
    "non\uffff\ufdd0character",
    "lone \ud800 half",
    "emoji \U0001f50b \U0001f469\u200d\U0001f527",
    "\u6f22\u5b57 \ud55c\uae00 \u05d0\u05d1 \u0627\u0628",
    "combining e\u0301 a\u0308\u0323",
    "zero\u200bwidth\ufeffhere",
    "soft\u00adhyphen no\u00a0break narrow\u202fspace",
    "prime\u2032 hyphen\u2011 parallel\u2225",
    "x" * 300,
    "unbroken/" + "path-" * 40,
    "=cmd|' /C calc'!A0",
    "../../../etc/passwd",
    "attachment:records.json http://x.example/ mailto:a@b",
    "<wbr>&shy;&#8203;",
    "null None undefined NaN",
)
_MARK = re.compile(r"zq(\d+)w(.*?)zq\1y", re.DOTALL)
# No words for the reader: names, addresses, choices and formulas.
_KEPT = frozenset({"id", "to", "file", "kind", "state", "states", "align", "style", "symbol", "formula", "of_symbol"})
# Shown by one output only, or only when another field is empty.
_NOT_ON_SCREEN = frozenset({("RequirementHead", "title"), ("RequirementHead", "number")})


class _Fields:
    """Replaces the text fields of a block, each with a text of its own between two marks."""

    def __init__(self, shift: int) -> None:
        self.shift = shift
        self.at = 0
        self.put: dict[int, tuple[str, str, str]] = {}

    def fill(self, value: Any, owner: str = "", name: str = "") -> Any:
        if isinstance(value, str):
            choice = name == "side" or (owner, name) == ("Column", "align")
            if name in _KEPT or choice or (not value and name in ("number", "word", "u", "bound", "label")):
                return value
            text = HOSTILE[(self.at + self.shift) % len(HOSTILE)]
            number = self.shift * 1000 + self.at
            self.at += 1
            self.put[number] = (owner, name, text)
            return f"zq{number}w{text}zq{number}y"
        if isinstance(value, tuple):
            return tuple(self.fill(item, owner, name) for item in value)
        if dataclasses.is_dataclass(value) and not isinstance(value, type):
            owner = type(value).__name__
            changed: dict[str, Any] = {}
            for item in dataclasses.fields(value):
                part = getattr(value, item.name)
                # These links carry the title or the page's number, not their own words.
                bare = item.name == "link" and owner in ("Gap", "MatrixRow", "RunColumn")
                changed[item.name] = part if bare else self.fill(part, owner, item.name)
            if changed.get("id"):
                changed["id"] = f"{changed['id']}-{self.shift}"
            return type(value)(**changed)
        return value


def _squeezed(text: str) -> str:
    return " ".join(text.replace("\u200b", "").split())


def _leaves(value: Any) -> list[str]:
    if isinstance(value, str):
        return [value]
    if isinstance(value, dict):
        return [text for item in value.values() for text in _leaves(item)]
    if isinstance(value, list):
        return [text for item in value for text in _leaves(item)]
    return []


def _write(folder: Path, shifts: range) -> tuple[dict[int, tuple[str, str, str]], list[str]]:
    sample.write(folder)
    put: dict[int, tuple[str, str, str]] = {}
    pages = ["index"]
    (folder / "data" / "index.json").write_text(json.dumps({"n": {"kind": "note", "text": "front"}}), encoding="utf-8")
    names = [(f"{group}-{key}", block) for group, items in sample.blocks().items() for key, block in items.items()]
    for name in ("contents", "gaps", "matrix", "shock", "prose"):
        (folder / f"{name}.rst").unlink()
    for number, (name, block) in enumerate(names):
        entries, lines = {}, [name, "=" * 60, ""]
        for shift in shifts:
            fields = _Fields(shift + 100 * number)
            entries[f"b{shift}"] = as_json(fields.fill(block))
            put |= fields.put
            lines += [f"Section {shift}", "-" * 60, "", f".. block:: data/{name}.json#b{shift}", ""]
        (folder / "data" / f"{name}.json").write_text(json.dumps(entries), encoding="utf-8")
        (folder / f"{name}.rst").write_text("\n".join(lines), encoding="utf-8")
        pages.append(name)
    tree = "\n".join(f"   {name}" for name in pages[1:])
    front = f"Front\n=====\n\n.. block:: data/index.json#n\n\n.. toctree::\n   :hidden:\n\n{tree}\n"
    (folder / "index.rst").write_text(front, encoding="utf-8")
    return put, pages


def test_every_field_of_every_block_arrives_as_plain_text(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put, pages = _write(tmp_path / "s", range(3))
    assert {text for _, _, text in put.values()} == set(HOSTILE)
    trees: list[Any] = []
    typeset = typesetting.typeset

    def kept(work: Path, *rest: Any, **named: Any) -> Any:
        trees.append(json.loads((work / "body.json").read_text("utf-8")))
        return typeset(work, *rest, **named)

    monkeypatch.setattr(typesetting, "typeset", kept)
    attached = sample.attachments(tmp_path / "a")
    report = build(tmp_path / "s", tmp_path / "out", settings=sample.SETTINGS, attachments=attached)
    # Links of the sample lead to pages that are not here; characters without a glyph are told. Nothing else comes up.
    assert {p.code for p in report.problems} <= {"document.link", "document.character"}
    assert all(p.severity is Severity.NOTE for p in report.problems)
    assert (tmp_path / "out" / PDF_NAME).is_file()
    _look_at_screen(tmp_path / "out" / "html", pages, put)
    printed: dict[int, str] = {}
    for leaf in _leaves(trees[0]):
        printed |= {int(number): text for number, text in _MARK.findall(leaf.replace("\u200b", ""))}
    for number, (owner, name, text) in put.items():
        if (
            owner in ("IntervalChart", "IntervalRow", "Decay", "Band", "Limit", "Extreme", "Curves", "Curve", "Mark")
            or name == "title"
        ):
            continue  # drawn, not in the tree; a title beside a symbol becomes its spoken words
        assert _squeezed(printed[number]) == _squeezed(covered(clean(text), lambda char: None)), (owner, name, text)


def _look_at_screen(html: Path, pages: list[str], put: dict[int, tuple[str, str, str]]) -> None:
    seen: dict[int, set[str]] = {}
    for name in pages:
        page = _Page((html / f"{name}.html").read_text("utf-8"))
        for tag, attributes in page.tags:
            assert tag not in ("iframe", "object", "embed", "base"), (name, tag)
            assert not [key for key in attributes if key.startswith("on")], (name, tag, attributes)
            if tag == "script":
                assert attributes.get("src", "").startswith("_static/"), (name, attributes)
            assert not attributes.get("href", "").lower().startswith(("javascript", "data"))
            assert not attributes.get("src", "").startswith(("http", "data", "//"))
        said = page.text + " " + " ".join(v for _, attributes in page.tags for v in attributes.values())
        for number, text in _MARK.findall(said):
            seen.setdefault(int(number), set()).add(_squeezed(text))
    for number, (owner, name, text) in put.items():
        if (owner, name) not in _NOT_ON_SCREEN:
            assert seen.get(number) == {_squeezed(clean(text))}, (owner, name, text)


def test_hostile_text_in_templates_is_plain_text(tmp_path: Path) -> None:
    (tmp_path / "t").mkdir()
    (tmp_path / "t" / "index.rst.j2").write_text(
        "{{ heading(words[0]) }}\n\n{% for w in words %}\nA zq{{ loop.index }}w{{ w }}zq{{ loop.index }}y end.\n\n"
        "{% endfor %}\n.. list-table::\n\n{% for w in words %}{% set n = loop.index + 500 %}\n"
        "   * - B zq{{ n }}w{{ w }}zq{{ n }}y\n{% endfor %}\n",
        encoding="utf-8",
    )
    page = {"template": "index.rst.j2", "target": "index.rst", "context": {"words": list(HOSTILE)}}
    texts, problems = render_templates([tmp_path / "t"], [page])
    assert problems == ()
    (tmp_path / "s").mkdir()
    (tmp_path / "s" / "index.rst").write_text(texts["index.rst"], encoding="utf-8")
    report = build(tmp_path / "s", tmp_path / "out", settings=sample.SETTINGS, formats=("html",))
    assert [p for p in report.problems if p.code != "document.link"] == []
    text = _Page((tmp_path / "out" / "html" / "index.html").read_text("utf-8")).text
    found = {int(number): words for number, words in _MARK.findall(text)}
    for index, words in enumerate(HOSTILE, 1):
        for number in (index, index + 500):
            assert _squeezed(found[number]) == _squeezed(clean(words)), words


def test_hostile_settings_stay_words(tmp_path: Path) -> None:
    """What stands on every page comes from records as well: vehicle, VIN, stamps, chapters."""
    nasty = "<script>alert(1)</script> {{ 7*7 }} #panic() \" ' \x00"
    settings = dataclasses.replace(
        sample.SETTINGS,
        title=nasty,
        vehicle=nasty,
        vin=nasty,
        origin=nasty,
        verdict=nasty,
        stamps=(nasty,),
        author=nasty,
    )
    (tmp_path / "s").mkdir()
    (tmp_path / "s" / "index.rst").write_text("Page\n====\n\nWords.\n", encoding="utf-8")
    report = build(tmp_path / "s", tmp_path / "out", settings=settings)
    assert {p.code for p in report.problems} <= {"document.link", "document.character"}
    assert (tmp_path / "out" / PDF_NAME).is_file()
    for path in (tmp_path / "out" / "html").glob("*.html"):
        page = _Page(path.read_text("utf-8"))
        assert not [attributes for tag, attributes in page.tags if tag == "script" and "src" not in attributes]
        assert "alert(1)" in page.text


def test_escape_leaves_something_to_stand_on() -> None:
    assert escape("") == "\\ "
    assert escape("a*b") == "a\\*b"
