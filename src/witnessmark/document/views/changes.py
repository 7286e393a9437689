"""What changed since the issue before: why there is a new one, by whom, and everything that is not as it was."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cell, Column, Note, Table, Text
from witnessmark.document.issued import Changed
from witnessmark.language import Words, declared, say, say_n

from .book import Book, Chapter, Counter, Page, View
from .words import plain_name, sentence, woven

__all__ = ["VIEW"]

NAME = "changes"
_HEADS = Words(
    {
        "state": declared("Requirement"),
        "result": declared("Leaf"),
        "part": declared("Part"),
        "fact": declared("Fact"),
        "set": declared("Set or requirement"),
    }
)
"""What is compared, in the order of the page, with the head of its column."""


def chapters(book: Book) -> tuple[Chapter, ...]:
    issued = book.issued
    if issued is None or not issued.previous:
        return ()
    title = say("What changed since issue {letter}", letter=issued.previous)
    return (Chapter(NAME, title, say("Changes")),)


def page(book: Book, chapter: Chapter) -> Page:
    issued = book.issued
    assert issued is not None
    who, second = book.person(issued.by), book.person(issued.second) if issued.second else ""
    lead = (
        say(
            "Issue {letter} takes the place of issue {previous}, which gave the states as of {day}.",
            letter=issued.letter,
            previous=issued.previous,
            day=issued.previous_as_of,
        ),
        say("Issued by {who} with {second}.", who=who, second=second) if second else say("Issued by {who}.", who=who),
        say("Why: {why}", why=sentence(issued.why)),
    )
    made: dict[str, Block] = {"lead": Note(" ".join(lead), style="lead")}
    counter = Counter(chapter.number)
    for kind, head in _HEADS.items():
        rows = [change for change in issued.changes if change.kind == kind]
        if rows:
            made[kind] = _table(book, rows, head, counter, kind)
    if len(made) == 1:
        made["nothing"] = Note(say("No state, result, part, fact or requirement differs."), id="b.changes.nothing")
    return Page({"title": chapter.heading, "keys": [key for key in made if key != "lead"]}, made)


def _table(book: Book, rows: list[Changed], head: str, counter: Counter, kind: str) -> Table:
    cells: tuple[tuple[Text | Cell, ...], ...] = tuple(
        (_what(book, row), row.was or say("nothing"), Cell(row.now or say("nothing"), strong=True)) for row in rows
    )
    return Table(
        (Column(head, width=2.2), Column(say("Before"), width=2), Column(say("Now"), width=2)),
        cells,
        _counted(kind, len(rows)),
        counter.table(),
        id=f"b.changes.{kind}",
    )


def _what(book: Book, row: Changed) -> Text:
    """A requirement by its title, with a link to it; anything else as it is called."""
    if row.kind not in ("state", "result"):
        return say("{subject} of {part}", subject=row.what, part=row.part) if row.part else row.what
    name, _, leaf = row.what.partition("/")
    found = book.requirements_called(name)
    if not found:
        return row.what
    link = book.link(found[0], found[0].requirement.title)
    if not leaf:
        return (link,)
    if not row.part:
        return woven("{requirement}: {leaf}", requirement=link, leaf=plain_name(leaf))
    part = book.part_title(row.part)
    return woven("{requirement}: {leaf}, {part}", requirement=link, leaf=plain_name(leaf), part=part)


def _counted(kind: str, n: int) -> str:
    match kind:
        case "state":
            return say_n("States of requirements: {count} difference", "States of requirements: {count} differences", n)
        case "result":
            return say_n("Results: {count} difference", "Results: {count} differences", n)
        case "part":
            return say_n("Parts: {count} difference", "Parts: {count} differences", n)
        case "fact":
            return say_n("Facts: {count} difference", "Facts: {count} differences", n)
        case _:
            return say_n("Requirement sets: {count} difference", "Requirement sets: {count} differences", n)


VIEW = View("changes.rst.j2", chapters, page)
