"""Pages that the demonstration does not have are said in the language of the run too: letters, a later issue, gaps."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from tests.documents import fixture_assessment
from tests.documents.fixture_assessment import assessment, workshop
from tests.language.pseudo import plain, pseudo, strangers
from witnessmark.assessment.model import AuthorityNote, RequirementState
from witnessmark.document.blockdata import as_json
from witnessmark.document.issued import Changed, Issued
from witnessmark.document.views import authority, changes, conversion, files, people, rule, rules_applied, vehicle
from witnessmark.document.views.book import Book, View
from witnessmark.document.views.set_changes import SetChange
from witnessmark.language import Language, speaking
from witnessmark.release.compare import Difference

ANSWERS = (("accepted", ""), ("question", "Mellan pojo?"), ("refused", "Zand tilo."))
NAMES = ("kind", "figure", "id", "to", "state", "style", "align", "file")
"""Keys of a block whose value is no text for people."""
_NO_WORDS = re.compile(r"[0-9a-f]{64}|[\d.]+( [a-z]+kuuta \d{4})?")
"""A digest, and a day as Finnish writes it."""


@pytest.fixture(scope="module")
def book() -> Book:
    world = workshop()
    found = assessment(world)
    states = tuple(
        replace(state, authority=_note(*ANSWERS[n])) if n < len(ANSWERS) else state
        for n, state in enumerate(found.requirements)
    )
    return Book.of(world, replace(found, requirements=states))


def _note(answer: str, words: str) -> AuthorityNote:
    return AuthorityNote("abc234", answer, words, "A", "Zumo", "Z-1", date(2026, 11, 2))


def _texts(value: object, key: str = "") -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for name, inner in value.items():
            if name not in NAMES:
                yield from _texts(inner, name)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _texts(inner, key)


def _unsaid(book: Book, view: View) -> list[str]:
    """What the page says in the made-up language that is neither ours nor anybody's of the workshop."""
    written = Path(fixture_assessment.__file__).read_text("utf-8")
    known = f" {plain(written)} {plain(' '.join(words for _, words in ANSWERS))} zumo abc234 "
    with speaking(pseudo()):
        (chapter,) = view.chapters(book)
        page = view.page(book, chapter)
        told = [chapter.title, chapter.short, *_texts({k: as_json(v) for k, v in page.blocks.items()})]
    assert len(told) > 6
    runs = (run for text in told for run in strangers(text, known))
    pieces = (piece for run in runs for piece in re.split(r"[,:;](?:\s|$)", run))
    return [piece for piece in pieces if piece and not _NO_WORDS.fullmatch(piece) and f" {plain(piece)} " not in known]


def test_letters_of_the_authority(book: Book) -> None:
    assert _unsaid(book, authority.VIEW) == []
    assert authority.verdict_of_the_authority(book) == (
        "Zumo answered: 1 refused, 1 with a question and 1 accepted; to six requirements nothing was answered yet."
    )


def test_a_later_issue(book: Book) -> None:
    first: RequirementState = book.assessment.requirements[0]
    name = f"{first.set_id}:{first.id}"
    with speaking(pseudo()):
        found = [
            Difference("state", name, "", ("lapsed", ""), ("under-concession", "lapsed")),
            Difference("result", f"{name}/value", "", ("abc234", ""), ("abc234", "pass", "", "12.5", "0.5", "V")),
            Difference("part", "traction-bus", "", None, ("Zumo", "", "", True)),
            Difference("fact", "vin", "traction-bus", ("Zumo",), None),
            Difference("set", "own-set", "", ("edition", "2"), ("text", "another")),
        ]
        told = tuple(Changed(d.kind, d.subject, d.was, d.now, d.part) for d in found)
    issued = Issued("B", "jm", second="ao", previous="A", previous_as_of="2026-11-02", why="Zumo.", changes=told)
    assert _unsaid(replace(book, issued=issued), changes.VIEW) == []


def test_what_is_kept_as_data_is_said_in_english() -> None:
    """By hand from the manual's words: `compare --format json` reads the same whatever the workshop speaks."""
    one = Difference("state", "own-set:x", "bus", ("lapsed", ""), ("under-concession", "not-shown"))
    data = {"kind": "state", "what": "own-set:x of bus", "was": "lapsed", "now": "under concession (not shown beneath)"}
    with speaking(pseudo()):
        assert one.as_json() == data
        assert one.now == "øunder øconcession (ønot øshown øbeneath)"
    with speaking(Language()):
        assert one.now == data["now"]


def test_changes_of_a_set(book: Book) -> None:
    one = SetChange("taken-out", "2", "jm", "", ("zumo",))
    assert one.words == "Taken out. NO REASON WAS GIVEN. LOOSENED: zumo."
    changed = replace(book, set_changes={("own-set", "x"): one, ("own-set", "y"): replace(one, what="added")})
    assert _unsaid(changed, rules_applied.VIEW) == []


@pytest.mark.parametrize("view", [vehicle.VIEW, people.VIEW, files.VIEW, rule.VIEW], ids=lambda v: v.template)
def test_pages_of_a_small_workshop(book: Book, view: View) -> None:
    assert _unsaid(book, view) == []


def test_nothing_stated_is_said_too(book: Book) -> None:
    bare = replace(book, stated=(), parts=(), no_parts=(), uses={}, photos={})
    for view in (vehicle.VIEW, people.VIEW, files.VIEW):
        with speaking(pseudo()):
            (chapter,) = view.chapters(bare)
            told = list(_texts({k: as_json(v) for k, v in view.page(bare, chapter).blocks.items()}))
        assert any("ø" in text for text in told), view.template
    assert conversion.VIEW.chapters(bare) == ()
