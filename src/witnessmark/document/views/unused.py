"""Evidence that nothing uses, facts that nothing needs, drafts, and problems in the files."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cell, Column, Note, Table, Text
from witnessmark.problems import in_order

from .book import UNUSED, Book, Chapter, Page, View
from .words import capital

__all__ = ["VIEW"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(UNUSED, "Evidence that nothing uses", "Unused evidence", flows=True),)


def page(book: Book, chapter: Chapter) -> Page:
    made: dict[str, Block] = {}
    unused: list[tuple[Text | Cell, ...]] = [
        (capital(row.message), capital(row.remedy), row.path or "no file") for row in book.assessment.unused
    ]
    if unused:
        made["unused"] = Table(
            (Column("What is there", width=2.4), Column("Do this", width=2.4), Column("File", width=1.8)),
            tuple(unused),
            "It counts for nothing until somebody says what it shows",
            f"{chapter.number}-1",
            id="b.unused",
        )
    else:
        made["unused"] = Note("Every piece of evidence is used, and every stated fact is needed.", id="b.unused")
    problems = in_order((*book.workshop.problems, *book.assessment.problems))
    if problems:
        rows: list[tuple[Text | Cell, ...]] = [
            (
                Cell(p.severity.value, strong=p.severity.value == "problem"),
                capital(p.message),
                capital(p.remedy),
                str(p.place or "no file"),
            )
            for p in problems
        ]
        made["problems"] = Table(
            (
                Column("Sort"),
                Column("What is wrong", width=2.4),
                Column("Do this", width=2.4),
                Column("Place", width=1.8),
            ),
            tuple(rows),
            "Problems and notes from reading the files",
            f"{chapter.number}-2",
            gaps=tuple(n for n, p in enumerate(problems) if p.severity.value == "problem"),
            id="b.problems",
        )
    return Page({"title": chapter.heading, "keys": list(made)}, made)


VIEW = View("unused-evidence.rst.j2", chapters, page)
