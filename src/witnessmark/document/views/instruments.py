"""Instruments that this file rests on, with every calibration and what each was good for."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cell, Column, Note, Table, Text
from witnessmark.document.catalogue import t
from witnessmark.records.acts import AccuracyRow, Calibration
from witnessmark.records.world import Act

from .book import INSTRUMENTS, Book, Chapter, Page, View
from .words import joined, plain_name, short_day

__all__ = ["VIEW", "used"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(INSTRUMENTS, t("instruments.chapter"), t("instruments.chapter_short"), flows=True),)


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
            {"title": chapter.heading, "keys": ["none"]}, {"none": Note(t("instruments.no_record"), id="b.none")}
        )
    rows: list[tuple[Text | Cell, ...]] = []
    calibrations: list[tuple[Text | Cell, ...]] = []
    accuracies: list[tuple[Text | Cell, ...]] = []
    gaps: list[int] = []
    none = t("layout.none")
    for ident, codes in found.items():
        in_records = t("instruments.in_records", n=len(codes))
        instrument = book.workshop.instruments.get(ident)
        acts = _calibrations(book, ident)
        if instrument is None:
            rows.append((ident, Cell(t("instruments.not_described"), strong=True), none, none, in_records))
        else:
            functions = joined(plain_name(f) for f in instrument.functions)
            rows.append((ident, instrument.title, instrument.serial, functions, in_records))
        if not acts:
            gaps.append(len(calibrations))
            calibrations.append((ident, Cell(t("instruments.no_calibration"), strong=True), none, none, none, none))
        for act, body in acts:
            late = body.due < book.assessment.as_of.date() and body is acts[-1][1]
            if body.as_found == "out-of-tolerance" or late:
                gaps.append(len(calibrations))
            as_found = t(f"instruments.found-{body.as_found}") + (f": {body.found}" if body.found else "")
            calibrations.append(
                (
                    ident,
                    short_day(body.on),
                    Cell(t("instruments.past", day=short_day(body.due)) if late else short_day(body.due), strong=late),
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
                Column(t("instruments.name_here")),
                Column(t("instruments.instrument"), width=2),
                Column(t("instruments.serial")),
                Column(t("instruments.functions"), width=2.4),
                Column(t("instruments.used_in")),
            ),
            tuple(rows),
            t("instruments.caption"),
            f"{n}-1",
            id="b.instruments",
        ),
        "calibrations": Table(
            (
                Column(t("instruments.instrument")),
                Column(t("instruments.on")),
                Column(t("instruments.due")),
                Column(t("instruments.laboratory"), width=2.2),
                Column(t("instruments.as_found"), width=2),
                Column(t("instruments.act"), width=0.7),
            ),
            tuple(calibrations),
            t("instruments.calibrations"),
            f"{n}-2",
            gaps=tuple(gaps),
            wide=True,
            id="b.calibrations",
        ),
    }
    if accuracies:
        made["accuracy"] = Table(
            (
                Column(t("instruments.instrument")),
                Column(t("instruments.function"), width=1.4),
                Column(t("instruments.range"), width=1.4),
                Column(t("instruments.accuracy"), width=2.2),
                Column(t("instruments.resolution")),
                Column(t("instruments.certificate"), width=1.4),
            ),
            tuple(accuracies),
            t("instruments.newest"),
            f"{n}-3",
            wide=True,
            id="b.accuracy",
        )
    return Page({"title": chapter.heading, "keys": list(made)}, made)


def _calibrations(book: Book, ident: str) -> list[tuple[Act, Calibration]]:
    found = [(a, a.body) for a in book.workshop.acts if isinstance(a.body, Calibration) and a.body.calibration == ident]
    return sorted(found, key=lambda pair: (pair[1].on, pair[0].code))


def _accuracy(row: AccuracyRow) -> tuple[str, str, str, str, str]:
    terms = [t("instruments.of_reading", percent=row.percent_of_reading)] if row.percent_of_reading is not None else []
    terms += [t("instruments.digits", digits=row.digits)] if row.digits is not None else []
    terms += [row.fixed] if row.fixed else []
    stated = _expanded(row) if row.certificate_U else t("layout.none")
    return (
        plain_name(row.function),
        t("instruments.from_to", low=row.low, high=row.high),
        ("± (" + " + ".join(terms) + ")") if terms else t("instruments.not_stated"),
        row.resolution or t("layout.none"),
        stated,
    )


def _expanded(row: AccuracyRow) -> str:
    return t("instruments.expanded", u=row.certificate_U, k=row.certificate_k or t("instruments.not_stated"))


VIEW = View("instruments.rst.j2", chapters, page)
