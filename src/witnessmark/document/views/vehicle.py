"""The vehicle as built: identity, parts with serials as a tree, events, facts with source and date."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cell, Column, Link, Note, Pair, Pairs, Table, Text
from witnessmark.language import Words, declared, say, say_in, say_n

from .book import VEHICLE, Book, Chapter, Page, View
from .stated import IN_FORCE, PartLine, StatedFact
from .system import one_line, state_of_part
from .words import capital, day, instant, joined, plain_name, short_day, state_word

__all__ = ["VIEW"]

_EVENTS = Words(
    {
        "changed": declared("changed"),
        "fitted": declared("fitted"),
        "opened": declared("opened"),
        "removed": declared("removed"),
        "replaced": declared("replaced"),
        "software": declared("software"),
    }
)
INDENT = "\u00a0" * 4
"""One step of the tree of parts; no-break spaces stay where ordinary ones are folded."""


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(VEHICLE, say("Vehicle as built"), say("Vehicle")),)


def page(book: Book, chapter: Chapter) -> Page:
    made: dict[str, Block] = {"identity": _identity(book)}
    lines, empty, stated = book.parts, book.no_parts, book.stated
    number = iter(range(1, 100))
    system = one_line(book, f"{chapter.number}-1")
    if system:
        made["one-line"] = system
    made["parts"] = _parts(book, lines, f"{chapter.number}-{next(number)}")
    if empty:
        made["none"] = Note(say("Stated as not there: {kinds}.", kinds=joined(empty)), style="quiet")
    made["facts"] = _facts(book, stated, f"{chapter.number}-{next(number)}")
    unstated = _unstated(book)
    if unstated:
        made["unstated"] = unstated
    events = _events(book, f"{chapter.number}-{next(number)}")
    if events:
        made["events"] = events
    context = {
        "title": chapter.heading,
        "system": [k for k in ("one-line",) if k in made],
        "parts": [k for k in ("parts", "none") if k in made],
        "facts": [k for k in ("facts", "unstated") if k in made],
        "events": [k for k in ("events",) if k in made],
    }
    return Page(context, made)


def _identity(book: Book) -> Pairs:
    vehicle, facts_ = book.vehicle, book.fact_words
    pairs = [Pair(say("Vehicle"), vehicle.title), Pair(say("VIN"), facts_("vin") or say("not stated"))]
    pairs += [
        Pair(say("File"), say("{file}, issue {issue}", file=vehicle.file_number, issue=vehicle.issue)),
        Pair(say("As of"), day(book.assessment.as_of)),
    ]
    pairs.append(Pair(say("Workshop"), f"{book.workshop.file.name}, {book.workshop.file.where}"))
    pairs.append(Pair(say("Owner"), vehicle.owner or say("not named")))
    pairs.append(Pair(say("Goes to"), vehicle.service or say("not named")))
    pairs += [Pair(capital(plain_name(key)), value) for key, value in vehicle.contacts.items()]
    if book.workshop.file.demonstration:
        pairs.append(Pair(say("Demonstration"), book.workshop.file.demonstration.notice))
    pairs.append(Pair(say("Sets"), facts_("requirement_sets") or say("none stated")))
    return Pairs(tuple(pairs), columns=2, id="b.identity")


def _parts(book: Book, lines: tuple[PartLine, ...], number: str) -> Block:
    if not lines:
        return Note(say("No list of parts has been stated."), style="strong", gap=True, id="b.parts")
    rows, none = [], say("none")
    for depth, line in _tree(lines):
        title = say("{part} (removed)", part=line.title) if line.out else line.title
        rows.append(
            (
                Cell(f"{INDENT * depth}{title}", quiet=bool(line.out)),
                plain_name(line.kind) or say("not said"),
                line.serial or none,
                line.design or none,
                joined(book.part_title(m) for m in line.members) or none,
                _state(book, line.id),
                (*_one(book.record_link(line.since)), f": {line.source}"),
            )
        )
    return Table(
        columns=(
            Column(say("Part"), width=2),
            Column(say("Kind"), width=1.1),
            Column(say("Serial"), width=1),
            Column(say("Design"), width=1),
            Column(say("Joined to"), width=1.2),
            Column(say("Worst of its requirements"), width=1.1),
            Column(say_in("source of a value", "From"), width=2),
        ),
        rows=tuple(rows),
        caption=say_n("Parts and serials, {count} part", "Parts and serials, {count} parts", len(lines)),
        number=number,
        wide=True,
        id="b.parts",
    )


def _state(book: Book, part: str) -> Cell:
    state = state_of_part(book, part)
    return (
        Cell(state_word(state), strong=state.is_gap, state=state.value)
        if state is not None
        else Cell(say("none asked"), quiet=True)
    )


def _one(text: Text) -> tuple[str | Link, ...]:
    return (text,) if isinstance(text, str) else tuple(p for p in text if isinstance(p, str | Link))


def _tree(lines: tuple[PartLine, ...]) -> list[tuple[int, PartLine]]:
    """Parts below what they are within; one whose place is unknown, or that is within itself, stands at the top."""
    known = {line.id for line in lines}
    below: dict[str | None, list[PartLine]] = {}
    for line in lines:
        below.setdefault(line.within if line.within in known else None, []).append(line)
    out: list[tuple[int, PartLine]] = []
    seen: set[str] = set()

    def visit(line: PartLine, depth: int) -> None:
        if line.id in seen:
            return
        seen.add(line.id)
        out.append((depth, line))
        for child in below.get(line.id, ()):
            visit(child, min(depth + 1, 6))

    for line in below.get(None, ()):
        visit(line, 0)
    for line in lines:
        visit(line, 0)
    return out


def _facts(book: Book, stated: tuple[StatedFact, ...], number: str) -> Block:
    if not stated:
        return Note(say("No fact has been stated."), style="strong", gap=True, id="b.facts")
    rows = []
    for fact in stated:
        rows.append(
            (
                f"{fact_title(book, fact.key)}{', ' + book.part_title(fact.part) if fact.part else ''}",
                Cell(fact.printed, quiet=fact.standing != IN_FORCE),
                fact.source,
                f"{short_day(fact.at)}, {book.person(fact.by)}",
                book.record_link(fact.code),
                Cell(say(IN_FORCE), quiet=True)
                if fact.standing == IN_FORCE
                else Cell(fact.standing, strong=fact.in_doubt),
            )
        )
    return Table(
        columns=(
            Column(say("Fact"), width=1.7),
            Column(say("Value"), width=1.4),
            Column(say("Source"), width=2),
            Column(say("Stated"), width=1.4),
            Column(say("Act"), width=0.7),
            Column(say("Standing"), width=1.2),
        ),
        rows=tuple(rows),
        caption=say("Facts as stated; a later one replaces an earlier one, which stays here"),
        number=number,
        wide=True,
        id="b.facts",
    )


def fact_title(book: Book, key: str) -> str:
    definition = book.workshop.facts.get(key)
    return capital(definition.title if definition else plain_name(key))


def _unstated(book: Book) -> Note | None:
    keys = {gap.message for state in book.assessment.requirements for gap in state.gaps if gap.code.startswith("fact")}
    if not keys:
        return None
    return Note(" ".join(sorted(keys)), label=say("Not stated"), style="strong", gap=True, id="b.unstated")


def _events(book: Book, number: str) -> Table | None:
    rows = []
    for act, event in book.events():
        what = []
        if event.removed and event.removed.serial:
            what.append(say("out: serial {serial}", serial=event.removed.serial))
        if event.fitted:
            new = event.fitted
            said = [
                new.title,
                say("serial {serial}", serial=new.serial) if new.serial else "",
                say("design {design}", design=new.design) if new.design else "",
            ]
            what.append(say("in: {part}", part=joined(w for w in said if w)))
        rows.append(
            (
                instant(event.event_at),
                capital(book.part_title(event.part)),
                _EVENTS[event.event],
                "; ".join(what) or say("none"),
                event.why or say("not said"),
                book.person(event.by),
                book.record_link(act.code),
            )
        )
    if not rows:
        return None
    return Table(
        columns=(
            Column(say("When"), width=1.4),
            Column(say("Part"), width=1.4),
            Column(say("What"), width=0.9),
            Column(say("Out and in"), width=1.8),
            Column(say("Why"), width=1.8),
            Column(say("By"), width=1),
            Column(say("Act"), width=0.7),
        ),
        rows=tuple(rows),
        caption=say("What happened to the parts"),
        number=number,
        wide=True,
        id="b.events",
    )


VIEW = View("vehicle.rst.j2", chapters, page)
