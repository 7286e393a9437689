"""The emergency responder sheet: what those who come to an accident have to know, in an order and words of our own."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cautions, Cell, Column, Note, Table, Text
from witnessmark.records.printed import RESPONDER_FACTS

from .book import RESCUE, Book, Chapter, Page, View
from .places import outlines
from .waiting import waiting
from .words import capital, joined, sentence

__all__ = ["VIEW"]

_TITLES = (
    "Tell what it is",
    "Hold it still and lift it",
    "Make it safe",
    "Get to the people",
    "What is stored in it",
    "Fire",
    "In water",
    "Tow, carry, store",
    "Who knows more",
)
_ASKED = tuple(zip(_TITLES, RESPONDER_FACTS, strict=True))
"""What is asked, with the fact of the vehicle that answers it. The order is that of the work at the place (common
practice); fields as ISO 17840-1 and -3 name them, from memory."""


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(RESCUE, "Emergency responder sheet", "Responder sheet"),)


def page(book: Book, chapter: Chapter) -> Page:
    voltage = book.fact_words("working_voltage")
    short, wait = waiting(book)
    made: dict[str, Block] = {
        "cautions": Cautions(
            voltage=f"{voltage} DC" if voltage else "Voltage not stated: take it as high",
            lines=(
                "High voltage can kill. Silent does not mean switched off.",
                "Never cut or open orange cables, the traction pack or what they lead to.",
                "A damaged pack can burn hours or days later.",
                f"Waiting time after switching off: {short[:1].lower()}{short[1:]}.",
            ),
            authority="The officer in charge decides, by local rules. This sheet is no permission to touch anything.",
            title=book.vehicle.title,
            id="b.cautions",
        )
    }
    rows: list[tuple[Text | Cell, ...]] = []
    missing = 0
    for title, key in _ASKED:
        stated = book.fact_words(key)
        known = _known(book, key)
        words = " ".join(w for w in (sentence(stated), known) if w)
        missing += not stated
        rows.append((Cell(title, strong=True), Cell(words or "Not stated.", strong=not words), _source(book, key)))
        if key == "rescue_switch_off":
            measured = not isinstance(wait, str)
            source = "measured" if measured else "none"
            rows.append((Cell("Wait", strong=True), Cell(wait, strong=not measured), source))
    made["outlines"] = outlines(book, f"{chapter.number}-1")
    made["sheet"] = Table(
        (Column("What to do", width=1), Column("At this vehicle", width=3.4), Column("Source", width=1.2)),
        tuple(rows),
        f"{book.vehicle.title}, VIN {book.fact_words('vin') or 'not stated'}",
        f"{chapter.number}-1",
        wide=True,
        id="b.sheet",
    )
    if missing:
        made["missing"] = Note(
            f"{missing} of {len(_ASKED)} fields are not stated as facts of the vehicle: what stands there is only what "
            "the parts list says.",
            style="quiet",
            id="b.missing",
        )
    return Page({"title": chapter.heading, "keys": ["outlines", "sheet", *(["missing"] if missing else [])]}, made)


def _known(book: Book, key: str) -> str:
    """What the parts list says itself; nothing is guessed."""
    here = [line for line in book.parts if not line.out]
    if key == "rescue_identify":
        return "Electric drive: orange cables, and no sound when it stands."
    if key == "rescue_switch_off":
        found = [line.title for line in here if line.kind == "service-disconnect"]
        return f"Service disconnect: {joined(found)}." if found else ""
    if key == "rescue_stored":
        packs = [f"{capital(line.title)} {line.serial}".strip() for line in here if line.kind == "traction-pack"]
        return f"{joined(packs)}." if packs else ""
    return ""


def _source(book: Book, key: str) -> Text:
    fact = next((f for f in book.stated if f.key == key and f.part is None and f.standing == "in force"), None)
    return f"{fact.source}, {fact.code}" if fact else "parts list" if _known(book, key) else "none"


VIEW = View("emergency-responders.rst.j2", chapters, page)
