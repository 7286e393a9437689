"""Test reports: for every measurement what ISO/IEC 17025:2017, 7.8 asks of a report, with the way to readings and U."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cell, Column, Link, Note, Pair, Pairs, Table, Text
from witnessmark.language import say, say_n
from witnessmark.quantities.format import written
from witnessmark.records.acts import Record

from .book import REPORTS, RULE, Book, Chapter, Page, Use, View
from .letterhead import letterhead, told
from .results import as_text, does_not_count, k_words, leading
from .words import capital, day, instant, joined, plain_name, woven

__all__ = ["VIEW"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(REPORTS, say("Test reports"), say("Test reports"), flows=True),) if _measured(book) else ()


def page(book: Book, chapter: Chapter) -> Page:
    made: dict[str, Block] = {}
    sections = []
    found = _measured(book)
    for n, (code, uses) in enumerate(found, 1):
        record = uses[0].result.record
        method = book.method(record.method)
        what = say(method.title) if method else plain_name(record.method or "")
        made[f"{code}.head"] = _head(book, code, record, uses)
        made[f"{code}.results"] = _results(book, uses, f"{chapter.number}-{n}", code)
        made[f"{code}.end"] = Note(
            say(
                "End of report {code}. It relates only to the items tested, and is given on only as a whole.", code=code
            ),
            style="quiet",
            ends=code,
            id=f"b.end.{code}",
        )
        sections.append(
            {
                "title": f"{chapter.number}.{n} {what}, {_item(book, record)}",
                "keys": [f"{code}.head", f"{code}.results", f"{code}.end"],
            }
        )
    lead = woven(
        "{reports} Each relates only to the items tested, in the condition in which they were. The decision rule is "
        "told in {rule}. A report is given on only as a whole. No "
        "accreditation is claimed.",
        reports=capital(say_n("{count} report, in order of time.", "{count} reports, in order of time.", len(found))),
        rule=Link(RULE, say("how results are decided"), True),
    )
    made["lead"] = Note(lead, id="b.lead")
    made["letterhead"] = letterhead(book.workshop, "report")
    return Page({"title": chapter.heading, "sections": sections, **told(book.workshop.file)}, made)


def _measured(book: Book) -> list[tuple[str, tuple[Use, ...]]]:
    """Measurements of this file by code, oldest first."""
    found = [(code, uses) for code, uses in book.uses.items() if uses[0].result.record.method]
    return sorted(found, key=lambda pair: (pair[1][0].result.record.performed, pair[0]))


def _item(book: Book, record: Record) -> str:
    return say("design {design}", design=record.design) if record.design else book.part_title(record.part)


def _head(book: Book, code: str, record: Record, uses: tuple[Use, ...]) -> Pairs:
    workshop, seal = book.workshop.file, record.seal
    method = book.method(record.method)
    serials = [f"{book.part_title(part)} {serial}" for part, serial in (seal.members if seal else {}).items()]
    pairs = [
        Pair(
            say("Report"),
            woven("{report}, issued {day}", report=book.record_link(code), day=day(seal.on))
            if seal
            else woven("{report}, not sealed: no report", report=book.record_link(code)),
        ),
        Pair(say("By"), f"{workshop.name}, {workshop.where}"),
        Pair(say("For"), book.vehicle.owner or say("customer not named")),
        Pair(
            say("Item"),
            say(
                "{item}; {vehicle}; VIN {vin}",
                item=capital(_item(book, record)),
                vehicle=book.vehicle.title,
                vin=book.fact_words("vin") or say("not stated"),
            ),
        ),
        Pair(say("Its serials"), joined(serials) or say("none stated")),
        Pair(say("Tested on"), instant(record.performed)),
        Pair(say("Place"), record.place or say("not said")),
        Pair(say("Method"), f"{record.method}; {say(method.source)}" if method else str(record.method)),
        Pair(say("Deviations"), record.deviations or say("none")),
        Pair(
            say("Conditions"),
            joined(f"{plain_name(name)} {written(value)}" for name, value in record.conditions.items())
            or say("not said"),
        ),
        Pair(
            say("Instruments"),
            joined(f"{plain_name(r)} {i}" for r, i in record.instruments.items()) or say("none"),
        ),
        Pair(say("Tested by"), book.person(record.by.get("tester"))),
        Pair(
            say("Authorised by"),
            _authorised(book, seal.by, instant(seal.on)) if seal else say("nobody: not sealed"),
        ),
    ]
    if record.retest_of:
        pairs.append(Pair(say("Retest of"), f"{joined(record.retest_of)}: {record.cause}; {record.correction}"))
    against = dict.fromkeys(w for use in uses if (w := does_not_count(use.result)))
    if against:
        pairs.append(Pair(say("Counts"), say("not now. {why}", why=" ".join(against))))
    return Pairs(tuple(pairs), columns=2, wide=True, report=code, id=f"b.report.{code}")


def _authorised(book: Book, ident: str, when: str) -> str:
    """Who sealed it, what he or she is here, and when."""
    person = book.workshop.people.get(ident)
    return ", ".join(word for word in (book.person(ident), person.role if person else "", when) if word)


def _yields(book: Book, use: Use) -> str:
    """What was measured, as its method calls it."""
    output, method = use.result.output, book.method(use.result.record.method)
    spec = method.measurand(output.measurand) if method and output else None
    return say(spec.title) if spec else plain_name(use.leaf.leaf.words)


def _results(book: Book, uses: tuple[Use, ...], number: str, code: str) -> Block:
    rows: list[tuple[Text | Cell, ...]] = []
    rules: dict[str, None] = {}
    for use in uses:
        value = as_text(use.result)
        if not value:
            continue
        first = leading(use.result)
        said = first.statement if first else say("no statement")
        if first and first.decision:
            rules[str(first.decision.rule)] = None
        if does_not_count(use.result):
            said = say("does not count now; when read: {said}", said=said)
        elif use.result.ended:
            said = say("{said}; ended by a later record", said=said)
        rows.append(
            (
                capital(_yields(book, use)),
                value,
                k_words(use.result) or say("none"),
                first.asked if first else say("not asked"),
                said,
                (book.link(use.requirement, page=True),),
            )
        )
    if not rows:
        return Note(say("No result could be computed from these readings."), style="strong", id=f"b.results.{code}")
    return Table(
        (
            Column(say("Result"), width=2),
            Column(say("Value ± U (about 95 %)"), width=1.8),
            Column("k", "decimal", width=0),
            Column(say("Asked"), width=1.3),
            Column(say("Statement"), width=1.5),
            Column(say("Readings and budget"), width=1.1),
        ),
        tuple(rows),
        say("Results of {code}; decision rule: {rule}", code=code, rule=joined(rules))
        if rules
        else say("Results of {code}", code=code),
        number,
        wide=True,
        id=f"b.results.{code}",
    )


VIEW = View("test-reports.rst.j2", chapters, page)
