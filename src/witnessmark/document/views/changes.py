"""What changed since the issue before: why there is a new one, by whom, and everything that is not as it was."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cell, Column, Note, Table, Text
from witnessmark.document.issued import Changed

from .book import Book, Chapter, Counter, Page, View
from .words import plain_name, plural, sentence

__all__ = ["VIEW"]

NAME = "changes"
_KINDS = (
    ("state", "States of requirements", "Requirement"),
    ("result", "Results", "Leaf"),
    ("part", "Parts", "Part"),
    ("fact", "Facts", "Fact"),
    ("set", "Requirement sets", "Set or requirement"),
)


def chapters(book: Book) -> tuple[Chapter, ...]:
    issued = book.issued
    if issued is None or not issued.previous:
        return ()
    return (Chapter(NAME, f"What changed since issue {issued.previous}", "Changes"),)


def page(book: Book, chapter: Chapter) -> Page:
    issued = book.issued
    assert issued is not None
    second = f" with {book.person(issued.second)}" if issued.second else ""
    lead = (
        f"Issue {issued.letter} takes the place of issue {issued.previous}, which gave the states as of "
        f"{issued.previous_as_of}. Issued by {book.person(issued.by)}{second}. Why: {sentence(issued.why)}"
    )
    made: dict[str, Block] = {"lead": Note(lead, style="lead")}
    counter = Counter(chapter.number)
    for kind, title, head in _KINDS:
        rows = [change for change in issued.changes if change.kind == kind]
        if rows:
            made[kind] = _table(book, rows, title, head, counter, kind)
    if len(made) == 1:
        made["nothing"] = Note("No state, result, part, fact or requirement differs.", id="b.changes.nothing")
    return Page({"title": chapter.heading, "keys": [key for key in made if key != "lead"]}, made)


def _table(book: Book, rows: list[Changed], title: str, head: str, counter: Counter, kind: str) -> Table:
    cells: tuple[tuple[Text | Cell, ...], ...] = tuple(
        (_what(book, row), row.was or "nothing", Cell(row.now or "nothing", strong=True)) for row in rows
    )
    return Table(
        (Column(head, width=2.2), Column("Before", width=2), Column("Now", width=2)),
        cells,
        f"{title}: {plural(len(rows), 'difference')}",
        counter.table(),
        id=f"b.changes.{kind}",
    )


def _what(book: Book, row: Changed) -> Text:
    """A requirement by its title, with a link to it; anything else as it is called."""
    if row.kind not in ("state", "result"):
        return row.what
    name, _, leaf = row.what.partition("/")
    found = book.requirements_called(name)
    if not found:
        return row.what
    link = book.link(found[0], found[0].requirement.title)
    if not leaf:
        return (link,)
    leaf, _, part = leaf.partition(" of ")
    return (link, f": {plain_name(leaf)}{f', {book.part_title(part)}' if part else ''}")


VIEW = View("changes.rst.j2", chapters, page)
