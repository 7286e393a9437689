"""Evidence that nothing uses, facts that nothing needs, drafts, and problems in the files."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cell, Column, Note, Table, Text
from witnessmark.language import Words, declared, say
from witnessmark.problems import Severity, in_order

from .book import UNUSED, Book, Chapter, Page, View
from .words import capital

__all__ = ["VIEW"]

_SEVERITY = Words({Severity.PROBLEM: declared("problem"), Severity.NOTE: declared("note")})


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(UNUSED, say("Evidence that nothing uses"), say("Unused evidence"), flows=True),)


def page(book: Book, chapter: Chapter) -> Page:
    made: dict[str, Block] = {}
    unused: list[tuple[Text | Cell, ...]] = [
        (capital(row.message), capital(row.remedy), row.path or say("no file")) for row in book.assessment.unused
    ]
    if unused:
        made["unused"] = Table(
            (
                Column(say("What is there"), width=2.4),
                Column(say("Do this"), width=2.4),
                Column(say("File"), width=1.8),
            ),
            tuple(unused),
            say("It counts for nothing until somebody says what it shows"),
            f"{chapter.number}-1",
            id="b.unused",
        )
    else:
        made["unused"] = Note(say("Every piece of evidence is used, and every stated fact is needed."), id="b.unused")
    problems = in_order((*book.workshop.problems, *book.assessment.problems))
    if problems:
        rows: list[tuple[Text | Cell, ...]] = [
            (
                Cell(_SEVERITY[p.severity], strong=p.severity is Severity.PROBLEM),
                capital(p.message),
                capital(p.remedy),
                str(p.place) if p.place else say("no file"),
            )
            for p in problems
        ]
        made["problems"] = Table(
            (
                Column(say("Sort")),
                Column(say("What is wrong"), width=2.4),
                Column(say("Do this"), width=2.4),
                Column(say("Place"), width=1.8),
            ),
            tuple(rows),
            say("Problems and notes from reading the files"),
            f"{chapter.number}-2",
            gaps=tuple(n for n, p in enumerate(problems) if p.severity is Severity.PROBLEM),
            id="b.problems",
        )
    return Page({"title": chapter.heading, "keys": list(made)}, made)


VIEW = View("unused-evidence.rst.j2", chapters, page)
