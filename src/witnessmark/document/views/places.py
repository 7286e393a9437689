"""Where the parts lie that rescuers have to know: from the fact `sheet_place` of each part, never by guessing."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from witnessmark.document.blocks import Figure, Outlines, Placed
from witnessmark.document.outlines import unbroken
from witnessmark.records.printed import PLACE, VENTS_TO

from .book import Book
from .stated import PartLine
from .words import capital, joined

__all__ = ["outlines"]

_BODY: Mapping[str, str] = MappingProxyType(
    {"M1": "car", "N1": "van", "M2": "bus", "M3": "bus", "N2": "lorry", "N3": "lorry"}
)
_SIGNS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("pack", "Traction pack", ("traction-pack",)),
    ("disconnect", "Service disconnect", ("service-disconnect",)),
    ("loop", "Cut loop", ("cut-loop",)),
    ("battery", "Low-voltage battery", ("low-voltage-battery",)),
    ("cable", "High-voltage cable", ("hv-cable",)),
    ("component", "High-voltage component", ("hv-enclosure", "charge-inlet")),
    ("inflator", "Airbag or inflator", ("airbag", "inflator")),
    ("no-cut", "Do not cut here", ("no-cut-zone",)),
    ("lift", "Lift here", ("lift-point",)),
    ("vent", "Gas comes out here", ("vent-outlet",)),
)
"""Symbol, word, and the kinds of part it stands for, in the order of their numbers."""

_ALONG = {
    "nose": "nose",
    "front": "front axle",
    "cab": "front seats",
    "middle": "middle",
    "rear": "rear axle",
    "tail": "tail",
}
_ACROSS = {"right": "right", "centre": "centre", "left": "left"}
_HEIGHT = {"high": "high", "mid": "mid height", "low": "low"}
_VENTS = {
    "forward": "to the front",
    "backward": "to the rear",
    "left": "to the left",
    "right": "to the right",
    "up": "upwards",
    "down": "to the ground",
}


def outlines(book: Book, number: str) -> Figure:
    """The two views with their key. A part that is not stated to lie anywhere stands in the key alone and says so."""
    items: list[Placed] = []
    unsaid: list[str] = []
    for name, word, kinds in _SIGNS:
        found = [line for line in book.parts if line.kind in kinds and not line.out and not _is_case(book, line)]
        items += [_placed(book, name, word, line, len(items) + 1 + n) for n, line in enumerate(found)]
        if not found and not any(none.startswith(tuple(_listed_as(kinds))) for none in book.no_parts):
            unsaid.append(word.lower())
    category = book.fact_words("category")
    body = _BODY.get(category, "")
    notes = []
    if not body:
        notes.append("No outline is drawn: the vehicle category is not stated.")
    if unsaid:
        notes.append(f"Not stated whether there is any: {joined(unsaid)}.")
    data = Outlines(
        body=body,  # type: ignore[arg-type]  # one of its words, or none
        items=tuple(items),
        front="front",
        left="left",
        right="right",
        above="From above",
        side="From the left",
        notes=tuple(notes),
    )
    missing = sum(1 for item in items if item.strong)
    spoken = "; ".join(f"{i.number} {i.word}, {i.title}: {i.place}" for i in items) or "no part is stated"
    return Figure(
        data=data,
        number=number,
        caption=f"Where it lies: a plain {body} outline, not the shape of this vehicle" if body else "Where it lies",
        key="Symbols of this workshop's own. A part is drawn where its place is stated, to a sixth of the length, and "
        "nowhere else" + (f"; of {missing} of {len(items)} something is not stated." if missing else "."),
        spoken=f"{spoken}. {' '.join(notes)}".strip(),
        wide=True,
        id="b.outlines",
    )


def _listed_as(kinds: tuple[str, ...]) -> list[str]:
    from .words import plain_name

    return [f"{plain_name(kind)}:" for kind in kinds]


def _is_case(book: Book, line: PartLine) -> bool:
    """The case of the traction pack is the pack."""
    packs = {other.id for other in book.parts if other.kind == "traction-pack"}
    return line.kind == "hv-enclosure" and line.within in packs


def _said(book: Book, key: str, part: str) -> tuple[str, ...]:
    """What is in force for the part; nothing where it is not stated, or in doubt."""
    if book.world is None:
        return ()
    value = book.world.facts.stated(key, part).value
    return () if value is None else (value,) if isinstance(value, str) else tuple(value)


def _placed(book: Book, name: str, word: str, line: PartLine, number: int) -> Placed:
    said = _said(book, PLACE, line.id)
    vents = next(iter(_said(book, VENTS_TO, line.id)), "") if name == "vent" else ""
    place, whole = _in_words(said)
    if name == "vent":
        place += f"; blows {_VENTS[vents]}" if vents in _VENTS else "; direction not stated"
        whole = whole and vents in _VENTS
    title = capital(line.title)
    return Placed(
        symbol=name,
        word=word,
        number=number,
        title=f"{title}, {line.serial}" if line.serial else title,
        place=place,
        along=_bins(said, _ALONG),
        across=_bins(said, _ACROSS),
        height=_bins(said, _HEIGHT),
        vents=vents,
        strong=not whole,
    )


def _bins(said: tuple[str, ...], words: Mapping[str, str]) -> tuple[int, ...]:
    return tuple(n for n, token in enumerate(words) if token in said)


def _in_words(said: tuple[str, ...]) -> tuple[str, bool]:
    """`front axle to middle, left, low`, and whether all three were said."""
    words, missing = [], []
    for axis, what in ((_ALONG, "along"), (_ACROSS, "left or right"), (_HEIGHT, "height")):
        found = _bins(said, axis)
        names = list(axis.values())
        if not found:
            missing.append(what)
        elif len(found) == len(axis) and axis is _ACROSS:
            words.append("whole width")
        else:
            ends = [(names[run[0]], names[run[-1]]) for run in unbroken(found)]
            words.append(joined(first if first == last else f"{first} to {last}" for first, last in ends))
    if not words or "along" in missing:
        return "place not stated", False
    return ", ".join([*words, *(f"{what} not stated" for what in missing)]), not missing
