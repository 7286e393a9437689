"""What would just pass, and whether a meter can decide a limit: against the same thing solved by hand.

Closed form: a meter of ± (p of reading + f), taken as a rectangle, has U = 2 (p·R + f)/√3 with k = 2; with w = U a
pass of "at most L" begins at R = (L − 2f/√3)/(1 + 2p/√3), a fail at (L + 2f/√3)/(1 − 2p/√3).
"""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from scipy.stats import norm

from witnessmark.methods.base import InputSpec, Method
from witnessmark.methods.planning import Plan, plan
from witnessmark.methods.registry import method
from witnessmark.methods.written import facts_as_written, readings_as_written
from witnessmark.quantities import Quantity, parse_quantity
from witnessmark.quantities.accuracy import Accuracy, reading_input
from witnessmark.quantities.decision import DecisionRule, Limit
from witnessmark.quantities.propagation import Input

P, F = 0.0025, 0.3e-3
ROOT = 2 / math.sqrt(3)


def milliohms(high: str = "200 mΩ") -> Accuracy:
    q = parse_quantity
    return Accuracy("resistance", q("0 Ω"), q(high), Decimal("0.25"), Decimal(3), q("0.1 mΩ"))


def planned(limit: str, rule: DecisionRule, accuracy: Accuracy, reading: str = "30 mΩ") -> Plan:
    found = method("bonding-four-wire/1")
    assert isinstance(found, Method)
    readings, faults = readings_as_written(found, {"current": "1 A", "resistance": reading})
    assert not faults

    def meter(spec: InputSpec, name: str, quantity: Quantity) -> Input | None:
        return reading_input(name, quantity, accuracy if accuracy.covers(quantity) else None)

    return plan(found, readings, {}, "bonding-resistance", Limit.of("at_most", parse_quantity(limit)), rule, meter)


def test_a_pass_and_a_fail_begin_where_they_do_by_hand() -> None:
    found = planned("0.1 Ω", DecisionRule.guarded(), milliohms())
    assert found.decides and not found.cannot
    assert found.passing is not None and found.failing is not None and found.at_limit is not None
    assert found.passing.reading.si == pytest.approx((0.1 - ROOT * F) / (1 + ROOT * P), rel=1e-8)
    assert found.failing.reading.si == pytest.approx((0.1 + ROOT * F) / (1 - ROOT * P), rel=1e-8)
    U_at_limit = found.at_limit.output.U
    assert U_at_limit == pytest.approx(ROOT * (P * 0.1 + F), rel=1e-8)
    assert found.passing.decision.passes and found.failing.decision.fails


def test_another_rule_moves_both() -> None:
    w = float(norm.ppf(0.99)) / math.sqrt(3)
    found = planned("0.1 Ω", DecisionRule.guarded(Decimal("0.99")), milliohms())
    assert found.passing is not None and found.failing is not None
    assert found.passing.reading.si == pytest.approx((0.1 - w * F) / (1 + w * P), rel=1e-8)
    assert found.failing.reading.si == pytest.approx((0.1 + ROOT * F) / (1 - ROOT * P), rel=1e-8)


def test_a_meter_that_is_too_coarse_cannot_decide() -> None:
    found = planned("0.3 mΩ", DecisionRule.guarded(), milliohms())
    assert found.passing is None and not found.decides
    assert "so large that no reading passes" in found.cannot
    capped = planned("2 mΩ", DecisionRule.simple(Decimal("0.05")), milliohms())
    assert capped.passing is None and "simple rule" in capped.cannot


def test_a_meter_that_does_not_reach_the_limit_cannot_decide() -> None:
    found = planned("0.1 Ω", DecisionRule.guarded(), milliohms("50 mΩ"))
    assert not found.decides and "outside what the meter was calibrated for" in found.cannot


def test_a_limit_that_no_such_reading_comes_near_is_said() -> None:
    found = planned("1000 Ω", DecisionRule.guarded(), milliohms("1 GΩ"), reading="1 mΩ")
    assert found.at_limit is None and "does not come to the limit" in found.cannot


def test_no_reading_can_be_moved() -> None:
    found = method("bonding-four-wire/1")
    assert isinstance(found, Method)
    readings, _ = readings_as_written(found, {"current": "> 1 A", "resistance": "> 100 mΩ"})
    limit = Limit.of("at_most", parse_quantity("0.1 Ω"))
    said = plan(found, readings, {}, "bonding-resistance", limit, DecisionRule.guarded(), lambda *_: None)
    assert not said.decides and "can be moved" in said.cannot


def test_the_reading_with_the_known_resistor_moves_the_isolation() -> None:
    """R = Ro · Ub · (1/U1' − 1/U1): with everything exact but U1', a pass begins where R − U(R) is the limit."""
    found = method("voltmeter-own-source/1")
    assert isinstance(found, Method)
    texts = {"ub": "400 V", "u1": "200 V", "u2": "200 V", "ro": "200 kΩ", "ro_at": "negative", "u1_loaded": "100 V"}
    readings, faults = readings_as_written(found, texts)
    facts, more = facts_as_written(found, {"working_voltage": "400 V", "nominal_voltage": "400 V"})
    assert not faults and not more

    def meter(spec: InputSpec, name: str, quantity: Quantity) -> Input | None:
        return Input(name, quantity.si, 0.5 if name == "u1_loaded" else 0.0)

    limit = Limit.of("at_least", parse_quantity("500 Ω/V"))
    said = plan(found, readings, facts, "isolation-per-volt", limit, DecisionRule.guarded(), meter)
    assert said.passing is not None and said.passing.name == "u1_loaded"
    loaded = said.passing.reading.si
    per_volt, U = 200e3 * (1 / loaded - 1 / 200), 2 * 200e3 / loaded**2 * 0.5
    assert per_volt - U == pytest.approx(500.0, rel=1e-6)
