"""What is stated of the vehicle and its parts: the newest statement of a key governs, and a change needs its reason.

A key is not stated where nobody states it, where the newest statement is not sound or was withdrawn, or where two that
are unlike stand at one instant. A value changes by an event, or by a correction with a second person.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from witnessmark.assessment.ledger import Ledger, seconds
from witnessmark.assessment.model import Cause, State
from witnessmark.assessment.words import moment
from witnessmark.language import declared, say
from witnessmark.quantities import Quantity, QuantityError, parse_quantity
from witnessmark.quantities.format import written
from witnessmark.records.acts import DesignRevision, Event, PartList, Statement
from witnessmark.records.conditions import AllOf, AnyOf, Compare, Condition, Not, OneOf
from witnessmark.records.world import Act

__all__ = [
    "VEHICLE",
    "Fact",
    "Facts",
    "Said",
    "Truth",
    "as_quantity",
    "holds",
    "newest",
    "same_value",
    "told",
    "words_of",
]

VEHICLE = "vehicle"
"""How an event names the vehicle itself as its part."""

Text = str | tuple[str, ...]


class Truth(StrEnum):
    """Three values. It has no truth value of its own: compare with `is`."""

    YES = "yes"
    NO = "no"
    NOT_STATED = "not-stated"

    def __bool__(self) -> bool:
        raise TypeError("compare with is")


@dataclass(frozen=True, slots=True)
class Said:
    """One statement of one key: its value, where it was read, the act, and its instant in seconds."""

    value: Text
    source: str
    act: Act
    at: int
    event: bool = False


@dataclass(frozen=True, slots=True)
class Fact:
    """A fact as assessment takes it. `value` is None when it is not stated; `causes` then say why."""

    key: str
    part: str | None
    value: Text | None = None
    source: str = ""
    code: str = ""
    causes: tuple[Cause, ...] = field(default=())

    @property
    def said(self) -> str:
        """For people: value and source."""
        return f"{told(self.value)} ({self.source}, {self.code})" if self.value is not None else say("not stated")


def words_of(value: Text | None) -> str:
    return say("not stated") if value is None else value if isinstance(value, str) else ", ".join(value)


def told(value: Text | None) -> str:
    """The same for people: a number has the decimal mark of the language."""
    if value is None:
        return say("not stated")
    return written(value) if isinstance(value, str) else ", ".join(written(one) for one in value)


def same_value(one: Text, other: Text) -> bool:
    """Whether two statements say the same; the order of a list does not matter."""
    return sorted((one,) if isinstance(one, str) else one) == sorted((other,) if isinstance(other, str) else other)


def newest(ledger: Ledger, said: list[Said]) -> tuple[list[Said], list[Said]]:
    """The statements at the newest place, and all older ones that still count.

    A correction stands where the corrected statement stood, or later; what a sound act corrected is passed.
    """
    places: dict[int, int] = {}

    def place(one: Said, seen: frozenset[str] = frozenset()) -> int:
        corrects = one.act.body.corrects
        if corrects is None or corrects in seen:
            return one.at
        before = [s for s in said if s.act.code == corrects and s is not one]
        return max([one.at, *(place(s, seen | {corrects}) for s in before)])

    for one in said:
        places[id(one)] = place(one)
    left = [
        s
        for s in said
        if not any(
            ledger.correction_holds(c) and any(o.act is c for o in said) for c in ledger.corrections.get(s.act.code, ())
        )
    ]
    top = max((places[id(s)] for s in left), default=0)
    return [s for s in left if places[id(s)] == top], [s for s in left if places[id(s)] < top]


class Facts:
    """The facts of one vehicle and its parts."""

    def __init__(self, ledger: Ledger, vehicle: str) -> None:
        self.ledger = ledger
        self.vehicle = vehicle
        self.said: dict[tuple[str | None, str], list[Said]] = {}
        self.lists: dict[str, list[tuple[Act, PartList]]] = {}
        self._known: dict[tuple[str | None, str], Fact] = {}
        self.used: set[tuple[str | None, str]] = set()
        for act, body in ledger.of(Statement, vehicle):
            at = seconds(body.stated)
            for key, stated in body.facts.items():
                self._say(body.part, key, Said(stated.value, stated.source, act, at))
            for kind, parts in body.parts.items():
                self.lists.setdefault(kind, []).append((act, parts))
                for part, entry in parts.list.items():
                    for key, value in entry.facts.items():
                        self._say(part, key, Said(value, parts.source, act, at))
        for act, event in ledger.of(Event, vehicle):
            at = seconds(event.event_at)
            place = None if event.part == VEHICLE else event.part
            for key, stated in event.facts.items():
                self._say(place, key, Said(stated.value, stated.source, act, at, event=True))
            if event.fitted and place is not None:
                for key, value in event.fitted.facts.items():
                    self._say(place, key, Said(value, _by_event(event), act, at, event=True))
        self.design_of: Callable[[str], str | None] = lambda part: None
        """Which design a part is built to, `id/REVISION`; set by the parts."""
        self.title_of: Callable[[str], str] = lambda part: part
        """What a part is called; set by the parts."""

    def _say(self, part: str | None, key: str, said: Said) -> None:
        self.said.setdefault((None if part == VEHICLE else part, key), []).append(said)

    def fact(self, key: str, part: str | None = None) -> Fact:
        """The fact of a part, or of the vehicle when the part has none of that name."""
        self.used.add((part, key))
        if part is not None:
            own = self.stated(key, part)
            definition = self.ledger.workshop.facts.get(key)
            if (part, key) in self.said or own.value is not None or (definition is not None and definition.of):
                return own
            self.used.add((None, key))
        return self.stated(key, None)

    def stated(self, key: str, part: str | None) -> Fact:
        """The fact of exactly this part (None: the vehicle), by its newest statement."""
        known = self._known.get((part, key))
        if known is None:
            said = self.said.get((part, key), [])
            known = self._by_statement(key, part, said) if said else self._by_design(key, part)
            self._known[(part, key)] = known
        return known

    def _by_statement(self, key: str, part: str | None, said: list[Said]) -> Fact:
        at_newest, older = newest(self.ledger, said)
        spoiled = [s for s in at_newest if not self.ledger.sound(s.act)]
        if spoiled:
            causes = tuple(c for s in spoiled for c in self.ledger.causes(s.act))
            return Fact(key, part, causes=causes)
        first = at_newest[0]
        unlike = [s for s in at_newest if not same_value(s.value, first.value)]
        if unlike:
            return self._unlike(key, part, first, unlike[0], at_once=True)
        # A plain statement does not change an older one: that takes an event, or a correction with a second person.
        if not any(s.event for s in at_newest):
            standing = [s for s in older if not self.ledger.soundly_withdrawn(s.act)]
            since = max((s.at for s in standing if s.event and self.ledger.sound(s.act)), default=0)
            other = next((s for s in standing if s.at >= since and not same_value(s.value, first.value)), None)
            if other is not None:
                return self._unlike(key, part, first, other, at_once=False)
        chosen = min(at_newest, key=lambda s: s.act.code)
        return Fact(key, part, chosen.value, chosen.source, chosen.act.code)

    def _unlike(self, key: str, part: str | None, one: Said, other: Said, *, at_once: bool) -> Fact:
        first, second = sorted((one.act.code, other.act.code))
        text = declared("The {fact} is stated as {one} and, before, as {other}.")
        if at_once:
            text = declared("The {fact} is stated as {one} and, at the same time, as {other}.")
        cause = Cause(
            "fact.unlike",
            say(
                text,
                fact=self.named(key),
                one=f"{told(one.value)} ({one.act.code})",
                other=f"{told(other.value)} ({other.act.code})",
            ),
            say(
                "correct the one that is wrong (corrects: {first} or {second}) with a second person, "
                "or write the event that changed it",
                first=first,
                second=second,
            ),
            State.NOT_SHOWN,
            f"fact:{part or VEHICLE}:{key}",
            "desk",
        )
        return Fact(key, part, causes=(cause,))

    def _by_design(self, key: str, part: str | None) -> Fact:
        return self.of_design(key, self.design_of(part) if part is not None else None, part)

    def of_design(self, key: str, design: str | None, part: str | None = None) -> Fact:
        """The fact as the revision of a design states it (`id/REVISION`)."""
        if design is not None:
            name, _, revision = design.partition("/")
            said = [
                Said(body.facts[key].value, body.facts[key].source, act, body.issued.toordinal())
                for act, body in self.ledger.of(DesignRevision)
                if body.design == name and body.revision == revision and key in body.facts
            ]
            if said:
                return self._by_statement(key, part, said)
        return Fact(key, part, causes=(self._missing(key, part or design),))

    def named(self, key: str) -> str:
        """The fact as people name it in a sentence."""
        definition = self.ledger.workshop.facts.get(key)
        return definition.title if definition else key.replace("_", " ")

    def _missing(self, key: str, part: str | None) -> Cause:
        definition = self.ledger.workshop.facts.get(key)
        named, asked = self.named(key), definition.ask if definition else self.named(key)
        return Cause(
            "fact.not-stated",
            say("Not stated for {part}: {question}", part=self.title_of(part), question=asked)
            if part
            else say("Not stated: {question}", question=asked),
            say(
                "state the {fact} for {part} ({typed}) with its source",
                fact=named,
                part=self.title_of(part),
                typed=f"{key}, {part}",
            )
            if part
            else say("state the {fact} ({typed}) with its source", fact=named, typed=key),
            State.NOT_SHOWN,
            f"fact:{part or VEHICLE}:{key}",
            "desk",
        )

    def several(self, key: str) -> tuple[str, ...]:
        """The stated values of a fact of the vehicle that is a list; empty when not stated."""
        value = self.stated(key, None).value
        return () if value is None else (value,) if isinstance(value, str) else tuple(value)

    def ever_said(self, key: str) -> tuple[str, ...]:
        """Every value of a list that any statement still standing ever gave, sorted."""
        return tuple(
            sorted(
                {
                    v
                    for s in self.said.get((None, key), ())
                    if not self.ledger.gone(s.act)
                    for v in ((s.value,) if isinstance(s.value, str) else s.value)
                }
            )
        )

    def vins(self) -> tuple[str | None, tuple[Cause, ...]]:
        """The VIN and, when it is not stated, why."""
        fact = self.stated("vin", None)
        return (None if fact.value is None else words_of(fact.value)), fact.causes

    def events(self) -> tuple[tuple[Act, Event], ...]:
        """Events of the vehicle that have an effect: all but those that were soundly withdrawn or corrected."""
        return tuple((a, e) for a, e in self.ledger.of(Event, self.vehicle) if not self.ledger.gone(a))


_CAME = {
    "changed": declared("changed on {day}"),
    "fitted": declared("fitted on {day}"),
    "opened": declared("opened on {day}"),
    "removed": declared("removed on {day}"),
    "replaced": declared("replaced on {day}"),
    "software": declared("software on {day}"),
}


def _by_event(event: Event) -> str:
    """The source of a fact that came with a part."""
    return say(_CAME[event.event], day=moment(event.event_at))


def as_quantity(value: Text | None) -> Quantity | None:
    """The value as a quantity; None when it is not one."""
    if not isinstance(value, str):
        return None
    try:
        return parse_quantity(value, bare=True)
    except QuantityError:
        return None


def holds(condition: Condition, fact: Callable[[str], Fact]) -> tuple[Truth, tuple[Fact, ...]]:
    """Whether the condition holds, and the facts that decide it (for not stated: those that are missing)."""
    match condition:
        case OneOf(fact=key, values=values):
            found = fact(key)
            if found.value is None:
                return Truth.NOT_STATED, (found,)
            stated = (found.value,) if isinstance(found.value, str) else found.value
            return (Truth.YES if set(stated) & set(values) else Truth.NO), (found,)
        case Compare(fact=key):
            found = fact(key)
            return _compare(condition, found), (found,)
        case Not(part=part):
            truth, facts = holds(part, fact)
            return _NEGATED[truth], facts
        case AllOf(parts=parts):
            return _several([holds(p, fact) for p in parts], Truth.NO, Truth.YES)
        case AnyOf(parts=parts):
            return _several([holds(p, fact) for p in parts], Truth.YES, Truth.NO)


_NEGATED: Mapping[Truth, Truth] = {Truth.YES: Truth.NO, Truth.NO: Truth.YES, Truth.NOT_STATED: Truth.NOT_STATED}


def _several(
    found: list[tuple[Truth, tuple[Fact, ...]]], decides: Truth, otherwise: Truth
) -> tuple[Truth, tuple[Fact, ...]]:
    """Strong three-valued logic: one part that decides is enough, else one that is not stated leaves it so."""
    for truth in (decides, Truth.NOT_STATED):
        facts = tuple(f for t, fs in found if t is truth for f in fs)
        if facts:
            return truth, tuple({(f.part, f.key): f for f in facts}.values())
    return otherwise, tuple({(f.part, f.key): f for _, fs in found for f in fs}.values())


def _compare(condition: Compare, found: Fact) -> Truth:
    quantity = as_quantity(found.value)
    if quantity is None or quantity.bound or not quantity.unit.compatible(condition.limit.unit):
        return Truth.NOT_STATED
    one, other = quantity.si_exact, condition.limit.si_exact
    met = {"at_least": one >= other, "more_than": one > other, "at_most": one <= other, "less_than": one < other}
    return Truth.YES if met[condition.how] else Truth.NO
