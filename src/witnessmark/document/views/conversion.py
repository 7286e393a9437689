"""What was changed on the base vehicle: before and after, by field of the registration document and by axle."""

from __future__ import annotations

from decimal import Decimal

from witnessmark.document.blocks import Block, Cell, Column, Link, Note, Table, Text
from witnessmark.language import marked, say, say_n
from witnessmark.quantities import Quantity, QuantityError, parse_quantity
from witnessmark.records.printed import REMOVED
from witnessmark.records.sets import FactDefinition

from .book import CONVERSION, VEHICLE, Book, Chapter, Counter, Page, View
from .stated import IN_FORCE, StatedFact
from .words import capital, plain_name, sentence, woven

__all__ = ["VIEW"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    if not _rows(book):
        return ()
    return (Chapter(CONVERSION, say("Base vehicle and conversion"), say("Conversion"), flows=True),)


def page(book: Book, chapter: Chapter) -> Page:
    counter = Counter(chapter.number)
    made: dict[str, Block] = {}
    rows = _rows(book)
    missing = sum((before is None) + (after is None) for _, _, before, after in rows)
    made["fields"] = Table(
        (
            Column(say("Field"), width=0.5),
            Column(say("What"), width=2),
            Column(say("Base vehicle"), align="right", width=1.1),
            Column(say("As converted"), align="right", width=1.1),
            Column(say("Change"), align="right", width=1),
            Column(say("Stated in"), width=1.2),
        ),
        tuple(_row(book, *row) for row in rows),
        say("Before and after the conversion; fields of the registration document (Directive 1999/37/EC, from memory)"),
        counter.table(),
        wide=True,
        id="b.conversion",
    )
    if missing:
        made["missing"] = Note(
            capital(
                say_n(
                    "{count} value of {total} nobody has stated: {command}",
                    "{count} values of {total} nobody has stated: {command}",
                    missing,
                    total=2 * len(rows),
                    command=f"witnessmark record {book.assessment.vehicle} facts conversion",
                )
            ),
            style="quiet",
            id="b.conversion.missing",
        )
    removed = _of(book, REMOVED)
    made["removed"] = Note(
        say("Taken out of the base vehicle: {parts}", parts=sentence(removed.value))
        if removed
        else say("What was taken out is not stated."),
        id="b.removed",
    )
    made["added"] = Note(
        woven(
            "What was put in stands in the {parts}, each with its serial.",
            parts=Link(f"{VEHICLE}#b.parts", say("list of parts"), True),
        ),
        id="b.added",
    )
    return Page({"title": chapter.heading, "keys": list(made)}, made)


_Pair = tuple[str, FactDefinition, StatedFact | None, StatedFact | None]


def _of(book: Book, key: str) -> StatedFact | None:
    return next((f for f in book.stated if f.key == key and f.part is None and f.standing == IN_FORCE), None)


def _rows(book: Book) -> list[_Pair]:
    """Every pair of facts of which one is stated at least, in the order of the file of facts; none where none is."""
    pairs = [
        (key, fact, _of(book, fact.was), _of(book, key))
        for key, fact in book.workshop.facts.items()
        if fact.was is not None and fact.of is None
    ]
    return pairs if any(before or after for _, _, before, after in pairs) else []


def _row(
    book: Book, key: str, fact: FactDefinition, before: StatedFact | None, after: StatedFact | None
) -> tuple[Text | Cell, ...]:
    codes = dict.fromkeys(f.code for f in (before, after) if f)
    stated: list[str | Link] = []
    for code in codes:
        link = book.record_link(code)
        stated += [", "] if stated else []
        stated += [link] if isinstance(link, str) else [p for p in link if isinstance(p, str | Link)]
    return (
        fact.field or say("none"),
        capital(fact.title or plain_name(key)),
        before.printed if before else Cell(say("not stated"), strong=True),
        after.printed if after else Cell(say("not stated"), strong=True),
        _change(before, after) if before and after else say("none"),
        tuple(stated) or say("none"),
    )


def _change(before: StatedFact, after: StatedFact) -> str:
    """The difference with its sign, and in per cent of what was; words for what is no number."""
    was, now = _number(before.value), _number(after.value)
    if was is None or now is None or was.unit.dimension != now.unit.dimension:
        return say("none") if before.value == after.value else say("changed")
    factor = now.unit
    difference = now.si_exact - was.si_exact
    if difference == 0:
        return say("none")
    scale = parse_quantity(f"1 {factor.symbol}").si_exact if factor.symbol != "1" else 1
    value = difference / scale
    sign = "+" if value > 0 else "\u2212"
    amount = Decimal(abs(value).numerator) / Decimal(abs(value).denominator)
    share = "" if was.si_exact == 0 else f", {sign}{marked(f'{float(abs(difference / was.si_exact)) * 100:.1f}')} %"
    unit = "" if factor.symbol == "1" else f"\u00a0{factor.symbol}"
    return f"{sign}{marked(f'{amount.normalize():f}')}{unit}{share}"


def _number(text: str) -> Quantity | None:
    try:
        return parse_quantity(text, bare=True)
    except QuantityError:
        return None


VIEW = View("conversion.rst.j2", chapters, page)
