"""What the authority answered, requirement by requirement. It moves no state: "conforms" stays the workshop's word.

An acceptance counts only when its act is sound; a question or refusal counts in any case, until a later sound answer
accepts. What was soundly taken back counts for nothing.
"""

from __future__ import annotations

from datetime import date

from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import AuthorityNote
from witnessmark.assessment.references import Target
from witnessmark.records.acts import Answer
from witnessmark.records.world import Act

__all__ = ["answer_to"]


def answer_to(ledger: Ledger, vehicle: str, target: Target) -> AuthorityNote | None:
    """The newest answer that counts for the requirement; None where nothing was answered."""
    found: AuthorityNote | None = None
    for act, body in sorted(ledger.of(Answer, vehicle), key=_order):
        if ledger.gone(act):
            continue
        said = body.requirements.get(f"{target.set_id}:{target.id}") or body.requirements.get(target.id)
        if said is None or (said.answer == "accepted" and not ledger.sound(act)):
            continue
        found = AuthorityNote(
            act.code, said.answer, said.words or "", body.answers, body.authority, body.number, body.dated
        )
    return found


def _order(pair: tuple[Act, Answer]) -> tuple[date, int, str]:
    act, body = pair
    return body.dated, act.appeared if act.appeared is not None else 10**9, act.code
