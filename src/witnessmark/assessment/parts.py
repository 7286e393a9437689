"""The parts of one vehicle: which there are, what was built in when, and what a test of one rests on.

A part is a place, not a serial. Parts of a kind are those that any standing statement lists, and those fitted since;
one leaves only by a sound `removed` event, or when the statement that named it is corrected or withdrawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from witnessmark.assessment.facts import VEHICLE, Facts, Said, newest
from witnessmark.assessment.ledger import Ledger, seconds
from witnessmark.assessment.model import Cause, State
from witnessmark.language import say
from witnessmark.records.acts import DesignRevision, PartEntry
from witnessmark.records.world import Act

__all__ = ["Built", "KindList", "Parts"]

ALWAYS = -(10**12)
"""Before any event: what a list says was built in from the beginning, unless an event says otherwise."""


@dataclass(frozen=True, slots=True)
class Built:
    """What stood in the place of a part at one time. `present` is False when it was taken out."""

    serial: str | None
    design: str | None
    present: bool = True


@dataclass(frozen=True, slots=True)
class KindList:
    """All parts of one kind. `stated` False: `causes` say why, and the parts are those that anything names."""

    kind: str
    parts: tuple[str, ...]
    stated: bool
    sources: tuple[str, ...]
    causes: tuple[Cause, ...] = ()


@dataclass(frozen=True, slots=True)
class _Point:
    """One entry in the history of a place. `before` is what an event says was taken out."""

    at: int
    act: Act
    serial: str | None
    design: str | None
    present: bool
    before: str | None = None
    listed: bool = False
    software: bool = False


class Parts:
    """Parts, their tree and their history, from statements, events and designs."""

    def __init__(self, ledger: Ledger, facts: Facts) -> None:
        self.ledger = ledger
        self.facts = facts
        self.events = facts.events()
        self.titles: dict[str, str] = {}
        self.kinds: dict[str, set[str]] = {}
        self._points: dict[str, list[_Point]] = {}
        self._children: dict[str, set[str]] = {}
        self._members: dict[str, set[str]] = {}
        self._named: dict[str, int] = {}
        for kind, lists in sorted(facts.lists.items()):
            for act, listed in sorted(lists, key=lambda pair: (pair[0].body.at or ledger.as_of, pair[0].code)):
                if not ledger.gone(act):
                    self._take_list(kind, act, listed.list)
        for act, event in sorted(self.events, key=lambda pair: (pair[1].event_at, pair[0].code)):
            at = seconds(event.event_at)
            new, old = event.fitted, event.removed
            if new is not None:
                entry = PartEntry(
                    title=new.title or self.titles.get(event.part) or event.part,
                    serial=new.serial, design=new.design, within=new.within, members=new.members,
                )  # fmt: skip
                self._take(
                    event.part, entry, _Point(at, act, new.serial, new.design, True, old.serial if old else None)
                )
                if new.kind:
                    self.kinds.setdefault(new.kind, set()).add(event.part)
                self._named[event.part] = max(self._named.get(event.part, ALWAYS), at)
            elif event.event == "removed":
                self._points.setdefault(event.part, []).append(
                    _Point(at, act, None, None, False, old.serial if old else None)
                )
        self._take_design_parts()
        facts.design_of = self.settled_design
        facts.title_of = lambda part: self.titles.get(part, part)

    def _take_list(self, kind: str, act: Act, listed: Mapping[str, PartEntry]) -> None:
        at = seconds(act.body.at or self.ledger.as_of)
        for part, entry in listed.items():
            self._take(part, entry, _Point(at, act, entry.serial, entry.design, True, listed=True))
            self.kinds.setdefault(kind, set()).add(part)
            self._named[part] = max(self._named.get(part, ALWAYS), at)

    def _take(self, part: str, entry: PartEntry, point: _Point) -> None:
        self.titles[part] = entry.title
        self._points.setdefault(part, []).append(point)
        if entry.within and entry.within != part:
            self._children.setdefault(entry.within, set()).add(part)
        self._members.setdefault(part, set()).update(m for m in entry.members if m != part)

    def _take_design_parts(self) -> None:
        """Parts of a fitted component come from its design: those of them that say their kind."""
        designs = {
            f"{body.design}/{body.revision}": (act, body)
            for act, body in self.ledger.of(DesignRevision)
            if not self.ledger.gone(act)
        }
        for host, design in [(h, d) for h in sorted(self._points) for d in self.designs(h)]:
            if design not in designs:
                continue
            act, body = designs[design]
            for name, entry in sorted(body.parts.items()):
                if entry.kind is None:
                    continue
                inner = entry.model_copy(update={"within": host, "members": ()})
                part = f"{host}-{name}"
                self._take(part, inner, _Point(ALWAYS, act, entry.serial, entry.design, True, listed=True))
                self.kinds.setdefault(entry.kind, set()).add(part)
                self._named[part] = max(self._named.get(part, ALWAYS), ALWAYS)

    @property
    def known(self) -> frozenset[str]:
        return frozenset(self._points)

    def title(self, part: str | None) -> str:
        return say("the vehicle") if part is None else self.titles.get(part, part)

    def is_removed(self, part: str) -> bool:
        """Taken out by a sound event, and named by nothing since."""
        last = self._named.get(part, ALWAYS)
        return any(not p.present and p.at > last and self.ledger.sound(p.act) for p in self._points.get(part, ()))

    def of_kind(self, kind: str, named: frozenset[str] = frozenset()) -> KindList:
        """The parts of one kind. `named`: parts that records name, which count while the list is not stated."""
        lists = [(a, p) for a, p in self.facts.lists.get(kind, ())]
        said = [Said("", p.source, a, seconds(a.body.at or self.ledger.as_of)) for a, p in lists]
        at_newest, _ = newest(self.ledger, said) if said else ([], [])
        causes = tuple(c for s in at_newest for c in self.ledger.causes(s.act))
        if not at_newest:
            causes = (
                Cause(
                    "parts.not-stated",
                    say("Nobody has stated which parts of the kind {kind} there are.", kind=kind),
                    say("state the list of {kind} with its source; an empty list says that there are none", kind=kind),
                    State.NOT_SHOWN,
                    f"parts:{kind}",
                    "desk",
                ),
            )
        stated = bool(at_newest) and not causes
        found = {p for p in self.kinds.get(kind, set()) if not self.is_removed(p)}
        if not stated:
            found |= named
        sources = tuple(sorted({f"{p.source} ({a.code})" for a, p in lists if not self.ledger.gone(a)}))
        return KindList(kind, tuple(sorted(found)), stated, sources, causes)

    def built(self, part: str, at: int, *, sound_only: bool) -> Built:
        """What stood in the place at one instant (seconds). `sound_only`: by what is sound alone."""
        points = [p for p in self._points.get(part, ()) if not sound_only or self.ledger.sound(p.act)]
        if not points:
            return Built(None, None, False)
        past = [p for p in points if p.at <= at]
        if past:
            point = max(past, key=lambda p: (p.at, not p.listed, p.act.code))
            return Built(point.serial, point.design, point.present)
        first = min(points, key=lambda p: (p.at, p.listed, p.act.code))
        if first.listed:
            return Built(first.serial, first.design)
        # Before its first event a place held what that event took out.
        return Built(first.before, None, first.before is not None or not first.present)

    def now(self, part: str) -> Built:
        """What stands there now; unsound events count, since they may only hurt."""
        return self.built(part, seconds(self.ledger.as_of), sound_only=False)

    def designs(self, part: str) -> tuple[str, ...]:
        """What the part is built to: more than one where an event that is not sound says otherwise. Sorted."""
        built = (self.built(part, seconds(self.ledger.as_of), sound_only=sound) for sound in (True, False))
        return tuple(sorted({b.design for b in built if b.present and b.design is not None}))

    def settled_design(self, part: str) -> str | None:
        """What the part is built to; None where that is not stated, or in doubt."""
        found = self.designs(part)
        return found[0] if len(found) == 1 else None

    def members(self, part: str | None, whole: bool = True) -> frozenset[str]:
        """What a test of the part rests on: itself, its descendants, its members and theirs, as anything ever said.

        `part` None is the vehicle: all parts, or with `whole` False only what is stated to be `within: vehicle`.
        """
        if part is None and whole:
            return frozenset({VEHICLE, *self._points})
        found: set[str] = set()
        left = [part or VEHICLE]
        while left:
            one = left.pop()
            if one not in found:
                found.add(one)
                left += sorted(self._children.get(one, ())) + sorted(self._members.get(one, ()))
        return frozenset(found)

    def serials(self, members: frozenset[str], at: int, *, sound_only: bool) -> dict[str, str]:
        """Serial of each member that was built in at that instant and has one, sorted by part."""
        built = {m: self.built(m, at, sound_only=sound_only) for m in sorted(members)}
        return {m: b.serial for m, b in built.items() if b.present and b.serial is not None}
