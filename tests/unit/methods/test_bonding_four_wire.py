"""Bonding: reversal, repeats, one direction, too small a current."""

from __future__ import annotations

from collections.abc import Sequence

import GTC
import pytest

from tests.unit.methods.helpers import evaluate
from witnessmark.methods.base import Refused, Result

ID = "bonding-four-wire/1"
NONE: dict[str, str | Sequence[str] | None] = dict.fromkeys(("u_forward", "u_reverse", "i_forward", "i_reverse"))


def direct(**readings: str | Sequence[str]) -> Result | Refused:
    return evaluate(ID, NONE | readings)


def codes(result: Result | Refused) -> set[str]:
    return {a.code for a in result.alarms} if isinstance(result, Result) else {p.code for p in result.faults}


def test_a_thermal_voltage_drops_out() -> None:
    one = {"u_reverse": ["-1.206 mV"], "u_forward": ["1.234 mV"], "i_forward": ["1.000 A"], "i_reverse": ["-1.000 A"]}
    shifted = one | {"u_reverse": ["-1.106 mV"], "u_forward": ["1.334 mV"]}
    a, b = evaluate(ID, one), evaluate(ID, shifted)
    assert isinstance(a, Result) and isinstance(b, Result)
    assert a.outputs[0].value == pytest.approx(0.00122) and b.outputs[0].value == pytest.approx(a.outputs[0].value)


def test_the_error_of_a_meter_does_not_average() -> None:
    """Source: GTC 1.5 (reference library): one voltage and one current, and the scatter of the mean."""
    result = evaluate(ID)
    assert isinstance(result, Result)
    r = [(1.234 + 1.206) / 2, (1.236 + 1.207) / 2, (1.231 + 1.209) / 2]
    mean = GTC.type_a.mean(r)
    s = GTC.type_a.standard_uncertainty(r)
    there = GTC.ureal(mean, 0.002) / GTC.ureal(1.0, 0.001) + GTC.ureal(0, s, 2)
    assert result.outputs[0].value == pytest.approx(GTC.value(there) / 1000, rel=1e-12)
    assert result.outputs[0].u == pytest.approx(GTC.uncertainty(there) / 1000, rel=1e-9)
    assert result.outputs[0].dof == pytest.approx(GTC.dof(there), rel=1e-9)
    assert {row.name for row in result.outputs[0].budget} == {"voltage", "current", "repeatability"}


def test_one_reading_in_one_direction_is_allowed_and_said() -> None:
    result = direct(u_forward="10 mV ± 0.01 mV (k=2)", i_forward="0.2 A ± 0.001 A (k=2)")
    assert isinstance(result, Result)
    assert result.outputs[0].value == pytest.approx(0.05) and codes(result) == {"bonding.one-direction"}


def test_too_small_a_current_is_fatal() -> None:
    for made in (direct(resistance="3 mΩ", current="0.199 A"), direct(u_forward="1 mV", i_forward="0.1 A")):
        assert isinstance(made, Result) and not made.believable and "bonding.current" in codes(made)
    assert "bonding.current" not in codes(direct(resistance="3 mΩ", current="0.2 A"))


def test_bounds() -> None:
    low, high = direct(resistance="< 0.1 mΩ", current="1 A"), direct(resistance="> 2 Ω", current="1 A")
    assert isinstance(low, Result) and isinstance(high, Result)
    assert (low.outputs[0].bound, high.outputs[0].bound) == ("<", ">") and low.outputs[0].U is None


def test_a_negative_resistance_is_no_result_to_believe() -> None:
    made = direct(u_forward="-1 mV ± 0.01 mV (k=2)", i_forward="1 A ± 0.01 A (k=2)")
    assert isinstance(made, Result) and not made.believable and "bonding.negative" in codes(made)


def test_unknown_uncertainty() -> None:
    made = direct(resistance=["3.1 mΩ", "3.2 mΩ"], current="1 A")
    assert isinstance(made, Result) and made.outputs[0].U is None and "uncertainty.not-stated" in codes(made)


@pytest.mark.parametrize(
    ("readings", "code"),
    [
        ({}, "reading.missing"),
        ({"resistance": "3 mΩ"}, "reading.missing"),
        ({"u_forward": "1 mV"}, "reading.missing"),
        ({"resistance": "3 mΩ", "current": "1 A", "u_forward": "1 mV"}, "reading.combination"),
        ({"u_forward": "1 mV", "i_forward": "1 A", "current": "1 A"}, "reading.combination"),
        ({"u_forward": ["1 mV", "1 mV"], "i_forward": "1 A"}, "reading.pairs"),
        ({"u_forward": "1 mV", "i_forward": "1 A", "u_reverse": "-1 mV"}, "reading.pairs"),
        ({"u_forward": "1 mV", "i_forward": "-1 A"}, "reading.range"),
        ({"u_forward": "1 mV", "i_forward": "1 A", "u_reverse": "-1 mV", "i_reverse": "1 A"}, "reading.range"),
        ({"resistance": "-3 mΩ", "current": "1 A"}, "reading.range"),
        ({"resistance": "3 mΩ", "current": "-1 A"}, "reading.range"),
        ({"resistance": ["< 3 mΩ", "3 mΩ"], "current": "1 A"}, "reading.bound"),
    ],
)
def test_bad_input_never_gives_a_number(readings: dict[str, str | list[str]], code: str) -> None:
    made = direct(**readings)
    assert isinstance(made, Refused) and code in codes(made)
