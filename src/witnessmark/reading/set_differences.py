"""How the team's requirement sets differ from those that came with the tool: added, taken out, changed, loosened."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from pydantic import BaseModel

from witnessmark.language import say, say_n
from witnessmark.quantities import Quantity
from witnessmark.records.acts import SetEdition
from witnessmark.records.sets import Criterion, FactDefinition, Requirement, RequirementSet
from witnessmark.shipped import shipped

from .acts import read_act
from .form_differences import form_differences
from .sets import read_facts, read_sets

__all__ = [
    "SetDifference",
    "changed_between",
    "differences_of",
    "differences_of_facts",
    "loosened",
    "shipped_facts",
    "shipped_sets",
    "unexplained",
]

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
    forms: tuple[tuple[str, str], ...] = ()
    """What is not as it was in its forms: the form, and words."""
    forms_out: tuple[str, ...] = ()
    """Forms that came with the tool and are taken out."""

    @property
    def words(self) -> str:
        """In one phrase."""
        if self.own:
            return say("the team's own")
        found = [say_n("{n} changed", "{n} changed", len(self.changed))] if self.changed else []
        found += [say_n("{n} added", "{n} added", len(self.added))] if self.added else []
        found += [say_n("{n} taken out", "{n} taken out", len(self.taken_out))] if self.taken_out else []
        found += [say("set.yaml differs")] if self.head else []
        found += [say("forms differ")] if self.forms else []
        return ", ".join(found) or say("as it came")


@cache
def shipped_sets() -> Mapping[str, RequirementSet]:
    """The sets that came with the tool, by id."""
    root = shipped("requirements")
    files = {
        f"requirements/{path.relative_to(root).as_posix()}": path.read_bytes()
        for path in sorted(root.rglob("*.yaml"))
    }  # fmt: skip
    return read_sets(files)[0]


@cache
def shipped_codes() -> frozenset[str]:
    """Codes of the editions that came with the tool: that one says so itself proves nothing."""
    found = (read_act(p.read_bytes(), p.name).code for p in shipped("requirements").rglob("editions/*.yaml"))
    return frozenset(code for code in found if code is not None)


@cache
def shipped_facts() -> Mapping[str, FactDefinition]:
    """The definitions of facts that came with the tool."""
    return read_facts((shipped("requirements") / "facts.yaml").read_bytes())[0]


def differences_of_facts(facts: Mapping[str, FactDefinition]) -> Iterator[str]:
    """How the folder's facts differ from those that came with the tool, in words."""
    came = shipped_facts()
    for word, keys in (
        ("added", facts.keys() - came.keys()), ("taken out", came.keys() - facts.keys()),
    ):  # fmt: skip
        yield from (f"{key} {word}" for key in sorted(keys))
    for key in sorted(facts.keys() & came.keys()):
        fields = [f for f in type(facts[key]).model_fields if getattr(facts[key], f) != getattr(came[key], f)]
        if fields:
            yield f"{key} changed: {', '.join(fields)}"


def changed_between(before: Mapping[str, str], after: Mapping[str, str]) -> tuple[str, ...]:
    """Requirements that the later of two lists of digests adds, changes or leaves out, in the order of the later."""

    def plain(digests: Mapping[str, str], ident: str) -> str:
        return digests.get(ident, "").removeprefix("sha256:")

    return tuple(i for i in dict.fromkeys([*after, *before]) if plain(before, i) != plain(after, i))


def unexplained(editions: Sequence[SetEdition]) -> tuple[tuple[SetEdition, str], ...]:
    """Of the editions of one set, oldest first: what each changes beside the one before, without a reason in it or in
    a later one. An edition that came with the tool needs none."""
    found = []
    for number, (before, edition) in enumerate(pairwise(editions), start=1):
        told = {ident for later in editions[number:] for ident in later.changes}
        if edition.code not in shipped_codes():
            changed = changed_between(before.requirements, edition.requirements)
            found += [(edition, ident) for ident in changed if ident not in told]
    return tuple(found)


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
        tuple(form_differences(came, one)),
        tuple(form.id for form in came.forms if form.id not in {other.id for other in one.forms}),
    )


def _head(came: RequirementSet, one: RequirementSet) -> Iterator[str]:
    for field in type(came.file).model_fields:
        was, now = getattr(came.file, field), getattr(one.file, field)
        if was != now:
            yield say("{field} was {before}, now {after}", field=field, before=_shown(was), after=_shown(now))


def _shown(value: object) -> str:
    dumped = value.model_dump(exclude_none=True) if isinstance(value, BaseModel) else value
    words = ", ".join(f"{k} {v}" for k, v in dumped.items()) if isinstance(dumped, dict) else str(dumped)
    return say("not given") if value is None else f"“{words[:80]}”"


def loosened(was: Requirement, now: Requirement) -> Iterator[str]:
    """Each way in which a requirement asks less than it did, or in which nobody can tell: only a limit that became
    tighter, and words, are passed over."""
    for name, leaf in was.leaves.items():
        other = now.leaves.get(name)
        if other is None:
            yield say("{leaf} is not asked any more", leaf=name)
            continue
        if leaf.second_person == "yes" and other.second_person == "no":
            yield say("{leaf} needs no second person any more", leaf=name)
        for criterion, limit in leaf.criteria.items():
            if criterion not in other.criteria:
                continue  # One alternative fewer asks more; that another kind of leaf has none is told below.
            yield from _moved(f"{name}/{criterion}", limit, other.criteria[criterion])
        for criterion in other.criteria:
            if criterion not in leaf.criteria and other.criteria:
                yield say(
                    "{criterion} is a new alternative: {limit}",
                    criterion=f"{name}/{criterion}",
                    limit=other.criteria[criterion].words,
                )
        for field in type(leaf).model_fields:
            if field not in _TOLD_OF_LEAVES and getattr(leaf, field) != getattr(other, field):
                yield say(
                    "{leaf}: {key} is not what it was, which may ask less", leaf=name, key=field.replace("_", " ")
                )
    if was.shown != now.shown:
        yield say("what shows it was “{before}”, now “{after}”", before=was.shown, after=now.shown)
    for field in type(was).model_fields:
        if field not in _TOLD and getattr(was, field) != getattr(now, field):
            yield say("{key} is not what it was, which may ask less", key=field.replace("_", " "))


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
    yield say("{criterion} was {before}, now {after}", criterion=name, before=was.words, after=now.words)
