"""The high-voltage system as one line, from the parts tree, and the worst state of each part's requirements."""

from __future__ import annotations

from witnessmark.assessment.model import State
from witnessmark.document.blocks import Bus, Figure, OnBus, OneLine
from witnessmark.document.pieces import State as Word
from witnessmark.language import say, say_n

from .book import Book
from .stated import PartLine
from .words import capital, plain_name, state_word

__all__ = ["one_line", "state_of_part"]

_ON_THE_LINE = ("hv-enclosure", "charge-inlet", "traction-pack")
"""Kinds that are drawn as a box of their own; connectors, cables and cases are listed in the table below."""


def state_of_part(book: Book, part: str) -> State | None:
    """The worst state of the requirements that are shown for this part one by one; None where there is none.

    A gap that names the part counts as well, such as a fact of it that nobody has stated.
    """
    rank = {state: n for n, state in enumerate(State)}
    found = [p.state for r in book.assessment.requirements for p in r.parts if p.part == part]
    found += [g.state for r in book.assessment.requirements if r.state.is_gap for g in r.gaps if g.part == part]
    return min(found, key=lambda state: rank[state], default=None)


def one_line(book: Book, number: str) -> Figure | None:
    """The diagram, or None when no bus and no pack is stated. Nothing is drawn that is not in the parts list."""
    here = [line for line in book.parts if not line.out]
    by_id = {line.id: line for line in here}
    packs = [line for line in here if line.kind == "traction-pack"]
    buses = [line for line in here if line.kind == "hv-bus"]
    if not packs and not buses:
        return None
    inside = {line.id for line in here if line.within in {pack.id for pack in packs}}
    drawn: set[str] = set()
    made: list[Bus] = []
    for bus in buses:
        on_it = [by_id[m] for m in bus.members if m in by_id and by_id[m] not in packs and m not in inside]
        boxes = [line for line in on_it if line.kind in _ON_THE_LINE]
        drawn |= {line.id for line in boxes}
        fed = any(pack.id in bus.members for pack in packs)
        made.append(Bus(_with_mark(book, bus), tuple(_box(book, line) for line in boxes), fed))
    apart = [
        line
        for line in here
        if line.kind in _ON_THE_LINE and line not in packs and line.id not in drawn and line.id not in inside
    ]
    chart = OneLine(
        packs=tuple(_box(book, pack, tuple(capital(i.title) for i in here if i.within == pack.id)) for pack in packs),
        buses=tuple(made),
        apart=tuple(_box(book, line) for line in apart),
        apart_words=say("On no bus that the parts list states"),
    )
    return Figure(
        data=chart,
        number=number,
        caption=say("High-voltage system, one line"),
        key=say(
            "Drawn from the parts list: what is not stated there (fuses, contactors, how two buses are joined) is not "
            "drawn. Each part carries the worst mark of its requirements; the table below gives the word."
        ),
        spoken=_spoken(chart),
        id="b.one-line",
    )


def _with_mark(book: Book, bus: PartLine) -> str:
    state = state_of_part(book, bus.id)
    return f"{capital(bus.title)} ({state_word(state)})" if state is not None else capital(bus.title)


def _box(book: Book, line: PartLine, inside: tuple[str, ...] = ()) -> OnBus:
    found = state_of_part(book, line.id)
    state: Word | None = found.value if found is not None else None
    return OnBus(capital(line.title or plain_name(line.id)), line.serial, state, inside)


def _spoken(chart: OneLine) -> str:
    words = [f"{p.title} {p.serial}".strip() for p in chart.packs] or [say("no traction pack stated")]
    for bus in chart.buses:
        on_it = ", ".join(f"{p.title} {p.serial}".strip() for p in bus.parts) or say("nothing that is stated")
        words.append(f"{bus.title}: {on_it}")
    if chart.apart:
        words.append(
            say_n(
                "{count} part on no stated bus: {names}",
                "{count} parts on no stated bus: {names}",
                len(chart.apart),
                names=", ".join(p.title for p in chart.apart),
            )
        )
    return "; ".join(words) + "."
