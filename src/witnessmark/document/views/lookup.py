"""The index: requirements, parts, records, instruments and people, each with every place that uses it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from witnessmark.assessment.model import RequirementState
from witnessmark.document.blocks import Block, Cell, Column, Link, Table, Text
from witnessmark.language import say

from .book import INSTRUMENTS, LOOKUP, PEOPLE, Book, Chapter, Page, View, walk
from .instruments import used
from .people import roles
from .results import who_and_when
from .words import capital, plain_name, state_word

__all__ = ["VIEW"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(LOOKUP, say("Index"), say("Index"), flows=True),)


def page(book: Book, chapter: Chapter) -> Page:
    made: dict[str, Block] = {"requirements": _requirements(book)}
    parts: dict[str, dict[tuple[str, str], RequirementState]] = {}
    for state, part, _ in walk(book.assessment):
        parts.setdefault(part.part or "", {})[state.set_id, state.id] = state
    if parts:
        titles = {ident: capital(book.part_title(ident or None)) for ident in parts}
        made["parts"] = _places(
            book,
            say("Part"),
            {titles[i]: parts[i].values() for i in sorted(parts, key=lambda i: titles[i])},
            "b.parts",
        )
    if book.uses:
        made["records"] = _records(book)
    instruments = used(book)
    if instruments:
        made["instruments"] = _by_records(book, say("Instrument"), instruments, INSTRUMENTS, "b.instruments")
    people = {book.person(who): set().union(*done.values()) for who, done in roles(book).items()}
    if people:
        made["people"] = _by_records(book, say("Person"), dict(sorted(people.items())), PEOPLE, "b.people")
    titles_ = {
        "requirements": say("Requirements"),
        "parts": say("Parts"),
        "records": say("Records by code"),
        "instruments": say("Instruments"),
        "people": say("People"),
    }
    return Page({"title": chapter.heading, "sections": [{"key": key, "title": titles_[key]} for key in made]}, made)


def _requirements(book: Book) -> Table:
    found = sorted(book.assessment.requirements, key=lambda r: (r.requirement.title.casefold(), r.set_id, r.id))
    rows: list[tuple[Text | Cell, ...]] = [
        (
            (book.link(r, r.requirement.title, page=True),),
            book.clause(r),
            Cell(state_word(r.state), strong=r.state.is_gap),
        )
        for r in found
    ]
    return Table(
        (
            Column(say("Requirement"), width=3),
            Column(say("Clause"), width=1.6),
            Column(say("State"), width=1.2),
        ),
        tuple(rows),
        id="b.requirements",
    )


def _links(book: Book, states: Iterable[RequirementState]) -> Text:
    out: list[str | Link] = []
    for state in states:
        out += ([", "] if out else []) + [book.link(state, page=True)]
    return tuple(out)


def _places(book: Book, head: str, found: Mapping[str, Iterable[RequirementState]], ident: str) -> Table:
    rows: list[tuple[Text | Cell, ...]] = [(name, _links(book, states)) for name, states in found.items()]
    return Table((Column(head, width=1.6), Column(say("Requirements"), width=3)), tuple(rows), id=ident)


def _records(book: Book) -> Table:
    rows: list[tuple[Text | Cell, ...]] = []
    for code, uses in sorted(book.uses.items()):
        record = uses[0].result.record
        states = {(u.requirement.set_id, u.requirement.id): u.requirement for u in uses}
        rows.append(
            (
                book.record_link(code),
                who_and_when(book, record),
                record.design or capital(book.part_title(record.part)),
                plain_name(record.method) if record.method else say("no method"),
                _links(book, states.values()),
            )
        )
    return Table(
        (
            Column(say("Code"), width=0.8),
            Column(say("Who and when"), width=2),
            Column(say("Part"), width=1.4),
            Column(say("Method"), width=1.4),
            Column(say("Requirements"), width=1.8),
        ),
        tuple(rows),
        wide=True,
        id="b.records",
    )


def _by_records(book: Book, head: str, found: Mapping[str, set[str]], target: str, ident: str) -> Table:
    rows: list[tuple[Text | Cell, ...]] = []
    for name, codes in found.items():
        links: list[str | Link] = []
        for code in sorted(codes):
            links += ([", "] if links else []) + [p for p in book.record_link(code) if isinstance(p, str | Link)]
        rows.append(((Link(target, name, True),), tuple(links)))
    return Table((Column(head, width=1), Column(say("Records"), width=4)), tuple(rows), id=ident)


VIEW = View("places.rst.j2", chapters, page)
