"""Where the parts lie that rescuers have to know: from the fact `sheet_place` of each part, never by guessing."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from witnessmark.document.blocks import Figure, Outlines, Placed
from witnessmark.document.outlines import unbroken
from witnessmark.language import Words, declared, say, say_n
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
_VENTS = Words(
    {
        "backward": declared("to the rear"),
        "down": declared("to the ground"),
        "forward": declared("to the front"),
        "left": declared("to the left"),
        "right": declared("to the right"),
        "up": declared("upwards"),
    }
)
_SIGN_WORDS = Words(
    {
        "battery": declared("low-voltage battery"),
        "cable": declared("high-voltage cable"),
        "component": declared("high-voltage component"),
        "disconnect": declared("service disconnect"),
        "inflator": declared("airbag or inflator"),
        "lift": declared("lift here"),
        "loop": declared("cut loop"),
        "no-cut": declared("do not cut here"),
        "pack": declared("traction pack"),
        "vent": declared("gas comes out here"),
    }
)
_BODY_WORDS = Words(
    {
        "bus": declared("bus"),
        "car": declared("car"),
        "lorry": declared("lorry"),
        "van": declared("van"),
    }
)
_PLACES = Words(
    {
        "across": declared("left or right"),
        "along": declared("along"),
        "cab": declared("front seats"),
        "centre": declared("centre"),
        "front": declared("front axle"),
        "height": declared("height"),
        "high": declared("high"),
        "left": declared("left"),
        "low": declared("low"),
        "mid": declared("mid height"),
        "middle": declared("middle"),
        "nose": declared("nose"),
        "rear": declared("rear axle"),
        "right": declared("right"),
        "tail": declared("tail"),
    }
)


def outlines(book: Book, number: str) -> Figure:
    """The two views with their key. A part that is not stated to lie anywhere stands in the key alone and says so."""
    items: list[Placed] = []
    unsaid: list[str] = []
    for name, kinds in _SIGNS:
        word = _SIGN_WORDS[name]
        found = [line for line in book.parts if line.kind in kinds and not line.out and not _is_case(book, line)]
        items += [_placed(book, name, word, line, len(items) + 1 + n) for n, line in enumerate(found)]
        if not found and not any(none.startswith(tuple(_listed_as(kinds))) for none in book.no_parts):
            unsaid.append(word)
    category = book.fact_words("category")
    body = _BODY.get(category, "")
    notes = []
    if not body:
        notes.append(say("No outline is drawn: the vehicle category is not stated."))
    if unsaid:
        notes.append(say("Not stated whether there is any: {names}.", names=joined(unsaid)))
    data = Outlines(
        body=body,  # type: ignore[arg-type]  # one of its words, or none
        items=tuple(items),
        front=say("front"),
        left=say("left"),
        right=say("right"),
        above=say("From above"),
        side=say("From the left"),
        notes=tuple(notes),
    )
    missing = sum(1 for item in items if item.strong)
    spoken = "; ".join(f"{i.number} {i.word}, {i.title}: {i.place}" for i in items) or say("no part is stated")
    return Figure(
        data=data,
        number=number,
        caption=say("Where it lies: a plain {body} outline, not the shape of this vehicle", body=_BODY_WORDS[body])
        if body
        else say("Where it lies"),
        key=" ".join(
            [
                say(
                    "Symbols of this workshop's own. A part is drawn where its place is stated, to a "
                    "sixth of the length, and nowhere else."
                ),
                *(
                    [
                        say_n(
                            "Of {n} part of {total} something is not stated.",
                            "Of {n} parts of {total} something is not stated.",
                            missing,
                            total=len(items),
                        )
                    ]
                    if missing
                    else []
                ),
            ]
        ),
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
        blows = _VENTS.get(vents, "")
        place = (
            say("{place}; blows {direction}", place=place, direction=blows)
            if blows
            else say("{place}; direction not stated", place=place)
        )
        whole = whole and vents in _VENTS
    title = capital(line.title)
    return Placed(
        symbol=name,
        word=capital(word),
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
            words.append(say("whole width"))
        else:
            words.append(joined(_run([axis[n] for n in run]) for run in unbroken(found)))
    if not words or "along" in missing:
        return say("place not stated"), False
    lacks = [say("{what} not stated", what=_PLACES[what]) for what in missing]
    return ", ".join([*words, *lacks]), not missing


def _run(tokens: list[str]) -> str:
    first, last = (_PLACES[token] for token in (tokens[0], tokens[-1]))
    return first if len(tokens) == 1 else say("{first} to {last}", first=first, last=last)
