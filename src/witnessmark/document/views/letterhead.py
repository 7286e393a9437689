"""Who stands behind the file: the workshop's mark, name, address and how it is reached, as pages carry them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from witnessmark.document.blocks import Letterhead
from witnessmark.language import say
from witnessmark.records.workshop import WorkshopFile
from witnessmark.records.world import Picture, Workshop

__all__ = ["contact_lines", "letterhead", "mark_file", "spoken", "told"]


def letterhead(workshop: Workshop, style: Literal["cover", "report"]) -> Letterhead:
    """The block. A report has its laboratory's address in its own table; there the name and the contact stand."""
    file, mark = workshop.file, workshop.mark
    lines = (*((file.where,) if style == "cover" else ()), *_in_one_line(file))
    if mark is None:
        return Letterhead(file.name, lines, style=style)
    ratio = round(mark.width / mark.height, 3)
    return Letterhead(file.name, lines, mark_file(mark), spoken(file), ratio, style)


def told(file: WorkshopFile) -> Mapping[str, object]:
    """The names that templates are given of it."""
    return {
        "workshop": file.name,
        "place": file.place,
        "address": list(file.address or (file.place,)),
        "contact": list(contact_lines(file)),
    }


def contact_lines(file: WorkshopFile) -> tuple[str, ...]:
    """How the workshop is reached, each with its word."""
    contact = file.contact
    if contact is None:
        return ()
    found = [say("telephone {number}", number=contact.telephone)] if contact.telephone else []
    found += [say("mail {address}", address=contact.mail)] if contact.mail else []
    return (*found, *((contact.web,) if contact.web else ()))


def _in_one_line(file: WorkshopFile) -> tuple[str, ...]:
    lines = contact_lines(file)
    return (", ".join(lines),) if lines else ()


def spoken(file: WorkshopFile) -> str:
    """What the mark is, for who does not see it."""
    return say("{name}: mark", name=file.name)


def mark_file(mark: Picture) -> str:
    """Where the copy that is printed lies below the sources."""
    return "letterhead/mark.png" if mark.path.lower().endswith(".png") else "letterhead/mark.jpg"
