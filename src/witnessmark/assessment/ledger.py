"""Every sealed act with what speaks against it, whatever sort of act it is: A1, A2, A3, A7 and its own form.

Sound means that no cause is left. An act that is not sound keeps what makes a state worse, and loses what makes it
better.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from typing import TypeVar

from witnessmark.assessment.model import Cause, State
from witnessmark.assessment.words import day_text, moment
from witnessmark.language import declared, say
from witnessmark.records.acts import (
    Adoption,
    Answer,
    Calibration,
    CarryOver,
    Check,
    Comparison,
    Concession,
    Event,
    Record,
    Sealable,
    SetEdition,
    Withdrawal,
)
from witnessmark.records.world import Act, Held, Workshop

__all__ = ["Ledger", "by_of", "seconds", "vehicle_of"]

T = TypeVar("T", bound=Sealable)

_HELD = {
    Held.EDITED: (
        declared("{code} ({path}) was changed after it was sealed."),
        declared("put the first text back, or write a correction: {path}"),
    ),
    Held.UNSEALED: (
        declared("{code} ({path}) has lost its seal."),
        declared("put the sealed text back: {path}"),
    ),
    Held.DOUBLED: (
        declared("{code} ({path}) lies in the folder more than once."),
        declared("delete the copies and keep one: {path}"),
    ),
    Held.MISSING: (
        declared("{code} ({path}) was deleted."),
        declared("put the file back as it was: {path}"),
    ),
    Held.MISPLACED: (
        declared("{code} ({path}) lies in the folder of another vehicle."),
        declared("move the file back where it belongs: {path}"),
    ),
}


def seconds(instant: datetime) -> int:
    """The instant as whole seconds, so that zones do not matter."""
    return int(instant.timestamp())


def vehicle_of(act: Act) -> str | None:
    """The vehicle in the seal; None for acts of a design or of the workshop."""
    seal = act.body.seal
    return seal.vehicle.id if seal and seal.vehicle else None


def by_of(body: Sealable) -> str | None:
    """The person who answers for the act."""
    if isinstance(body, Record):
        return body.by.get("tester")
    by = getattr(body, "by", None)
    return by if isinstance(by, str) else None


def _names(body: Sealable) -> tuple[str, ...]:
    """Codes of the acts that this one names."""
    named = [body.corrects] if body.corrects else []
    match body:
        case Record(retest_of=codes):
            named += codes
        case Withdrawal(withdraws=code):
            named.append(code)
        case Check(checks=code):
            named.append(code)
        case CarryOver(carries_over=code, event=event):
            named += [code, *([event] if event else [])]
    return tuple(named)


def _days(body: Sealable) -> tuple[date, ...]:
    """Days that lie in the past when the act is sealed."""
    match body:
        case Calibration(on=day) | SetEdition(issued=day) | Comparison(on=day) | Adoption(on=day):
            return (day,)
        case Concession(concession=terms):
            return (terms.issued,)
        case Answer(dated=day):
            return (day,)
    return ()


class Ledger:
    """All acts of a workshop, by code and by sort, with their causes. Made once for an assessment."""

    def __init__(self, workshop: Workshop) -> None:
        self.workshop = workshop
        self.as_of = workshop.as_of
        self.acts = tuple(a for a in workshop.acts if a.body.seal is not None)
        self.by_code: dict[str, list[Act]] = {}
        self._by_sort: dict[type[Sealable], list[Act]] = {}
        for act in self.acts:
            self.by_code.setdefault(act.code, []).append(act)
            self._by_sort.setdefault(type(act.body), []).append(act)
        self.withdrawals: dict[str, list[Act]] = {}
        self.corrections: dict[str, list[Act]] = {}
        self.carry_overs: dict[str, list[Act]] = {}
        self.checks: dict[str, list[tuple[Act, Check]]] = {}
        for act in self.acts:
            body = act.body
            if isinstance(body, Withdrawal):
                self.withdrawals.setdefault(body.withdraws, []).append(act)
            if isinstance(body, Check):
                self.checks.setdefault(body.checks, []).append((act, body))
            if isinstance(body, CarryOver):
                self.carry_overs.setdefault(body.carries_over, []).append(act)
            if body.corrects and body.corrects != act.code:
                self.corrections.setdefault(body.corrects, []).append(act)
        self._causes: dict[int, tuple[Cause, ...]] = {}
        self._further: Callable[[Act], tuple[Cause, ...]] = lambda act: ()

    def judge_further(self, rule: Callable[[Act], tuple[Cause, ...]]) -> None:
        """Have corrections that are records judged by `rule` too: only a sound one takes effect."""
        self._further = rule

    def of(self, sort: type[T], vehicle: str | None = None) -> Iterator[tuple[Act, T]]:
        """All acts of one sort; with `vehicle`, those whose seal names it."""
        for act in self._by_sort.get(sort, ()):
            if isinstance(act.body, sort) and (vehicle is None or vehicle_of(act) == vehicle):
                yield act, act.body

    def causes(self, act: Act) -> tuple[Cause, ...]:
        """Everything against the act that is the same for all sorts; empty when it is sound."""
        found = self._causes.get(id(act))
        if found is None:
            found = tuple(cause for rule in RULES for cause in rule(self, act))
            self._causes[id(act)] = found
        return found

    def sound(self, act: Act) -> bool:
        return not self.causes(act)

    def gone(self, act: Act) -> bool:
        """Withdrawn or corrected by a sound act: it has no effect any more."""
        return self.soundly_withdrawn(act) or any(self.correction_holds(c) for c in self.corrections.get(act.code, ()))

    def soundly_withdrawn(self, act: Act) -> bool:
        return any(self.sound(w) for w in self.withdrawals.get(act.code, ()))

    def correction_holds(self, act: Act) -> bool:
        """Whether a correction can help: a record has to be sound in all respects."""
        return self.sound(act) and not (isinstance(act.body, Record) and self._further(act))

    def last_state(self, act: Act) -> State:
        """What rests on an act that is not sound: lapsed if it counted once, else not shown."""
        causes = self.causes(act)
        lapsed = any(c.state is State.LAPSED for c in causes) or bool(
            self.is_taken_back(act) and act.appeared is not None
        )
        return State.LAPSED if lapsed else State.NOT_SHOWN

    def is_taken_back(self, act: Act) -> bool:
        """Withdrawn or corrected by any act, sound or not."""
        return act.code in self.withdrawals or act.code in self.corrections

    @cached_property
    def persons(self) -> frozenset[str]:
        return frozenset(self.workshop.people)


def _committed(ledger: Ledger, act: Act) -> Iterator[Cause]:
    """A1."""
    if ledger.workshop.history.consulted and not ledger.workshop.history.complete:
        yield Cause(
            "history.part",
            say("A part of the history is not here. A fail that was deleted before it could not be seen."),
            say("bring the whole history: {command}, or a complete clone", command="git fetch --unshallow"),
            State.NOT_SHOWN,
            "history",
            "desk",
        )
    if act.appeared is None and act.held is Held.MISSING:
        yield Cause(
            "act.rewritten",
            say(
                "{code} was sealed and committed, but is not in this history: it was rewritten, or is another branch.",
                code=act.code,
            ),
            say("bring it in: {command}", command=f"git merge {act.by_commit[:12]}"),
            State.NOT_SHOWN,
            f"commit:{act.code}",
            "desk",
        )
    elif act.appeared is None:
        yield Cause(
            "act.not-committed",
            say("{path} is sealed but not committed. Until it is in the history it can only hurt.", path=act.path),
            say("commit {path}", path=act.path),
            State.NOT_SHOWN,
            f"commit:{act.code}",
            "desk",
        )


def _unchanged(ledger: Ledger, act: Act) -> Iterator[Cause]:
    """A2: the text."""
    key = f"text:{act.code}"
    if act.clash:
        yield Cause(
            "act.clash",
            say("The history holds two texts under the code {code} and does not say which was first.", code=act.code),
            say("withdraw {code} and record both again", code=act.code),
            State.LAPSED,
            key,
            "desk",
        )
    if act.held is not Held.UNCHANGED:
        what, remedy = _HELD[act.held]
        yield Cause(
            f"act.{act.held.value}",
            say(what, code=act.code, path=act.path),
            say(remedy, path=act.path),
            State.LAPSED,
            key,
            "desk",
        )
    if not act.seal_holds:
        yield Cause(
            "act.seal",
            say("The seal of {path} does not fit its text: it was written or changed by hand.", path=act.path),
            say("withdraw {code} and record it anew", code=act.code),
            State.NOT_SHOWN,
            key,
            "desk",
        )


def _files_intact(ledger: Ledger, act: Act) -> Iterator[Cause]:
    """A2: the files that it rests on."""
    for file in act.files:
        if not file.intact:
            yield Cause(
                "file.missing" if file.found is None else "file.changed",
                say("{name}, on which {code} rests, is missing.", name=file.name, code=act.code)
                if file.found is None
                else say(
                    "{name}, on which {code} rests, is not the file that was sealed.", name=file.name, code=act.code
                ),
                say("put {name} back as it was", name=file.name),
                State.LAPSED,
                f"file:{file.sha256}:{file.name}",
                "desk",
            )


def _in_order(ledger: Ledger, act: Act) -> Iterator[Cause]:
    """A3: performed, then sealed, then now; and names only what was in history before it."""
    body, seal = act.body, act.body.seal
    if seal is None:
        return
    key = f"order:{act.code}"
    again = say("withdraw {code} and do it again", code=act.code)
    if seal.on > ledger.as_of:
        yield Cause(
            "time.ahead",
            say("{code} is sealed on {day}, after the day of this file.", code=act.code, day=moment(seal.on)),
            again,
            State.NOT_SHOWN,
            key,
            "desk",
        )
    if body.at is not None and body.at > seal.on:
        yield Cause(
            "time.order",
            say(
                "{code} speaks of {day}, but was sealed before, on {sealed}.",
                code=act.code,
                day=moment(body.at),
                sealed=moment(seal.on),
            ),
            again,
            State.NOT_SHOWN,
            key,
            "desk",
        )
    for day in _days(body):
        if day > seal.on.date():
            yield Cause(
                "time.order",
                say(
                    "{code} speaks of {day}, but was sealed before, on {sealed}.",
                    code=act.code,
                    day=day_text(day),
                    sealed=moment(seal.on),
                ),
                again,
                State.NOT_SHOWN,
                key,
                "desk",
            )
    for code in _names(body):
        known = [a for a in ledger.by_code.get(code, ()) if a is not act]
        if not known:
            yield Cause(
                "name.unknown",
                say("{code} names {named}, and there is no such act.", code=act.code, named=code),
                again,
                State.NOT_SHOWN,
                key,
                "desk",
            )
        elif act.appeared is not None and not any(a.appeared is not None and a.appeared < act.appeared for a in known):
            yield Cause(
                "name.later",
                say("{code} names {named}, which was not in the history before it.", code=act.code, named=code),
                again,
                State.NOT_SHOWN,
                key,
                "desk",
            )


def _not_taken_back(ledger: Ledger, act: Act) -> Iterator[Cause]:
    """A7: any withdrawal or correction takes away what helps; only a sound one takes away what hurts."""
    for other in ledger.withdrawals.get(act.code, ()):
        yield Cause(
            "act.withdrawn",
            say(
                "{code} was withdrawn by {other}. Reason: {reason}",
                code=act.code,
                other=other.code,
                reason=other.body.reason,
            )
            if other.body.reason
            else say("{code} was withdrawn by {other}.", code=act.code, other=other.code),
            say("show it again"),
            State.NOT_SHOWN,
            f"withdrawn:{act.code}",
        )
    for other in ledger.corrections.get(act.code, ()):
        if other is not act:
            yield Cause(
                "act.corrected",
                say("{code} was corrected by {other}.", code=act.code, other=other.code),
                say("see {other}", other=other.code),
                State.NOT_SHOWN,
                f"corrected:{act.code}",
            )


@dataclass(frozen=True, slots=True)
class _Texts:
    """What is said of an act that needs a reason and a second person, by its sort."""

    no_reason: str
    give_reason: str
    alone: str
    with_second: str


_WITHDRAWAL = _Texts(
    declared("The withdrawal {code} gives no reason."),
    declared("make a new withdrawal with its reason"),
    declared("The withdrawal {code} was made by one person alone."),
    declared("make a new withdrawal with a second person"),
)
_CARRY_OVER = _Texts(
    declared("The carry-over {code} gives no reason."),
    declared("make a new carry-over with its reason"),
    declared("The carry-over {code} was made by one person alone."),
    declared("make a new carry-over with a second person"),
)
_CORRECTION = _Texts(
    declared("The correction {code} gives no reason."),
    declared("make a new correction with its reason"),
    declared("The correction {code} was made by one person alone."),
    declared("make a new correction with a second person"),
)


def _second_person(ledger: Ledger, act: Act) -> Iterator[Cause]:
    """A withdrawal, correction or carry-over needs a reason or proof, and somebody other than the one who makes it."""
    body = act.body
    if isinstance(body, CarryOver | Withdrawal):
        texts = _WITHDRAWAL if isinstance(body, Withdrawal) else _CARRY_OVER
    elif body.corrects:
        texts = _CORRECTION
    else:
        return
    key = f"second:{act.code}"
    if not (body.reason or body.proof or isinstance(body, CarryOver)):
        yield Cause(
            "act.reason",
            say(texts.no_reason, code=act.code),
            say(texts.give_reason),
            State.NOT_SHOWN,
            key,
            "desk",
        )
    if body.second is None and _checked_by_another(ledger, act):
        return
    if body.second is None or body.second == by_of(body):
        yield Cause(
            "act.second-person",
            say(texts.alone, code=act.code),
            say("have a second person check it: {command}", command=f"witnessmark record --check {act.code}")
            if body.second is None
            else say(texts.with_second),
            State.NOT_SHOWN,
            key,
            "desk",
        )
    elif body.second not in ledger.persons:
        yield Cause(
            "act.person",
            say("The second person of {code}, {second}, is not among the people.", code=act.code, second=body.second),
            say("add people/{second}.yaml", second=body.second),
            State.NOT_SHOWN,
            key,
            "desk",
        )


def _later(one: Act, other: Act) -> bool:
    """Whether one came into history after another. What an act rests on is asked of later ones only, so it ends."""
    return one.appeared is not None and other.appeared is not None and one.appeared > other.appeared


def _checked_by_another(ledger: Ledger, act: Act) -> bool:
    """A sound check by somebody who neither made nor sealed the act, and who agrees."""
    makers = {by_of(act.body), act.body.seal.by if act.body.seal else None}
    return any(
        check.agrees == "yes" and check.by not in makers and _later(other, act) and ledger.sound(other)
        for other, check in ledger.checks.get(act.code, ())
    )


def _not_disputed(ledger: Ledger, act: Act) -> Iterator[Cause]:
    """A second person who does not agree takes away what helps, until that check is soundly withdrawn."""
    for other, check in ledger.checks.get(act.code, ()):
        settled = _later(other, act) and any(
            _later(w, other) and ledger.sound(w) for w in ledger.withdrawals.get(other.code, ())
        )
        if check.agrees == "no" and not settled:
            yield Cause(
                "act.disputed",
                say(
                    "{by} has checked {code} and does not agree ({other}): {reason}.",
                    by=check.by,
                    code=act.code,
                    other=other.code,
                    reason=check.reason or say("no reason"),
                ),
                say(
                    "settle it: correct or withdraw {code}, or withdraw the check {other}",
                    code=act.code,
                    other=other.code,
                ),
                State.NOT_SHOWN,
                f"disputed:{act.code}",
                "desk",
            )


def _like_for_like(ledger: Ledger, act: Act) -> Iterator[Cause]:
    """A correction replaces an act of its own sort, of the same vehicle."""
    code = act.body.corrects
    known = ledger.by_code.get(code, []) if code else []
    if known and not any(type(a.body) is type(act.body) and vehicle_of(a) == vehicle_of(act) for a in known):
        yield Cause(
            "act.corrects-other",
            say(
                "{code} corrects {named}, which is another sort of act or belongs to another vehicle.",
                code=act.code,
                named=code,
            ),
            say("withdraw {code}, and record what is right", code=code),
            State.NOT_SHOWN,
            f"corrects:{act.code}",
            "desk",
        )


def _known_person(ledger: Ledger, act: Act) -> Iterator[Cause]:
    """Somebody known answers for the act. An edition that came with the tool is nobody's."""
    by = by_of(act.body)
    shipped = isinstance(act.body, SetEdition) and by == "shipped"
    if by is not None and by not in ledger.persons and not shipped:
        yield Cause(
            "act.person",
            say("{by}, who made {code}, is not among the people.", by=by, code=act.code),
            say("add people/{by}.yaml", by=by),
            State.NOT_SHOWN,
            f"person:{by}",
            "desk",
        )


def _event_part(ledger: Ledger, act: Act) -> Iterator[Cause]:
    """An event belongs to a vehicle."""
    if isinstance(act.body, Event) and vehicle_of(act) is None:
        yield Cause(
            "event.vehicle",
            say("The event {code} names no vehicle in its seal.", code=act.code),
            say("withdraw {code} and record it anew", code=act.code),
            State.NOT_SHOWN,
            f"event:{act.code}",
            "desk",
        )


RULES: tuple[Callable[[Ledger, Act], Iterator[Cause]], ...] = (
    _committed,
    _unchanged,
    _files_intact,
    _in_order,
    _not_taken_back,
    _second_person,
    _not_disputed,
    _like_for_like,
    _known_person,
    _event_part,
)
