"""The six vehicles and the small ones, read the plain way: what is stated of them, and what was typed to be asked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any

from tests.sets.loading import tree_of
from witnessmark.records.conditions import AllOf, AnyOf, Compare, Condition, Not, OneOf

__all__ = ["Vehicle", "atoms", "small", "true_of", "typed_vehicles"]

HERE = Path(__file__).parent
SMALL = HERE / "small.yaml"


@dataclass(frozen=True)
class Vehicle:
    """Facts and the facts of parts as they stand in the file; `asked` maps set:requirement to the typed answer."""

    name: str
    facts: Mapping[str, Any]
    parts: Mapping[str, Mapping[str, Mapping[str, str]]]
    asked: Mapping[str, Any]


def _parts(tree: Mapping[str, Any]) -> dict[str, dict[str, dict[str, str]]]:
    return {kind: {p: dict(said.get("facts", {})) for p, said in of["list"].items()} for kind, of in tree.items()}


def small() -> tuple[Mapping[str, Any], ...]:
    """Entries of small.yaml as they stand there."""
    found: tuple[Mapping[str, Any], ...] = tree_of(SMALL)
    return found


@lru_cache(maxsize=1)
def typed_vehicles() -> tuple[Vehicle, ...]:
    """The six, with every line of their expectation, and the small ones with theirs."""
    found = []
    for path in sorted(HERE.glob("*.facts.yaml")):
        tree = tree_of(path)
        lines = tree_of(path.with_name(path.name.replace(".facts.", ".expected.")))
        asked = {f"{s}:{i}": line["asked"] for s, of_set in lines.items() for i, line in of_set.items()}
        facts = {key: said["value"] for key, said in tree["facts"].items()}
        found.append(Vehicle(path.name.removesuffix(".facts.yaml"), facts, _parts(tree["parts"]), asked))
    for entry in small():
        asked = {ref: line["asked"] for line in entry["expected"] for ref in line["of"]}
        parts = {kind: {p: dict(facts or {}) for p, facts in of.items()} for kind, of in entry["parts"].items()}
        found.append(Vehicle(entry["name"], entry["facts"], parts, asked))
    return tuple(found)


def atoms(condition: Condition | None) -> Iterator[OneOf | Compare]:
    """Every comparison in it, one by one."""
    match condition:
        case OneOf() | Compare():
            yield condition
        case Not(part=part):
            yield from atoms(part)
        case AllOf(parts=parts) | AnyOf(parts=parts):
            for part in parts:
                yield from atoms(part)


def true_of(atom: OneOf | Compare, facts: Mapping[str, Any]) -> bool | None:
    """Whether the stated fact meets the comparison, by plain reading; None where it is not stated."""
    said = facts.get(atom.fact)
    if said is None:
        return None
    if isinstance(atom, OneOf):
        return said in atom.values
    number, _, unit = said.partition(" ")
    limit, _, limit_unit = str(atom.limit).partition(" ")
    assert unit == limit_unit, f"{said} and {atom.limit} are compared as written"
    left, right = Decimal(number), Decimal(limit)
    return {"at_least": left >= right, "more_than": left > right, "at_most": left <= right, "less_than": left < right}[
        atom.how
    ]
