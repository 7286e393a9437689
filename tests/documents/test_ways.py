"""From a result to what was read and back to every place that uses it, and from a state to its requirements."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.documents.fixture_assessment import assessment, workshop
from tests.documents.reader import Reader, dead_links
from witnessmark.document.build import BuildReport
from witnessmark.document.count_pdf import letters, printed
from witnessmark.document.views.book import Book, walk
from witnessmark.document.views.states import occurring


@pytest.fixture(scope="module")
def book() -> Book:
    world = workshop()
    return Book.of(world, assessment(world))


@pytest.fixture(scope="module")
def pages(good: tuple[Path, BuildReport]) -> dict[str, Reader]:
    return {path.stem: Reader(path) for path in (good[1].out / "html").glob("*.html")}


def test_every_record_has_a_page_that_names_every_place_that_uses_it(book: Book, pages: dict[str, Reader]) -> None:
    """The places come from the assessment itself, walked leaf by leaf."""
    places: dict[str, set[str]] = {}
    for requirement, _, leaf in walk(book.assessment):
        for result in leaf.records:
            places.setdefault(result.act.code, set()).add(f"{book.target(requirement)}".replace("#", ".html#"))
    assert len(places) > 5
    for code, wanted in places.items():
        page = pages[f"record-{code}"]
        assert wanted <= set(page.links), code
        assert f"attached/{code}.yaml" in page.links


def test_the_readings_stand_there_letter_for_letter(book: Book, pages: dict[str, Reader]) -> None:
    seen = 0
    for code, uses in book.uses.items():
        for value in uses[0].result.record.readings.values():
            for text in value if isinstance(value, tuple) else (value,):
                assert " ".join(text.split()) in " ".join(pages[f"record-{code}"].words.replace("\xa0", " ").split())
                seen += 1
    assert seen > 8


def test_a_chapter_leads_to_the_page_of_the_record_and_not_to_the_file(book: Book, pages: dict[str, Reader]) -> None:
    named = 0
    for name, page in pages.items():
        if not name.startswith("area-"):
            continue
        for link in page.links:
            code = re.fullmatch(r"attached/(\w+)\.yaml", link)
            assert not code or code[1] not in book.uses, (name, link)
            named += link.startswith("record-")
    assert named > 5


def test_every_link_of_every_page_leads_somewhere(good: tuple[Path, BuildReport], pages: dict[str, Reader]) -> None:
    assert dead_links(good[1].out / "html", pages) == []
    assert sum(len(page.links) for page in pages.values()) > 500


def test_states_have_a_page_each_and_none_of_these_pages_is_printed(
    book: Book, good: tuple[Path, BuildReport], pages: dict[str, Reader]
) -> None:
    assert {name for name in pages if name.startswith("state-")} == {f"state-{s.value}" for s in occurring(book)}
    assert letters("Every place that uses it") not in letters(printed(good[1].pdf).upright)
    for name, page in pages.items():
        for state in occurring(book):
            assert (f"state-{state.value}.html" in page.links) is (name != f"state-{state.value}"), name
