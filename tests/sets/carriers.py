"""What a row of the working tables is answered with: a leaf, a criterion, or what a method demands, each as text."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from functools import lru_cache
from typing import Any

from tests.sets.figures import figures
from tests.sets.loading import SET_FOLDERS, requirements_of
from witnessmark.methods.base import Method
from witnessmark.methods.registry import method
from witnessmark.records.sets import Criterion, Leaf, Requirement

__all__ = [
    "carried_by",
    "condition_text",
    "criterion_text",
    "everything_in",
    "leaf_text",
    "method_text",
    "numbers_of",
    "requirement_named",
]

FIELDS = ("title", "purpose", "source", "confidence", "equation", "validity")


@lru_cache(maxsize=1)
def _all() -> Mapping[str, Requirement]:
    return {f"{folder.name}:{r.id}": r for folder in SET_FOLDERS for r in requirements_of(folder)}


def requirement_named(reference: str) -> Requirement:
    """The requirement of `set:requirement`. Raises KeyError."""
    return _all()[reference]


def criterion_text(criterion: Criterion) -> str:
    return f"{criterion.how.replace('_', ' ')} {criterion.limit}"


def condition_text(requirement: Requirement) -> str:
    """Who it is asked of: the condition over the vehicle, the kind of part and the condition over the part."""
    each = requirement.each
    asked = (requirement.applies, each.part if each else None, each.where if each else None)
    return " \n ".join(str(text) for text in asked if text is not None)


def leaf_text(leaf: Leaf) -> str:
    """Everything that the leaf asks of a record, and what the work takes."""
    return " \n ".join(
        (
            leaf.words,
            *leaf.exemptions.values(),
            *(criterion_text(c) for c in leaf.criteria.values()),
            *leaf.methods,
            *(f"{name}: {value}" for name, value in leaf.conditions.items()),
            "" if leaf.after is None else str(leaf.after.wait),
            "" if leaf.job is None or leaf.job.take is None else leaf.job.take,
        )
    )


def everything_in(requirement: Requirement) -> str:
    """What it asks of whom, with its statement and its hint."""
    leaves = (leaf_text(leaf) for leaf in requirement.leaves.values())
    return " \n ".join((requirement.statement, requirement.hint or "", condition_text(requirement), *leaves))


def method_text(found: Method, where: str) -> str:
    """What the method says at one place: a field, `docstring`, `role NAME`, `input NAME` and so on. Raises KeyError."""
    kind, _, name = where.partition(" ")
    specs: dict[str, Iterator[Any] | tuple[Any, ...]] = {
        "role": found.roles, "input": found.inputs, "condition": found.conditions, "fact": found.facts,
        "option": found.options, "measurand": found.measurands,
    }  # fmt: skip
    if where == "docstring":
        return inspect.getmodule(found.evaluate_with).__doc__ or ""
    if where in FIELDS:
        return str(getattr(found, where))
    if where in ("inputs", "measurands"):
        return " \n ".join(spec.title for spec in getattr(found, where))
    spec = {s.name: s for s in specs[kind]}[name]
    words = [spec.title, getattr(spec, "demands", ""), getattr(spec, "finest", ""), getattr(spec, "must", "")]
    words += [value for _, value in getattr(spec, "traits", ())] + list(getattr(spec, "choices", ()))
    if getattr(spec, "low", None) is not None:
        words.append(f"{spec.low:g} to {spec.high:g} {spec.unit}")
    return " \n ".join(words)


def numbers_of(value: object) -> frozenset[Decimal]:
    """Every number in a constant of a method's module, also those in its words."""
    found: set[Decimal] = set()
    for number in re.findall(r"-?\d+(?:\.\d+)?(?:e[-+]?\d+)?", repr(value)):
        found.add(Decimal(number).normalize())
    return frozenset(found)


def _constant(found: Method, name: str) -> object:
    return getattr(inspect.getmodule(found.evaluate_with), name)


def carried_by(carrier: str | Mapping[str, str], asked: str) -> tuple[str, frozenset[Any]]:
    """The text of one carrier, and which figures of `asked` it holds. Raises KeyError for what is not there."""
    wanted = figures(asked)
    if isinstance(carrier, Mapping) and "condition" in carrier:
        text = condition_text(requirement_named(carrier["condition"]))
    elif isinstance(carrier, Mapping):
        found = method(carrier["method"])
        if found is None:
            raise KeyError(carrier["method"])
        if carrier["where"].startswith("constant "):
            value = _constant(found, carrier["where"].removeprefix("constant "))
            have = numbers_of(value)
            held = {f for f in wanted if f[0] in have or (f[1] == "%" and f[0] / 100 in have)}
            # Lengths and forces stand there in mm and N, times in ms.
            held |= {f for f in wanted if f[1] in ("length", "time") and f[0] * 1000 in have}
            return repr(value), frozenset(held)
        text = method_text(found, carrier["where"])
    else:
        reference, _, rest = carrier.partition("/")
        leaf_name, _, criterion = rest.partition("/")
        leaf = requirement_named(reference).leaves[leaf_name]
        text = criterion_text(leaf.criteria[criterion]) if criterion else leaf_text(leaf)
    return text, wanted & figures(text)
