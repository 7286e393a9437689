"""Decisions: the four statements, strict limits, noise, bounds, counts; nothing unknown passes."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from scipy.stats import norm

from witnessmark.quantities import parse_quantity as q
from witnessmark.quantities.decision import (
    DecisionRule,
    Limit,
    LimitKind,
    Statement,
    acceptance_limit,
    conformance_probability,
    decide,
    guard_band,
    just_passes,
)

GUARDED = DecisionRule.guarded()
SIMPLE = DecisionRule.simple(Decimal("0.1"))


def limit(kind: LimitKind, text: str = "500 Ω/V") -> Limit:
    return Limit.of(kind, q(text, bare=True))


@pytest.mark.parametrize(
    ("kind", "value", "statement"),
    [
        ("at_least", 510.1, "pass"),
        ("at_least", 509.9, "conditional pass"),
        ("at_least", 500.1, "conditional pass"),
        ("at_least", 499.9, "conditional fail"),
        ("at_least", 490.1, "conditional fail"),
        ("at_least", 489.9, "fail"),
        ("more_than", 510.1, "pass"),
        ("more_than", 489.9, "fail"),
        ("at_most", 489.9, "pass"),
        ("at_most", 499.9, "conditional pass"),
        ("at_most", 500.1, "conditional fail"),
        ("at_most", 510.1, "fail"),
        ("less_than", 489.9, "pass"),
        ("less_than", 510.1, "fail"),
    ],
)
def test_the_four_statements(kind: LimitKind, value: float, statement: str) -> None:
    """Source: ILAC-G8:09/2019, 4.2.2, guard band w = U; here U = 10."""
    said = decide(value, 10.0, "", limit(kind), GUARDED)
    assert said.statement == statement
    assert said.passes is (statement == "pass") and said.fails is (statement == "fail")


def test_acceptance_and_rejection_limits() -> None:
    said = decide(505.0, 10.0, "", limit("at_least"), GUARDED, u=5.0)
    assert (said.acceptance_limit, said.rejection_limit) == (510.0, 490.0)
    assert said.probability == pytest.approx(norm.cdf(1.0))
    upper = decide(505.0, 10.0, "", limit("at_most"), GUARDED)
    assert (upper.acceptance_limit, upper.rejection_limit) == (490.0, 510.0)
    assert acceptance_limit(limit("at_least"), 10.0) == 510.0 and acceptance_limit(limit("less_than"), 10.0) == 490.0


def test_strict_and_not_strict_differ_on_the_limit() -> None:
    on = Decimal(500)
    assert decide(on, Decimal(0), "", limit("at_least"), GUARDED).statement == "pass"
    assert decide(on, Decimal(0), "", limit("more_than"), GUARDED).statement == "fail"
    assert decide(on, Decimal(0), "", limit("at_most"), GUARDED).statement == "pass"
    assert decide(on, Decimal(0), "", limit("less_than"), GUARDED).statement == "fail"
    assert decide(on, Decimal(1), "", limit("at_least"), SIMPLE).statement == "pass"
    assert decide(on, Decimal(1), "", limit("more_than"), SIMPLE).statement == "fail"
    assert decide(Decimal(510), Decimal(10), "", limit("at_least"), GUARDED).statement == "pass"
    assert decide(Decimal(510), Decimal(10), "", limit("more_than"), GUARDED).statement == "conditional pass"


@pytest.mark.parametrize("rule", [GUARDED, SIMPLE])
@pytest.mark.parametrize("value", [500.0, 500.0 * (1 + 5e-10), 500.0 * (1 - 5e-10)])
@pytest.mark.parametrize("kind", ["at_least", "more_than", "at_most", "less_than"])
def test_a_computed_value_on_the_limit_is_not_decided(rule: DecisionRule, value: float, kind: LimitKind) -> None:
    assert decide(value, 0.0, "", limit(kind), rule).statement == "undecided"
    assert decide(510.0 if rule is GUARDED else value, 10.0, "", limit("at_least"), rule).statement != "pass"


def test_counts_compare_exactly() -> None:
    eight = limit("at_least", "8")
    for rule in (GUARDED, SIMPLE):
        assert decide(Decimal(8), None, "", eight, rule).statement == "pass"
        assert decide(Decimal(7), None, "", eight, rule).statement == "fail"
        assert decide(Decimal("7.9999999999999999999"), None, "", eight, rule).statement == "fail"
    assert decide(Decimal(8), None, "", limit("more_than", "8"), GUARDED).statement == "fail"


@pytest.mark.parametrize("rule", [GUARDED, SIMPLE])
def test_nothing_unknown_passes(rule: DecisionRule) -> None:
    for value in (math.nan, math.inf, -math.inf, Decimal("NaN"), Decimal("Infinity")):
        assert decide(value, 1.0, "", limit("at_least"), rule).statement == "undecided"
        assert decide(value, None, ">", limit("at_least"), rule).statement == "undecided"
    for U in (None, math.nan, math.inf, -1.0, Decimal("NaN")):
        assert decide(900.0, U, "", limit("at_least"), rule).statement == "undecided"
    assert decide(900.0, 1.0, "~", limit("at_least"), rule).statement == "undecided"
    assert decide(Decimal(900), None, "", limit("at_least"), rule).statement == "undecided"


def test_the_simple_rule_stops_at_its_cap() -> None:
    assert decide(505.0, 50.0, "", limit("at_least"), SIMPLE).statement == "pass"
    assert decide(495.0, 50.0, "", limit("at_least"), SIMPLE).statement == "fail"
    assert decide(900.0, 50.1, "", limit("at_least"), SIMPLE).statement == "undecided"
    for cap in (None, Decimal(0), Decimal(-1), Decimal("NaN")):
        with pytest.raises(ValueError, match="cap"):
            DecisionRule("simple", cap)
    with pytest.raises(ValueError, match="no decision rule"):
        DecisionRule("generous")  # type: ignore[arg-type]  # a misspelt rule is what is tested


@pytest.mark.parametrize(
    ("value", "bound", "kind", "statement"),
    [
        (999.0, ">", "at_least", "pass"),
        (999.0, ">", "more_than", "pass"),
        (499.0, ">", "at_least", "undecided"),
        (499.0, ">", "at_most", "undecided"),
        (999.0, ">", "at_most", "fail"),
        (0.1, "<", "at_most", "pass"),
        (0.1, "<", "less_than", "pass"),
        (999.0, "<", "less_than", "undecided"),
        (999.0, "<", "at_least", "undecided"),
        (0.1, "<", "at_least", "fail"),
    ],
)
@pytest.mark.parametrize("rule", [GUARDED, SIMPLE])
def test_bounds(value: float, bound: str, kind: LimitKind, statement: str, rule: DecisionRule) -> None:
    assert decide(value, None, bound, limit(kind), rule).statement == statement


def test_a_bound_with_uncertainty_has_to_clear_it() -> None:
    assert decide(505.0, 10.0, ">", limit("at_least"), GUARDED).statement == "undecided"
    assert decide(511.0, 10.0, ">", limit("at_least"), GUARDED).statement == "pass"


def test_a_statement_has_no_truth_value() -> None:
    with pytest.raises(TypeError, match="truth value"):
        bool(Statement.PASS)


def test_a_limit_is_a_plain_number() -> None:
    for text in ("> 3 V", "3 V ± 1 V (k=2)"):
        with pytest.raises(ValueError, match="limit"):
            Limit.of("at_least", q(text))
    with pytest.raises(ValueError, match="no limit"):
        Limit("about", Decimal(3), q("3 V").unit)  # type: ignore[arg-type]  # a misspelt kind is what is tested
    with pytest.raises(ValueError, match="finite"):
        Limit("at_least", Decimal("NaN"), q("3 V").unit)
    assert str(limit("at_least")) == "at least 500 Ω/V" and str(limit("less_than", "8")) == "less than 8"


def test_temperatures_are_compared_in_kelvin() -> None:
    hot = limit("at_most", "45 °C")
    assert decide(q("44 °C").si, 0.5, "", hot, GUARDED).statement == "pass"
    assert decide(q("45.2 °C").si, 0.5, "", hot, GUARDED).statement == "conditional fail"


def test_the_cap_is_of_the_limit_as_written() -> None:
    """10 % of 45 °C is 4.5 K."""
    hot = limit("at_most", "45 °C")
    assert decide(q("30 °C").si, 4.4, "", hot, SIMPLE).statement == "pass"
    assert decide(q("30 °C").si, 4.6, "", hot, SIMPLE).statement == "undecided"


def test_conformance_probability_against_scipy() -> None:
    """Source: scipy.stats.norm (reference library)."""
    for value, u, low, high in ((10.0, 0.4, 9.0, 11.0), (12.0, 0.4, 9.0, 11.0), (0.0, 2.0, -1.0, 30.0)):
        expected = norm.cdf(high, value, u) - norm.cdf(low, value, u)
        assert conformance_probability(value, u, lower=low, upper=high) == pytest.approx(expected, rel=1e-9)
    for bad in (0.0, -1.0, math.nan):
        with pytest.raises(ValueError, match="above zero"):
            conformance_probability(1.0, bad, lower=0.0)
    with pytest.raises(ValueError, match="limit"):
        conformance_probability(1.0, 1.0)


def test_guard_band_gives_its_probability() -> None:
    w = guard_band(2.0, 0.975)
    assert conformance_probability(500.0 + w, 2.0, lower=500.0) == pytest.approx(0.975, abs=1e-12)
    with pytest.raises(ValueError, match="probability"):
        guard_band(1.0, 0.2)


def test_the_reading_that_just_passes_just_passes() -> None:
    def U(y: float) -> float:
        return 3.0 + 0.01 * abs(y)

    for kind, sign in (("at_least", 1), ("at_most", -1)):
        there = limit(kind)  # type: ignore[arg-type]  # the two literals above
        y = just_passes(there, U)
        assert y is not None
        assert decide(y + sign * 0.001, U(y), "", there, GUARDED).statement == "pass"
        assert decide(y - sign * 0.001, U(y), "", there, GUARDED).statement == "conditional pass"
    assert just_passes(limit("at_least"), lambda y: 2 * abs(y)) is None
