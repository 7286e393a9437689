"""Limits are monotone, and what is solved backwards agrees with what is decided forwards."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import get_args

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from witnessmark.quantities import parse_unit
from witnessmark.quantities.decision import (
    DecisionRule,
    Limit,
    LimitKind,
    Statement,
    acceptance_limit,
    begins_with,
    conformance_probability,
    decide,
    guard_band,
    just_passes,
)

KINDS = st.sampled_from(get_args(LimitKind))
RULES = st.sampled_from(
    [DecisionRule.guarded(), DecisionRule.simple(Decimal(10)), DecisionRule.guarded(Decimal("0.99"))]
)
VALUE, SPREAD, STEP = st.floats(-1e6, 1e6), st.floats(1e-3, 1e4), st.floats(0, 1e4)
EDGE = st.decimals(-(10**4), 10**4, places=3)
DOF = st.one_of(st.just(math.inf), st.integers(1, 60).map(float))
RANK = {
    Statement.FAIL: 0, Statement.CONDITIONAL_FAIL: 1, Statement.UNDECIDED: 1,
    Statement.CONDITIONAL_PASS: 1, Statement.PASS: 2,
}  # fmt: skip
"""Pass above all that is neither, above fail."""


def limit(kind: LimitKind, edge: Decimal) -> Limit:
    return Limit(kind, edge, parse_unit("V"))


@given(VALUE, SPREAD, STEP, EDGE, KINDS, RULES, DOF)
@settings(max_examples=200, deadline=None)
def test_a_better_value_is_never_said_to_be_worse(
    y: float, U: float, step: float, edge: Decimal, kind: LimitKind, rule: DecisionRule, dof: float
) -> None:
    asked = limit(kind, edge)
    better = y + step if asked.lower else y - step
    before = decide(y, U, "", asked, rule, u=U / 2, dof=dof)
    after = decide(better, U, "", asked, rule, u=U / 2, dof=dof)
    assume(before.statement is not Statement.UNDECIDED or rule.kind == "guarded")  # beyond the cap nothing is said
    if after.statement is Statement.UNDECIDED and rule.kind == "simple":
        return
    assert RANK[after.statement] >= RANK[before.statement]
    if before.probability is not None and after.probability is not None:
        assert after.probability >= before.probability - 1e-12


@given(VALUE, SPREAD, EDGE, st.decimals(0, 1000, places=3), KINDS)
@settings(max_examples=150, deadline=None)
def test_a_milder_limit_never_makes_a_pass_of_less(
    y: float, U: float, edge: Decimal, step: Decimal, kind: LimitKind
) -> None:
    strict = limit(kind, edge)
    mild = limit(kind, edge - step if strict.lower else edge + step)
    rule = DecisionRule.guarded()
    if decide(y, U, "", strict, rule).passes:
        assert decide(y, U, "", mild, rule).passes
    if decide(y, U, "", mild, rule).fails:
        assert decide(y, U, "", strict, rule).fails


@given(SPREAD, SPREAD, EDGE, KINDS)
def test_more_uncertainty_moves_the_acceptance_limit_inwards(
    U: float, more: float, edge: Decimal, kind: LimitKind
) -> None:
    asked = limit(kind, edge)
    near, far = acceptance_limit(asked, U), acceptance_limit(asked, U + more)
    assert far > near if asked.lower else far < near


@given(st.floats(0.01, 100), st.floats(0.5, 0.9999), st.floats(0, 0.5), DOF)
@settings(max_examples=100, deadline=None)
def test_a_guard_band_gives_its_probability_back_and_grows(u: float, p: float, part: float, dof: float) -> None:
    w = guard_band(u, p, dof)
    assert conformance_probability(w, u, lower=0.0, dof=dof) == pytest.approx(p, abs=1e-9)
    assert conformance_probability(-w, u, upper=0.0, dof=dof) == pytest.approx(p, abs=1e-9)
    assert guard_band(u, p + (0.9999 - p) * part, dof) >= w * (1 - 1e-9)
    assert guard_band(u * 2, p, dof) == pytest.approx(2 * w, rel=1e-12)


@given(SPREAD, st.floats(0.6, 0.999), EDGE, KINDS, DOF)
@settings(max_examples=100, deadline=None)
def test_where_results_begin_to_conform_they_do(u: float, p: float, edge: Decimal, kind: LimitKind, dof: float) -> None:
    asked = limit(kind, edge)
    at = begins_with(asked, u, p, dof)
    lower, upper = (float(edge), None) if asked.lower else (None, float(edge))
    assert conformance_probability(at, u, lower=lower, upper=upper, dof=dof) == pytest.approx(p, abs=1e-6)


@given(st.decimals(1, 10**4, places=2), st.floats(0, 10), st.floats(0, 0.3), KINDS)
@settings(max_examples=150, deadline=None)
def test_the_reading_that_just_passes_is_the_edge_of_passing(
    edge: Decimal, fixed: float, part: float, kind: LimitKind
) -> None:
    """U of a meter as a fixed part and a part of the reading: a hair inside passes, a hair outside does not."""
    asked, rule = limit(kind, edge), DecisionRule.guarded()

    def U_at(y: float) -> float:
        return fixed + part * abs(y)

    y = just_passes(asked, U_at)
    assert y is not None
    if y <= 0:  # no reading above nought can show it
        return
    hair = 1e-6 * y
    inside, outside = (y + hair, y - hair) if asked.lower else (y - hair, y + hair)
    assert decide(inside, U_at(inside), "", asked, rule).passes
    assert not decide(outside, U_at(outside), "", asked, rule).passes
