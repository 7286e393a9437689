"""Insulation tester: bounds, applied voltage."""

from __future__ import annotations

import pytest

from tests.unit.methods.helpers import evaluate
from witnessmark.methods.base import Refused, Result

ID = "insulation-tester/1"


def test_value_and_uncertainty() -> None:
    """22.4 MΩ / 403.2 V = 55 555.6 Ω/V; u = 0.6 MΩ / 403.2 V = 1488.1 Ω/V. Worked by hand."""
    result = evaluate(ID)
    assert isinstance(result, Result)
    assert result.outputs[1].value == pytest.approx(55555.5556, rel=1e-8)
    assert result.outputs[1].u == pytest.approx(1488.0952, rel=1e-7)


@pytest.mark.parametrize("sign", [">", "<"])
def test_a_bound_stays_a_bound(sign: str) -> None:
    result = evaluate(ID, {"resistance": f"{sign} 999 MΩ"})
    assert isinstance(result, Result)
    assert [o.bound for o in result.outputs] == [sign, sign] and result.outputs[0].u is None
    assert not result.alarms


@pytest.mark.parametrize(("applied", "fatal"), [("201.5 V", True), ("201.6 V", False), ("1000 V", False)])
def test_half_the_working_voltage_is_needed(applied: str, fatal: bool) -> None:
    result = evaluate(ID, {"test_voltage": applied})
    assert isinstance(result, Result) and result.believable is not fatal


def test_unknown_uncertainty_is_said() -> None:
    result = evaluate(ID, {"resistance": "22.4 MΩ"})
    assert isinstance(result, Result) and result.outputs[0].U is None
    assert [a.code for a in result.alarms] == ["uncertainty.not-stated"]


@pytest.mark.parametrize(
    ("readings", "facts"),
    [
        ({"resistance": "-1 MΩ"}, {}),
        ({"test_voltage": "0 V"}, {}),
        ({}, {"working_voltage": "0 V"}),
        ({"test_voltage": None}, {}),
    ],
)
def test_bad_input_never_gives_a_number(readings: dict[str, str | None], facts: dict[str, str]) -> None:
    assert isinstance(evaluate(ID, readings, facts), Refused)
