"""Test sheets in the made-up language: every word on paper is ours, said in it, or somebody's of the workshop."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator
from typing import Any

import pytest
from pypdf import PdfReader

from tests.language.pseudo import TAG, corpus, pseudo, strangers
from tests.language.texts import ROOT
from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import Assessment
from witnessmark.document.sheets.page import SheetPage, pages
from witnessmark.document.sheets.words import LAYOUT
from witnessmark.document.sheets.write import chosen, write_sheets
from witnessmark.document.typesetting import PRINT
from witnessmark.language import speaking
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.world import Workshop


@pytest.fixture(scope="module")
def van() -> tuple[Workshop, Assessment]:
    world = dataclasses.replace(read_workshop(ROOT), language=pseudo())
    return world, assess(world, "van-07")


@pytest.fixture(scope="module")
def sheets(van: tuple[Workshop, Assessment], tmp_path_factory: pytest.TempPathFactory) -> PdfReader:
    out = tmp_path_factory.mktemp("sheets") / "sheets.pdf"
    assert write_sheets(*van, chosen(*van, every=True), out, every=True) == ()
    return PdfReader(out)


@pytest.fixture(scope="module")
def made(van: tuple[Workshop, Assessment]) -> list[SheetPage]:
    with speaking(van[0].language):
        return pages(*van, chosen(*van, every=True), every=True)


def _texts(value: Any, key: str = "") -> Iterator[str]:
    """Each text of a sheet's data; formulas, codes and names of methods are none."""
    if isinstance(value, str):
        if key not in ("code", "method"):
            yield value.replace("\u00a0", " ").replace("\u200b", "").replace("{page}", "")
    elif isinstance(value, dict):
        for name, item in value.items():
            if name != "symbol":
                yield from _texts(item, name)
    elif isinstance(value, list):
        for item in value:
            yield from _texts(item, key)


def test_no_word_of_ours_is_left_in_english(van: tuple[Workshop, Assessment], made: list[SheetPage]) -> None:
    known = corpus(ROOT)
    with speaking(van[0].language):
        layout = dict(LAYOUT)
    assert len(made) > 30
    found = {run for page in made for text in _texts(page.data) for run in strangers(text, known)}
    found |= {run for page in made for text in _drawn(page.drawing) for run in strangers(text, known)}
    found |= {run for text in layout.values() for run in strangers(text, known)}
    assert not found, "\n".join(sorted(found))


def _drawn(svg: str) -> list[str]:
    return re.findall(r">([^<]+)</text>", svg)


def _without_code(content: str) -> str:
    """Content without what Typst computes in it, `#name(…).field`, and without labels."""
    while re.search(r"\([^()]*\)", content):
        content = re.sub(r"\([^()]*\)", "", content)
    return re.sub(r"#if [^{}]*\{[^{}]*\}|#[\w.-]+|<[\w-]+>", "", content)


@pytest.mark.parametrize("name", ["base.typ", "blocks.typ", "main.typ", "sheet.typ"])
def test_the_templates_of_print_hold_no_words(name: str) -> None:
    """In Typst brackets hold content and quotes hold strings: in neither stands a word, but for names of fonts."""
    text = re.sub(r"(?m)^\s*//.*$", "", (PRINT / name).read_text("utf-8"))
    pieces = re.findall(r"\[([^\[\]]*)\]", text)
    assert len(pieces) > 3
    words = {word for piece in pieces for word in re.findall(r"[A-Za-z]{2,}", _without_code(piece))}
    # `sha256`, and a mark of headings that is not printed.
    assert words <= {"sha", "tight"}, words
    strings = {s for s in re.findall(r'"([^"\n]*)"', text) if re.search(r"[a-z] [a-zA-Z]|^[A-Z][a-z]", s)}
    assert strings <= {"Fira Sans", "Libertinus Serif", "New Computer Modern Math", "DejaVu Sans Mono"}, strings


def test_the_file_says_its_language_and_what_pictures_show(sheets: PdfReader) -> None:
    """ISO 32000-1, 14.9.2: the language of a document stands in its catalogue as a BCP 47 tag."""
    assert str(sheets.root_object["/Lang"]) == TAG
    assert sheets.metadata is not None
    assert "øtest øsheets" in str(sheets.metadata.title)


def test_the_printed_mark_is_that_of_the_language(made: list[SheetPage]) -> None:
    """Finnish writes a comma (Unicode CLDR, symbols of `fi`)."""
    assert {page.data["mark"] for page in made} == {","}
    edges = [edge for page in made for edge in page.data["edges"] if edge["must"]]
    assert edges
    assert not [edge for edge in edges if "." in edge["must"] + edge["limit"] + edge["added"]]
    assert any("," in edge["must"] for edge in edges)


def test_the_code_of_a_sheet_and_what_passes_do_not_depend_on_the_language(made: list[SheetPage]) -> None:
    english = read_workshop(ROOT)
    plain = (english, assess(english, "van-07"))
    first = pages(*plain, chosen(*plain, every=True), every=True)
    assert [p.asked.code for p in first] == [p.asked.code for p in made]
    for one, other in zip(first, made, strict=True):
        assert _numbers(one.data["edges"]) == [text.replace(",", ".") for text in _numbers(other.data["edges"])]
        assert [(b["before"], b["behind"]) for b in one.data["blanks"]] == [
            (b["before"], b["behind"]) for b in other.data["blanks"]
        ]


def _numbers(edges: list[dict[str, str]]) -> list[str]:
    """What stands behind the words: `506.2 Ω/V`."""
    return [" ".join(edge[key].split()[-2:]) for edge in edges for key in ("must", "added") if edge[key]]
