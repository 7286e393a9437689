"""Figures as plain data: what is drawn is here, how it is drawn stands in `figures`."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from witnessmark.language import say

from .pieces import State

__all__ = [
    "Band",
    "Bus",
    "Curve",
    "Curves",
    "Decay",
    "Extreme",
    "Figure",
    "IntervalChart",
    "IntervalRow",
    "IssueBar",
    "Issues",
    "Limit",
    "Mark",
    "OnBus",
    "OneLine",
    "Outlines",
    "Placed",
]


@dataclass(frozen=True, slots=True)
class IntervalRow:
    """One result on the chart: `value` and `u` in the chart's unit; `shown` and `shown_u` are printed beside it."""

    label: str
    value: float
    u: float
    shown: str
    shown_u: str
    statement: str
    passed: bool
    passes_from: float | None = None
    current: bool = False


@dataclass(frozen=True, slots=True)
class IntervalChart:
    """All results against one limit. `side` is what is asked: at-least (hatched below) or at-most (hatched above)."""

    rows: tuple[IntervalRow, ...]
    limit: float
    limit_words: str
    axis: str
    side: Literal["at-least", "at-most"] = "at-least"
    limit_words_short: str = ""


@dataclass(frozen=True, slots=True)
class Decay:
    """Voltage after parting: time/s and voltage/V, the limit, the time allowed, and the crossing with its interval."""

    time: tuple[float, ...]
    voltage: tuple[float, ...]
    limit: float
    limit_words: str
    allowed: float
    allowed_words: str
    crossing: float | None = None
    crossing_u: float = 0.0
    crossing_words: str = ""
    passed: bool = False
    axis: str = field(default_factory=lambda: say("time after parting, s"))
    unit: str = "V"


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit of a band chart: `above` says that the forbidden side lies above it."""

    value: float
    words: str
    above: bool


@dataclass(frozen=True, slots=True)
class Extreme:
    """The sample nearest to a limit, named."""

    x: float
    y: float
    words: str
    passed: bool = True


@dataclass(frozen=True, slots=True)
class Band:
    """Lowest and highest value kept in every bin, so that no spike is lost. `x` are the edges of the bins."""

    x: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    axis: str
    unit: str
    limits: tuple[Limit, ...] = ()
    extreme: Extreme | None = None


@dataclass(frozen=True, slots=True)
class Curve:
    """A line through points, all above nought, named beneath the chart."""

    words: str
    x: tuple[float, ...]
    y: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Mark:
    """A value on an axis, above nought, with the words that stand beside its line."""

    value: float
    words: str


@dataclass(frozen=True, slots=True)
class Curves:
    """Lines on two logarithmic axes, marks on either axis, and the gap: a span of x that is shaded and named."""

    curves: tuple[Curve, ...]
    axis: str
    unit: str
    across: tuple[Mark, ...] = ()
    up: tuple[Mark, ...] = ()
    gap_from: float | None = None
    gap_to: float | None = None
    gap_words: str = ""


@dataclass(frozen=True, slots=True)
class OnBus:
    """A part in the one-line diagram: name, serial, the worst state of its requirements, and what sits inside it."""

    title: str
    serial: str = ""
    state: State | None = None
    inside: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Bus:
    """One high-voltage bus with the parts on it. `fed`: whether the pack is stated to be on it."""

    title: str
    parts: tuple[OnBus, ...]
    fed: bool = False


@dataclass(frozen=True, slots=True)
class OneLine:
    """The high-voltage system as one line: packs at the left, buses with their parts, and parts on no stated bus."""

    packs: tuple[OnBus, ...]
    buses: tuple[Bus, ...]
    apart: tuple[OnBus, ...] = ()
    apart_words: str = field(default_factory=lambda: say("on no bus that is stated"))


@dataclass(frozen=True, slots=True)
class Placed:
    """One part on the outlines: symbol, number and name, and where it is stated to lie.

    `along` are bins from the nose (0) to the tail (5), `across` from the right (0) to the left (2), `height` from high
    (0) to low (2); an empty one is not stated, and then the view that needs it does not show the part. `place` says
    the same in words, `strong` that something of it is not stated.
    """

    symbol: str
    word: str
    number: int
    title: str
    place: str
    along: tuple[int, ...] = ()
    across: tuple[int, ...] = ()
    height: tuple[int, ...] = ()
    vents: str = ""
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Outlines:
    """A vehicle from above and from its left side, with parts where they are stated to lie, and the key beside it.

    `body` "" draws no outline, only the key. `front`, `left`, `right`, `above` and `side` are the words in the picture,
    `notes` lines below the key.
    """

    body: Literal["car", "van", "lorry", "bus", ""]
    items: tuple[Placed, ...]
    front: str
    left: str
    right: str
    above: str
    side: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class IssueBar:
    """One issue: its letter and day, the requirements that stood in the way then, and that number as it is said."""

    label: str
    gaps: int
    shown: str
    current: bool = False


@dataclass(frozen=True, slots=True)
class Issues:
    """The gaps left at each issue, oldest first; the one that is worked on last."""

    bars: tuple[IssueBar, ...]


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawn figure. `number` ("8-4") and `caption` stand at the side, `key` explains, `spoken` is the alt text.

    `wide` takes the side column too; the caption then stands above.
    """

    data: IntervalChart | Decay | Band | Curves | OneLine | Outlines | Issues
    caption: str
    spoken: str
    number: str = ""
    key: str = ""
    id: str = ""
    wide: bool = False
    kind: Literal["figure"] = "figure"
