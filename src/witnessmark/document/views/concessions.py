"""Concessions: what an authority permits, with the state beneath, always."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cell, Column, Link, Note, Table, Text
from witnessmark.language import say
from witnessmark.records.acts import Concession

from .book import CONCESSIONS, Book, Chapter, Page, View
from .words import day, plain_name, state_word

__all__ = ["VIEW"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    title = say("Concessions")
    return (Chapter(CONCESSIONS, title, title, concessions=len(book.conceded), flows=True),)


def page(book: Book, chapter: Chapter) -> Page:
    rows: list[tuple[Text | Cell, ...]] = []
    for act in book.workshop.acts:
        body = act.body
        if isinstance(body, Concession) and body.concession.vehicle == book.assessment.vehicle:
            rows += _rows(book, act.code, body)
    made: dict[str, Block] = {}
    if rows:
        made["concessions"] = Table(
            columns=(
                Column(say("Requirement"), width=2),
                Column(say("State"), width=1.3),
                Column(say("Beneath"), width=1.5),
                Column(say("Issuer and number"), width=1.8),
                Column(say("Issued, last day"), width=1.6),
                Column(say("Terms"), width=2.4),
                Column(say("Act"), width=0.7),
            ),
            rows=tuple(rows),
            wide=True,
            caption=say("Every concession that names this vehicle"),
            number=f"{chapter.number}-1",
            id="b.concessions",
        )
    else:
        made["concessions"] = Note(say("No concession names this vehicle."), id="b.concessions")
    return Page({"title": chapter.heading}, made)


def _rows(book: Book, code: str, body: Concession) -> list[tuple[Text | Cell, ...]]:
    terms = body.concession
    states = book.requirements_called(terms.requirement)
    leaf = terms.leaf and say("leaf {name}", name=plain_name(terms.leaf))
    scope = ", ".join(w for w in (leaf, terms.part and book.part_title(terms.part)) if w)
    out: list[tuple[Text | Cell, ...]] = []
    for state in states or (None,):
        note = next((c for c in state.concessions if c.code == code), None) if state else None
        what: Text = (
            (book.link(state, state.requirement.title, page=True), f" ({scope})" if scope else "")
            if state
            else terms.requirement
        )
        idle = note is None or note.idle
        out.append(
            (
                what,
                Cell(
                    say("covers nothing") if idle else state_word(state.state) if state else say("no such requirement"),
                    strong=not idle,
                    state=state.state.value if state and not idle else None,
                ),
                state_word(state.beneath) if state else say("not assessed"),
                f"{terms.issuer}, {terms.number}",
                f"{day(terms.issued)}, {day(terms.last_day)}",
                terms.terms,
                (Link(f"attachment:{code}.yaml", code),),
            )
        )
    return out


VIEW = View("concessions.rst.j2", chapters, page)
