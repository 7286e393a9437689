"""Test reports: for every measurement what ISO/IEC 17025:2017, 7.8 asks of a report, with the way to readings and U."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cell, Column, Link, Note, Pair, Pairs, Table, Text
from witnessmark.document.catalogue import t
from witnessmark.records.acts import Record

from .book import REPORTS, RULE, Book, Chapter, Page, Use, View
from .results import as_text, does_not_count, leading
from .words import capital, day, instant, joined, plain_name

__all__ = ["VIEW"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(REPORTS, t("reports.chapter"), t("reports.chapter"), flows=True),) if _measured(book) else ()


def page(book: Book, chapter: Chapter) -> Page:
    made: dict[str, Block] = {}
    sections = []
    found = _measured(book)
    for n, (code, uses) in enumerate(found, 1):
        record = uses[0].result.record
        method = book.method(record.method)
        what = method.title if method else plain_name(record.method or "")
        made[f"{code}.head"] = _head(book, code, record, uses)
        made[f"{code}.results"] = _results(book, uses, f"{chapter.number}-{n}", code)
        made[f"{code}.end"] = Note(t("reports.end", code=code), style="quiet", ends=code, id=f"b.end.{code}")
        sections.append(
            {
                "title": f"{chapter.number}.{n} {what}, {_item(book, record)}",
                "keys": [f"{code}.head", f"{code}.results", f"{code}.end"],
            }
        )
    rule: Text = (
        capital(t("reports.lead", n=len(found))),
        Link(RULE, t("reports.rule"), True),
        t("reports.whole"),
    )
    made["lead"] = Note(rule, id="b.lead")
    return Page({"title": chapter.heading, "sections": sections}, made)


def _measured(book: Book) -> list[tuple[str, tuple[Use, ...]]]:
    """Measurements of this file by code, oldest first."""
    found = [(code, uses) for code, uses in book.uses.items() if uses[0].result.record.method]
    return sorted(found, key=lambda pair: (pair[1][0].result.record.performed, pair[0]))


def _item(book: Book, record: Record) -> str:
    return t("reports.design", design=record.design) if record.design else book.part_title(record.part)


def _head(book: Book, code: str, record: Record, uses: tuple[Use, ...]) -> Pairs:
    workshop, seal = book.workshop.file, record.seal
    method = book.method(record.method)
    serials = [f"{book.part_title(part)} {serial}" for part, serial in (seal.members if seal else {}).items()]
    pairs = [
        Pair(
            t("layout.report"),
            (*_link(book, code), t("reports.issued"), day(seal.on) if seal else t("reports.no_report")),
        ),
        Pair(t("reports.by"), f"{workshop.name}, {workshop.place}"),
        Pair(t("reports.for"), book.vehicle.owner or t("reports.no_customer")),
        Pair(
            t("reports.item"),
            t(
                "reports.item_is",
                item=capital(_item(book, record)),
                vehicle=book.vehicle.title,
                vin=book.fact_words("vin") or t("reports.not_stated"),
            ),
        ),
        Pair(t("reports.serials"), joined(serials) or t("reports.none_stated")),
        Pair(t("reports.tested_on"), instant(record.performed)),
        Pair(t("reports.place"), record.place or t("reports.not_said")),
        Pair(t("reports.method"), f"{record.method}; {method.source}" if method else str(record.method)),
        Pair(t("reports.deviations"), record.deviations or t("layout.none")),
        Pair(
            t("reports.environment"),
            joined(f"{plain_name(name)} {value}" for name, value in record.conditions.items()) or t("reports.not_said"),
        ),
        Pair(
            t("reports.instruments"),
            joined(f"{plain_name(r)} {i}" for r, i in record.instruments.items()) or t("layout.none"),
        ),
        Pair(t("reports.tested_by"), book.person(record.by.get("tester"))),
        Pair(
            t("reports.authorised_by"),
            f"{book.person(seal.by)}, {instant(seal.on)}" if seal else t("reports.not_sealed"),
        ),
    ]
    if record.retest_of:
        pairs.append(Pair(t("reports.retest_of"), f"{joined(record.retest_of)}: {record.cause}; {record.correction}"))
    against = dict.fromkeys(w for use in uses if (w := does_not_count(use.result)))
    if against:
        pairs.append(Pair(t("reports.counts"), t("reports.not_now", why=" ".join(against))))
    return Pairs(tuple(pairs), columns=2, wide=True, report=code, id=f"b.report.{code}")


def _link(book: Book, code: str) -> tuple[str | Link, ...]:
    text = book.record_link(code)
    return (text,) if isinstance(text, str) else tuple(p for p in text if isinstance(p, str | Link))


def _results(book: Book, uses: tuple[Use, ...], number: str, code: str) -> Block:
    rows: list[tuple[Text | Cell, ...]] = []
    for use in uses:
        value = as_text(use.result)
        if not value:
            continue
        first = leading(use.result)
        said = first.statement if first else t("reports.no_statement")
        if does_not_count(use.result):
            said = t("reports.not_counting", said=said)
        elif use.result.ended:
            said = t("reports.ended", said=said)
        rows.append(
            (
                capital(plain_name(use.leaf.leaf.words)),
                value,
                first.asked if first else t("layout.not_asked"),
                said,
                (book.link(use.requirement, page=True),),
            )
        )
    if not rows:
        return Note(t("reports.no_result"), style="strong", id=f"b.results.{code}")
    return Table(
        (
            Column(t("reports.result"), width=2),
            Column(t("reports.value"), width=1.8),
            Column(t("layout.asked"), width=1.3),
            Column(t("reports.statement"), width=1.5),
            Column(t("reports.readings"), width=1.1),
        ),
        tuple(rows),
        t("reports.results_of", code=code),
        number,
        wide=True,
        id=f"b.results.{code}",
    )


VIEW = View("test-reports.rst.j2", chapters, page)
