"""One record, on the screen only: what was read and with what, the files it rests on, and every place that uses it."""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.document.blocks import Block, Cell, Column, Link, Note, Pair, Pairs, Table, Text
from witnessmark.language import Words, declared, say
from witnessmark.problems import Problem
from witnessmark.quantities.format import written
from witnessmark.records.acts import Record

from .book import FILES, INSTRUMENTS, REPORTS, Book, Chapter, Page, Use, View, record_page
from .history import why_not
from .results import as_text, circumstances, leading, who_and_when
from .words import FINDING, VERDICT, capital, joined, plain_name, sentence, state_word, woven

__all__ = ["VIEW"]

_TITLES = Words(
    {
        "used": declared("Every place that uses it"),
        "readings": declared("What was read, as it was written down"),
        "about": declared("Who, when and with what"),
        "files": declared("Files that it rests on"),
        "data": declared("To take away"),
    }
)


def chapters(book: Book) -> tuple[Chapter, ...]:
    return tuple(
        Chapter(record_page(code), say("Record {code}", code=code), subject=(code,), printed=False)
        for code in sorted(book.uses)
    )


def page(book: Book, chapter: Chapter) -> Page:
    code = chapter.subject[0]
    uses = book.uses[code]
    record = uses[0].result.record
    method = book.method(record.method)
    what = say(method.title) if method else record.method or say("Looked at, without a method")
    item = say("design {design}", design=record.design) if record.design else book.part_title(record.part)
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
    made["data"] = Note(_data(book, code, record), label=say("As data"), id="b.data")
    sections = [{"key": key, "title": _TITLES[key]} for key in made if key in _TITLES]
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
                say("It governs.") if governs and use.result.valid else why_not(book, use.leaf, use.result),
                Cell(state_word(state.state), strong=state.state.is_gap, state=state.state.value),
            )
        )
    return Table(
        (
            Column(say("Requirement, part and leaf"), width=3),
            Column(say("It says"), width=1.6),
            Column(say("Does it count"), width=2),
            Column(say("The requirement"), width=1.4),
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
    return VERDICT[result.verdict] if result.verdict is not None else say("no finding")


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
            title = say(spec.title) if spec else capital(plain_name(name))
            rows.append((f"{title}, {n}" if len(texts) > 1 else title, name, written(text)))
    return Table(
        (
            Column(say("Quantity"), width=2.4),
            Column(say("Its name in the file"), width=1.4),
            Column(say("As read"), width=1.6),
        ),
        tuple(rows),
        id="b.read",
    )


def _about(book: Book, use: Use, record: Record) -> tuple[Pair, ...]:
    pairs = list(circumstances(book, record))
    seal = record.seal
    serials = [f"{book.part_title(part)} {serial}" for part, serial in (seal.members if seal else {}).items()]
    pairs.append(Pair(say("Serials"), joined(serials) or say("none stated")))
    sealed = say("by {who}", who=book.person(seal.by)) if seal else say("no: it counts for nothing")
    pairs.append(Pair(say("Sealed"), sealed))
    if record.instruments:
        pairs.append(Pair(say("Calibration"), (Link(INSTRUMENTS, say("instruments and their calibrations")),)))
    if record.log is not None:
        start = record.log.start
        words = (
            say("{file}, start {start}", file=record.log.file, start=written(start))
            if start
            else say("{file}, start at its beginning", file=record.log.file)
        )
        pairs.append(Pair(say("Log"), words))
    if record.retest_of:
        pairs.append(Pair(say("Retest of"), tuple(_codes(book, record.retest_of))))
        pairs.append(Pair(say("Cause"), sentence(record.cause or say("not said"))))
        pairs.append(Pair(say("Correction"), sentence(record.correction or say("not said"))))
    if record.note:
        pairs.append(Pair(say("Note"), sentence(record.note)))
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
        shown: Text = (Link(FILES, say("listed with its hash")),)
        if photo is not None and photo.home is not None and photo.intact:
            page_ = book.target(photo.home.requirement).partition("#")[0]
            shown = (Link(f"{page_}#{photo.id}", say("photograph {number}", number=photo.number)),)
        if not file.intact:
            gaps.append(len(rows))
        digest = file.sha256.removeprefix("sha256:") if file.intact else say("missing, or changed since it was sealed")
        rows.append((file.name, shown, Cell(digest, strong=not file.intact)))
    if not rows:
        return None
    return Table(
        (Column(say("File"), width=1.8), Column(say("Shown"), width=1.4), Column("SHA-256", width=3)),
        tuple(rows),
        gaps=tuple(gaps),
        id="b.files",
    )


def _data(book: Book, code: str, record: Record) -> Text:
    pieces = [woven("{file}, the record itself", file=Link(f"attachment:{code}.yaml", f"{code}.yaml"))]
    if record.readings:
        pieces.append(woven("{file}, its readings", file=Link(f"attachment:{code}.csv", f"{code}.csv")))
    figures = book.workshop.figures.get(code)
    if figures and not isinstance(figures, Problem) and isinstance(figures, Mapping):
        file = Link(f"attachment:{code}-figures.csv", f"{code}-figures.csv")
        pieces.append(woven("{file}, numbers taken from its log", file=file))
    if record.method:
        pieces.append((Link(f"{REPORTS}#b.report.{code}", say("its test report")),))
    return (*(piece for n, part in enumerate(pieces) for piece in (("; ", *part) if n else part)), ".")


VIEW = View("record.rst.j2", chapters, page, numbered=False)
