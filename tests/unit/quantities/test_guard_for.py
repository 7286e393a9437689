"""The guard band for a stated conformance probability, as a decision rule.

Source: JCGM 106:2012, 8.3.2 (acceptance limit for a probability that is stated); quantiles from scipy.stats (reference
library). ILAC-G8:09/2019, 4.2.3 for the four statements with a guard band of any width.
"""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from scipy.stats import norm, t

from witnessmark.assessment.policy import as_rule, rule_words
from witnessmark.quantities import parse_quantity as q
from witnessmark.quantities.decision import DecisionRule, Limit, LimitKind, Statement, decide, probability_words
from witnessmark.records.sets import DecisionRule as Written

AT_LEAST = Limit.of("at_least", q("500 Ω/V"))
AT_MOST = Limit.of("at_most", q("500 Ω/V"))
NINETY_NINE = DecisionRule.guarded(Decimal("0.99"))


@pytest.mark.parametrize("probability", ["0.95", "0.975", "0.99", "0.999"])
@pytest.mark.parametrize("dof", [math.inf, 30.0, 4.0])
@pytest.mark.parametrize(("limit", "sign"), [(AT_LEAST, 1), (AT_MOST, -1)])
def test_a_pass_begins_where_the_probability_is_reached(probability: str, dof: float, limit: Limit, sign: int) -> None:
    rule = DecisionRule.guarded(Decimal(probability))
    u = 5.0
    w = u * float(norm.ppf(float(probability)) if math.isinf(dof) else t.ppf(float(probability), dof))
    U = u * max(2.0, float(norm.ppf(0.975) if math.isinf(dof) else t.ppf(0.975, dof)))
    just = decide(500 + sign * (w + 0.001), U, "", limit, rule, u=u, dof=dof)
    short = decide(500 + sign * (w - 0.001), U, "", limit, rule, u=u, dof=dof)
    assert (just.statement, short.statement) == (Statement.PASS, Statement.CONDITIONAL_PASS)
    assert just.acceptance_limit == pytest.approx(500 + sign * w)
    assert just.probability == pytest.approx(float(probability), abs=1e-3)
    assert just.specific_risk is not None and just.specific_risk <= 1 - float(probability)
    failing = 500 - sign * (min(w, U) + 0.001)
    assert decide(failing, U, "", limit, rule, u=u, dof=dof).statement is Statement.FAIL
    assert decide(500 - sign * 0.001, U, "", limit, rule, u=u, dof=dof).statement is Statement.CONDITIONAL_FAIL


def test_without_a_standard_uncertainty_nothing_is_said() -> None:
    assert decide(900.0, 10.0, "", AT_LEAST, NINETY_NINE).statement is Statement.UNDECIDED
    assert decide(900.0, None, "", AT_LEAST, NINETY_NINE, u=5.0).statement is Statement.UNDECIDED
    for u in (math.nan, math.inf):
        assert decide(900.0, 10.0, "", AT_LEAST, NINETY_NINE, u=u).statement is Statement.UNDECIDED
    assert decide(900.0, 10.0, "", AT_LEAST, NINETY_NINE, u=5.0, dof=0.5).statement is Statement.UNDECIDED


@pytest.mark.parametrize(("kind", "statement"), [("at_least", "pass"), ("more_than", "fail")])
def test_counts_and_exact_numbers_are_as_before(kind: LimitKind, statement: str) -> None:
    eight = Limit.of(kind, q("8", bare=True))
    assert decide(Decimal(8), None, "", eight, NINETY_NINE).statement == statement
    assert decide(999.0, None, ">", AT_LEAST, NINETY_NINE).statement is Statement.PASS
    assert decide(999.0, None, ">", AT_MOST, NINETY_NINE).statement is Statement.FAIL


@pytest.mark.parametrize("text", ["94.9 %", "100 %", "101 %", "0.5", "much", "99 V", "> 99 %", "99 % ± 1 % (k=2)"])
def test_what_is_no_such_probability_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="probability"):
        Written(rule="guarded", probability=text)


def test_it_belongs_to_the_guarded_rule() -> None:
    with pytest.raises(ValueError, match="belongs to guarded"):
        Written(rule="simple", cap="5 %", probability="99 %")
    with pytest.raises(ValueError, match="guarded"):
        DecisionRule("simple", Decimal("0.1"), Decimal("0.99"))
    with pytest.raises(ValueError, match="95 %"):
        DecisionRule.guarded(Decimal("0.9"))


def test_the_rule_in_words() -> None:
    rule = Written(rule="guarded", probability="99.5 %")
    assert as_rule(rule) == DecisionRule.guarded(Decimal("0.995"))
    assert str(as_rule(rule)) == "guard band w for a conformance probability of 99.5 %"
    assert rule_words(rule) == "guarded with a probability of 99.5 %"
    assert rule_words(Written(rule="guarded")) == "guarded"
    said = decide(512.0, 10.0, "", AT_LEAST, as_rule(rule), u=5.0)
    assert probability_words(said) == "conformance probability 99.2 % (normal distribution)"
    few = decide(530.0, 14.0, "", AT_LEAST, as_rule(rule), u=5.0, dof=4.7)
    assert "t distribution, 4 degrees of freedom" in probability_words(few)
