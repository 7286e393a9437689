"""Concessions: an authority's permission laid over what is not shown. Never proof, and never for a later fail."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from witnessmark.assessment.evidence import LeafChain
from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import Cause, State, Verdict
from witnessmark.assessment.references import Target
from witnessmark.assessment.words import day_text
from witnessmark.language import say
from witnessmark.records.acts import Concession, ConcessionTerms
from witnessmark.records.world import Act

__all__ = ["Granted", "concessions_of", "covered"]


@dataclass(frozen=True, slots=True)
class Granted:
    """A concession that names the requirement; `causes` say why it does not hold, empty when it does."""

    act: Act
    terms: ConcessionTerms
    causes: tuple[Cause, ...]


def _names(terms: ConcessionTerms, target: Target) -> bool:
    set_id, _, ident = terms.requirement.rpartition(":")
    return ident == target.id and set_id in ("", target.set_id)


def _causes(ledger: Ledger, act: Act, terms: ConcessionTerms) -> Iterator[Cause]:
    yield from ledger.causes(act)
    key = f"concession:{act.code}"
    today = ledger.as_of.date()
    if today > terms.last_day:
        yield Cause(
            "concession.expired",
            say("The concession {number} ended on {day}.", number=terms.number, day=day_text(terms.last_day)),
            say("ask {issuer} for a new one", issuer=terms.issuer),
            State.NOT_SHOWN,
            key,
            "away",
        )
    if today < terms.issued:
        yield Cause(
            "concession.ahead",
            say("The concession {number} is dated {day}.", number=terms.number, day=day_text(terms.issued)),
            say("wait for that day"),
            State.NOT_SHOWN,
            key,
            "away",
        )
    if terms.last_day < terms.issued:
        yield Cause(
            "concession.days",
            say("The concession {number} ends before it begins.", number=terms.number),
            say("correct its days"),
            State.NOT_SHOWN,
            key,
            "desk",
        )
    if not act.body.files:
        yield Cause(
            "concession.document",
            say("The document of the concession {number} is not there.", number=terms.number),
            say("record it anew with its document"),
            State.NOT_SHOWN,
            key,
            "desk",
        )
    inside = {ledger.workshop.file.name.casefold()} | {
        p.name.casefold() for p in ledger.workshop.people.values() if p.outside != "yes"
    }
    if terms.issuer.casefold() in inside:
        yield Cause(
            "concession.issuer",
            say("{issuer} is of the workshop: a concession comes from outside.", issuer=terms.issuer),
            say("take it back"),
            State.NOT_SHOWN,
            key,
            "desk",
        )


def concessions_of(ledger: Ledger, vehicle: str, target: Target) -> tuple[Granted, ...]:
    """Every concession that names the requirement and the vehicle, sorted by code."""
    found = [
        Granted(act, body.concession, tuple(_causes(ledger, act, body.concession)))
        for act, body in ledger.of(Concession)
        if body.concession.vehicle == vehicle and _names(body.concession, target) and not ledger.soundly_withdrawn(act)
    ]
    return tuple(sorted(found, key=lambda g: g.act.code))


def covered(granted: tuple[Granted, ...], part: str | None, chains: dict[str, LeafChain]) -> dict[str, list[str]]:
    """Leaves of one part that sound concessions cover, with the codes that cover them."""
    found: dict[str, list[str]] = {}
    for one in granted:
        if one.causes or one.terms.part not in (None, part):
            continue
        for name, chain in chains.items():
            if one.terms.leaf in (None, name) and not _fails_since(one.terms, chain):
                found.setdefault(name, []).append(one.act.code)
    return found


def _fails_since(terms: ConcessionTerms, chain: LeafChain) -> bool:
    """A fail performed or sealed on or after the day of issue is not what the authority looked at."""
    governing = [
        r
        for r in chain.state.records
        if r.act.code in chain.state.governs and any(c.verdict is Verdict.FAIL for c in r.criteria)
    ]
    return any(
        fail.record.performed.date() >= terms.issued
        or (fail.act.body.seal is not None and fail.act.body.seal.on.date() >= terms.issued)
        for fail in (*chain.open_fails, *governing)
    )
