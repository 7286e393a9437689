"""Where the parts lie that rescuers have to know: from the fact `sheet_place` of each part, never by guessing."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from witnessmark.document.blocks import Figure, Outlines, Placed
from witnessmark.document.catalogue import t
from witnessmark.document.outlines import unbroken
from witnessmark.records.printed import PLACE, VENTS_TO

from .book import Book
from .stated import PartLine
from .words import capital, joined

__all__ = ["outlines"]

_BODY: Mapping[str, str] = MappingProxyType(
    {"M1": "car", "N1": "van", "M2": "bus", "M3": "bus", "N2": "lorry", "N3": "lorry"}
)
_SIGNS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("pack", ("traction-pack",)),
    ("disconnect", ("service-disconnect",)),
    ("loop", ("cut-loop",)),
    ("battery", ("low-voltage-battery",)),
    ("cable", ("hv-cable",)),
    ("component", ("hv-enclosure", "charge-inlet")),
    ("inflator", ("airbag", "inflator")),
    ("no-cut", ("no-cut-zone",)),
    ("lift", ("lift-point",)),
    ("vent", ("vent-outlet",)),
)
"""Symbol, and the kinds of part it stands for, in the order of their numbers."""

_ALONG = ("nose", "front", "cab", "middle", "rear", "tail")
_ACROSS = ("right", "centre", "left")
_HEIGHT = ("high", "mid", "low")
_VENTS = ("forward", "backward", "left", "right", "up", "down")


def outlines(book: Book, number: str) -> Figure:
    """The two views with their key. A part that is not stated to lie anywhere stands in the key alone and says so."""
    items: list[Placed] = []
    unsaid: list[str] = []
    for name, kinds in _SIGNS:
        word = t(f"rescue.signs.{name}")
        found = [line for line in book.parts if line.kind in kinds and not line.out and not _is_case(book, line)]
        items += [_placed(book, name, word, line, len(items) + 1 + n) for n, line in enumerate(found)]
        if not found and not any(none.startswith(tuple(_listed_as(kinds))) for none in book.no_parts):
            unsaid.append(word.lower())
    category = book.fact_words("category")
    body = _BODY.get(category, "")
    notes = []
    if not body:
        notes.append(t("rescue.no_category"))
    if unsaid:
        notes.append(t("rescue.unsaid", names=joined(unsaid)))
    data = Outlines(
        body=body,  # type: ignore[arg-type]  # one of its words, or none
        items=tuple(items),
        front=t("rescue.front"),
        left=t("rescue.left"),
        right=t("rescue.right"),
        above=t("rescue.above"),
        side=t("rescue.from_left"),
        notes=tuple(notes),
    )
    missing = sum(1 for item in items if item.strong)
    spoken = "; ".join(f"{i.number} {i.word}, {i.title}: {i.place}" for i in items) or t("rescue.no_part")
    return Figure(
        data=data,
        number=number,
        caption=t("rescue.caption", body=t(f"rescue.bodies.{body}")) if body else t("rescue.caption_bare"),
        key=" ".join([t("rescue.key"), *([t("rescue.key_missing", n=missing, total=len(items))] if missing else [])]),
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
        blows = t(f"rescue.vents.{vents}") if vents in _VENTS else ""
        place = (
            t("rescue.blows", place=place, direction=blows) if blows else t("rescue.direction_not_stated", place=place)
        )
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


def _bins(said: tuple[str, ...], tokens: tuple[str, ...]) -> tuple[int, ...]:
    return tuple(n for n, token in enumerate(tokens) if token in said)


def _in_words(said: tuple[str, ...]) -> tuple[str, bool]:
    """`front axle to middle, left, low`, and whether all three were said."""
    words, missing = [], []
    for axis, what in ((_ALONG, "along"), (_ACROSS, "across"), (_HEIGHT, "height")):
        found = _bins(said, axis)
        if not found:
            missing.append(what)
        elif len(found) == len(axis) and axis is _ACROSS:
            words.append(t("rescue.whole_width"))
        else:
            words.append(joined(_run([axis[n] for n in run]) for run in unbroken(found)))
    if not words or "along" in missing:
        return t("rescue.place_not_stated"), False
    lacks = [t("rescue.what_not_stated", what=t(f"rescue.places.{what}")) for what in missing]
    return ", ".join([*words, *lacks]), not missing


def _run(tokens: list[str]) -> str:
    first, last = (t(f"rescue.places.{token}") for token in (tokens[0], tokens[-1]))
    return first if len(tokens) == 1 else t("rescue.to", first=first, last=last)
