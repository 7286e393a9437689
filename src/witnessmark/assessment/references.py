"""Which requirement of which chosen set a record means by `requirement/leaf` or `set:requirement/leaf`."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.assessment.editions import Edition, governing_edition
from witnessmark.assessment.ledger import Ledger
from witnessmark.records.sets import Requirement, RequirementSet

__all__ = ["References", "Target", "split"]


def split(ref: str) -> tuple[str | None, str, str]:
    """Set (if it says one), requirement and leaf."""
    head, _, leaf = ref.rpartition("/")
    set_id, colon, requirement = head.rpartition(":")
    return (set_id if colon else None), requirement, leaf


@dataclass(frozen=True, slots=True)
class Target:
    """One requirement of one set; `requirement` is None where the edition names it and the folder lacks it."""

    set_id: str
    id: str
    requirement: Requirement | None


class References:
    """The requirements in scope: those of the given sets, as folders hold them and as editions name them."""

    def __init__(self, ledger: Ledger, sets: tuple[str, ...]) -> None:
        self.sets = sets
        self.folder: dict[str, RequirementSet | None] = {s: ledger.workshop.sets.get(s) for s in sets}
        self.editions: dict[str, Edition] = {s: governing_edition(ledger, s) for s in sets}
        self.targets: dict[str, list[Target]] = {}
        for set_id in sets:
            found = self.folder[set_id]
            for requirement in found.requirements if found else ():
                self.targets.setdefault(requirement.id, []).append(Target(set_id, requirement.id, requirement))
            have = {r.id for r in found.requirements} if found else set()
            for ident in self.editions[set_id].named:
                if ident not in have:
                    self.targets.setdefault(ident, []).append(Target(set_id, ident, None))

    def all(self) -> tuple[Target, ...]:
        """Every requirement, set by set in the order of its folder; those that the folder lacks come last."""
        return tuple(t for s in self.sets for ts in self.targets.values() for t in ts if t.set_id == s)

    def meant(self, ref: str) -> tuple[Target, ...]:
        """What a reference means: none if unknown, several if it is ambiguous."""
        set_id, requirement, _ = split(ref)
        return tuple(t for t in self.targets.get(requirement, ()) if set_id is None or t.set_id == set_id)
