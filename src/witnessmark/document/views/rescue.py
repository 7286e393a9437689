"""The emergency responder sheet: what those who come to an accident have to know, in an order and words of our own."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cautions, Cell, Column, Note, Table, Text
from witnessmark.document.catalogue import t
from witnessmark.records.printed import RESPONDER_FACTS

from .book import RESCUE, Book, Chapter, Page, View
from .places import outlines
from .waiting import waiting
from .words import capital, joined, sentence

__all__ = ["VIEW"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(RESCUE, t("rescue.chapter"), t("rescue.chapter_short")),)


def page(book: Book, chapter: Chapter) -> Page:
    voltage = book.fact_words("working_voltage")
    short, wait = waiting(book)
    made: dict[str, Block] = {
        "cautions": Cautions(
            voltage=t("rescue.voltage", voltage=voltage) if voltage else t("rescue.voltage_not_stated"),
            lines=(
                t("rescue.caution_kill"),
                t("rescue.caution_cut"),
                t("rescue.caution_burn"),
                t("rescue.caution_wait", time=short),
            ),
            authority=t("rescue.authority"),
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
                Cell(t(f"rescue.fields.{key}"), strong=True),
                Cell(words or t("rescue.not_stated_field"), strong=not words),
                _source(book, key),
            )
        )
        if key == "rescue_switch_off":
            measured = not isinstance(wait, str)
            source = t("rescue.measured") if measured else t("layout.none")
            rows.append((Cell(t("rescue.wait"), strong=True), Cell(wait, strong=not measured), source))
    made["outlines"] = outlines(book, f"{chapter.number}-1")
    made["sheet"] = Table(
        (
            Column(t("rescue.asked_what"), width=1),
            Column(t("rescue.asked_at"), width=3.4),
            Column(t("rescue.source"), width=1.2),
        ),
        tuple(rows),
        t("rescue.identity", vehicle=book.vehicle.title, vin=book.fact_words("vin") or t("rescue.not_stated")),
        f"{chapter.number}-1",
        wide=True,
        id="b.sheet",
    )
    if missing:
        made["missing"] = Note(
            t("rescue.missing", n=missing, total=len(RESPONDER_FACTS)),
            style="quiet",
            id="b.missing",
        )
    return Page({"title": chapter.heading, "keys": ["outlines", "sheet", *(["missing"] if missing else [])]}, made)


def _known(book: Book, key: str) -> str:
    """What the parts list says itself; nothing is guessed."""
    here = [line for line in book.parts if not line.out]
    if key == "rescue_identify":
        return t("rescue.is_electric")
    if key == "rescue_switch_off":
        found = [line.title for line in here if line.kind == "service-disconnect"]
        return t("rescue.disconnects", names=joined(found)) if found else ""
    if key == "rescue_stored":
        packs = [f"{capital(line.title)} {line.serial}".strip() for line in here if line.kind == "traction-pack"]
        return f"{joined(packs)}." if packs else ""
    return ""


def _source(book: Book, key: str) -> Text:
    fact = next((f for f in book.stated if f.key == key and f.part is None and f.standing == "in force"), None)
    return f"{fact.source}, {fact.code}" if fact else t("rescue.parts_list") if _known(book, key) else t("layout.none")


VIEW = View("emergency-responders.rst.j2", chapters, page)
