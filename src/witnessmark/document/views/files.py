"""Photographs, logs, reports and drawings that the records rest on, with their hashes."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cell, Column, Link, Note, Table, Text
from witnessmark.language import say

from .book import FILES, Book, Chapter, Page, PhotoUse, Use, View
from .words import FINDING, capital, plain_name, short_day

__all__ = ["VIEW"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(FILES, say("Photographs, logs and papers"), say("Photographs, logs"), flows=True),)


def page(book: Book, chapter: Chapter) -> Page:
    made: dict[str, Block] = {}
    photos = sorted(book.photos.values(), key=lambda p: p.number)
    if photos:
        made["photographs"] = Table(
            (
                Column(say("No."), "right", width=0),
                Column(say("Shows"), width=2.6),
                Column(say("Finding"), width=1.2),
                Column(say("Original"), width=1.6),
                Column(say("SHA-256"), width=3),
            ),
            tuple(_photo(book, photo) for photo in photos),
            say("Photographs; the originals are not attached"),
            f"{chapter.number}-1",
            gaps=tuple(n for n, p in enumerate(photos) if not p.intact or _unjudged(p)),
            wide=True,
            id="b.photographs",
        )
    others = _others(book)
    if others:
        made["files"] = Table(
            (
                Column(say("File"), width=2),
                Column(say("Record"), width=0.8),
                Column(say("Number and pages on it"), width=1.5),
                Column(say("Brought by"), width=1),
                Column(say("Shows"), width=2),
                Column(say("SHA-256"), width=2.4),
            ),
            tuple(row for row, _ in others),
            say("Logs, reports and papers; the originals are not attached"),
            f"{chapter.number}-2",
            gaps=tuple(n for n, (_, lost) in enumerate(others) if lost),
            wide=True,
            id="b.files",
        )
    if not made:
        made["none"] = Note(say("No record rests on a file."), id="b.none")
    return Page({"title": chapter.heading, "keys": list(made)}, made)


def _unjudged(photo: PhotoUse) -> bool:
    return any(not use.result.claim.finding for use in photo.uses)


def _photo(book: Book, photo: PhotoUse) -> tuple[Text | Cell, ...]:
    unjudged = say("nobody has judged it")
    findings = dict.fromkeys(FINDING.get(u.result.claim.finding or "", unjudged) for u in photo.uses)
    shows: list[str | Link] = []
    for use in {(u.requirement.set_id, u.requirement.id): u for u in photo.uses}.values():
        shows += (["; "] if shows else []) + [
            book.link(use.requirement, use.requirement.requirement.title),
            f", {plain_name(use.leaf.name)}",
        ]
    home = photo.home
    number: Text = (
        (Link(f"{book.target(home.requirement).partition('#')[0]}#{photo.id}", str(photo.number)),)
        if home and photo.intact
        else str(photo.number)
    )
    return (
        number,
        tuple(shows),
        Cell(", ".join(findings), strong=_unjudged(photo)),
        photo.original,
        Cell(
            photo.sha256.removeprefix("sha256:") if photo.intact else say("missing, or changed since it was sealed"),
            strong=not photo.intact,
        ),
    )


def _others(book: Book) -> list[tuple[tuple[Text | Cell, ...], bool]]:
    rows: list[tuple[tuple[Text | Cell, ...], bool]] = []
    for code, uses in sorted(book.uses.items()):
        act = uses[0].result.act
        photos = {use.result.claim.photo for use in uses}
        for file in sorted(act.files, key=lambda f: f.name):
            if file.name in photos:
                continue
            lost = not file.intact
            digest = Cell(
                say("missing, or changed since it was sealed") if lost else file.sha256.removeprefix("sha256:"),
                strong=lost,
            )
            record = uses[0].result.record
            brought = f"{book.person(record.by.get('tester'))}, {short_day(record.performed)}"
            number = _number(uses, file.name)
            rows.append(((file.name, book.record_link(code), number, brought, _shows(book, uses), digest), lost))
    return rows


def _number(uses: tuple[Use, ...], name: str) -> str:
    """Number, revision and pages as the claim that rests on the file says them."""
    claims = [use.result.claim for use in uses if use.result.claim.file == name]
    said = [w for c in claims for w in (c.number, say("pages {pages}", pages=c.pages) if c.pages else None) if w]
    return ", ".join(dict.fromkeys(said)) or say("none said")


def _shows(book: Book, uses: tuple[Use, ...]) -> Text:
    out: list[str | Link] = []
    for use in {(u.requirement.set_id, u.requirement.id): u for u in uses}.values():
        out += ([", "] if out else []) + [book.link(use.requirement, capital(use.requirement.requirement.title))]
    return tuple(out)


VIEW = View("photographs-and-logs.rst.j2", chapters, page)
