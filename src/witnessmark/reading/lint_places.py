"""Where in the files of a set the things stand that the linter speaks of."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from witnessmark.problems import Place
from witnessmark.records.conditions import AllOf, AnyOf, Compare, Condition, Not, OneOf
from witnessmark.records.sets import RequirementSet

from .yamltree import Node, place_of, read_tree

__all__ = ["Placed", "Spot", "placed", "root_of", "spots", "tests_in"]


@dataclass(frozen=True, slots=True)
class Spot:
    """One value in a file, to be walked down from."""

    file: str
    node: Node

    def place(self, *steps: str | int, key: bool = False) -> Place:
        """The place of what these steps lead to; with `key`, of the key before it. What is not there is passed over."""
        return place_of(self.node, steps, "missing" if key else "", self.file)

    def below(self, *steps: str | int) -> Spot:
        """The value that these steps lead to."""
        at = self.node
        for step in steps:
            content = at.content
            if isinstance(content, tuple) and isinstance(step, int):
                at = content[step]
            elif isinstance(content, Mapping) and isinstance(step, str) and step in content:
                at = content[step][1]
        return Spot(self.file, at)


@lru_cache(maxsize=128)
def root_of(data: bytes, path: str) -> Node | None:
    """The tree of a file; None where it cannot be read."""
    root = read_tree(data, path)
    return root if isinstance(root, Node) else None


def spots(one: RequirementSet, data: Mapping[str, bytes]) -> tuple[dict[str, Spot], dict[str, Spot]]:
    """Each requirement of the set by its id, and each area's file by its path, as they lie in the files."""
    requirements: dict[str, Spot] = {}
    areas: dict[str, Spot] = {}
    by_place = {(place.file, place.line, place.column): ident for ident, place in one.places.items()}
    for path in sorted({place.file for place in one.places.values()}):
        root = root_of(data[path], path)
        if root is None or isinstance(root.content, str | tuple):
            continue
        areas[path] = Spot(path, root)
        listed = root.content["requirements"][1].content
        for node in listed if isinstance(listed, tuple) and not isinstance(listed, str) else ():
            ident = by_place.get((path, node.line, node.column))
            if ident is not None:
                requirements[ident] = Spot(path, node)
    return requirements, areas


@dataclass(frozen=True, slots=True)
class Placed:
    """A condition with its place: of a test the name of its fact (`spot`) and what it is compared with (`value`)."""

    condition: Condition
    spot: Spot
    parts: tuple[Placed, ...] = ()
    value: Spot | None = None


def placed(condition: Condition, spot: Spot) -> Placed:
    """The condition that was read from this value, part by part in the order of writing."""
    content = spot.node.content
    assert not isinstance(content, str | tuple)
    items = list(content.items())
    assert len(items) == 1 or isinstance(condition, AllOf | AnyOf)
    inner = condition.parts if len(items) > 1 and isinstance(condition, AllOf | AnyOf) else (condition,)
    parts = tuple(
        _entry(part, key, Spot(spot.file, at), Spot(spot.file, value))
        for part, (key, (at, value)) in zip(inner, items, strict=True)
    )
    return parts[0] if len(parts) == 1 else Placed(condition, parts[0].spot, parts)


def _entry(condition: Condition, key: str, at: Spot, value: Spot) -> Placed:
    match condition:
        case OneOf() | Compare():
            return Placed(condition, at, value=value)
        case Not(part=part):
            return Placed(condition, at, (placed(part, value),))
    listed = value.node.content
    assert key in ("all", "any") and isinstance(listed, tuple)
    parts = (placed(part, Spot(at.file, node)) for part, node in zip(condition.parts, listed, strict=True))
    return Placed(condition, at, tuple(parts))


def tests_in(found: Placed) -> Iterator[Placed]:
    """Every comparison of one fact in it, in order of writing."""
    if not found.parts:
        yield found
    for part in found.parts:
        yield from tests_in(part)
