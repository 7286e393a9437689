"""What this workshop changed in its requirement sets, beside those that came with the tool, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.reviews import changes_of
from witnessmark.language import Words, declared, say
from witnessmark.reading.set_differences import differences_of
from witnessmark.records.world import Workshop

from .words import joined, sentence

__all__ = ["SetChange", "set_changes"]

_WHAT = Words({"added": declared("Added."), "changed": declared("Changed."), "taken-out": declared("Taken out.")})


@dataclass(frozen=True, slots=True)
class SetChange:
    """One requirement that is changed, added or taken out. `edition` is "" where no edition says why."""

    what: Literal["changed", "added", "taken-out"]
    edition: str
    by: str
    why: str
    loosened: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """What, why, and what is asked less."""
        words = [_WHAT[self.what], sentence(self.why) if self.why else say("NO REASON WAS GIVEN.")]
        if self.loosened:
            words.append(say("LOOSENED: {how}.", how=joined(self.loosened)))
        return " ".join(words)


def set_changes(workshop: Workshop, sets: tuple[str, ...]) -> Mapping[tuple[str, str], SetChange]:
    """By set and requirement, in the order of the sets: what differs now, then what editions tell of a set of the
    team's own."""
    ledger = Ledger(workshop)
    found: dict[tuple[str, str], SetChange] = {}
    for name in sets:
        reasons = {ident: (body, why) for _, body, ident, why in changes_of(ledger, name)}
        one = workshop.sets.get(name)
        difference = differences_of(one) if one else None
        if difference is None or difference.own:
            for ident, (body, why) in reasons.items():
                found[name, ident] = SetChange("changed", body.edition, body.by, why)
            continue
        differs: tuple[tuple[Literal["changed", "added", "taken-out"], tuple[str, ...]], ...] = (
            ("changed", difference.changed),
            ("added", difference.added),
            ("taken-out", difference.taken_out),
        )
        for what, idents in differs:
            for ident in idents:
                edition, by, why = "", "", ""
                if ident in reasons:
                    body, why = reasons[ident]
                    edition, by = body.edition, body.by
                less = (difference.loosened or {}).get(ident, ()) if what == "changed" else ()
                found[name, ident] = SetChange(what, edition, by, why, tuple(less))
    return found
