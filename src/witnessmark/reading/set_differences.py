"""How the team's requirement sets differ from those that came with the tool: added, taken out, changed, loosened."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from pydantic import BaseModel

from witnessmark.quantities import Quantity
from witnessmark.records.sets import Criterion, Requirement, RequirementSet
from witnessmark.shipped import shipped

from .sets import read_sets

__all__ = ["SetDifference", "differences_of", "loosened", "shipped_sets"]

LOWER = frozenset({"at_least", "more_than"})
"""Comparisons that are loosened by a smaller number; the others by a larger one."""


@dataclass(frozen=True, slots=True)
class SetDifference:
    """`own`: no set of this name came with the tool. `loosened`: words for each limit that asks less than it did."""

    own: bool
    added: tuple[str, ...] = ()
    taken_out: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    loosened: Mapping[str, tuple[str, ...]] | None = None
    head: tuple[str, ...] = ()
    """What set.yaml says otherwise, in words."""

    @property
    def words(self) -> str:
        """In one phrase."""
        if self.own:
            return "the team's own"
        counts = (("changed", self.changed), ("added", self.added), ("taken out", self.taken_out))
        found = [f"{len(ids)} {word}" for word, ids in counts if ids] + (["set.yaml differs"] if self.head else [])
        return ", ".join(found) or "as it came"


@cache
def shipped_sets() -> Mapping[str, RequirementSet]:
    """The sets that came with the tool, by id."""
    root = shipped("requirements")
    files = {
        f"requirements/{path.relative_to(root).as_posix()}": path.read_bytes()
        for path in sorted(root.rglob("*.yaml"))
    }  # fmt: skip
    return read_sets(files)[0]


def differences_of(one: RequirementSet) -> SetDifference:
    """How a set of the folder differs from the one of its name that came with the tool."""
    came = shipped_sets().get(one.id)
    if came is None:
        return SetDifference(True)
    here, there = dict(one.digests), dict(came.digests)
    changed = tuple(r.id for r in one.requirements if r.id in there and here[r.id] != there[r.id])
    less: dict[str, tuple[str, ...]] = {}
    for ident in changed:
        now, was = one.requirement(ident), came.requirement(ident)
        if now is not None and was is not None and (words := tuple(loosened(was, now))):
            less[ident] = words
    return SetDifference(
        False,
        tuple(r.id for r in one.requirements if r.id not in there),
        tuple(r.id for r in came.requirements if r.id not in here),
        changed,
        less,
        tuple(_head(came, one)),
    )


def _head(came: RequirementSet, one: RequirementSet) -> Iterator[str]:
    for field in type(came.file).model_fields:
        was, now = getattr(came.file, field), getattr(one.file, field)
        if was != now:
            yield f"{field} was {_shown(was)}, now {_shown(now)}"


def _shown(value: object) -> str:
    dumped = value.model_dump(exclude_none=True) if isinstance(value, BaseModel) else value
    words = ", ".join(f"{k} {v}" for k, v in dumped.items()) if isinstance(dumped, dict) else str(dumped)
    return "not given" if value is None else f"“{words[:80]}”"


def loosened(was: Requirement, now: Requirement) -> Iterator[str]:
    """Each way in which a requirement asks less than it did, or in which nobody can tell: only a limit that became
    tighter, and words, are passed over."""
    for name, leaf in was.leaves.items():
        other = now.leaves.get(name)
        if other is None:
            yield f"{name} is not asked any more"
            continue
        if leaf.second_person == "yes" and other.second_person == "no":
            yield f"{name} needs no second person any more"
        for criterion, limit in leaf.criteria.items():
            if criterion not in other.criteria:
                continue  # One alternative fewer asks more; that another kind of leaf has none is told below.
            yield from _moved(f"{name}/{criterion}", limit, other.criteria[criterion])
        for criterion in other.criteria:
            if criterion not in leaf.criteria and other.criteria:
                yield f"{name}/{criterion} is a new alternative: {_words(other.criteria[criterion])}"
        for field in type(leaf).model_fields:
            if field not in _TOLD_OF_LEAVES and getattr(leaf, field) != getattr(other, field):
                yield f"{name}: {field.replace('_', ' ')} is not what it was, which may ask less"
    if str(was.shown) != str(now.shown):
        yield f"what shows it was “{was.shown}”, now “{now.shown}”"
    for field in type(was).model_fields:
        if field not in _TOLD and getattr(was, field) != getattr(now, field):
            yield f"{field.replace('_', ' ')} is not what it was, which may ask less"


_TOLD = frozenset({"id", "clause", "title", "statement", "source", "leaves", "shown", "cautions", "hint"})
"""Of a requirement: words, and what is looked at by itself."""
_TOLD_OF_LEAVES = frozenset({"criteria", "second_person", "job"})


def _moved(name: str, was: Criterion, now: Criterion) -> Iterator[str]:
    if was == now:
        return
    if was.how == now.how and isinstance(was.limit, Quantity) and isinstance(now.limit, Quantity):
        same_kind = was.limit.unit.compatible(now.limit.unit)
        tighter = (
            now.limit.si_exact >= was.limit.si_exact if was.how in LOWER else now.limit.si_exact <= was.limit.si_exact
        )
        if same_kind and tighter:
            return
    yield f"{name} was {_words(was)}, now {_words(now)}"


def _words(criterion: Criterion) -> str:
    return f"{criterion.how.replace('_', ' ')} {getattr(criterion.limit, 'fact', criterion.limit)}"
