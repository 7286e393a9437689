"""Every sealed act with what speaks against it, whatever sort of act it is: A1, A2, A3, A7 and its own form.

Sound means that no cause is left. An act that is not sound keeps what makes a state worse, and loses what makes it
better.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, datetime
from functools import cached_property
from typing import TypeVar

from witnessmark.assessment.model import Cause, State
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

__all__ = ["Ledger", "by_of", "day_text", "moment", "seconds", "vehicle_of"]

T = TypeVar("T", bound=Sealable)

_HELD = {
    Held.EDITED: ("was changed after it was sealed", "put the first text back, or write a correction"),
    Held.UNSEALED: ("has lost its seal", "put the sealed text back"),
    Held.DOUBLED: ("lies in the folder more than once", "delete the copies and keep one"),
    Held.MISSING: ("was deleted", "put the file back as it was"),
    Held.MISPLACED: ("lies in the folder of another vehicle", "move the file back where it belongs"),
}


def seconds(instant: datetime) -> int:
    """The instant as whole seconds, so that zones do not matter."""
    return int(instant.timestamp())


def moment(instant: datetime) -> str:
    """A day as people say it: 14 October 2026."""
    return day_text(instant.date())


def day_text(day: date) -> str:
    """A day as people say it, without help of any locale."""
    months = [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ]
    return f"{day.day} {months[day.month - 1]} {day.year}"


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
            "A part of the history is not here. A fail that was deleted before it could not be seen.",
            "bring the whole history: git fetch --unshallow, or a complete clone",
            State.NOT_SHOWN,
            "history",
            "desk",
        )
    if act.appeared is None and act.held is Held.MISSING:
        yield Cause(
            "act.rewritten",
            f"{act.code} was sealed and committed, but is not in this history: it was rewritten, or is another branch.",
            f"bring it in: git merge {act.by_commit[:12]}",
            State.NOT_SHOWN,
            f"commit:{act.code}",
            "desk",
        )
    elif act.appeared is None:
        yield Cause(
            "act.not-committed",
            f"{act.path} is sealed but not committed. Until it is in the history it can only hurt.",
            f"commit {act.path}",
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
            f"The history holds two texts under the code {act.code} and does not say which was first.",
            f"withdraw {act.code} and record both again",
            State.LAPSED,
            key,
            "desk",
        )
    if act.held is not Held.UNCHANGED:
        what, remedy = _HELD[act.held]
        yield Cause(
            f"act.{act.held.value}",
            f"{act.code} ({act.path}) {what}.",
            f"{remedy}: {act.path}",
            State.LAPSED,
            key,
            "desk",
        )
    if not act.seal_holds:
        yield Cause(
            "act.seal",
            f"The seal of {act.path} does not fit its text: it was written or changed by hand.",
            f"withdraw {act.code} and record it anew",
            State.NOT_SHOWN,
            key,
            "desk",
        )


def _files_intact(ledger: Ledger, act: Act) -> Iterator[Cause]:
    """A2: the files that it rests on."""
    for file in act.files:
        if not file.intact:
            what = "is missing" if file.found is None else "is not the file that was sealed"
            yield Cause(
                "file.missing" if file.found is None else "file.changed",
                f"{file.name}, on which {act.code} rests, {what}.",
                f"put {file.name} back as it was",
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
    again = f"withdraw {act.code} and do it again"
    if seal.on > ledger.as_of:
        yield Cause(
            "time.ahead",
            f"{act.code} is sealed on {moment(seal.on)}, after the day of this file.",
            again,
            State.NOT_SHOWN,
            key,
            "desk",
        )
    if body.at is not None and body.at > seal.on:
        yield Cause(
            "time.order",
            f"{act.code} speaks of {moment(body.at)}, but was sealed before, on {moment(seal.on)}.",
            again,
            State.NOT_SHOWN,
            key,
            "desk",
        )
    for day in _days(body):
        if day > seal.on.date():
            yield Cause(
                "time.order",
                f"{act.code} speaks of {day_text(day)}, but was sealed before, on {moment(seal.on)}.",
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
                f"{act.code} names {code}, and there is no such act.",
                again,
                State.NOT_SHOWN,
                key,
                "desk",
            )
        elif act.appeared is not None and not any(a.appeared is not None and a.appeared < act.appeared for a in known):
            yield Cause(
                "name.later",
                f"{act.code} names {code}, which was not in the history before it.",
                again,
                State.NOT_SHOWN,
                key,
                "desk",
            )


def _not_taken_back(ledger: Ledger, act: Act) -> Iterator[Cause]:
    """A7: any withdrawal or correction takes away what helps; only a sound one takes away what hurts."""
    for other in ledger.withdrawals.get(act.code, ()):
        reason = f" Reason: {other.body.reason}" if other.body.reason else ""
        yield Cause(
            "act.withdrawn",
            f"{act.code} was withdrawn by {other.code}.{reason}",
            "show it again",
            State.NOT_SHOWN,
            f"withdrawn:{act.code}",
        )
    for other in ledger.corrections.get(act.code, ()):
        if other is not act:
            yield Cause(
                "act.corrected",
                f"{act.code} was corrected by {other.code}.",
                f"see {other.code}",
                State.NOT_SHOWN,
                f"corrected:{act.code}",
            )


def _second_person(ledger: Ledger, act: Act) -> Iterator[Cause]:
    """A withdrawal, correction or carry-over needs a reason or proof, and somebody other than the one who makes it."""
    body = act.body
    if isinstance(body, CarryOver | Withdrawal):
        what = "withdrawal" if isinstance(body, Withdrawal) else "carry-over"
    elif body.corrects:
        what = "correction"
    else:
        return
    key = f"second:{act.code}"
    if not (body.reason or body.proof or isinstance(body, CarryOver)):
        yield Cause(
            "act.reason",
            f"The {what} {act.code} gives no reason.",
            f"make a new {what} with its reason",
            State.NOT_SHOWN,
            key,
            "desk",
        )
    if body.second is None and _checked_by_another(ledger, act):
        return
    if body.second is None or body.second == by_of(body):
        yield Cause(
            "act.second-person",
            f"The {what} {act.code} was made by one person alone.",
            f"have a second person check it: witnessmark record --check {act.code}"
            if body.second is None
            else f"make a new {what} with a second person",
            State.NOT_SHOWN,
            key,
            "desk",
        )
    elif body.second not in ledger.persons:
        yield Cause(
            "act.person",
            f"The second person of {act.code}, {body.second}, is not among the people.",
            f"add people/{body.second}.yaml",
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
                f"{check.by} has checked {act.code} and does not agree ({other.code}): {check.reason or 'no reason'}.",
                f"settle it: correct or withdraw {act.code}, or withdraw the check {other.code}",
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
            f"{act.code} corrects {code}, which is another sort of act or belongs to another vehicle.",
            f"withdraw {code}, and record what is right",
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
            f"{by}, who made {act.code}, is not among the people.",
            f"add people/{by}.yaml",
            State.NOT_SHOWN,
            f"person:{by}",
            "desk",
        )


def _event_part(ledger: Ledger, act: Act) -> Iterator[Cause]:
    """An event belongs to a vehicle."""
    if isinstance(act.body, Event) and vehicle_of(act) is None:
        yield Cause(
            "event.vehicle",
            f"The event {act.code} names no vehicle in its seal.",
            f"withdraw {act.code} and record it anew",
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
