"""Conformity of production: how the workshop makes sure that each vehicle is like the one that was shown.

Only what records and facts say stands here. What nobody has stated says so; nothing is averaged and no trend is drawn.
"""

from __future__ import annotations

from datetime import date

from witnessmark.assessment.model import RecordResult, RequirementState
from witnessmark.document.blocks import Block, Cell, Column, Link, Note, Table, Text
from witnessmark.document.catalogue import t
from witnessmark.records.printed import PRODUCTION_FACTS

from .book import PEOPLE, PRODUCTION, Book, Chapter, Counter, Page, View
from .fleet import MOST, Like, alike
from .requirement import met_words
from .results import as_text, does_not_count, leading
from .stated import IN_FORCE, StatedFact
from .words import capital, count, day, joined, plain_name, short_day, state_word

__all__ = ["VIEW"]

EVERY_VEHICLE = "every-vehicle"
"""The area of a set that says what is checked on each vehicle that leaves the workshop."""


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(PRODUCTION, t("production.chapter"), t("production.chapter_short"), flows=True),)


def page(book: Book, chapter: Chapter) -> Page:
    counter = Counter(chapter.number)
    made: dict[str, Block] = {"stated": _stated(book, counter)}
    sections = [{"title": "", "keys": ["stated"]}]
    arranged = [r for r in book.assessment.requirements if r.requirement.about == "workshop"]
    made["arranged"] = _requirements(
        book,
        arranged,
        counter,
        "b.arranged",
        t("production.once_caption"),
        t("production.once_none"),
    )
    made["who"] = Note(_who(book), id="b.who")
    sections.append({"title": t("production.arrangements"), "keys": ["arranged", "who"]})
    made["checked"] = _requirements(
        book,
        [r for r in book.assessment.requirements if r.area == EVERY_VEHICLE],
        counter,
        "b.checked",
        t("production.checked_caption"),
        t("production.checked_none"),
    )
    sections.append({"title": t("production.checked"), "keys": ["checked"]})
    found = alike(book)
    made["beside"] = _beside(book, found, counter)
    made["how"] = Note(_how(found), style="quiet", id="b.how")
    sections.append({"title": t("production.beside_title"), "keys": ["beside", "how"]})
    return Page({"title": chapter.heading, "sections": sections}, made)


# ---------------------------------------------------------------- stated


def _stated(book: Book, counter: Counter) -> Table:
    in_force = {f.key: f for f in book.stated if f.part is None and f.standing == IN_FORCE}
    rows: list[tuple[Text | Cell, ...]] = []
    gaps: list[int] = []
    for key in PRODUCTION_FACTS:
        title = t(f"production.facts.{key}")
        fact = in_force.get(key)
        if fact is None:
            rows.append((title, Cell(t("production.not_stated"), strong=True), t("layout.none")))
            continue
        value, past = _value(book, fact)
        if past:
            gaps.append(len(rows))
        rows.append((title, Cell(value, strong=past), f"{fact.source}, {fact.code}"))
    return Table(
        (
            Column(t("production.what"), width=1.3),
            Column(t("production.as_stated"), width=2.2),
            Column(t("production.source"), width=1.6),
        ),
        tuple(rows),
        t("production.stated_caption"),
        counter.table(),
        gaps=tuple(gaps),
        id="b.stated",
    )


def _value(book: Book, fact: StatedFact) -> tuple[str, bool]:
    """The value as words; a day that lies behind the day of this file is past."""
    if fact.key != "production_clearance_until":
        return capital(fact.value), False
    try:
        last = date.fromisoformat(fact.value)
    except ValueError:
        return capital(fact.value), False
    past = last < book.assessment.as_of.date()
    return t("production.run_out", day=day(last)) if past else day(last), past


# ---------------------------------------------------------------- arrangements


def _requirements(
    book: Book, found: list[RequirementState], counter: Counter, ident: str, caption: str, none: str
) -> Table | Note:
    if not found:
        return Note(none, id=ident)
    rows: list[tuple[Text | Cell, ...]] = [
        (
            (book.link(state, state.requirement.title, page=True),),
            book.clause(state),
            Cell(state_word(state.state), strong=state.state.is_gap, state=state.state.value),
            _papers(book, state),
        )
        for state in found
    ]
    return Table(
        (
            Column(t("production.requirement"), width=2.2),
            Column(t("production.clause"), width=1.3),
            Column(t("production.state"), width=1.3),
            Column(t("production.shown_by"), width=2.2),
        ),
        tuple(rows),
        caption,
        counter.table(),
        gaps=tuple(n for n, state in enumerate(found) if state.state.is_gap),
        id=ident,
    )


def _papers(book: Book, state: RequirementState) -> str:
    """The papers and records that govern, each with its day; else how much of it is met."""
    said: dict[str, None] = {}
    for part in state.parts:
        for leaf in part.leaves:
            result = leaf.result
            if result is None or does_not_count(result):
                continue
            what = result.claim.number or plain_name(leaf.name)
            said[f"{what}, {short_day(result.record.performed)}"] = None
    return "; ".join(said) or met_words(state) or t("production.nothing")


def _who(book: Book) -> Text:
    named = book.testers()
    tested = t("production.tested", names=joined(named)) if named else t("production.tested_nobody")
    return (tested, t("production.who"), Link(PEOPLE, t("production.people"), True), ".")


# ---------------------------------------------------------------- beside other vehicles


def _beside(book: Book, found: Like, counter: Counter) -> Table | Note:
    if not found.designs:
        return Note(t("production.no_design"))
    designs = joined(found.designs)
    if not found.vehicles:
        return Note(t("production.no_other", designs=designs))
    names = [f"{v.file_number}, {v.since}" for v in found.vehicles]
    if not found.rows:
        return Note(
            t("production.no_result", designs=designs, names=joined(names)),
            id="b.beside",
        )
    rows: list[tuple[Text | Cell, ...]] = []
    for row in found.rows:
        first, state = leading(row.here), row.requirement
        rows.append(
            (
                (book.link(state, state.requirement.title, page=True), f", {book.part_title(row.part)}"),
                first.asked if first else t("layout.not_asked"),
                _said(row.here),
                *(_said(result) for result in row.there),
            )
        )
    return Table(
        (
            Column(t("production.measured"), width=2.4),
            Column(t("production.asked"), width=1.2),
            Column(t("production.this_vehicle"), width=1.2),
            *(Column(name, width=1.2) for name in names),
        ),
        tuple(rows),
        t("production.beside", n=len(names), designs=designs),
        counter.table(),
        wide=True,
        id="b.beside",
    )


def _said(result: RecordResult | None) -> Text | Cell:
    """The value; with its statement beside it where it is no pass."""
    if result is None:
        return t("layout.none")
    first = leading(result)
    said = first.statement if first else t("production.no_statement")
    return as_text(result) if said == "pass" else Cell(f"{as_text(result)}, {said}", strong=True)


def _how(found: Like) -> str:
    more = [t("production.how_more", n=found.more, most=count(MOST))] if found.more else []
    return " ".join([t("production.how"), *more])


VIEW = View("conformity-of-production.rst.j2", chapters, page)
