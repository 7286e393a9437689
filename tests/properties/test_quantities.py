"""Properties of quantities and decisions that hold for any numbers."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from typing import get_args

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from witnessmark.quantities import Quantity, QuantityError, parse_quantity, parse_unit
from witnessmark.quantities.decision import DecisionRule, Limit, LimitKind, Statement, decide
from witnessmark.quantities.format import decimal_string, round_to_uncertainty, show
from witnessmark.quantities.propagation import Input, propagate, uncertain
from witnessmark.quantities.units import prefixed

UNITS = ["V", "mV", "kΩ", "MΩ", "A", "s", "Ω/V", "°C", "K", "%", "1", "N·m", "mm²", "km/h"]
KINDS = st.sampled_from(get_args(LimitKind))
RULES = st.sampled_from(
    [DecisionRule.guarded(), DecisionRule.simple(Decimal("0.05")), DecisionRule.simple(Decimal(10))]
)
FINITE = st.floats(-1e9, 1e9)
SPREAD = st.floats(0, 1e9)
DIGITS = st.decimals(-(10**6), 10**6, places=4)


@st.composite
def quantities(draw: st.DrawFn) -> Quantity:
    unit = parse_unit(draw(st.sampled_from(UNITS)))
    value = draw(st.decimals(-200, 10**9, places=draw(st.integers(0, 6))))
    form = draw(st.sampled_from(["plain", "spread", "bound"]))
    if form == "bound":
        return Quantity(value, unit, bound=draw(st.sampled_from("<>")))
    if form == "spread":
        spread = draw(st.decimals("0.0001", 10**6, places=4))
        return Quantity(value, unit, spread, draw(st.decimals(1, 4, places=2)))
    return Quantity(value, unit)


@given(quantities())
def test_what_is_written_is_read_back(quantity: Quantity) -> None:
    assert parse_quantity(str(quantity), bare=True) == quantity


@given(st.text(max_size=40))
def test_any_text_gives_a_quantity_or_a_remedy(text: str) -> None:
    try:
        found = parse_quantity(text)
    except QuantityError as fault:
        assert fault.code.startswith("quantity.") and fault.remedy
    else:
        assert math.isfinite(found.si) and found.value.is_finite()


@given(st.text(alphabet="0123456789.,-+eE±()<>=k VAΩm%°C/·*²^ '", max_size=30))
def test_text_of_the_right_letters_too(text: str) -> None:
    try:
        found = parse_quantity(text, bare=True)
    except QuantityError as fault:
        assert fault.code.startswith("quantity.") and fault.remedy
    else:
        assert parse_quantity(str(found), bare=True) == found


@given(DIGITS, st.sampled_from(["V", "Ω", "A", "s", "F"]))
def test_another_prefix_is_the_same_quantity(value: Decimal, symbol: str) -> None:
    quantity = Quantity(value, parse_unit(symbol))
    for unit in prefixed(quantity.unit):
        assert quantity.to(unit).si_exact == quantity.si_exact


def _no_better(before: Statement, after: Statement) -> bool:
    """A pass must not come from anything that was no pass."""
    return after is not Statement.PASS or before is Statement.PASS


@given(FINITE, SPREAD, SPREAD, DIGITS, KINDS, RULES, st.sampled_from(["", ">", "<"]))
def test_more_uncertainty_never_makes_a_pass(
    y: float, U: float, more: float, edge: Decimal, kind: LimitKind, rule: DecisionRule, bound: str
) -> None:
    limit = Limit(kind, edge, parse_unit("V"))
    before = decide(y, U, bound, limit, rule).statement
    after = decide(y, U + more, bound, limit, rule).statement
    assert _no_better(before, after)
    stated = DecisionRule.guarded(Decimal("0.99"))
    for dof in (math.inf, 3.0):
        before_99 = decide(y, U, bound, limit, stated, u=U / 2, dof=dof).statement
        assert _no_better(before_99, decide(y, U + more, bound, limit, stated, u=(U + more) / 2, dof=dof).statement)
        assert _no_better(before_99, decide(y, U, bound, limit, stated, u=U / 2, dof=2.0).statement)
        if before == "fail" and rule.kind == "guarded":
            assert before_99 == "fail", "a rule that makes passing harder never makes failing harder"
    if not bound:  # a bound stands for itself: its display range is what it says
        assert _no_better(before, decide(y, None, bound, limit, rule).statement)


@given(
    st.sampled_from([math.nan, math.inf, -math.inf]),
    st.one_of(st.none(), st.floats(allow_nan=True)),
    DIGITS,
    KINDS,
    RULES,
    st.sampled_from(["", ">", "<"]),
)
def test_what_is_not_finite_never_passes(
    y: float, U: float | None, edge: Decimal, kind: LimitKind, rule: DecisionRule, bound: str
) -> None:
    assert decide(y, U, bound, Limit(kind, edge, parse_unit("V")), rule).statement is Statement.UNDECIDED


@given(FINITE, st.sampled_from([math.nan, math.inf, -math.inf, -1.0]), DIGITS, KINDS, RULES)
def test_a_nonsense_uncertainty_never_passes(
    y: float, U: float, edge: Decimal, kind: LimitKind, rule: DecisionRule
) -> None:
    assert decide(y, U, "", Limit(kind, edge, parse_unit("V")), rule).statement is Statement.UNDECIDED


@given(DIGITS, st.decimals(0, 1000, places=3), DIGITS, KINDS, RULES, st.sampled_from(["mV", "kV", "µV"]))
def test_the_unit_of_the_limit_changes_nothing(
    y: Decimal, U: Decimal, edge: Decimal, kind: LimitKind, rule: DecisionRule, symbol: str
) -> None:
    unit = parse_unit(symbol)
    in_volt = Limit(kind, edge, parse_unit("V"))
    written = Quantity(edge, parse_unit("V")).to(unit)
    other = Limit(kind, written.value, unit)
    assert other.si == in_volt.si
    assert decide(y, U, "", in_volt, rule).statement is decide(y, U, "", other, rule).statement


@given(FINITE, SPREAD, DIGITS, KINDS)
def test_pass_and_fail_are_never_both_near(y: float, U: float, edge: Decimal, kind: LimitKind) -> None:
    """The guarded rule: a pass has its whole interval inside, a fail its whole interval outside."""
    limit = Limit(kind, edge, parse_unit("V"))
    said = decide(y, U, "", limit, DecisionRule.guarded())
    if said.passes:
        low, high = Fraction(y) - Fraction(U), Fraction(y) + Fraction(U)
        assert low >= limit.si if limit.lower else high <= limit.si
    if said.fails:
        low, high = Fraction(y) - Fraction(U), Fraction(y) + Fraction(U)
        assert high <= limit.si if limit.lower else low >= limit.si


@given(st.floats(0.1, 1e6), st.floats(0.1, 1e6), st.floats(0, 10), st.floats(0, 10), st.floats(1e-6, 1e6))
@settings(max_examples=50)
def test_a_scaled_input_gives_a_scaled_result(a: float, b: float, ua: float, ub: float, scale: float) -> None:
    """Volts or millivolts: the relative uncertainty of a product is the same."""
    plain = propagate(uncertain(Input("a", a, ua)) * uncertain(Input("b", b, ub)))
    scaled = propagate(uncertain(Input("a", a * scale, ua * scale)) * uncertain(Input("b", b, ub)))
    assert math.isclose(scaled.u, plain.u * scale, rel_tol=1e-9, abs_tol=1e-300)
    assert math.isclose(scaled.value, plain.value * scale, rel_tol=1e-12)


@given(st.floats(-1e6, 1e6), st.floats(1e-6, 1e6))
def test_rounding_stays_within_half_a_digit(value: float, U: float) -> None:
    rounded, spread = round_to_uncertainty(value, U)
    assert len(spread.as_tuple().digits) == 2
    assert abs(float(rounded) - value) <= 0.5 * 10.0 ** int(spread.as_tuple().exponent) * 1.0001
    assert abs(float(spread) - U) <= 0.05 * U + 1e-300


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_decimal_strings_lose_nothing(x: float) -> None:
    assert float(decimal_string(x)) == x


@given(st.floats(1e-9, 1e9), st.one_of(st.none(), st.floats(1e-9, 1e9)))
def test_a_result_shows_as_text_without_exponent(value: float, U: float | None) -> None:
    assume(U is None or 1e-6 < value / U < 1e6)
    shown = show(value, U, parse_unit("V"))
    assert "E" not in shown.value.upper().replace("\u202f", "") and shown.value
