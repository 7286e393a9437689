"""Conformity of production: how the workshop makes sure that each vehicle is like the one that was shown.

Only what records and facts say stands here. What nobody has stated says so; nothing is averaged and no trend is drawn.
"""

from __future__ import annotations

from datetime import date

from witnessmark.assessment.model import RecordResult, RequirementState, Verdict
from witnessmark.document.blocks import Block, Cell, Column, Link, Note, Table, Text
from witnessmark.language import Words, declared, say, say_n
from witnessmark.records.printed import PRODUCTION_FACTS

from .book import PEOPLE, PRODUCTION, Book, Chapter, Counter, Page, View
from .fleet import MOST, Like, alike
from .requirement import met_words
from .results import as_text, does_not_count, leading
from .stated import IN_FORCE, StatedFact
from .words import capital, count, day, joined, plain_name, short_day, state_word, woven

__all__ = ["VIEW"]

EVERY_VEHICLE = "every-vehicle"
"""The area of a set that says what is checked on each vehicle that leaves the workshop."""

_FACTS = Words(
    {
        "production_clearance": declared("Clearance by the authority"),
        "production_clearance_until": declared("It runs out on"),
        "records_kept": declared("Records are kept"),
    }
)


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(PRODUCTION, say("Conformity of production"), say("Production"), flows=True),)


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
        say("What the workshop shows once, for all its vehicles"),
        say("No chosen set asks anything of the workshop as a whole."),
    )
    made["who"] = Note(_who(book), id="b.who")
    sections.append({"title": say("Arrangements"), "keys": ["arranged", "who"]})
    made["checked"] = _requirements(
        book,
        [r for r in book.assessment.requirements if r.area == EVERY_VEHICLE],
        counter,
        "b.checked",
        say("What is checked on every vehicle, and how it stands for this one"),
        say("No chosen set says what is checked on every vehicle that leaves the workshop."),
    )
    sections.append({"title": say("Checked on every vehicle"), "keys": ["checked"]})
    found = alike(book)
    made["beside"] = _beside(book, found, counter)
    made["how"] = Note(_how(found), style="quiet", id="b.how")
    sections.append({"title": say("Measured values beside those of other vehicles"), "keys": ["beside", "how"]})
    return Page({"title": chapter.heading, "sections": sections}, made)


# ---------------------------------------------------------------- stated


def _stated(book: Book, counter: Counter) -> Table:
    in_force = {f.key: f for f in book.stated if f.part is None and f.standing == IN_FORCE}
    rows: list[tuple[Text | Cell, ...]] = []
    gaps: list[int] = []
    for key in PRODUCTION_FACTS:
        title = _FACTS[key]
        fact = in_force.get(key)
        if fact is None:
            rows.append((title, Cell(say("Not stated."), strong=True), say("none")))
            continue
        value, past = _value(book, fact)
        if past:
            gaps.append(len(rows))
        rows.append((title, Cell(value, strong=past), f"{fact.source}, {fact.code}"))
    return Table(
        (
            Column(say("What"), width=1.3),
            Column(say("As stated"), width=2.2),
            Column(say("Source"), width=1.6),
        ),
        tuple(rows),
        say("Clearance and records"),
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
    return say("{day}: it has run out", day=day(last)) if past else day(last), past


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
            Column(say("Requirement"), width=2.2),
            Column(say("Clause"), width=1.3),
            Column(say("State"), width=1.3),
            Column(say("Shown by"), width=2.2),
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
    return "; ".join(said) or met_words(state) or say("nothing")


def _who(book: Book) -> Text:
    named = book.testers()
    return woven(
        "{tested} Who may do what, and until when: {people}.",
        tested=say("{names} tested this vehicle.", names=joined(named))
        if named
        else say("Nobody has tested this vehicle."),
        people=Link(PEOPLE, say("people and authorisations"), True),
    )


# ---------------------------------------------------------------- beside other vehicles


def _beside(book: Book, found: Like, counter: Counter) -> Table | Note:
    if not found.designs:
        return Note(say("No part of this vehicle is stated to be built to a design, so nothing can be set beside it."))
    designs = joined(found.designs)
    if not found.vehicles:
        return Note(
            say(
                "No other vehicle of this workshop is stated to be built to the same design ({designs}).",
                designs=designs,
            )
        )
    names = [f"{v.file_number}, {v.since}" for v in found.vehicles]
    if not found.rows:
        return Note(
            say(
                "Built to the same design ({designs}): {names}. Nothing that was measured on this "
                "vehicle has a counting result there yet.",
                designs=designs,
                names=joined(names),
            ),
            id="b.beside",
        )
    rows: list[tuple[Text | Cell, ...]] = []
    for row in found.rows:
        first, state = leading(row.here), row.requirement
        rows.append(
            (
                (book.link(state, state.requirement.title, page=True), f", {book.part_title(row.part)}"),
                first.asked if first else say("not asked"),
                _said(row.here),
                *(_said(result) for result in row.there),
            )
        )
    return Table(
        (
            Column(say("Measured"), width=2.4),
            Column(say("Asked"), width=1.2),
            Column(say("This vehicle"), width=1.2),
            *(Column(name, width=1.2) for name in names),
        ),
        tuple(rows),
        say_n(
            "This vehicle and {count} other built to the same design ({designs})",
            "This vehicle and {count} others built to the same design ({designs})",
            len(names),
            designs=designs,
        ),
        counter.table(),
        wide=True,
        id="b.beside",
    )


def _said(result: RecordResult | None) -> Text | Cell:
    """The value; with its statement beside it where it is no pass."""
    if result is None:
        return say("none")
    first = leading(result)
    if first and first.decision and first.verdict is Verdict.PASS:
        return as_text(result)
    said = first.statement if first else say("no statement")
    return Cell(f"{as_text(result)}, {said}", strong=True)


def _how(found: Like) -> str:
    more = (
        [
            say_n(
                "The {most} measured last are shown; {n} more is not.",
                "The {most} measured last are shown; {n} more are not.",
                found.more,
                most=count(MOST),
            )
        ]
        if found.more
        else []
    )
    return " ".join(
        [
            say(
                "Only results that count today stand here, each with U (about 95 %), by "
                "requirement, demonstration and part; other vehicles by the number of their file. "
                "Nothing is averaged and no trend is judged."
            ),
            *more,
        ]
    )


VIEW = View("conformity-of-production.rst.j2", chapters, page)
