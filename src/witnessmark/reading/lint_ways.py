"""Faults of what shows a requirement: leaves and criteria that no way needs, or that exclude or outdo each other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from witnessmark.assessment.truth import TooManyCombinations, combinations
from witnessmark.problems import Place, Problem, Severity
from witnessmark.quantities import Quantity
from witnessmark.records.conditions import Need, leaves_of
from witnessmark.records.sets import Criterion, FactDefinition, LeafKind, Requirement

from .lint_conditions import unit_of
from .lint_places import Spot

__all__ = ["way_faults"]

Facts = Mapping[str, FactDefinition]
MOST_WAYS = 512
"""Of more ways than these it is only said that they are many."""
LOWER = ("at_least", "more_than")
"""Comparisons that hold from a limit upwards; the others hold downwards."""


def way_faults(requirement: Requirement, spot: Spot, facts: Facts) -> Iterator[Problem]:
    """Everything wrong with `shown` of one requirement."""
    try:
        ways = combinations(requirement.shown)
    except TooManyCombinations as fault:
        yield Problem(
            "set.ways", f"'shown' multiplies out to {fault}", "write fewer alternatives, or as two requirements",
            spot.place("shown"),
        )  # fmt: skip
        return
    if len(ways) > MOST_WAYS:
        yield Problem(
            "set.many-ways", f"'shown' can be met in {len(ways)} ways, which nobody oversees", "split the requirement",
            spot.place("shown"), Severity.NOTE,
        )  # fmt: skip
        return
    least = [way for way in ways if not any(other < way for other in ways)]
    excluded, closed = [], set()
    for way in least:
        clash = _clash(requirement, way, facts)
        if clash is None:
            continue
        closed.add(way)
        if clash not in excluded:
            excluded.append(clash)
    for name, one, other in excluded:
        yield Problem(
            "set.criteria-exclude",
            f"'{name}/{one}' and '{name}/{other}' exclude each other, and 'shown' wants both of one result: "
            f"{_words(requirement.leaves[name].criteria[one])} and {_words(requirement.leaves[name].criteria[other])}",
            "make them alternatives with any:, or mend a limit",
            spot.place("leaves", name, "criteria", one, key=True),
            related=(spot.place("leaves", name, "criteria", other, key=True),),
        )
    needed = {need for way in least for need in way}
    reached = {need.leaf for need in needed}
    for name in requirement.leaves:
        if name not in reached:
            yield Problem(
                "set.leaf-idle",
                f"the leaf '{name}' is never needed: wherever 'shown' names it, less shows the requirement too",
                f"the shorter ways are {_ways_in_words(least)}; take the leaf out, or make them need it",
                spot.place("leaves", name, key=True),
                related=(spot.place("shown"),),
            )
    for need in leaves_of(requirement.shown):
        if need.leaf in reached and need not in needed:
            yield Problem(
                "set.criterion-idle",
                f"'{need}' is never needed: wherever 'shown' names it, less shows the requirement too",
                f"the shorter ways are {_ways_in_words(least)}; take it out, or make them need it",
                _criterion_place(requirement, need, spot),
                related=(spot.place("shown"),),
            )
    yield from _outdone(requirement, [way for way in least if way not in closed], spot)


def _criterion_place(requirement: Requirement, need: Need, spot: Spot) -> Place:
    name = need.criterion or requirement.leaves[need.leaf].criterion_names[0]
    return spot.place("leaves", need.leaf, "criteria", name, key=True)


def _ways_in_words(ways: Sequence[frozenset[Need]]) -> str:
    said = [" with ".join(sorted(map(str, way))) for way in ways]
    return ", or ".join(said[:3]) + (f", or {len(said) - 3} more" if len(said) > 3 else "")


def _asked(requirement: Requirement, way: frozenset[Need]) -> Iterator[tuple[str, str, Criterion]]:
    """The criteria of measured leaves that a way wants."""
    for name, leaf in requirement.leaves.items():
        if leaf.kind is LeafKind.MEASURE:
            for criterion_name, criterion in leaf.criteria.items():
                if any(need.leaf == name and need.criterion in ("", criterion_name) for need in way):
                    yield name, criterion_name, criterion


def _ends(criterion: Criterion, facts: Facts) -> tuple[Fraction | None, Fraction | None]:
    """The smallest and the largest that its limit can be, in SI."""
    limit = criterion.limit
    if isinstance(limit, Quantity):
        return limit.si_exact, limit.si_exact
    fact = facts.get(limit.fact)
    unit = unit_of(fact) if fact is not None else None
    if fact is None or unit is None:
        return None, None
    low, high = (None if e is None else Fraction(e) * unit.scale + unit.offset for e in (fact.lowest, fact.highest))
    return low, high


def _clash(requirement: Requirement, way: frozenset[Need], facts: Facts) -> tuple[str, str, str] | None:
    """Two criteria of one leaf that one result cannot both meet."""
    asked = list(_asked(requirement, way))
    for name, one, lower in asked:
        for other_name, other, upper in asked:
            if name != other_name or lower.how not in LOWER or upper.how in LOWER:
                continue
            low, high = _ends(lower, facts)[0], _ends(upper, facts)[1]
            if low is None or high is None:
                continue
            count = isinstance(lower.limit, Quantity) and lower.limit.unit.symbol == "1"
            closed = (lower.how, upper.how) == ("at_least", "at_most") and count  # A count can lie exactly there.
            if low > high or (low == high and not closed):
                return name, one, other
    return None


def _implies(strict: Criterion, loose: Criterion) -> bool:
    """Whether every result that meets the one meets the other."""
    if strict == loose:
        return True
    if not isinstance(strict.limit, Quantity) or not isinstance(loose.limit, Quantity):
        return False
    if (strict.how in LOWER) != (loose.how in LOWER) or not strict.limit.unit.compatible(loose.limit.unit):
        return False
    one, other = strict.limit.si_exact, loose.limit.si_exact
    if one == other:
        return strict.how in ("more_than", "less_than") or loose.how in ("at_least", "at_most")
    return one > other if strict.how in LOWER else one < other


def _outdone(requirement: Requirement, ways: Sequence[frozenset[Need]], spot: Spot) -> Iterator[Problem]:
    """A criterion that never decides: what meets it meets a looser one, which alone is enough for the same."""

    def criterion(need: Need) -> Criterion | None:
        leaf = requirement.leaves[need.leaf]
        return leaf.criteria.get(need.criterion or leaf.criterion_names[0])

    def met(wanted: Need, way: frozenset[Need]) -> Need | None:
        """What in the way meets the need."""
        if wanted in way:
            return wanted
        loose = criterion(wanted)
        for need in sorted(way, key=str):
            strict = criterion(need) if need.leaf == wanted.leaf else None
            if strict is not None and loose is not None and _implies(strict, loose):
                return need
        return None

    told: set[Need] = set()
    for way in ways:
        for other in ways:
            if way == other:
                continue
            meeting = [(need, met(need, way)) for need in sorted(other, key=str)]
            pairs = [(need, by) for need, by in meeting if by is not None and by != need]
            if any(by is None for _, by in meeting) or not pairs or pairs[0][1] in told or pairs[0][0] in told:
                continue
            loose, strict = pairs[0]
            told.add(strict)
            yield Problem(
                "set.criterion-outdone",
                f"'{strict}' never decides: what meets it meets '{loose}' too, and that is enough",
                f"let '{loose}' need something more, as in {{all: [{loose}, …]}}, or take one of the two out",
                _criterion_place(requirement, strict, spot),
                related=(_criterion_place(requirement, loose, spot),),
            )
    for way in ways:
        needs = sorted(way, key=str)
        for strict in needs:
            for loose in needs:
                one, two = criterion(strict), criterion(loose)
                if strict == loose or strict.leaf != loose.leaf or one is None or two is None or loose in told:
                    continue
                if _implies(one, two) and strict not in told:
                    told.add(loose)
                    yield Problem(
                        "set.criterion-outdone",
                        f"'{loose}' never decides: whatever meets '{strict}', which is wanted beside it, meets it too",
                        "take it out, or mend a limit",
                        _criterion_place(requirement, loose, spot),
                        Severity.NOTE,
                        related=(_criterion_place(requirement, strict, spot),),
                    )


def _words(criterion: Criterion) -> str:
    return f"{criterion.how.replace('_', ' ')} {getattr(criterion.limit, 'fact', criterion.limit)}"
