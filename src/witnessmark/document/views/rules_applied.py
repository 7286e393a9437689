"""Which sets were applied: edition, series, how sure their figures are, and every change of the workshop's own."""

from __future__ import annotations

from witnessmark.assessment.editions import governing_edition
from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import RequirementState, Reviewed, State
from witnessmark.document.blocks import Block, Cell, Column, Note, Table, Text
from witnessmark.language import say, say_n

from .book import RULES_APPLIED, Book, Chapter, Page, View
from .set_changes import SetChange
from .words import sentence

__all__ = ["VIEW"]

_Row = tuple[Text | Cell, ...]


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(RULES_APPLIED, say("Rules applied"), flows=True),)


def page(book: Book, chapter: Chapter) -> Page:
    ledger = Ledger(book.workshop)
    names = tuple(dict.fromkeys(s for s, _ in book.areas()))
    made: dict[str, Block] = {
        "sets": Table(
            (
                Column(say("Set"), width=2.6),
                Column(say("Series"), width=0.7),
                Column(say("Edition"), width=0.7),
                Column(say("Asked here"), width=0.8),
                Column(say("How sure its figures are"), width=3),
            ),
            tuple(_set_row(book, ledger, name) for name in names),
            say("Requirement sets that this vehicle was assessed against"),
            f"{chapter.number}-1",
            id="b.sets",
        )
    }
    changes = [_change(book, f"{name}:{ident}", one) for (name, ident), one in book.set_changes.items()]
    made["changes"] = (
        Table(
            (
                Column(say("Requirement"), width=1.6),
                Column(say("Edition"), width=0.7),
                Column(say("What and why"), width=3.4),
                Column(say("By"), width=1),
            ),
            tuple(changes),
            say("Changes of this workshop to its requirement sets"),
            f"{chapter.number}-2",
            id="b.set-changes",
        )
        if changes
        else Note(
            say("No requirement of these sets differs from the edition that came with the tool."), id="b.set-changes"
        )
    )
    return Page({"title": chapter.heading, "keys": list(made)}, made)


def _set_row(book: Book, ledger: Ledger, name: str) -> _Row:
    found = book.set_of(name)
    states = [s for s in book.assessment.requirements if s.set_id == name]
    file = found.file if found else None
    series = (file.series if file else None) or say("none")
    if file and file.supplement:
        series = say("{series}, supplement {number}", series=series, number=file.supplement)
    edition = governing_edition(ledger, name).edition or say("none")
    return (file.title if file else name, series, edition, str(len(states)), sentence(_sure(states)))


def _sure(states: list[RequirementState]) -> str:
    """What was done about those that apply, in a phrase."""
    asked = [s for s in states if s.state is not State.NOT_APPLICABLE]
    if not asked:
        return say("none of it applies")
    nobody = [s for s in asked if s.review.what is Reviewed.NOBODY]
    own = sum(1 for s in nobody if s.requirement.source.without_official_text)
    done = [
        _done(what, number)
        for what in (Reviewed.COMPARED, Reviewed.DIFFERS, Reviewed.ADOPTED)
        if (number := sum(1 for s in asked if s.review.what is what))
    ]
    if left := len(nobody) - own:
        done.append(
            say_n(
                "{n} compared with the official text by nobody", "{n} compared with the official text by nobody", left
            )
        )
    if own:
        done.append(
            say_n(
                "{n} common practice without any source, adopted by nobody",
                "{n} common practice without any source, adopted by nobody",
                own,
            )
        )
    return say_n(
        "of {count} requirement that may apply: {done}",
        "of {count} requirements that may apply: {done}",
        len(asked),
        done="; ".join(done),
    )


def _done(what: Reviewed, n: int) -> str:
    match what:
        case Reviewed.COMPARED:
            return say_n("{n} compared with the official text", "{n} compared with the official text", n)
        case Reviewed.DIFFERS:
            return say_n("{n} found to differ from the official text", "{n} found to differ from the official text", n)
        case _:
            return say_n(
                "{n} adopted by name, with no official text behind it",
                "{n} adopted by name, with no official text behind it",
                n,
            )


def _change(book: Book, ident: str, change: SetChange) -> _Row:
    named = book.requirements_called(ident)
    title: Text = (book.link(named[0], named[0].requirement.title, page=True),) if named else ident.partition(":")[2]
    by = book.person(change.by) if change.by else say("nobody")
    return (title, change.edition or say("none"), change.words, by)


VIEW = View("rules-applied.rst.j2", chapters, page)
