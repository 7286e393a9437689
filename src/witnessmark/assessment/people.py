"""Who did the work: authorised on that day (A6)."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import Cause, State
from witnessmark.assessment.words import day_text, either
from witnessmark.language import say
from witnessmark.records.acts import Authorisation, Record
from witnessmark.records.world import Act

__all__ = ["authorised", "second_person", "unknown_people"]


def unknown_people(ledger: Ledger, record: Record, states: str | None) -> Iterator[Cause]:
    """Everybody that the record names is among the people."""
    for person in sorted({*record.by.values(), *([states] if states else [])}):
        if person not in ledger.persons:
            yield Cause(
                "act.person",
                say("{person} is not among the people.", person=person),
                say("add people/{person}.yaml", person=person),
                State.NOT_SHOWN,
                f"person:{person}",
                "desk",
            )


def authorised(ledger: Ledger, person: str, work: frozenset[str], day: date) -> Cause | None:
    """Why the person was not authorised for any of these kinds of work on that day; None when authorised.

    Lapsed when an authorisation that counted once is no longer sound.
    """
    spoiled: list[tuple[Act, Authorisation]] = []
    for act, body in ledger.of(Authorisation):
        if body.authorises != person or not (set(body.work) & work or "all" in body.work):
            continue
        if not body.valid_from <= day <= body.until:
            continue
        if ledger.sound(act):
            return None
        spoiled.append((act, body))
    if spoiled:
        state = max((ledger.last_state(a) for a, _ in spoiled), key=lambda s: s is State.LAPSED)
        act, _ = min(spoiled, key=lambda pair: pair[0].code)
        why = ledger.causes(act)[0]
        return Cause(
            "person.authorisation-not-sound",
            say(
                "The authorisation {code} of {person} does not count: {why}",
                code=act.code,
                person=person,
                why=why.message,
            ),
            why.remedy,
            state,
            f"authorisation:{act.code}",
            "desk",
        )
    return Cause(
        "person.not-authorised",
        say(
            "{person} was not authorised for {work} on {day}.",
            person=person,
            work=either(sorted(work)),
            day=day_text(day),
        ),
        say("have it done by somebody authorised, or record the authorisation that {person} had", person=person),
        State.NOT_SHOWN,
        f"authorisation:{person}:{' or '.join(sorted(work))}",
        "desk",
    )


def second_person(record: Record) -> Cause | None:
    """Somebody other than the tester stands in the record."""
    tester = record.by.get("tester")
    if any(person != tester for role, person in record.by.items() if role != "tester"):
        return None
    return Cause(
        "person.second",
        say("This needs two persons, and the record names one."),
        say("do it again with a second person"),
        State.NOT_SHOWN,
    )
