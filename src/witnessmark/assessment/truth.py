"""All and any over what leaves are worth, as closed tables, and `shown` multiplied out into combinations.

Five points, best first: conforms, undecided, not shown, lapsed, closed. `any` takes the best. `all` takes the worst.
Both tables are commutative, associative and distribute over each other, so nesting and order do not matter.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from enum import StrEnum
from functools import reduce
from typing import NoReturn

from witnessmark.assessment.model import Verdict
from witnessmark.records.conditions import Need, NeedAll, NeedAny, Shown

__all__ = [
    "ALL",
    "ANY",
    "MOST_COMBINATIONS",
    "VERDICT_POINT",
    "Point",
    "TooManyCombinations",
    "combinations",
    "in_the_way",
    "leaf_verdict",
    "over_all",
    "over_any",
    "value",
    "worse_verdict",
    "worst_point",
]

MOST_COMBINATIONS = 4096
"""A `shown` that multiplies out to more than this is refused."""


class TooManyCombinations(ValueError):
    """`shown` multiplies out beyond `MOST_COMBINATIONS`."""


class Point(StrEnum):
    """What one criterion, leaf or combination is worth. It has no truth value."""

    CONFORMS = "C"
    UNDECIDED = "U"
    NOT_SHOWN = "S"
    LAPSED = "L"
    CLOSED = "closed"

    def __bool__(self) -> NoReturn:
        raise TypeError("a point has no truth value: compare it with is")


C, U, S, L, X = Point.CONFORMS, Point.UNDECIDED, Point.NOT_SHOWN, Point.LAPSED, Point.CLOSED

ALL: Mapping[Point, Mapping[Point, Point]] = {
    C: {C: C, U: U, S: S, L: L, X: X},
    U: {C: U, U: U, S: S, L: L, X: X},
    S: {C: S, U: S, S: S, L: L, X: X},
    L: {C: L, U: L, S: L, L: L, X: X},
    X: {C: X, U: X, S: X, L: X, X: X},
}
ANY: Mapping[Point, Mapping[Point, Point]] = {
    C: {C: C, U: C, S: C, L: C, X: C},
    U: {C: C, U: U, S: U, L: U, X: U},
    S: {C: C, U: U, S: S, L: S, X: S},
    L: {C: C, U: U, S: S, L: L, X: L},
    X: {C: C, U: U, S: S, L: L, X: X},
}
VERDICT_POINT: Mapping[Verdict, Point] = {Verdict.PASS: C, Verdict.UNDECIDED: U, Verdict.FAIL: X}
_BADNESS = {Verdict.PASS: 0, Verdict.UNDECIDED: 1, Verdict.FAIL: 2}


def over_all(points: Iterable[Point]) -> Point:
    """All of them together. Raises TypeError for none: an empty `all` has no meaning."""
    return reduce(lambda a, b: ALL[a][b], points)


def over_any(points: Iterable[Point]) -> Point:
    """Any of them. Raises TypeError for none: an empty `any` has no meaning."""
    return reduce(lambda a, b: ANY[a][b], points)


def worst_point(points: Iterable[Point]) -> Point:
    """The worst of ties, criterion by criterion."""
    return over_all(points)


def worse_verdict(one: Verdict, other: Verdict) -> Verdict:
    """The one that hurts more."""
    return one if _BADNESS[one] >= _BADNESS[other] else other


def value(shown: Shown, worth: Callable[[Need], Point]) -> Point:
    """What `shown` is worth when each of its needs is worth `worth(need)`."""
    match shown:
        case Need():
            return worth(shown)
        case NeedAll(parts=parts):
            return over_all(value(part, worth) for part in parts)
        case NeedAny(parts=parts):
            return over_any(value(part, worth) for part in parts)


def combinations(shown: Shown, most: int = MOST_COMBINATIONS) -> tuple[frozenset[Need], ...]:
    """`shown` as alternatives, each a set of needs that must all be met; in order of writing, each once.

    Raises TooManyCombinations beyond `most`.
    """
    match shown:
        case Need():
            return (frozenset({shown}),)
        case NeedAny(parts=parts):
            found = dict.fromkeys(combo for part in parts for combo in combinations(part, most))
        case NeedAll(parts=parts):
            found = {frozenset(): None}
            for part in parts:
                inner = combinations(part, most)
                if len(found) * len(inner) > most * 4:
                    raise TooManyCombinations(f"more than {most} combinations")
                found = dict.fromkeys(have | combo for have in found for combo in inner)
    if len(found) > most:
        raise TooManyCombinations(f"more than {most} combinations")
    return tuple(found)


def leaf_verdict(combos: Iterable[frozenset[Need]], leaf: str, verdicts: Mapping[str, Verdict], only: str) -> Verdict:
    """What one record says of one leaf, from its verdict per criterion.

    Fails when each combination that uses the leaf has a criterion of it that fails; passes when one has all its
    criteria of the leaf passed; else undecided. A criterion without verdict is undecided. `only` is the name that an
    unnamed need stands for (the single criterion). A fail of a criterion that no combination knows fails the leaf:
    it was one when the record was sealed.
    """
    using = [
        [verdicts.get(need.criterion or only, Verdict.UNDECIDED) for need in combo if need.leaf == leaf]
        for combo in combos
    ]
    using = [asked for asked in using if asked]
    known = {need.criterion or only for combo in combos for need in combo if need.leaf == leaf}
    if any(v is Verdict.FAIL for name, v in verdicts.items() if name not in known):
        return Verdict.FAIL
    if not using:
        return Verdict.UNDECIDED
    if all(any(v is Verdict.FAIL for v in asked) for asked in using):
        return Verdict.FAIL
    if any(all(v is Verdict.PASS for v in asked) for asked in using):
        return Verdict.PASS
    return Verdict.UNDECIDED


def in_the_way(shown: Shown, worth: Callable[[Need], Point]) -> tuple[Need, ...]:
    """The needs that keep `shown` from conforming, in order of writing; empty when it conforms.

    Of alternatives only the nearest is followed: the best, of equals the one with the fewest needs, then the first.
    """
    match shown:
        case Need():
            return () if worth(shown) is Point.CONFORMS else (shown,)
        case NeedAll(parts=parts):
            return tuple(dict.fromkeys(need for part in parts for need in in_the_way(part, worth)))
        case NeedAny(parts=parts):
            best = over_any(value(part, worth) for part in parts)
            ways = [in_the_way(part, worth) for part in parts if value(part, worth) is best]
            return min(ways, key=len)
