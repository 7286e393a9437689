"""Texts of ours by key: every key that is used exists, all catalogues have the same, nothing converted stays English.

The second language is made up: English with every word marked, another decimal mark and other dates, read by the same
reader as a real one.
"""

from __future__ import annotations

import dataclasses
import json
import re
from collections.abc import Mapping
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from tests.documents import sample
from witnessmark.assessment.assess import assess
from witnessmark.document import catalogue as module
from witnessmark.document.blockdata import as_json
from witnessmark.document.catalogue import LANGUAGES, Catalogue, CatalogueFault, catalogue, fields, read, speaking, t
from witnessmark.document.content import sources
from witnessmark.document.engine import PDF_NAME, build
from witnessmark.document.views import words
from witnessmark.reading.workshop import read_workshop

ROOT = Path(__file__).parents[2]
DOCUMENT = ROOT / "src" / "witnessmark" / "document"
MARK = "ø"
CONVERTED = ("emergency-responders", "conformity-of-production", "instruments", "concessions", "places", "test-reports")
"""Pages whose view and template say nothing but through the catalogue."""
AREAS = ("rescue", "waiting", "production", "instruments", "concessions", "lookup", "reports")


def _marked(text: str) -> str:
    """Every word with the mark before it; what stands in braces stays."""
    parts = re.split(r"(\{[^}]*\})", text)
    return "".join(p if p.startswith("{") else re.sub(r"[A-Za-z][\w']*", lambda m: MARK + m.group(), p) for p in parts)


def _toml(tree: Mapping[str, Any], path: str = "") -> str:
    def value(one: Any) -> str:
        if isinstance(one, dict):
            return "{" + ", ".join(f"{k} = {value(v)}" for k, v in one.items()) + "}"
        return json.dumps(one, ensure_ascii=False)

    plain = {k: v for k, v in tree.items() if not isinstance(v, dict) or "other" in v}
    out = (f"[{path}]\n" if path else "") + "".join(f"{k} = {value(v)}\n" for k, v in plain.items())
    for key, inner in tree.items():
        if key not in plain:
            out += "\n" + _toml(inner, f"{path}.{key}" if path else key)
    return out


@cache
def pseudo() -> Catalogue:
    import tomllib

    tree = tomllib.loads((DOCUMENT / "catalogues" / "en.toml").read_text("utf-8"))

    def changed(one: Any) -> Any:
        if isinstance(one, dict):
            return {k: changed(v) for k, v in one.items()}
        return [changed(v) for v in one] if isinstance(one, list) else _marked(one)

    grammar = tree.pop("grammar")
    other = {**changed(tree), "grammar": {**changed(grammar), "plural": "one-other", "decimal": ","}}
    other["grammar"].update(day="{day}. {month} {year}", day_short="{day}. {month} {year}")
    return read(_toml(other).encode("utf-8"), "xx")


# ---------------------------------------------------------------- keys

_CALL = re.compile(r"""\bt\(\s*(?:\n\s*)?(f?)"([a-z_]+\.[^"]+)\"""")


def _used() -> tuple[set[str], set[str]]:
    """Keys that the source asks as they are, and beginnings of those that it puts together."""
    whole: set[str] = set()
    begun: set[str] = set()
    for path in sorted([*DOCUMENT.rglob("*.py"), *(ROOT / "templates").glob("*.rst.j2")]):
        text = path.read_text("utf-8")
        for made, key in _CALL.findall(text):
            (begun if made and "{" in key else whole).add(key.partition("{")[0] if made else key)
        if path.name == "words.py":
            whole |= set(re.findall(r"""["'](words\.[a-z_-]+)["']""", text))
            begun |= {found.partition("{")[0] for found in re.findall(r'f"(words\.[^"]+)"', text)}
        if path.name == "places.py":
            whole |= set(re.findall(r'"(rescue\.[a-z_]+)"', text))
        begun |= {f"{name}." for name in re.findall(r'section\("([a-z]+)"\)', text)}
    return whole, begun


def test_every_key_that_is_used_exists_in_every_catalogue() -> None:
    whole, begun = _used()
    assert len(whole) > 90 and "state." in begun
    for language in LANGUAGES:
        texts = catalogue(language).texts
        assert not whole - set(texts)
        assert not {start for start in begun if not any(key.startswith(start) for key in texts)}


def test_every_key_of_a_catalogue_is_used() -> None:
    whole, begun = _used()
    left = {key for key in catalogue("en").texts if key not in whole and not key.startswith(tuple(begun))}
    assert not left


def test_the_layout_asks_words_that_exist_and_each_of_them() -> None:
    asked: set[str] = set()
    for path in [*(DOCUMENT / "print").glob("*.typ"), *(DOCUMENT / "theme").rglob("*.html")]:
        if path.name != "sheet.typ":
            asked |= set(re.findall(r"\b(?:w|wm_words)\.([a-z_]+)", path.read_text("utf-8")))
    asked -= {"map"}
    have = {key.removeprefix("layout.") for key in catalogue("en").texts if key.startswith("layout.")}
    elsewhere = {"chapters_note", "search"}  # the settings ask these by key
    assert asked <= have and have - asked <= elsewhere | {"chapters"}


def test_all_catalogues_have_the_same_keys_forms_and_values() -> None:
    one = catalogue("en")
    for other in (*(catalogue(language) for language in LANGUAGES), pseudo()):
        assert set(other.texts) == set(one.texts)
        for key, text in one.texts.items():
            assert isinstance(text, str) == isinstance(other.texts[key], str), key
            assert fields(text) == fields(other.texts[key]), key


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda s: s.replace('decimal = "."', ""), "needs a grammar"),
        (lambda s: s.replace('"November", ', ""), "11 entries, not 12"),
        (lambda s: s.replace('plural = "one-other"', 'plural = "n != 1"'), "is one of"),
        (lambda s: s.replace('and = "and"', "and = 3"), "neither a text nor plural forms"),
        (lambda s: s + "[", "cannot be read"),
    ],
)
def test_a_catalogue_that_is_wrong_says_where(spoil: Any, said: str) -> None:
    text = (DOCUMENT / "catalogues" / "en.toml").read_text("utf-8")
    assert spoil(text) != text
    with pytest.raises(CatalogueFault, match=said):
        read(spoil(text).encode("utf-8"), "xx")


def test_a_call_that_does_not_fit_is_told() -> None:
    for call in (
        lambda: t("no.such"),
        lambda: t("tally.lapsed"),
        lambda: t("rescue.voltage"),
        lambda: catalogue("tlh"),
    ):
        with pytest.raises(CatalogueFault):
            call()


def test_values_are_never_read_as_texts() -> None:
    assert t("rescue.voltage", voltage="{voltage.__class__} {0}") == "{voltage.__class__} {0} DC"


@pytest.mark.parametrize(
    ("plural", "forms"),
    [
        ("one-other", {0: "other", 1: "one", 2: "other", 21: "other"}),
        ("one-also-nought", {0: "one", 1: "one", 2: "other"}),
        ("one-few-many", {1: "one", 2: "few", 5: "many", 11: "many", 12: "many", 21: "one", 22: "few", 25: "many"}),
        ("other", {0: "other", 1: "other"}),
    ],
)
def test_plural_forms_follow_the_rules_of_cldr(plural: str, forms: dict[int, str]) -> None:
    """Unicode CLDR, language plural rules: en, fr (without its form for millions), ru and ja; from memory."""
    assert {n: module._FORMS[plural](n) for n in forms} == forms


def test_dates_counts_and_marks_are_those_of_the_language() -> None:
    on = date(2026, 9, 1)
    assert (words.day(on), words.short_day(on), words.count(3), words.joined("abc")) == (
        "1 September 2026", "1 Sep. 2026", "three", "a, b and c",
    )  # fmt: skip
    with speaking(pseudo()):
        assert (words.day(on), words.short_day(on), words.count(3), words.joined("abc")) == (
            "1. øSeptember 2026", "1. øSep. 2026", "øthree", "a, b øand c",
        )  # fmt: skip
        assert words.FINDING["meets"] == "ømeets" and words.effort(90) == "øabout øone øand øa øhalf øhours"
        assert module.marked("4.20") == "4,20"
    assert words.FINDING["meets"] == "meets"


# ---------------------------------------------------------------- nothing stays English

_KEPT = {"id", "file", "kind", "state", "align", "style", "symbol", "of_symbol", "figure", "side", "body"}


def _blank(value: Any, name: str = "") -> Any:
    """A block without a word of its own: every text is a number."""
    if isinstance(value, str):
        return value if name in _KEPT or not value else "https://7.7/" if name == "to" else "7"
    if isinstance(value, tuple):
        return tuple(_blank(item, name if name in ("states",) else "") if name != "states" else item for item in value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        changes = {
            f.name: _blank(getattr(value, f.name), f.name) for f in dataclasses.fields(value) if f.name != "kind"
        }
        changes |= {name: "7" for name in ("symbol", "of_symbol") if name in changes}
        return dataclasses.replace(value, **changes)
    return value


def _strangers(text: str) -> set[str]:
    """Words without the mark. Single letters are symbols and units."""
    return {w for w in re.findall(r"[^\W\d_]{2,}", text) if not w.startswith(MARK)}


@pytest.fixture(scope="module")
def blank(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Every kind of block without a word of its own, built in the made-up language."""
    base = tmp_path_factory.mktemp("blank")
    written = sample.write(base / "sources")
    for page in written.glob("*.rst"):
        page.unlink()
    groups: dict[str, list[str]] = {}
    for group, found in sample.blocks().items():
        data = {f"b{n}": as_json(_blank(block)) for n, block in enumerate(found.values())}
        (written / "data" / f"{group}.json").write_text(json.dumps(data), encoding="utf-8")
        groups[group] = list(data)
    for group, keys in groups.items():
        text = "7\n=\n\n" + "".join(f"7{n}\n--\n\n.. block:: data/{group}.json#{key}\n\n" for n, key in enumerate(keys))
        (written / f"{group}.rst").write_text(text, encoding="utf-8")
    (written / "index.rst").write_text("7\n=\n\n.. toctree::\n\n" + "".join(f"   {g}\n" for g in groups), "utf-8")
    with speaking(pseudo()):
        settings = dataclasses.replace(
            _blank(sample.SETTINGS), language="en", verdict_link=None, list_title=t("layout.chapters_note"),
            search_title=t("layout.search"), chapters=(), states=(),
        )  # fmt: skip
        report = build(written, base / "out", settings=settings)
    assert (base / "out" / PDF_NAME).is_file(), report.problems
    return base / "out"


def test_no_word_of_the_layout_on_paper_stays_english(blank: Path) -> None:
    pages = [page.extract_text() for page in PdfReader(blank / PDF_NAME).pages]
    text = "\n".join(pages)
    assert text.count(MARK) > 60
    assert _strangers(text) <= {"sha"}, "the name of the algorithm is one in every language"


def test_no_word_of_the_layout_on_the_screen_stays_english(blank: Path) -> None:
    seen = 0
    for page in sorted((blank / "html").glob("*.html")):
        if page.stem in ("search", "genindex"):
            continue
        html = re.sub(r"(?s)<(script|style|math|title)\b.*?</\1>", " ", page.read_text("utf-8"))
        said = re.findall(r'(?:aria-label|alt|placeholder|title)="([^"]*)"', html)
        text = re.sub(r"<[^>]*>", " ", html) + " ".join(said)
        text = re.sub(r"&\w+;|&#\d+;|https?://\S+", " ", text)
        seen += text.count(MARK)
        assert _strangers(text) <= {"sha"}, page.name
    assert seen > 60


def test_no_text_of_a_converted_view_stays_english() -> None:
    world = read_workshop(ROOT)
    one = assess(world, "van-07")
    with speaking(pseudo()):
        made = sources(world, one)
    evidence = json.dumps([act.tree for act in world.acts], ensure_ascii=False, default=str).casefold()
    english = [
        text
        for key, value in catalogue("en").texts.items()
        for text in ([value] if isinstance(value, str) else value.values())
        if key.split(".")[0] in AREAS and "{" not in text and len(text) > 8
    ]
    # What a person of the workshop wrote stays in the language in which it was written.
    english = [text for text in english if text.casefold() not in evidence]
    assert len(english) > 40
    for page in CONVERTED:
        data = json.loads(made.data[f"data/{page}.json"])
        said = json.dumps(data, ensure_ascii=False)
        assert said.count(MARK) > 4
        left = [text for text in english if re.search(rf"(?<![\w{MARK}]){re.escape(text)}", said)]
        assert left == [], page
        template = (ROOT / "templates" / f"{page}.rst.j2").read_text("utf-8")
        prose = re.sub(r"(?s)\{\{.*?\}\}|\{%.*?%\}", "", template)
        assert not re.search(r"[A-Za-z]", prose), "prose of its own"
    assert all(MARK in entry.word for entry in made.settings.states)
    assert MARK in made.settings.line and "øNovember" in made.settings.as_of
