"""Rule 8: `all` takes the worst, `any` the best; a record fails its leaf when every combination that uses it fails.

The tables are written out here a second time, as the model of assessment prints them, and the properties that it claims
(commutative, associative, distributive; the multiplied-out form gives the same) are checked over all values.
"""

from __future__ import annotations

from itertools import product

import pytest

from witnessmark.assessment.model import Verdict
from witnessmark.assessment.truth import (
    ALL,
    ANY,
    Point,
    TooManyCombinations,
    combinations,
    in_the_way,
    leaf_verdict,
    over_all,
    over_any,
    value,
)
from witnessmark.records.conditions import Need, NeedAll, NeedAny, Shown

POINTS = {"C": Point.CONFORMS, "U": Point.UNDECIDED, "S": Point.NOT_SHOWN, "L": Point.LAPSED, "closed": Point.CLOSED}
COLUMNS = ("C", "U", "S", "L", "closed")
ALL_PRINTED = {
    "C": "C U S L closed",
    "U": "U U S L closed",
    "S": "S S S L closed",
    "L": "L L L L closed",
    "closed": "closed closed closed closed closed",
}
ANY_PRINTED = {
    "C": "C C C C C",
    "U": "C U U U U",
    "S": "C U S S S",
    "L": "C U S L L",
    "closed": "C U S L closed",
}
P, UN, F = Verdict.PASS, Verdict.UNDECIDED, Verdict.FAIL


@pytest.mark.parametrize(("table", "printed"), [(ALL, ALL_PRINTED), (ANY, ANY_PRINTED)], ids=["all", "any"])
def test_tables_as_printed(table: dict[Point, dict[Point, Point]], printed: dict[str, str]) -> None:
    for row, cells in printed.items():
        for column, cell in zip(COLUMNS, cells.split(), strict=True):
            assert table[POINTS[row]][POINTS[column]] is POINTS[cell]


@pytest.mark.parametrize("table", [ALL, ANY], ids=["all", "any"])
def test_commutative_and_associative(table: dict[Point, dict[Point, Point]]) -> None:
    for a, b, c in product(Point, repeat=3):
        assert table[a][b] is table[b][a]
        assert table[table[a][b]][c] is table[a][table[b][c]]


def test_distributive_both_ways() -> None:
    for a, b, c in product(Point, repeat=3):
        assert ALL[a][ANY[b][c]] is ANY[ALL[a][b]][ALL[a][c]]
        assert ANY[a][ALL[b][c]] is ALL[ANY[a][b]][ANY[a][c]]


def test_nothing_at_all_is_no_truth() -> None:
    with pytest.raises(TypeError):
        over_all(())
    with pytest.raises(TypeError):
        over_any(())


A, B, CC, D = Need("a"), Need("b"), Need("c"), Need("d")
SHAPES: tuple[Shown, ...] = (
    A,
    NeedAll((A, B)),
    NeedAny((A, B)),
    NeedAll((A, NeedAny((B, CC)))),
    NeedAny((A, NeedAll((B, CC)))),
    NeedAny((NeedAll((A, B)), NeedAll((A, CC)))),
    NeedAll((NeedAny((A, B)), NeedAny((CC, D)))),
    NeedAny((NeedAll((A, B)), NeedAll((CC, D)))),
    NeedAll((A, B, CC, D)),
    NeedAny((A, B, CC, D)),
)


@pytest.mark.parametrize("shown", SHAPES, ids=str)
def test_multiplied_out_form_gives_the_same(shown: Shown) -> None:
    needs = (A, B, CC, D)
    combos = combinations(shown)
    for points in product(Point, repeat=4):
        worth = dict(zip(needs, points, strict=True)).__getitem__
        flat = over_any(over_all(worth(n) for n in sorted(combo, key=str)) for combo in combos)
        assert value(shown, worth) is flat
        assert (not in_the_way(shown, worth)) is (flat is Point.CONFORMS)


def test_combinations_are_bounded() -> None:
    wide = NeedAll(tuple(NeedAny(tuple(Need(f"l{i}-{j}") for j in range(8))) for i in range(8)))
    with pytest.raises(TooManyCombinations):
        combinations(wide)


JOINED = NeedAll((Need("set-up"), NeedAny((Need("iso", "full"), NeedAll((Need("iso", "reduced"), Need("ac")))))))
TWO_WAYS = NeedAny((NeedAll((Need("x", "a"), Need("y"))), NeedAll((Need("x", "b"), Need("z")))))


@pytest.mark.parametrize(
    ("full", "reduced", "leaf"),
    [(P, P, P), (F, P, P), (UN, P, P), (F, UN, UN), (F, F, F), (UN, UN, UN), (P, F, P), (UN, F, UN)],
)
def test_criteria_of_one_leaf_are_alternatives(full: Verdict, reduced: Verdict, leaf: Verdict) -> None:
    assert leaf_verdict(combinations(JOINED), "iso", {"full": full, "reduced": reduced}, "full") is leaf


def test_both_criteria_in_one_combination_must_pass() -> None:
    window = NeedAll((Need("t", "low"), Need("t", "high")))
    assert leaf_verdict(combinations(window), "t", {"low": P, "high": F}, "low") is F
    assert leaf_verdict(combinations(window), "t", {"low": P, "high": UN}, "low") is UN
    assert leaf_verdict(combinations(window), "t", {"low": P, "high": P}, "low") is P


def test_a_criterion_without_verdict_is_undecided() -> None:
    assert leaf_verdict(combinations(TWO_WAYS), "x", {"a": F}, "a") is UN


def test_a_fail_of_a_criterion_that_is_gone_still_fails() -> None:
    assert leaf_verdict(combinations(TWO_WAYS), "x", {"a": P, "b": P, "old": F}, "a") is F


def test_points_and_verdicts_have_no_truth_value() -> None:
    for value_ in (*Point, *Verdict):
        with pytest.raises(TypeError):
            bool(value_)
