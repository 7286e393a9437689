"""Instruments that this file rests on, with every calibration and what each was good for."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cell, Column, Note, Table, Text
from witnessmark.records.acts import AccuracyRow, Calibration
from witnessmark.records.world import Act

from .book import INSTRUMENTS, Book, Chapter, Page, View
from .words import joined, plain_name, plural, short_day

__all__ = ["VIEW", "used"]

_FOUND = {"in-tolerance": "in tolerance", "out-of-tolerance": "out of tolerance", "first": "first calibration"}


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(INSTRUMENTS, "Instruments and calibrations", "Instruments"),)


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
            {"title": chapter.heading, "keys": ["none"]}, {"none": Note("No record names an instrument.", id="b.none")}
        )
    rows: list[tuple[Text | Cell, ...]] = []
    calibrations: list[tuple[Text | Cell, ...]] = []
    accuracies: list[tuple[Text | Cell, ...]] = []
    gaps: list[int] = []
    for ident, codes in found.items():
        instrument = book.workshop.instruments.get(ident)
        acts = _calibrations(book, ident)
        if instrument is None:
            rows.append((ident, Cell("not described", strong=True), "none", "none", plural(len(codes), "record")))
        else:
            functions = joined(plain_name(f) for f in instrument.functions)
            rows.append((ident, instrument.title, instrument.serial, functions, plural(len(codes), "record")))
        if not acts:
            gaps.append(len(calibrations))
            calibrations.append((ident, Cell("no calibration", strong=True), "none", "none", "none", "none"))
        for act, body in acts:
            late = body.due < book.assessment.as_of.date() and body is acts[-1][1]
            if body.as_found == "out-of-tolerance" or late:
                gaps.append(len(calibrations))
            as_found = _FOUND[body.as_found] + (f": {body.found}" if body.found else "")
            calibrations.append(
                (
                    ident,
                    short_day(body.on),
                    Cell(short_day(body.due) + (", past" if late else ""), strong=late),
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
                Column("Name here"),
                Column("Instrument", width=2),
                Column("Serial"),
                Column("Functions", width=2.4),
                Column("Used in"),
            ),
            tuple(rows),
            "Instruments that the records name",
            f"{n}-1",
            id="b.instruments",
        ),
        "calibrations": Table(
            (
                Column("Instrument"),
                Column("On"),
                Column("Due"),
                Column("Laboratory and certificate", width=2.2),
                Column("As found", width=2),
                Column("Act", width=0.7),
            ),
            tuple(calibrations),
            "Calibrations, all of them",
            f"{n}-2",
            gaps=tuple(gaps),
            wide=True,
            id="b.calibrations",
        ),
    }
    if accuracies:
        made["accuracy"] = Table(
            (
                Column("Instrument"),
                Column("Function", width=1.4),
                Column("Range", width=1.4),
                Column("Accuracy", width=2.2),
                Column("Resolution"),
                Column("Certificate", width=1.4),
            ),
            tuple(accuracies),
            "Accuracy by the newest calibration",
            f"{n}-3",
            wide=True,
            id="b.accuracy",
        )
    return Page({"title": chapter.heading, "keys": list(made)}, made)


def _calibrations(book: Book, ident: str) -> list[tuple[Act, Calibration]]:
    found = [(a, a.body) for a in book.workshop.acts if isinstance(a.body, Calibration) and a.body.calibration == ident]
    return sorted(found, key=lambda pair: (pair[1].on, pair[0].code))


def _accuracy(row: AccuracyRow) -> tuple[str, str, str, str, str]:
    terms = [f"{row.percent_of_reading} % of reading"] if row.percent_of_reading is not None else []
    terms += [f"{row.digits} digits"] if row.digits is not None else []
    terms += [row.fixed] if row.fixed else []
    stated = f"U = {row.certificate_U} (k={row.certificate_k or 'not stated'})" if row.certificate_U else "none"
    return (
        plain_name(row.function),
        f"{row.low} to {row.high}",
        ("± (" + " + ".join(terms) + ")") if terms else "not stated",
        row.resolution or "none",
        stated,
    )


VIEW = View("instruments.rst.j2", chapters, page)
