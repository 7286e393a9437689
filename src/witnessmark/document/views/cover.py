"""The first page: can it be submitted, what stands in the way, and who says so."""

from __future__ import annotations

from witnessmark.assessment.model import RequirementState, State
from witnessmark.document import blocks
from witnessmark.document.blockdata import plain
from witnessmark.document.blocks import Cover, Link, Pair, RunColumn, StateCount, Strong, Text
from witnessmark.document.blocks import State as StateName
from witnessmark.language import declared, say, say_n
from witnessmark.problems import Severity

from .authority import verdict_of_the_authority
from .book import CONCESSIONS, COVER, REGISTER, RULE, Book, Chapter, Page, View, area_page
from .letterhead import letterhead, told
from .requirement import gap_words, permissions
from .words import (
    capital,
    day,
    effort,
    joined,
    opening,
    sentence,
    short_day,
    shortened,
    state_word,
    worst_first,
    woven,
)

__all__ = ["VIEW", "all_shown", "open_words", "summary"]

_ROWS = 9
_ROOM = 40.5
"""Lines between the head of the list of gaps and the identity at the foot of the page (A4, as printed)."""
_LINE, _ROW = 0.77, 0.53
"""Lines of that height that a line in the list takes, and a row beside its lines."""
_GROUP = {"dead": 0, "desk": 1, "live": 2, "away": 3}
WORD = declared("“Conforms” is the word of this workshop.")
PENDING = declared("The technical service has not yet decided anything.")


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(COVER, book.vehicle.title, say("Cover")),)


def page(book: Book, chapter: Chapter) -> Page:
    gaps = sorted(worst_first(book.gaps), key=_urgency)
    rows = _that_fit(book, [_row(book, state) for state in gaps[:_ROWS]])
    left = len(gaps) - len(rows)
    more: Text = ""
    if left > 0:
        more = (say_n("and {n} more:", "and {n} more:", left), " ", Link(REGISTER, say("gap register"), True))
    total = len(book.assessment.requirements)
    cover = Cover(
        title=book.vehicle.title,
        question=say("Can it be submitted?"),
        answer=say("Yes.") if book.ready else say("Not yet."),
        sentence=_sentence(book),
        head_left=(Strong(book.workshop.file.name), f"   {book.workshop.file.place}"),
        head_right=woven(
            "Technical file {number}, issue {issue}, {status}, as of {as_of}",
            number=Strong(book.vehicle.file_number),
            issue=Strong(book.issue),
            status=say("draft") if book.draft else say("released"),
            as_of=day(book.assessment.as_of),
        ),
        gaps=rows,
        more=more,
        concessions=tuple(_concession(book, state) for state in book.conceded),
        run_title=say_n(
            "All {n} requirements, in the order of the file", "All {n} requirements, in the order of the file", total
        ),
        run=_run(book),
        counts=tuple(StateCount(state.value, n) for state, n in _counts(book)),
        identity=_identity(book),
        statement=f"{say(WORD)} {verdict_of_the_authority(book) or say(PENDING)}",
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
        return say("No requirement was found for this vehicle, so nothing is shown.")
    troubles = [p for p in (*book.workshop.problems, *book.assessment.problems) if p.severity is Severity.PROBLEM]
    if gaps:
        said = [
            say_n(
                "{count} of {total} requirements stands in the way.",
                "{count} of {total} requirements stand in the way.",
                len(gaps),
                total=total,
            ),
            f"{capital(_who_can(book))}.",
        ]
    else:
        said = [all_shown(total)]
        if conceded := len(book.conceded):
            said.append(
                say_n(
                    "{count} requirement stands by concession.", "{count} requirements stand by concession.", conceded
                )
            )
    if words := open_words(book):
        said.append(f"{words}.")
    if troubles:
        said.append(
            say_n(
                "{count} problem in the files must be mended first.",
                "{count} problems in the files must be mended first.",
                len(troubles),
            )
        )
    return " ".join(capital(sentence_) for sentence_ in said)


def all_shown(total: int) -> str:
    return say_n(
        "All {n} requirements are shown or do not apply.", "All {n} requirements are shown or do not apply.", total
    )


def _who_can(book: Book) -> str:
    """How many of the gaps can be closed here, in what time, and how many wait for somebody else."""
    away = sum(1 for r in book.gaps if any(g.group == "away" for g in r.gaps))
    here = len(book.gaps) - away
    waits = say_n("{count} waits for somebody else", "{count} wait for somebody else", away)
    if not here:
        return waits
    minutes = sum(job.minutes for job in book.assessment.jobs if job.group != "away")
    time = effort(minutes) if minutes else ""
    if not away and time:
        return say_n(
            "it can be closed in this workshop in {time}",
            "all can be closed in this workshop in {time}",
            here,
            time=time,
        )
    if not away:
        return say_n("it can be closed in this workshop", "all can be closed in this workshop", here)
    if time:
        can = say_n(
            "{count} can be closed in this workshop in {time}",
            "{count} can be closed in this workshop in {time}",
            here,
            time=time,
        )
    else:
        can = say_n("{count} can be closed in this workshop", "{count} can be closed in this workshop", here)
    return f"{can}; {waits}"


def open_words(book: Book) -> str:
    """What is open in the information document, as the beginning of a sentence; "" when nothing is."""
    empty = len(book.assessment.empty_fields)
    if empty:
        return say_n(
            "{count} field of the information document is empty",
            "{count} fields of the information document are empty",
            empty,
        )
    return say("whether a form is to be filled is not known") if book.assessment.open_in_forms else ""


def _sentence(book: Book) -> Text:
    """The summary, and for an issue with gaps: how many of each sort, and why it is issued all the same."""
    spite = _in_spite_of(book)
    return (summary(book), " ", Strong(spite)) if spite else summary(book)


def _in_spite_of(book: Book) -> str:
    issued = book.issued
    if issued is None or not (issued.gaps or issued.unconfirmed or issued.fields):
        return ""
    sorts = [
        *([say_n("{count} gap", "{count} gaps", issued.gaps)] if issued.gaps else []),
        *([say_n("{count} empty field", "{count} empty fields", issued.fields)] if issued.fields else []),
        *([_unconfirmed(issued.unconfirmed)] if issued.unconfirmed else []),
    ]
    return say(
        "Issue {letter} is released with {sorts}. Reason: {reason}",
        letter=issued.letter,
        sorts=joined(sorts),
        reason=sentence(issued.with_gaps),
    )


def _taken_by_issue(book: Book) -> float:
    """Lines that an issue takes besides: its reason, set as large as the summary, and its second person."""
    spite = _in_spite_of(book)
    second = 1.0 if book.issued is not None and book.issued.second else 0.0
    return second + (1.6 * _lines(spite, 56) if spite else 0.0)


def _taken_by_letterhead(book: Book) -> float:
    """Lines that the workshop's mark, address and contact take above the line with file and issue."""
    lines = 1 + len(letterhead(book.workshop, "cover").lines)
    return 0.3 + max(3.0 if book.workshop.mark is not None else 0.0, 0.95 * lines)


def _unconfirmed(number: int) -> str:
    return say_n(
        "{count} requirement whose limits nobody has compared with an official text or adopted by name",
        "{count} requirements whose limits nobody has compared with an official text or adopted by name",
        number,
    )


def _issued(book: Book) -> str:
    issued = book.issued
    if issued is None:
        return say("not issued") if book.draft else say("issued")
    letter, by = issued.letter, book.person(issued.by)
    if issued.second:
        return say("issue {letter}, by {who} with {second}", letter=letter, who=by, second=book.person(issued.second))
    return say("issue {letter}, by {who}", letter=letter, who=by)


def _row(book: Book, state: RequirementState) -> blocks.Gap:
    gap = next((g for g in state.gaps if g.state is state.state), state.gaps[0] if state.gaps else None)
    if gap is None:
        return blocks.Gap(
            state.state.value,
            state.requirement.title,
            say("no reason was recorded"),
            say("look into the chapter"),
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
        wrong += f"; {say_n('{count} more gap', '{count} more gaps', more)}"
    return blocks.Gap(state.state.value, title, wrong, todo, book.link(state, page=True), state_word(state.state))


def _concession(book: Book, state: RequirementState) -> blocks.Concession:
    return blocks.Concession(
        say(
            "{requirement}, {state} beneath; {permissions}",
            requirement=state.requirement.title,
            state=state_word(state.beneath),
            permissions=permissions(state),
        ),
        Link(CONCESSIONS, say("concessions"), True),
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
    voltage = facts("working_voltage")
    first = [
        Pair(say("VIN"), facts("vin") or say("not stated")),
        Pair(say("Category"), facts("category", "vehicle_category") or say("not stated")),
        Pair(say("Voltage"), say("{voltage}, working", voltage=voltage) if voltage else say("not stated")),
    ]
    first += [Pair(say("Owner"), vehicle.owner)] if vehicle.owner else []
    second = [
        Pair(say("Rule"), joined(_set_words(book, s) for s in sets) or say("no set chosen")),
        Pair(say("Decision rule"), (Link(RULE, book.policy_words()),)),
        Pair(say("As of"), short_day(book.assessment.as_of)),
        Pair(say("Records"), str(len(book.uses))),
    ]
    service = vehicle.service or say("not named")
    third = [
        Pair(say("Tested"), say("{who}, not signed", who=joined(book.testers()) or say("nobody"))),
        Pair(say("Checked"), say("not signed")),
        Pair(say("Issued"), _issued(book)),
        Pair(
            say("Service"),
            say("{service}, has answered", service=service)
            if verdict_of_the_authority(book)
            else say("{service}, decision pending", service=service),
        ),
    ]
    return tuple(first), tuple(second), tuple(third)


def _set_words(book: Book, set_id: str) -> str:
    found = book.set_of(set_id)
    if found is None:
        return set_id
    series = say("{series} series", series=found.file.series) if found.file.series else ""
    return ", ".join(w for w in (found.file.short, series) if w)


VIEW = View("index.rst.j2", chapters, page, numbered=False)
