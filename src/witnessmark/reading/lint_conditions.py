"""Faults of conditions: facts that nobody can answer so, and what holds never, always, or twice.

Whether a condition can hold is found by trying it: every word that may be answered, and for a quantity every number at
which, and between which, a comparison turns.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import chain, combinations, pairwise, product

from witnessmark.problems import Place, Problem, Severity
from witnessmark.quantities import UnitFault, parse_unit
from witnessmark.quantities.units import Unit
from witnessmark.records.conditions import AllOf, AnyOf, Compare, Condition, Not, OneOf, in_words
from witnessmark.records.sets import FactDefinition, Requirement

from .lint_places import Placed, Spot, placed, tests_in
from .models import nearest

__all__ = ["LIKE_A_FACT", "condition_faults", "unit_of", "unknown_fact"]

Facts = Mapping[str, FactDefinition]
Value = Fraction | frozenset[str]
Said = tuple[str, str, str]
"""Code, message and remedy."""
LIKE_A_FACT = 0.75
"""How near a name has to come to that of a fact to be taken for it misspelt."""
MOST_TRIALS = 5_000
"""A condition that asks more combinations of answers than this is not tried."""
MOST_SUBSETS = 6
"""Of a fact that may have several answers, every combination of at most so many."""
OTHER = "\0"
"""Any answer in free words that no condition names."""


def unit_of(fact: FactDefinition) -> Unit | None:
    """The unit of a fact that is a quantity; None where it is none, or its unit is not known (told elsewhere)."""
    try:
        return None if fact.unit is None else parse_unit(fact.unit)
    except UnitFault:
        return None


def unknown_fact(whose: str, key: str, facts: Facts, place: Place) -> Problem:
    """A fact that no file defines."""
    near = nearest(key, facts, cutoff=LIKE_A_FACT)
    define = "define it there: title, ask, why, and choices, unit or text"
    return Problem(
        "set.unknown-fact",
        f"'{whose}' asks the fact '{key}', which requirements/facts.yaml does not define",
        f"did you mean '{near}'? else {define}" if near else define,
        place,
    )


def condition_faults(requirement: Requirement, spot: Spot, facts: Facts) -> Iterator[Problem]:
    """Everything wrong with `applies` and with `where` of one requirement."""
    if requirement.applies is not None:
        yield from _faults(requirement, placed(requirement.applies, spot.below("applies")), facts, _asks_the_vehicle)
    each = requirement.each
    if each is not None and each.where is not None:
        kind = each.part
        found = placed(each.where, spot.below("each", "where"))
        yield from _faults(requirement, found, facts, lambda key, fact: _asks_the_part(key, fact, kind))


def _faults(
    requirement: Requirement, found: Placed, facts: Facts, misplaced: Callable[[str, FactDefinition], Said | None]
) -> Iterator[Problem]:
    wrong: set[int] = set()
    for test in tests_in(found):
        faults = list(_test(requirement, test, facts, misplaced))
        yield from faults
        if any(p.severity is Severity.PROBLEM for p in faults) or not _can_be_tried(test.condition, facts):
            wrong.add(id(test))
    never = not wrong and _outcomes(found.condition, facts) == {False}
    nobody = f"as it stands, nobody is ever asked for “{requirement.title}”"
    yield from _logic(found, facts, wrong, nobody if never else "nothing ever comes under it")[0]


def _can_be_tried(condition: Condition, facts: Facts) -> bool:
    """Not of a fact that is wrongly defined itself: that is told there."""
    return not isinstance(condition, Compare) or unit_of(facts[condition.fact]) is not None


def _asks_the_vehicle(key: str, fact: FactDefinition) -> Said | None:
    if fact.of is None:
        return None
    return (
        "set.fact-of-part",
        f"'{key}' is a fact of each {fact.of}, and 'applies' asks the vehicle, which never has it",
        f"write it under each: {{part: {fact.of}, where: {{{key}: …}}}}",
    )


def _asks_the_part(key: str, fact: FactDefinition, kind: str) -> Said | None:
    if fact.of in (None, kind):
        return None  # A part that does not say its own is judged by what is stated of the vehicle.
    return (
        "set.fact-of-other-part",
        f"'{key}' is a fact of each {fact.of}, and 'where' asks each {kind}, which never has it",
        f"ask a fact of {kind}, or make it each: {{part: {fact.of}, …}}",
    )


def _test(
    requirement: Requirement,
    test: Placed,
    facts: Facts,
    misplaced: Callable[[str, FactDefinition], Said | None],
) -> Iterator[Problem]:
    """One comparison of one fact."""
    condition = test.condition
    assert isinstance(condition, OneOf | Compare) and test.value is not None
    key = condition.fact
    fact = facts.get(key)
    if fact is None:
        yield unknown_fact(requirement.id, key, facts, test.spot.place())
        return
    if (said := misplaced(key, fact)) is not None:
        code, message, remedy = said
        yield Problem(code, message, remedy, test.spot.place())
        return
    if isinstance(condition, Compare):
        yield from _compared(condition, fact, test)
    elif fact.unit is not None:
        unit = "" if fact.unit == "1" else f" {fact.unit}"
        yield Problem(
            "set.condition-form",
            f"'{key}' is a number{f' in{unit}' if unit else ''}, and is compared with a word",
            f"write {key}: {{at_least: 5{unit}}}, or more_than, at_most, less_than",
            test.value.place(),
        )
    elif fact.text == "yes" and key != "requirement_sets":
        yield Problem(
            "set.condition-form",
            f"'{key}' is answered in free words, which nobody writes the same way twice",
            "give the fact choices in requirements/facts.yaml, or ask another one",
            test.spot.place(),
        )
    elif fact.choices:
        yield from _words(condition, fact, test)


def _words(condition: OneOf, fact: FactDefinition, test: Placed) -> Iterator[Problem]:
    assert test.value is not None
    content = test.value.node.content
    nodes = [test.value.node] if isinstance(content, str) else list(content)
    for number, (word, node) in enumerate(zip(condition.values, nodes, strict=True)):
        place = Spot(test.value.file, node).place()  # type: ignore[arg-type]  # a list of words holds nodes
        if word not in fact.choices:
            near = nearest(word, fact.choices)
            listed = f"its answers are {', '.join(fact.choices)}"
            yield Problem(
                "set.condition-word",
                f"'{word}' is no answer to '{condition.fact}', so it can never be stated",
                f"did you mean '{near}'? {listed}" if near else listed,
                place,
            )
        elif word in condition.values[:number]:
            yield Problem(
                "set.condition-twice", f"'{word}' stands here twice", "take one out", place, Severity.NOTE
            )  # fmt: skip


def _compared(condition: Compare, fact: FactDefinition, test: Placed) -> Iterator[Problem]:
    assert test.value is not None
    key, limit = condition.fact, condition.limit
    place = test.value.place(condition.how)
    if fact.unit is None:
        how = f"is answered with one of {', '.join(fact.choices)}" if fact.choices else "is answered in free words"
        remedy = f"name the answers that count, such as {key}: [{next(iter(fact.choices))}]" if fact.choices else ""
        yield Problem(
            "set.condition-form",
            f"'{key}' has no unit and cannot be {condition.how.replace('_', ' ')} something: it {how}",
            remedy or "ask a fact that is a quantity",
            place,
        )
        return
    unit = unit_of(fact)
    if unit is None:
        return
    stated = "as a bare number" if unit.symbol == "1" else f"in {unit}"
    if limit.unit.symbol == "1" and unit.symbol != "1":
        yield Problem(
            "set.condition-unit",
            f"the limit {limit} has no unit; '{key}' is stated in {unit}",
            f"write {condition.how}: {limit} {unit}",
            place,
        )
    elif not limit.unit.compatible(unit):
        yield Problem(
            "set.condition-unit",
            f"the limit {limit} does not fit '{key}', which is stated {stated}",
            f"write it {stated}",
            place,
        )
    elif limit.bound or limit.U is not None:
        yield Problem(
            "set.condition-unit", f"the limit {limit} is no plain number", "write one number with its unit", place
        )  # fmt: skip


# ---- what can hold ------------------------------------------------------------------------------------------


def _logic(found: Placed, facts: Facts, wrong: set[int], follows: str) -> tuple[list[Problem], bool]:
    """What holds never, always or idly, innermost only; and whether anything in it is at fault already. `follows`: what
    comes of a part that never holds."""
    inner = [_logic(part, facts, wrong, follows) for part in found.parts]
    problems = [p for faults, _ in inner for p in faults]
    if id(found) in wrong or any(bad for _, bad in inner):
        return problems, True
    outcomes = _outcomes(found.condition, facts)
    if outcomes is None:
        return problems, False
    place = found.spot.place()
    if outcomes == {False}:
        return [*problems, _never(found, facts, place, follows)], True
    if outcomes == {True}:
        return [*problems, _always(found, facts, place)], True
    idle = _idle(found, facts)
    return problems + ([idle] if idle else []), idle is not None


def _never(found: Placed, facts: Facts, place: Place, follows: str) -> Problem:
    words = in_words(found.condition, _named(facts))
    known = _range(found.condition, facts)
    return Problem(
        "set.never",
        f"whatever is stated, this never holds: {words}" + (f", {known}" if known else ""),
        f"mend it: {follows}",
        place,
    )


def _always(found: Placed, facts: Facts, place: Place) -> Problem:
    known = _range(found.condition, facts)
    return Problem(
        "set.always",
        f"whatever is stated, this always holds: {in_words(found.condition, _named(facts))}"
        + (f", {known}" if known else ""),
        "take it out, or name the case that it is meant to leave out",
        place,
        Severity.NOTE,
    )


def _idle(found: Placed, facts: Facts) -> Problem | None:
    """The first part of `all` or `any` without which the whole says the same."""
    if not isinstance(found.condition, AllOf | AnyOf) or len(found.parts) < 2:
        return None
    for number, part in enumerate(found.parts):
        rest = tuple(p.condition for i, p in enumerate(found.parts) if i != number)
        without: Condition = type(found.condition)(rest)
        outcomes = _pairs(found.condition, without, facts)
        if outcomes is not None and all(a == b for a, b in outcomes):
            return Problem(
                "set.idle",
                f"this changes nothing, the rest says it already: {in_words(part.condition, _named(facts))}",
                "take it out, or say what is meant",
                part.spot.place(),
                Severity.NOTE,
            )
    return None


def _named(facts: Facts) -> Callable[[str], str]:
    return lambda key: facts[key].title


def _range(condition: Condition, facts: Facts) -> str:
    """What is plausible of the one quantity that is compared."""
    inner = condition.part if isinstance(condition, Not) else condition
    if not isinstance(inner, Compare):
        return ""
    fact = facts[inner.fact]
    unit = "" if fact.unit == "1" else f" {fact.unit}"
    ends = [f"{word} {end}{unit}" for word, end in (("from", fact.lowest), ("to", fact.highest)) if end is not None]
    return f"and it goes {' '.join(ends)}" if ends else ""


def _outcomes(condition: Condition, facts: Facts) -> set[bool] | None:
    pairs = _pairs(condition, condition, facts)
    return None if pairs is None else {one for one, _ in pairs}


def _pairs(one: Condition, other: Condition, facts: Facts) -> set[tuple[bool, bool]] | None:
    """What the two conditions come to for every combination of answers; None where there are too many."""
    compared: dict[str, list[OneOf | Compare]] = {}
    for test in chain(_tests(one), _tests(other)):
        compared.setdefault(test.fact, []).append(test)
    values = {key: _answers(facts[key], tests) for key, tests in compared.items()}
    trials = 1
    for answers in values.values():
        trials *= max(1, len(answers))
    if trials > MOST_TRIALS:
        return None
    found: set[tuple[bool, bool]] = set()
    for combo in product(*values.values()):
        stated = dict(zip(values, combo, strict=True))
        found.add((_holds(one, stated), _holds(other, stated)))
        if len(found) == 4:
            break
    return found


def _tests(condition: Condition) -> Iterator[OneOf | Compare]:
    match condition:
        case OneOf() | Compare():
            yield condition
        case Not(part=part):
            yield from _tests(part)
        case AllOf(parts=parts) | AnyOf(parts=parts):
            for part in parts:
                yield from _tests(part)


def _answers(fact: FactDefinition, tests: Sequence[OneOf | Compare]) -> list[Value]:
    """Answers of every sort that the tests tell apart."""
    if fact.unit is not None:
        return list(_numbers(fact, [t.limit.si_exact for t in tests if isinstance(t, Compare)]))
    words = list(fact.choices) or [*{w for t in tests if isinstance(t, OneOf) for w in t.values}, OTHER]
    if fact.several == "no":
        return [frozenset({word}) for word in words]
    if len(words) > MOST_SUBSETS:
        return [*(frozenset({word}) for word in words), frozenset(words)]
    return [frozenset(some) for size in range(1, len(words) + 1) for some in combinations(words, size)]


def _numbers(fact: FactDefinition, turns: Sequence[Fraction]) -> Iterator[Fraction]:
    unit = unit_of(fact)
    assert unit is not None
    low, high = (
        None if end is None else Fraction(end) * unit.scale + unit.offset for end in (fact.lowest, fact.highest)
    )
    points = sorted({*turns, *(end for end in (low, high) if end is not None)})
    tried = {points[0] - 1, *points, *((a + b) / 2 for a, b in pairwise(points)), points[-1] + 1}
    if unit.symbol == "1":  # A count: whole numbers only.
        tried = {
            Fraction(n) for point in points for n in (point.__floor__(), point.__floor__() - 1, point.__ceil__() + 1)
        }
        tried |= {Fraction(point.__ceil__()) for point in points}
    for number in sorted(tried):
        if (low is None or number >= low) and (high is None or number <= high):
            yield number


def _holds(condition: Condition, answers: Mapping[str, Value]) -> bool:
    match condition:
        case OneOf(fact=key, values=values):
            said = answers[key]
            return isinstance(said, frozenset) and bool(said & set(values))
        case Compare(fact=key, how=how, limit=limit):
            number, other = answers[key], limit.si_exact
            assert isinstance(number, Fraction)
            return {
                "at_least": number >= other,
                "more_than": number > other,
                "at_most": number <= other,
                "less_than": number < other,
            }[how]
        case Not(part=part):
            return not _holds(part, answers)
        case AllOf(parts=parts):
            return all(_holds(part, answers) for part in parts)
        case AnyOf(parts=parts):
            return any(_holds(part, answers) for part in parts)
