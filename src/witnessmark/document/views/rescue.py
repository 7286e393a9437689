"""The emergency responder sheet: what those who come to an accident have to know, in an order and words of our own."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cautions, Cell, Column, Note, Table, Text
from witnessmark.language import Words, declared, say, say_n
from witnessmark.records.printed import RESPONDER_FACTS

from .book import RESCUE, Book, Chapter, Page, View
from .places import outlines
from .stated import IN_FORCE
from .waiting import waiting
from .words import capital, joined, sentence

__all__ = ["VIEW"]

_FIELDS = Words(
    {
        "rescue_access": declared("Get to the people"),
        "rescue_contact": declared("Who knows more"),
        "rescue_fire": declared("Fire"),
        "rescue_hold": declared("Hold it still and lift it"),
        "rescue_identify": declared("Tell what it is"),
        "rescue_stored": declared("What is stored in it"),
        "rescue_switch_off": declared("Make it safe"),
        "rescue_tow": declared("Tow, carry, store"),
        "rescue_water": declared("In water"),
    }
)


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(RESCUE, say("Emergency responder sheet"), say("Responder sheet")),)


def page(book: Book, chapter: Chapter) -> Page:
    voltage = book.fact_words("working_voltage")
    short, wait = waiting(book)
    made: dict[str, Block] = {
        "cautions": Cautions(
            voltage=say("{voltage} DC", voltage=voltage) if voltage else say("Voltage not stated: take it as high"),
            lines=(
                say("High voltage can kill. Silent does not mean switched off."),
                say("Never cut or open orange cables, the traction pack or what they lead to."),
                say("A damaged pack can burn hours or days later."),
                say("Waiting time after switching off: {time}.", time=short),
            ),
            authority=say(
                "The officer in charge decides, by local rules. This sheet is no permission to touch anything."
            ),
            title=book.vehicle.title,
            id="b.cautions",
        )
    }
    rows: list[tuple[Text | Cell, ...]] = []
    missing = 0
    # In the order of the work at the place (common practice); fields as ISO 17840-1 and -3 name them, from memory.
    for key in RESPONDER_FACTS:
        stated = book.fact_words(key)
        known = _known(book, key)
        words = " ".join(w for w in (sentence(stated), known) if w)
        missing += not stated
        rows.append(
            (
                Cell(_FIELDS[key], strong=True),
                Cell(words or say("Not stated."), strong=not words),
                _source(book, key),
            )
        )
        if key == "rescue_switch_off":
            measured = not isinstance(wait, str)
            source = say("measured") if measured else say("none")
            rows.append((Cell(say("Wait"), strong=True), Cell(wait, strong=not measured), source))
    made["outlines"] = outlines(book, f"{chapter.number}-1")
    made["sheet"] = Table(
        (
            Column(say("What to do"), width=1),
            Column(say("At this vehicle"), width=3.4),
            Column(say("Source"), width=1.2),
        ),
        tuple(rows),
        say("{vehicle}, VIN {vin}", vehicle=book.vehicle.title, vin=book.fact_words("vin") or say("not stated")),
        f"{chapter.number}-1",
        wide=True,
        id="b.sheet",
    )
    if missing:
        made["missing"] = Note(
            say_n(
                "{n} of {total} fields is not stated as a fact of the vehicle: what stands there is "
                "only what the parts list says.",
                "{n} of {total} fields are not stated as facts of the vehicle: what stands there is "
                "only what the parts list says.",
                missing,
                total=len(RESPONDER_FACTS),
            ),
            style="quiet",
            id="b.missing",
        )
    return Page({"title": chapter.heading, "keys": ["outlines", "sheet", *(["missing"] if missing else [])]}, made)


def _known(book: Book, key: str) -> str:
    """What the parts list says itself; nothing is guessed."""
    here = [line for line in book.parts if not line.out]
    if key == "rescue_identify":
        return say("Electric drive: orange cables, and no sound when it stands.")
    if key == "rescue_switch_off":
        found = [line.title for line in here if line.kind == "service-disconnect"]
        return say("Service disconnect: {names}.", names=joined(found)) if found else ""
    if key == "rescue_stored":
        packs = [f"{capital(line.title)} {line.serial}".strip() for line in here if line.kind == "traction-pack"]
        return f"{joined(packs)}." if packs else ""
    return ""


def _source(book: Book, key: str) -> Text:
    fact = next((f for f in book.stated if f.key == key and f.part is None and f.standing == IN_FORCE), None)
    return f"{fact.source}, {fact.code}" if fact else say("parts list") if _known(book, key) else say("none")


VIEW = View("emergency-responders.rst.j2", chapters, page)
