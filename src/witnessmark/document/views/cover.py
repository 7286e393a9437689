"""The first page: can it be submitted, what stands in the way, and who says so."""

from __future__ import annotations

from witnessmark.assessment.model import RequirementState, State
from witnessmark.document import blocks
from witnessmark.document.blockdata import plain
from witnessmark.document.blocks import Cover, Link, Pair, RunColumn, StateCount, Strong, Text
from witnessmark.document.blocks import State as StateName
from witnessmark.problems import Severity

from .authority import verdict_of_the_authority
from .book import CONCESSIONS, COVER, REGISTER, RULE, Book, Chapter, Page, View, area_page
from .letterhead import letterhead, told
from .requirement import gap_words
from .words import (
    capital,
    count,
    day,
    effort,
    joined,
    opening,
    plural,
    sentence,
    short_day,
    shortened,
    state_word,
    worst_first,
)

__all__ = ["VIEW", "open_words", "summary"]

_ROWS = 9
_ROOM = 40.8
"""Lines between the head of the list of gaps and the identity at the foot of the page (A4, as printed)."""
_LINE, _ROW = 0.77, 0.53
"""Lines of that height that a line in the list takes, and a row beside its lines."""
_GROUP = {"dead": 0, "desk": 1, "live": 2, "away": 3}
WORD = "“Conforms” is the word of this workshop."
PENDING = "The technical service has not yet decided anything."


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(COVER, book.vehicle.title, "Cover"),)


def page(book: Book, chapter: Chapter) -> Page:
    gaps = sorted(worst_first(book.gaps), key=_urgency)
    rows = _that_fit(book, [_row(book, state) for state in gaps[:_ROWS]])
    left = len(gaps) - len(rows)
    more: Text = (f"and {left} more: ", Link(REGISTER, "gap register", True)) if left > 0 else ""
    total = len(book.assessment.requirements)
    cover = Cover(
        title=book.vehicle.title,
        question="Can it be submitted?",
        answer="Yes." if book.ready else "Not yet.",
        sentence=_sentence(book),
        head_left=(Strong(book.workshop.file.name), f"   {book.workshop.file.place}"),
        head_right=(
            "Technical file ",
            Strong(book.vehicle.file_number),
            ", issue ",
            Strong(book.issue),
            f", {'draft' if book.draft else 'released'}, as of {day(book.assessment.as_of)}",
        ),
        gaps=rows,
        more=more,
        concessions=tuple(_concession(book, state) for state in book.conceded),
        run_title=f"All {total} requirements, in the order of the file",
        run=_run(book),
        counts=tuple(StateCount(state.value, n) for state, n in _counts(book)),
        identity=_identity(book),
        statement=f"{WORD} {verdict_of_the_authority(book) or PENDING}",
    )
    listed = [c.name for c in book.chapters if c.printed and c.name != COVER]
    context = {"title": chapter.title, "chapters": listed, **told(book.workshop.file)}
    return Page(context, {"cover": cover, "letterhead": letterhead(book.workshop, "cover")})


def _that_fit(book: Book, rows: list[blocks.Gap]) -> tuple[blocks.Gap, ...]:
    """The first rows, as many as leave room for the run of all requirements and the identity; at least three."""
    tallest = max((len(book.area(*key)) for key in book.areas()), default=0)
    high = 1.02 if tallest > 7 else 1.2  # print makes the marks of high columns smaller
    room = _ROOM - 5.5 - high * tallest - 2 * len(book.conceded) - _taken_by_issue(book) - _taken_by_letterhead(book)
    heights = [
        _ROW + _LINE * max(_lines(r.requirement, 42) + _lines(plain(r.wrong), 48), _lines(plain(r.todo), 42))
        for r in rows
    ]
    if len(rows) == len(book.gaps) and sum(heights) <= room + 2:  # without the line for the rest
        return tuple(rows)
    fitting = 0
    for height in heights:
        room -= height
        if room < 2 and fitting >= 3:  # two lines for "and 14 more"
            break
        fitting += 1
    return tuple(rows[:fitting])


def _lines(text: str, width: int) -> int:
    return max(1, -(-len(text) // width))


def _urgency(state: RequirementState) -> tuple[int, int]:
    rank = {s: n for n, s in enumerate(State)}
    return rank[state.state], min((_GROUP.get(g.group, 4) for g in state.gaps), default=4)


def _counts(book: Book) -> list[tuple[State, int]]:
    order = (
        State.CONFORMS,
        State.NONCONFORMING,
        State.UNDECIDED,
        State.NOT_SHOWN,
        State.LAPSED,
        State.UNDER_CONCESSION,
        State.NOT_APPLICABLE,
    )
    return [(state, book.assessment.summary[state]) for state in order]


def summary(book: Book) -> str:
    """How much stands in the way, and how much work it is."""
    total, gaps = len(book.assessment.requirements), book.gaps
    if not total:
        return "No requirement was found for this vehicle, so nothing is shown."
    troubles = [p for p in (*book.workshop.problems, *book.assessment.problems) if p.severity is Severity.PROBLEM]
    trouble = f" {capital(plural(len(troubles), 'problem'))} in the files must be mended first." if troubles else ""
    conceded = len(book.conceded)
    permitted = (
        f" {capital(plural(conceded, 'requirement'))} stand{'s' if conceded == 1 else ''} by concession."
        if conceded
        else ""
    )
    fields = f" {capital(words)}." if (words := open_words(book)) else ""
    if not gaps:
        return f"All {total} requirements are shown or do not apply.{permitted}{fields}{trouble}"
    away = [r for r in gaps if any(g.group == "away" for g in r.gaps)]
    here = len(gaps) - len(away)
    minutes = sum(job.minutes for job in book.assessment.jobs if job.group != "away")
    stand = "stands" if len(gaps) == 1 else "stand"
    words = f"{capital(count(len(gaps)))} of {total} requirements {stand} in the way."
    time = f" in {effort(minutes)}" if minutes else ""
    if here:
        who = "It" if len(gaps) == 1 else "All" if not away else capital(count(here))
        words += f" {who} can be closed in this workshop{time}"
    if away:
        waits = f"{count(len(away))} wait{'s' if len(away) == 1 else ''} for somebody else"
        words += f"; {waits}" if here else f" {capital(waits)}"
    return f"{words}.{fields}{trouble}"


def open_words(book: Book) -> str:
    """What is open in the information document, as the beginning of a sentence; "" when nothing is."""
    empty = len(book.assessment.empty_fields)
    if empty:
        return f"{plural(empty, 'field')} of the information document {'is' if empty == 1 else 'are'} empty"
    return "whether a form is to be filled is not known" if book.assessment.open_in_forms else ""


def _sentence(book: Book) -> Text:
    """The summary, and for an issue with gaps: how many of each sort, and why it is issued all the same."""
    spite = _in_spite_of(book)
    return (summary(book), " ", Strong(spite)) if spite else summary(book)


def _in_spite_of(book: Book) -> str:
    issued = book.issued
    if issued is None or not (issued.gaps or issued.unconfirmed or issued.fields):
        return ""
    sorts = [
        *([plural(issued.gaps, "gap")] if issued.gaps else []),
        *([plural(issued.fields, "empty field")] if issued.fields else []),
        *([_unconfirmed(issued.unconfirmed)] if issued.unconfirmed else []),
    ]
    return f"Issue {issued.letter} is released with {joined(sorts)}. Reason: {sentence(issued.with_gaps)}"


def _taken_by_issue(book: Book) -> float:
    """Lines that an issue takes besides: its reason, set as large as the summary, and its second person."""
    spite = _in_spite_of(book)
    second = 1.0 if book.issued is not None and book.issued.second else 0.0
    return second + (1.6 * _lines(spite, 56) if spite else 0.0)


def _taken_by_letterhead(book: Book) -> float:
    """Lines that the workshop's mark, address and contact take above the line with file and issue."""
    lines = 1 + len(letterhead(book.workshop, "cover").lines)
    return 1.3 + max(3.0 if book.workshop.mark is not None else 0.0, 0.95 * lines)


def _unconfirmed(number: int) -> str:
    return f"{plural(number, 'requirement')} whose limits nobody has compared with an official text or adopted by name"


def _issued(book: Book) -> str:
    issued = book.issued
    if issued is None:
        return "not issued" if book.draft else "issued"
    second = f" with {book.person(issued.second)}" if issued.second else ""
    return f"issue {issued.letter}, by {book.person(issued.by)}{second}"


def _row(book: Book, state: RequirementState) -> blocks.Gap:
    gap = next((g for g in state.gaps if g.state is state.state), state.gaps[0] if state.gaps else None)
    if gap is None:
        return blocks.Gap(
            state.state.value,
            state.requirement.title,
            "no reason was recorded",
            "look into the chapter",
            book.link(state, page=True),
            state_word(state.state),
        )
    said, needed = gap_words(gap)
    wrong, todo = shortened(opening(said), 86), shortened(opening(needed), 98)
    title = state.requirement.title
    if gap.part is not None and len([p for p in state.parts if p.state.is_gap]) < len(state.parts):
        title += f": {book.part_title(gap.part)}"
    more = len(state.gaps) - 1
    if more:
        wrong += f"; {plural(more, 'more gap')}"
    return blocks.Gap(state.state.value, title, wrong, todo, book.link(state, page=True), state_word(state.state))


def _concession(book: Book, state: RequirementState) -> blocks.Concession:
    notes = [f"{c.issuer}, {c.number}, to {c.last_day}" for c in state.concessions if not c.idle]
    return blocks.Concession(
        f"{state.requirement.title}, {state_word(state.beneath)} beneath; {joined(notes)}",
        Link(CONCESSIONS, "concessions", True),
    )


def _run(book: Book) -> tuple[RunColumn, ...]:
    names = {c.name: c for c in book.chapters}
    columns = []
    for set_id, area in book.areas():
        chapter = names.get(area_page(set_id, area))
        if chapter is None:
            continue
        states: tuple[StateName, ...] = tuple(r.state.value for r in book.area(set_id, area))
        columns.append(
            RunColumn(chapter.number, chapter.short or chapter.title, states, Link(chapter.name, chapter.number))
        )
    return tuple(columns)


def _identity(book: Book) -> tuple[tuple[Pair, ...], ...]:
    vehicle = book.vehicle
    facts = book.fact_words
    sets = dict.fromkeys(set_id for set_id, _ in book.areas())
    first = [
        Pair("VIN", facts("vin") or "not stated"),
        Pair("Category", facts("category", "vehicle_category") or "not stated"),
    ]
    first += [Pair("Voltage", f"{voltage}, working" if (voltage := facts("working_voltage")) else "not stated")]
    first += [Pair("Owner", vehicle.owner)] if vehicle.owner else []
    second = [Pair("Rule", joined(_set_words(book, s) for s in sets) or "no set chosen")]
    second += [
        Pair("Decision rule", (Link(RULE, book.policy_words()),)),
        Pair("As of", short_day(book.assessment.as_of)),
    ]
    second += [Pair("Records", str(len(book.uses)))]
    third = [Pair("Tested", f"{joined(book.testers()) or 'nobody'}, not signed"), Pair("Checked", "not signed")]
    third += [Pair("Issued", _issued(book))]
    decided = "has answered" if verdict_of_the_authority(book) else "decision pending"
    third += [Pair("Service", f"{vehicle.service or 'not named'}, {decided}")]
    return tuple(first), tuple(second), tuple(third)


def _set_words(book: Book, set_id: str) -> str:
    found = book.set_of(set_id)
    if found is None:
        return set_id
    return ", ".join(w for w in (found.file.short, found.file.series and f"{found.file.series} series") if w)


VIEW = View("index.rst.j2", chapters, page, numbered=False)
