"""From the leaves of one part to its state, and from parts and concession to the one word of a requirement. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from witnessmark.assessment.chain import Standing
from witnessmark.assessment.model import State
from witnessmark.assessment.truth import Point, in_the_way, value
from witnessmark.records.conditions import Need, Shown

__all__ = ["STATE_OF", "WORST_FIRST", "PartOutcome", "part_outcome", "under_concession", "worst"]

WORST_FIRST = (
    State.NONCONFORMING,
    State.LAPSED,
    State.NOT_SHOWN,
    State.UNDECIDED,
    State.UNDER_CONCESSION,
    State.CONFORMS,
    State.NOT_APPLICABLE,
)
STATE_OF: Mapping[Point, State] = {
    Point.CONFORMS: State.CONFORMS,
    Point.UNDECIDED: State.UNDECIDED,
    Point.NOT_SHOWN: State.NOT_SHOWN,
    Point.LAPSED: State.LAPSED,
    Point.CLOSED: State.NONCONFORMING,
}


@dataclass(frozen=True, slots=True)
class PartOutcome:
    """The state of one part. `joint`: no single record fails, but together they meet no combination."""

    state: State
    in_the_way: tuple[Need, ...]
    failing: tuple[str, ...] = ()
    joint: bool = False


def worst(states: Iterable[State]) -> State:
    """The worst word. Raises ValueError for none: nothing never means conforms."""
    return WORST_FIRST[min(WORST_FIRST.index(state) for state in states)]


def part_outcome(
    shown: Shown,
    standings: Mapping[str, Standing],
    only: Mapping[str, str],
    covered: frozenset[str] = frozenset(),
) -> PartOutcome:
    """The state of one part from the standing of each leaf.

    `only` names the single criterion of a leaf, for needs that do not name one. A `covered` leaf is taken as met.
    A leaf without standing is not shown.
    """

    def worth(need: Need) -> Point:
        if need.leaf in covered:
            return Point.CONFORMS
        standing = standings.get(need.leaf)
        return Point.NOT_SHOWN if standing is None else standing.worth(need.criterion or only[need.leaf])

    failing = tuple(name for name, standing in standings.items() if standing.failing and name not in covered)
    point = value(shown, worth)
    way = in_the_way(shown, worth)
    if failing:
        # An open fail blocks, whatever other routes show.
        return PartOutcome(State.NONCONFORMING, way, failing)
    return PartOutcome(STATE_OF[point], way, (), point is Point.CLOSED)


def under_concession(beneath: State, with_cover: State) -> State:
    """The word with a concession: only where the covered leaves were all that was in the way."""
    if beneath in (State.CONFORMS, State.NOT_APPLICABLE):
        return beneath
    return State.UNDER_CONCESSION if with_cover is State.CONFORMS else with_cover
