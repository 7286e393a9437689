"""Photographs beside what they show, each with its finding, who judged it and when."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from witnessmark.assessment.model import RequirementState
from witnessmark.document.blocks import Block, Link, Note, Photo, Text
from witnessmark.language import say

from . import results
from .book import Book, PhotoUse, Use
from .words import FINDING, day, instant, plain_name, sentence, woven

__all__ = ["photograph", "photographs"]


def photographs(book: Book, state: RequirementState) -> Iterator[tuple[Use, PhotoUse]]:
    """Photographs of this requirement's governing records, each once."""
    for photo in sorted(book.photos.values(), key=lambda p: p.number):
        for use in photo.uses:
            if use.requirement is state and use.result.act.code in use.leaf.governs:
                yield use, photo
                break


def photograph(book: Book, use: Use, photo: PhotoUse, state: RequirementState) -> Block:
    claim, record = use.result.claim, use.result.record
    first = photo.home is not None and photo.home.requirement is state
    finding = FINDING.get(claim.finding or "")
    who = book.person(claim.by or record.by.get("judge") or record.by.get("tester"))
    picture = book.workshop.pictures.get(photo.path)
    where = f"{use.requirement.requirement.title}, {plain_name(use.leaf.name)}, {book.part_title(use.part.part)}"
    against = results.does_not_count(use.result)
    if not first or not photo.intact:
        link = Link(f"{_page_of(book, photo)}#{photo.id}", say("Photograph {n}", n=photo.number))
        sentences = [
            say("Finding: {finding}.", finding=finding) if finding else say("Nobody has judged this picture for it.")
        ]
        if not photo.intact:
            sentences.append(say("The file is missing or was changed since it was sealed, so it is not printed."))
        text: Text = (*woven("{photograph}: {what}.", photograph=link, what=where), f" {' '.join(sentences)}")
        return Note(text, label=say("Photograph"), style="text", gap=not finding or not photo.intact)
    others = [u for u in photo.uses if u is not use]
    links = {book.target(u.requirement): u.requirement for u in others}
    used = [piece for s in links.values() for piece in (" ", *woven("Used by {place}.", place=book.link(s, page=True)))]
    shows = (say("Shows {what}.", what=where), *(used or [f" {say('Used nowhere else.')}"]))
    return Photo(
        file=photo.file,
        spoken=f"{say('Photograph {n}: {what}.', n=photo.number, what=where)} {claim.seen or ''}".strip(),
        finding=finding,
        number=str(photo.number),
        seen=" ".join(w for w in (sentence(claim.seen or ""), against) if w),
        judged=f"{who}, {day(record.performed)}" if finding else "",
        taken=_taken((picture and picture.taken) or ""),
        original=photo.original,
        sha256=photo.sha256.removeprefix("sha256:"),
        shows=shows,
        id=photo.id,
    )


def _taken(clock: str) -> str:
    """When, by the clock of the camera (`2026-10-14 16:21:05`)."""
    try:
        return say("{when} by the camera's clock", when=instant(datetime.fromisoformat(clock)))
    except ValueError:
        return say("at a time that is not in the file")


def _page_of(book: Book, photo: PhotoUse) -> str:
    return book.target((photo.home or photo.uses[0]).requirement).partition("#")[0]
