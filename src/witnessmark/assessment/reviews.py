"""How sure the figures of a requirement are: compared with the official text, adopted by name, or neither.

It changes no state. What nobody compared or adopted is counted, marked on the page, and stands in the way of a release.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TypeVar

from witnessmark.assessment.ledger import Ledger, by_of
from witnessmark.assessment.model import Review, Reviewed
from witnessmark.records.acts import Adoption, Comparison, SetEdition
from witnessmark.records.sets import Requirement
from witnessmark.records.world import Act

__all__ = ["changes_of", "review_of"]

_Act = TypeVar("_Act", Comparison, Adoption, SetEdition)


def review_of(ledger: Ledger, set_id: str, requirement: Requirement, digest: str | None) -> Review:
    """What people say of the text with that digest, as far as it is sound. A difference counts sound or not."""
    if requirement.source.without_official_text:
        return _adopted(ledger, set_id, requirement, digest)
    found = Review(Reviewed.NOBODY)
    for act, body in _in_order(ledger, Comparison):
        said = body.requirements.get(requirement.id)
        if body.compares != set_id or said is None or not _same(said.digest, digest):
            continue
        if said.agrees == "no":
            found = Review(Reviewed.DIFFERS, body.by, body.on, body.official, said.differs or "", act.code)
        elif ledger.sound(act):
            found = Review(Reviewed.COMPARED, body.by, body.on, body.official, "", act.code)
    return found


def _adopted(ledger: Ledger, set_id: str, requirement: Requirement, digest: str | None) -> Review:
    """Adopted by somebody of the workshop: by name, or by sealing an edition that takes it in with a reason."""
    found = Review(Reviewed.NOBODY)
    for act, edition in _in_order(ledger, SetEdition):
        sealed = edition.requirements.get(requirement.id)
        own = requirement.source.confidence == "own" or requirement.id in edition.changes
        if edition.set == set_id and sealed and _same(sealed, digest) and own and _of_the_workshop(ledger, act):
            why = edition.changes.get(requirement.id, "")
            found = Review(Reviewed.ADOPTED, edition.by, edition.issued, f"edition {edition.edition}", why, act.code)
    for act, body in _in_order(ledger, Adoption):
        named = body.requirements.get(requirement.id)
        if body.adopts == set_id and named and _same(named, digest) and _of_the_workshop(ledger, act):
            found = Review(Reviewed.ADOPTED, body.by, body.on, "", body.note or "", act.code)
    return found


def changes_of(ledger: Ledger, set_id: str) -> Iterator[tuple[Act, SetEdition, str, str]]:
    """Every change of a set that an edition gives a reason for, oldest first: act, edition, requirement, reason."""
    for act, body in _in_order(ledger, SetEdition):
        if body.set == set_id:
            yield from ((act, body, ident, why) for ident, why in body.changes.items())


def _in_order(ledger: Ledger, sort: type[_Act]) -> list[tuple[Act, _Act]]:
    """By day and then by appearance, without what was soundly taken back."""

    def order(pair: tuple[Act, _Act]) -> tuple[date, int, str]:
        act, body = pair
        day = body.issued if isinstance(body, SetEdition) else body.on
        return day, act.appeared if act.appeared is not None else 10**9, act.code

    return sorted(((act, body) for act, body in ledger.of(sort) if not ledger.gone(act)), key=order)


def _same(one: str, other: str | None) -> bool:
    return other is not None and one.removeprefix("sha256:") == other.removeprefix("sha256:")


def _of_the_workshop(ledger: Ledger, act: Act) -> bool:
    """A sound act by somebody who is not from outside."""
    person = ledger.workshop.people.get(by_of(act.body) or "")
    return ledger.sound(act) and person is not None and person.outside != "yes"
