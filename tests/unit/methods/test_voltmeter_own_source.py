"""Isolation by voltmeter, against an independent circuit: node voltages of two resistances to chassis and a meter."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.methods.helpers import evaluate
from witnessmark.methods.base import Refused, Result

ID = "voltmeter-own-source/1"


def node(ub: float, to_plus: Sequence[float], to_minus: Sequence[float]) -> tuple[float, float]:
    """Voltages (negative to chassis, positive to chassis) of a chassis node that hangs between the two poles.

    Source: Kirchhoff's current law for one node, solved with numpy.
    """
    g_plus, g_minus = sum(1 / r for r in to_plus), sum(1 / r for r in to_minus)
    matrix = np.array([[1.0, 1.0], [g_minus, -g_plus]])  # v1 + v2 = ub; v1 g- = v2 g+
    v1, v2 = np.linalg.solve(matrix, np.array([ub, 0.0]))
    return float(v1), float(v2)


def readings(ub: float, plus: float, minus: float, ro: float, meter: float) -> dict[str, str]:
    """What a meter of that resistance shows, moved from side to side, Ro fitted where the larger voltage was read."""
    u1 = node(ub, [plus], [minus, meter])[0]
    u2 = node(ub, [plus, meter], [minus])[1]
    at = "negative" if u1 >= u2 else "positive"
    low, high = ([minus, ro], [plus]) if at == "negative" else ([minus], [plus, ro])
    return {
        "ub": f"{ub!r} V ± 1e-6 V (k=2)",
        "u1": f"{u1!r} V ± 1e-6 V (k=2)",
        "u2": f"{u2!r} V ± 1e-6 V (k=2)",
        "ro": f"{ro!r} Ω ± 1e-6 Ω (k=2)",
        "ro_at": at,
        "u1_loaded": f"{node(ub, high, [*low, meter])[0]!r} V ± 1e-6 V (k=2)",
        "u2_loaded": f"{node(ub, [*high, meter], low)[1]!r} V ± 1e-6 V (k=2)",
    }


@given(
    st.floats(100, 1000),
    st.floats(1e3, 2e7),
    st.floats(1e3, 2e7),
    st.sampled_from([40e3, 200e3, 400e3]),
    st.floats(1e7, 1e10),
)
@settings(max_examples=60, deadline=None)
def test_any_meter_of_10_megohm_gives_the_weaker_pole_and_no_false_alarm(
    ub: float, plus: float, minus: float, ro: float, meter: float
) -> None:
    made = readings(ub, plus, minus, ro, meter)
    result = evaluate(ID, dict(made), {"working_voltage": f"{ub + 1!r} V"})
    assert isinstance(result, Result)
    opposite = plus if made["ro_at"] == "negative" else minus
    assert result.outputs[0].value == pytest.approx(opposite, rel=1e-6)
    assert opposite <= max(plus, minus) * (1 + 1e-9)
    assert result.believable, result.alarms


def codes(result: Result | Refused) -> dict[str, bool]:
    assert isinstance(result, Result)
    return {alarm.code: alarm.fatal for alarm in result.alarms}


def test_a_sum_that_cannot_be_is_an_alarm() -> None:
    assert codes(evaluate(ID, {"u2": "220 V ± 0.6 V (k=2)", "u1": "230 V ± 0.6 V (k=2)"}))["isolation.sum"]
    assert codes(evaluate(ID, {"u2": "150 V ± 0.6 V (k=2)"}))["isolation.sum"]
    assert codes(evaluate(ID, {"u2_loaded": "206.8 V"}))["isolation.sum"]
    assert codes(evaluate(ID)) == {}


def test_the_wrong_pole_is_an_alarm_unless_the_poles_are_alike() -> None:
    swapped = {"ro_at": "positive", "u2_loaded": "96.1 V ± 0.6 V (k=2)", "u1_loaded": None}
    assert codes(evaluate(ID, swapped))["isolation.wrong-pole"] is True
    alike = swapped | {"u1": "201.7 V ± 0.6 V (k=2)", "u2": "201.5 V ± 0.6 V (k=2)"}
    assert codes(evaluate(ID, alike))["isolation.wrong-pole"] is False


def test_a_loaded_reading_above_the_other_is_an_alarm() -> None:
    made = codes(evaluate(ID, {"u1_loaded": "210 V ± 0.6 V (k=2)", "u2_loaded": None}))
    assert made["isolation.loaded-higher"] is True


def test_the_bus_against_its_facts() -> None:
    assert codes(evaluate(ID, facts={"working_voltage": "400 V"}))["isolation.working-voltage"] is True
    assert codes(evaluate(ID, facts={"nominal_voltage": "410 V"}))["isolation.bus-low"] is True
    assert codes(evaluate(ID, facts={"nominal_voltage": "355.2 V"})) == {}


def test_a_resistor_far_from_the_usual_is_only_said() -> None:
    made = codes(evaluate(ID, {"ro": "10 kΩ ± 10 Ω (k=2)", "u2_loaded": None}))
    assert made["isolation.resistor-choice"] is False


def test_unknown_uncertainty_gives_a_value_that_no_guarded_rule_passes() -> None:
    result = evaluate(ID, {"u1": "203.4 V"})
    assert isinstance(result, Result)
    assert result.outputs[0].u is None and result.outputs[0].U is None
    assert codes(result) == {"uncertainty.not-stated": False}
    beside = evaluate(ID, {"u2": "199.8 V", "u2_loaded": "306.8 V"})
    assert isinstance(beside, Result) and beside.outputs[0].u is not None and codes(beside) == {}


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"u1_loaded": None}, "reading.missing"),
        ({"u2": None}, "reading.missing"),
        ({"ub": "0 V"}, "reading.range"),
        ({"u1": "-203.4 V"}, "reading.range"),
        ({"u1_loaded": "0 V"}, "reading.range"),
        ({"u1": "> 1000 V"}, "reading.bound"),
        ({"ro_at": "left"}, "reading.choice"),
        ({"colour": "red"}, "reading.unknown"),
        ({"ub": ["402.9 V", "402.8 V"]}, "reading.repeated"),
    ],
)
def test_bad_input_never_gives_a_number(changes: dict[str, str | list[str] | None], code: str) -> None:
    refused = evaluate(ID, changes)
    assert isinstance(refused, Refused)
    assert code in {p.code for p in refused.faults}


def test_all_faults_come_at_once() -> None:
    refused = evaluate(ID, {"ub": None, "u1": None, "ro_at": "left"})
    assert isinstance(refused, Refused) and len(refused.faults) == 3


def test_a_dead_short_is_a_fail_and_no_refusal() -> None:
    result = evaluate(
        ID,
        {
            "ub": "400.0 V ± 0.2 V (k=2)", "u1": "400.0 V ± 0.2 V (k=2)", "u2": "0 V", "ro": "40 kΩ ± 40 Ω (k=2)",
            "u1_loaded": "400.0 V ± 0.2 V (k=2)", "u2_loaded": "0 V",
        },
    )  # fmt: skip
    assert isinstance(result, Result) and result.outputs[1].value == 0.0 and result.believable


def test_other_units_change_nothing() -> None:
    plain = evaluate(ID)
    other = evaluate(
        ID,
        {
            "ub": "0.4029 kV ± 600 mV (k=2)", "u1": "203400 mV ± 0.6 V (k=2)", "ro": "0.2000 MΩ ± 400 Ω (k=2)",
            "u1_loaded": "96100 mV ± 0.6 V (k=2)",
        },
        {"working_voltage": "0.4032 kV"},
    )  # fmt: skip
    assert isinstance(plain, Result) and isinstance(other, Result)
    for a, b in zip(plain.outputs, other.outputs, strict=True):
        assert a.value == pytest.approx(b.value, rel=1e-13) and a.u == pytest.approx(b.u, rel=1e-12)
