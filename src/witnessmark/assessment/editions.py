"""The governing edition of a set: which requirements it has, and whether the folder holds them as they were sealed."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import Cause, State
from witnessmark.language import say
from witnessmark.records.acts import SetEdition
from witnessmark.records.world import Act

__all__ = ["Edition", "governing_edition"]


@dataclass(frozen=True, slots=True)
class Edition:
    """The newest edition act of a set. `named` is every requirement that it or the last sound one names."""

    set_id: str
    edition: str
    named: tuple[str, ...]
    digests: dict[str, str]
    causes: tuple[Cause, ...]

    def causes_of(self, requirement: str, digest: str | None) -> tuple[Cause, ...]:
        """Why records of one requirement are not sound: its text is not the one that was sealed."""
        if self.causes:
            return self.causes
        sealed = self.digests.get(requirement)
        key = f"edition:{self.set_id}"
        if sealed is None:
            return (
                Cause(
                    "edition.not-in",
                    say(
                        "{requirement} is not in the sealed edition {edition} of {set_id}.",
                        requirement=requirement,
                        edition=self.edition,
                        set_id=self.set_id,
                    ),
                    say("seal a new edition of {set_id}", set_id=self.set_id),
                    State.NOT_SHOWN,
                    key,
                    "desk",
                ),
            )
        if digest is None:
            return (
                Cause(
                    "edition.taken-out",
                    say(
                        "{requirement} is in the sealed edition {edition} of {set_id}, but no longer in its folder.",
                        requirement=requirement,
                        edition=self.edition,
                        set_id=self.set_id,
                    ),
                    say("put it back, or seal a new edition of {set_id}", set_id=self.set_id),
                    State.LAPSED,
                    key,
                    "desk",
                ),
            )
        if sealed.removeprefix("sha256:") != digest.removeprefix("sha256:"):
            return (
                Cause(
                    "edition.differs",
                    say(
                        "The text of {requirement} is not the one in the sealed edition {edition} of {set_id}.",
                        requirement=requirement,
                        edition=self.edition,
                        set_id=self.set_id,
                    ),
                    say("put the text back, or seal a new edition of {set_id}", set_id=self.set_id),
                    State.LAPSED,
                    key,
                    "desk",
                ),
            )
        return ()


def _order(pair: tuple[Act, SetEdition]) -> tuple[str, int, str]:
    act, body = pair
    return (body.issued.isoformat(), act.appeared if act.appeared is not None else 10**9, act.code)


def governing_edition(ledger: Ledger, set_id: str) -> Edition:
    """The newest edition of a set, by issue and then by appearance, with all causes against it."""
    acts = sorted(((a, e) for a, e in ledger.of(SetEdition) if e.set == set_id and not ledger.gone(a)), key=_order)
    key = f"edition:{set_id}"
    if not acts:
        cause = Cause(
            "edition.missing",
            say(
                "The set {set_id} has no sealed edition, so nobody can say what it asked when a record was made.",
                set_id=set_id,
            ),
            say("seal an edition of {set_id}", set_id=set_id),
            State.NOT_SHOWN,
            key,
            "desk",
        )
        return Edition(set_id, "", (), {}, (cause,))
    act, body = acts[-1]
    named = dict.fromkeys(body.requirements)
    causes: list[Cause] = []
    if not ledger.sound(act):
        why = ledger.causes(act)[0]
        causes.append(
            Cause(
                "edition.not-sound",
                say(
                    "The edition {edition} of {set_id} ({code}) does not count: {why}",
                    edition=body.edition,
                    set_id=set_id,
                    code=act.code,
                    why=why.message,
                ),
                why.remedy,
                ledger.last_state(act),
                key,
                "desk",
            )
        )
        older = next((e for a, e in reversed(acts[:-1]) if ledger.sound(a)), None)
        named.update(dict.fromkeys(older.requirements if older else ()))
    if body.count != len(body.requirements) or not body.requirements:
        causes.append(
            Cause(
                "edition.count",
                say(
                    "The edition {edition} of {set_id} says {said} requirements and names {named}.",
                    edition=body.edition,
                    set_id=set_id,
                    said=body.count,
                    named=len(body.requirements),
                ),
                say("seal a new edition of {set_id}", set_id=set_id),
                State.NOT_SHOWN,
                key,
                "desk",
            )
        )
    folder = ledger.workshop.sets.get(set_id)
    if folder is not None and folder.file.decision_rule != body.decision_rule:
        causes.append(
            Cause(
                "edition.rule",
                say(
                    "The decision rule of {set_id} is not the one in its sealed edition {edition}.",
                    set_id=set_id,
                    edition=body.edition,
                ),
                say("put the rule in set.yaml back, or seal a new edition of {set_id}", set_id=set_id),
                State.LAPSED,
                key,
                "desk",
            )
        )
    return Edition(set_id, body.edition, tuple(named), dict(body.requirements), tuple(causes))
