"""Instruments that this file rests on, with every calibration and what each was good for."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cell, Column, Note, Table, Text
from witnessmark.language import Words, declared, marked, say, say_n
from witnessmark.quantities.format import written
from witnessmark.records.acts import AccuracyRow, Calibration
from witnessmark.records.world import Act

from .book import INSTRUMENTS, Book, Chapter, Page, View
from .words import joined, plain_name, short_day

__all__ = ["VIEW", "used"]

_FOUND = Words(
    {
        "first": declared("first calibration"),
        "in-tolerance": declared("in tolerance"),
        "out-of-tolerance": declared("out of tolerance"),
    }
)


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(INSTRUMENTS, say("Instruments and calibrations"), say("Instruments"), flows=True),)


def used(book: Book) -> dict[str, set[str]]:
    """Instrument to the codes of the records that name it."""
    found: dict[str, set[str]] = {}
    for code, uses in book.uses.items():
        for instrument in uses[0].result.record.instruments.values():
            found.setdefault(instrument, set()).add(code)
    return dict(sorted(found.items()))


def page(book: Book, chapter: Chapter) -> Page:
    found = used(book)
    if not found:
        return Page(
            {"title": chapter.heading, "keys": ["none"]},
            {"none": Note(say("No record names an instrument."), id="b.none")},
        )
    rows: list[tuple[Text | Cell, ...]] = []
    calibrations: list[tuple[Text | Cell, ...]] = []
    accuracies: list[tuple[Text | Cell, ...]] = []
    gaps: list[int] = []
    none = say("none")
    for ident, codes in found.items():
        in_records = say_n("{count} record", "{count} records", len(codes))
        instrument = book.workshop.instruments.get(ident)
        acts = _calibrations(book, ident)
        if instrument is None:
            rows.append((ident, Cell(say("not described"), strong=True), none, none, in_records))
        else:
            functions = joined(plain_name(f) for f in instrument.functions)
            rows.append((ident, instrument.title, instrument.serial, functions, in_records))
        if not acts:
            gaps.append(len(calibrations))
            calibrations.append((ident, Cell(say("no calibration"), strong=True), none, none, none, none))
        for act, body in acts:
            late = body.due < book.assessment.as_of.date() and body is acts[-1][1]
            if body.as_found == "out-of-tolerance" or late:
                gaps.append(len(calibrations))
            as_found = _FOUND[body.as_found] + (f": {body.found}" if body.found else "")
            calibrations.append(
                (
                    ident,
                    short_day(body.on),
                    Cell(say("{day}, past", day=short_day(body.due)) if late else short_day(body.due), strong=late),
                    f"{body.laboratory}, {body.certificate}",
                    Cell(as_found, strong=body.as_found == "out-of-tolerance"),
                    book.record_link(act.code),
                )
            )
            if body is acts[-1][1]:
                accuracies += [(ident, *_accuracy(row)) for row in body.accuracy]
    n = chapter.number
    made: dict[str, Block] = {
        "instruments": Table(
            (
                Column(say("Name here")),
                Column(say("Instrument"), width=2),
                Column(say("Serial")),
                Column(say("Functions"), width=2.4),
                Column(say("Used in")),
            ),
            tuple(rows),
            say("Instruments that the records name"),
            f"{n}-1",
            id="b.instruments",
        ),
        "calibrations": Table(
            (
                Column(say("Instrument")),
                Column(say("On")),
                Column(say("Due")),
                Column(say("Laboratory and certificate"), width=2.2),
                Column(say("As found"), width=2),
                Column(say("Act"), width=0.7),
            ),
            tuple(calibrations),
            say("Calibrations, all of them"),
            f"{n}-2",
            gaps=tuple(gaps),
            wide=True,
            id="b.calibrations",
        ),
    }
    if accuracies:
        made["accuracy"] = Table(
            (
                Column(say("Instrument")),
                Column(say("Function"), width=1.4),
                Column(say("Range"), width=1.4),
                Column(say("Accuracy"), width=2.2),
                Column(say("Resolution")),
                Column(say("Certificate"), width=1.4),
            ),
            tuple(accuracies),
            say("Accuracy by the newest calibration"),
            f"{n}-3",
            wide=True,
            id="b.accuracy",
        )
    return Page({"title": chapter.heading, "keys": list(made)}, made)


def _calibrations(book: Book, ident: str) -> list[tuple[Act, Calibration]]:
    found = [(a, a.body) for a in book.workshop.acts if isinstance(a.body, Calibration) and a.body.calibration == ident]
    return sorted(found, key=lambda pair: (pair[1].on, pair[0].code))


def _accuracy(row: AccuracyRow) -> tuple[str, str, str, str, str]:
    percent = None if row.percent_of_reading is None else marked(str(row.percent_of_reading))
    terms = [] if percent is None else [say("{percent} % of reading", percent=percent)]
    terms += [say("{digits} digits", digits=row.digits)] if row.digits is not None else []
    terms += [written(row.fixed)] if row.fixed else []
    stated = _expanded(row) if row.certificate_U else say("none")
    return (
        plain_name(row.function),
        say("{low} to {high}", low=written(row.low), high=written(row.high)),
        ("± (" + " + ".join(terms) + ")") if terms else say("not stated"),
        written(row.resolution) if row.resolution else say("none"),
        stated,
    )


def _expanded(row: AccuracyRow) -> str:
    k = say("not stated") if row.certificate_k is None else marked(str(row.certificate_k))
    return say("U = {u} (k={k})", u=written(row.certificate_U or ""), k=k)


VIEW = View("instruments.rst.j2", chapters, page)
