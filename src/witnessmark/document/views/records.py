"""One record, on the screen only: what was read and with what, the files it rests on, and every place that uses it."""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.document.blocks import Block, Cell, Column, Link, Note, Pair, Pairs, Table, Text
from witnessmark.problems import Problem
from witnessmark.quantities.format import written
from witnessmark.records.acts import Record

from .book import FILES, INSTRUMENTS, REPORTS, Book, Chapter, Page, Use, View, record_page
from .history import why_not
from .results import as_text, leading, side, who_and_when
from .words import FINDING, VERDICT, capital, joined, plain_name, sentence, state_word

__all__ = ["VIEW"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    return tuple(
        Chapter(record_page(code), f"Record {code}", subject=(code,), printed=False) for code in sorted(book.uses)
    )


def page(book: Book, chapter: Chapter) -> Page:
    code = chapter.subject[0]
    uses = book.uses[code]
    record = uses[0].result.record
    method = book.method(record.method)
    what = method.title if method else "Looked at, without a method" if not record.method else record.method
    item = f"design {record.design}" if record.design else book.part_title(record.part)
    made: dict[str, Block] = {
        "lead": Note(f"{what}; {item}; {who_and_when(book, record)}", style="lead"),
        "used": _used(book, uses),
    }
    if record.readings:
        made["readings"] = _readings(book, record)
    made["about"] = Pairs(_about(book, uses[0], record), columns=1, id="b.about")
    files = _files(book, uses)
    if files is not None:
        made["files"] = files
    made["data"] = Note(_data(book, code, record), label="As data", id="b.data")
    titles = {
        "used": "Every place that uses it",
        "readings": "What was read, as it was written down",
        "about": "Who, when and with what",
        "files": "Files that it rests on",
        "data": "To take away",
    }
    sections = [{"key": key, "title": titles[key]} for key in made if key in titles]
    return Page({"title": chapter.title, "sections": sections}, made)


def _used(book: Book, uses: tuple[Use, ...]) -> Table:
    rows: list[tuple[Text | Cell, ...]] = []
    for use in uses:
        state = use.requirement
        number = book.number(state)
        governs = use.result.act.code in use.leaf.governs and not use.result.withdrawn
        rows.append(
            (
                (
                    book.link(state, f"{number} {state.requirement.title}".strip()),
                    f": {book.part_title(use.part.part)}, {plain_name(use.leaf.name)}",
                ),
                _said(use),
                "It governs." if governs and use.result.valid else why_not(book, use.leaf, use.result),
                Cell(state_word(state.state), strong=state.state.is_gap, state=state.state.value),
            )
        )
    return Table(
        (
            Column("Requirement, part and leaf", width=3),
            Column("It says", width=1.6),
            Column("Does it count", width=2),
            Column("The requirement", width=1.4),
        ),
        tuple(rows),
        id="b.used",
    )


def _said(use: Use) -> str:
    result = use.result
    value, first = as_text(result), leading(result)
    if value:
        return f"{value}, {first.statement}" if first and first.statement else value
    if use.result.claim.finding:
        return FINDING.get(use.result.claim.finding, use.result.claim.finding)
    return VERDICT[result.verdict] if result.verdict is not None else "no finding"


def _readings(book: Book, record: Record) -> Table:
    """Digit for digit, as it was written down; the decimal mark is that of the page."""
    method = book.method(record.method)
    order = {spec.name: (spec.order, n) for n, spec in enumerate(method.inputs)} if method else {}
    rows: list[tuple[Text | Cell, ...]] = []
    for name in sorted(record.readings, key=lambda n: (order.get(n, (10**6, 0)), n)):
        spec = method.input(name) if method else None
        value = record.readings[name]
        texts = value if isinstance(value, tuple) else (value,)
        for n, text in enumerate(texts, 1):
            title = spec.title if spec else capital(plain_name(name))
            rows.append((f"{title}, {n}" if len(texts) > 1 else title, name, written(text)))
    return Table(
        (Column("Quantity", width=2.4), Column("Its name in the file", width=1.4), Column("As read", width=1.6)),
        tuple(rows),
        id="b.read",
    )


def _about(book: Book, use: Use, record: Record) -> tuple[Pair, ...]:
    pairs = [pair for pair in side(book, use.result) if pair.label != "Record"]
    seal = record.seal
    serials = [f"{book.part_title(part)} {serial}" for part, serial in (seal.members if seal else {}).items()]
    pairs.append(Pair("Serials", joined(serials) or "none stated"))
    pairs.append(Pair("Sealed", f"by {book.person(seal.by)}" if seal else "no: it counts for nothing"))
    if record.instruments:
        pairs.append(Pair("Calibration", (Link(INSTRUMENTS, "instruments and their calibrations"),)))
    if record.log is not None:
        pairs.append(Pair("Log", f"{record.log.file}, start {written(record.log.start or '') or 'at its beginning'}"))
    if record.retest_of:
        pairs.append(Pair("Retest of", tuple(_codes(book, record.retest_of))))
        pairs.append(Pair("Cause", sentence(record.cause or "not said")))
        pairs.append(Pair("Correction", sentence(record.correction or "not said")))
    if record.note:
        pairs.append(Pair("Note", sentence(record.note)))
    return tuple(pairs)


def _codes(book: Book, codes: tuple[str, ...]) -> list[str | Link]:
    out: list[str | Link] = []
    for code in codes:
        out += ([", "] if out else []) + [p for p in book.record_link(code) if isinstance(p, str | Link)]
    return out


def _files(book: Book, uses: tuple[Use, ...]) -> Table | None:
    photos = {photo.original: photo for photo in book.photos.values() if any(u in photo.uses for u in uses)}
    rows: list[tuple[Text | Cell, ...]] = []
    gaps = []
    for file in sorted(uses[0].result.act.files, key=lambda f: f.name):
        photo = photos.get(file.name)
        shown: Text = (Link(FILES, "listed with its hash"),)
        if photo is not None and photo.home is not None and photo.intact:
            page_ = book.target(photo.home.requirement).partition("#")[0]
            shown = (Link(f"{page_}#{photo.id}", f"photograph {photo.number}"),)
        if not file.intact:
            gaps.append(len(rows))
        digest = file.sha256.removeprefix("sha256:") if file.intact else "missing, or changed since it was sealed"
        rows.append((file.name, shown, Cell(digest, strong=not file.intact)))
    if not rows:
        return None
    return Table(
        (Column("File", width=1.8), Column("Shown", width=1.4), Column("SHA-256", width=3)),
        tuple(rows),
        gaps=tuple(gaps),
        id="b.files",
    )


def _data(book: Book, code: str, record: Record) -> Text:
    words: list[str | Link] = [Link(f"attachment:{code}.yaml", f"{code}.yaml"), ", the record itself"]
    if record.readings:
        words += ["; ", Link(f"attachment:{code}.csv", f"{code}.csv"), ", its readings"]
    figures = book.workshop.figures.get(code)
    if figures and not isinstance(figures, Problem) and isinstance(figures, Mapping):
        words += ["; ", Link(f"attachment:{code}-figures.csv", f"{code}-figures.csv"), ", numbers taken from its log"]
    if record.method:
        words += ["; ", Link(f"{REPORTS}#b.report.{code}", "its test report")]
    return (*words, ".")


VIEW = View("record.rst.j2", chapters, page, numbered=False)
