"""Conditions over stated facts, and what a requirement needs to be shown, as trees read from plain YAML.

A condition is a mapping, all of whose entries must hold, such as
`{external_charge: [ac, dc], design_speed: {more_than: 25 km/h}}`.
The keys `all`, `any` (lists of conditions) and `not` (one condition) combine them.
What shows a requirement is a leaf (`set-up`), one criterion of it (`isolation/full`), or `{all: […]}`, `{any: […]}`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema

from witnessmark.language import Words, declared, say
from witnessmark.quantities import Quantity, QuantityError, parse_quantity

__all__ = [
    "AllOf",
    "AnyOf",
    "Compare",
    "Condition",
    "ConditionField",
    "Need",
    "NeedAll",
    "NeedAny",
    "Not",
    "OneOf",
    "Shown",
    "ShownField",
    "compared",
    "facts_of",
    "in_words",
    "leaves_of",
]

COMPARISONS = ("at_least", "more_than", "at_most", "less_than")
_COMPARED = Words(
    {
        "at_least": declared("at least {limit}"),
        "at_most": declared("at most {limit}"),
        "less_than": declared("less than {limit}"),
        "more_than": declared("more than {limit}"),
    }
)
MAX_DEPTH = 6
_KEY = re.compile(r"[a-z][a-z0-9]*(?:[_-][a-z0-9]+)*")
_NEED = re.compile(r"([a-z0-9]+(?:-[a-z0-9]+)*)(?:/([a-z0-9]+(?:-[a-z0-9]+)*))?")


@dataclass(frozen=True, slots=True)
class OneOf:
    """The fact is stated as one of these words."""

    fact: str
    values: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.fact} is {' or '.join(self.values)}"


@dataclass(frozen=True, slots=True)
class Compare:
    """The fact, a quantity, lies on this side of the limit."""

    fact: str
    how: str
    limit: Quantity

    def __str__(self) -> str:
        return f"{self.fact} is {self.how.replace('_', ' ')} {self.limit}"


@dataclass(frozen=True, slots=True)
class AllOf:
    """Every one holds. An empty `AllOf` cannot be written."""

    parts: tuple[Condition, ...]

    def __str__(self) -> str:
        return " and ".join(_bracketed(p) for p in self.parts)


@dataclass(frozen=True, slots=True)
class AnyOf:
    """At least one holds. An empty `AnyOf` cannot be written."""

    parts: tuple[Condition, ...]

    def __str__(self) -> str:
        return " or ".join(_bracketed(p) for p in self.parts)


@dataclass(frozen=True, slots=True)
class Not:
    """It does not hold."""

    part: Condition

    def __str__(self) -> str:
        return f"not ({self.part})"


Condition = OneOf | Compare | AllOf | AnyOf | Not


def _bracketed(part: Condition) -> str:
    return f"({part})" if isinstance(part, AllOf | AnyOf) else str(part)


def _condition(tree: Any, depth: int = 0) -> Condition:
    if depth > MAX_DEPTH:
        raise ValueError(f"conditions are nested deeper than {MAX_DEPTH}")
    if not isinstance(tree, Mapping) or not tree:
        raise ValueError("a condition is a mapping such as {external_charge: [ac, dc]}, and is never empty")
    parts: list[Condition] = []
    for key, value in tree.items():
        if key in ("all", "any"):
            if not isinstance(value, tuple | list) or not value:
                raise ValueError(f"{key}: needs a list of at least one condition")
            inner = tuple(_condition(item, depth + 1) for item in value)
            parts.append(AllOf(inner) if key == "all" else AnyOf(inner))
        elif key == "not":
            parts.append(Not(_condition(value, depth + 1)))
        else:
            parts.append(_test(key, value))
    return parts[0] if len(parts) == 1 else AllOf(tuple(parts))


def _test(fact: str, value: Any) -> Condition:
    if not _KEY.fullmatch(fact):
        raise ValueError(f"{fact!r} is not the name of a fact")
    if isinstance(value, Mapping):
        if len(value) != 1 or next(iter(value)) not in COMPARISONS:
            raise ValueError(f"{fact}: compare with exactly one of {', '.join(COMPARISONS)}")
        how, limit = next(iter(value.items()))
        try:
            return Compare(fact, how, parse_quantity(str(limit), bare=True))
        except QuantityError as fault:
            raise ValueError(f"{fact}: {fault.message}: {fault.remedy}") from None
    values = tuple(value) if isinstance(value, tuple | list) else (value,)
    if not values or not all(isinstance(v, str) and v for v in values):
        raise ValueError(f"{fact}: needs a word or a list of words")
    return OneOf(fact, values)


def facts_of(condition: Condition | None) -> tuple[str, ...]:
    """Every fact that the condition asks, sorted."""
    match condition:
        case None:
            return ()
        case OneOf(fact=fact) | Compare(fact=fact):
            return (fact,)
        case Not(part=part):
            return facts_of(part)
        case AllOf(parts=parts) | AnyOf(parts=parts):
            return tuple(sorted({f for part in parts for f in facts_of(part)}))


@dataclass(frozen=True, slots=True)
class Need:
    """One leaf, by one of its criteria; `criterion` empty: the only one it has."""

    leaf: str
    criterion: str = ""

    def __str__(self) -> str:
        return f"{self.leaf}/{self.criterion}" if self.criterion else self.leaf


@dataclass(frozen=True, slots=True)
class NeedAll:
    parts: tuple[Shown, ...]

    def __str__(self) -> str:
        return f"({_between(say('and'), map(str, self.parts))})"


@dataclass(frozen=True, slots=True)
class NeedAny:
    parts: tuple[Shown, ...]

    def __str__(self) -> str:
        return f"({_between(say('or'), map(str, self.parts))})"


Shown = Need | NeedAll | NeedAny


def _between(joint: str, words: Iterable[str]) -> str:
    """`a and b and c`: the joint word between any two."""
    return f" {joint} ".join(words)


def compared(how: str, limit: object) -> str:
    """`at least 500 Ω/V`."""
    return _COMPARED[how].format(limit=limit)


def in_words(condition: Condition, named: Callable[[str], str]) -> str:
    """The condition as a person says it; `named` gives the name of a fact."""
    match condition:
        case OneOf(fact=fact, values=values):
            words = (v.replace("-", " ") for v in values)
            return say("{fact} is {value}", fact=named(fact), value=_between(say("or"), words))
        case Compare(fact=fact, how=how, limit=limit):
            return say("{fact} is {value}", fact=named(fact), value=compared(how, limit))
        case Not(part=part):
            return say("not ({condition})", condition=in_words(part, named))
        case AllOf(parts=parts) | AnyOf(parts=parts):
            joint = say("and") if isinstance(condition, AllOf) else say("or")
            inner = (f"({w})" if isinstance(p, AllOf | AnyOf) else w for p in parts for w in (in_words(p, named),))
            return _between(joint, inner)


def _shown(tree: Any, depth: int = 0) -> Shown:
    if depth > MAX_DEPTH:
        raise ValueError(f"nested deeper than {MAX_DEPTH}")
    if isinstance(tree, str):
        found = _NEED.fullmatch(tree)
        if not found:
            raise ValueError(f"{tree!r} is not a leaf or leaf/criterion")
        return Need(found[1], found[2] or "")
    if isinstance(tree, Mapping) and len(tree) == 1:
        key, value = next(iter(tree.items()))
        if key in ("all", "any"):
            if not isinstance(value, tuple | list) or not value:
                raise ValueError(f"{key}: needs a list of at least one leaf; an empty one would show nothing")
            parts = tuple(_shown(item, depth + 1) for item in value)
            return NeedAll(parts) if key == "all" else NeedAny(parts)
    raise ValueError("write a leaf, leaf/criterion, {all: […]} or {any: […]}")


def leaves_of(shown: Shown) -> tuple[Need, ...]:
    """Every need named in it, in order of writing, each once."""
    match shown:
        case Need():
            return (shown,)
        case NeedAll(parts=parts) | NeedAny(parts=parts):
            return tuple(dict.fromkeys(need for part in parts for need in leaves_of(part)))


def _read_condition(value: object) -> object:
    return _condition(value) if isinstance(value, Mapping) else value


def _read_shown(value: object) -> object:
    return value if isinstance(value, Need | NeedAll | NeedAny) else _shown(value)


ConditionField = Annotated[
    Condition, BeforeValidator(_read_condition), WithJsonSchema({"type": "object", "minProperties": 1})
]
ShownField = Annotated[
    Shown,
    BeforeValidator(_read_shown),
    WithJsonSchema({"anyOf": [{"type": "string"}, {"type": "object", "minProperties": 1, "maxProperties": 1}]}),
]
