"""Decay after parting, against the exponential's own time."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.methods.helpers import evaluate
from witnessmark.methods.base import Refused, Result
from witnessmark.methods.registry import method

ID = "voltage-decay/1"
GOOD = {"logger_check": "60 V ± 0.6 V (k=2)"}


def log(
    tau: float = 0.4, step: float = 0.005, end: float = 3.0, start: float = 0.0, u0: float = 400.0
) -> dict[str, Any]:
    t = np.arange(-0.2, end, step)
    return {"time": t, "voltage": u0 * np.exp(-np.maximum(t - start, 0.0) / tau)}


def codes(result: Result | Refused) -> dict[str, bool]:
    assert isinstance(result, Result)
    return {a.code: a.fatal for a in result.alarms}


@given(st.floats(0.05, 2.0), st.floats(0.0005, 0.05), st.floats(70, 900), st.floats(0, 0.3))
@settings(max_examples=40, deadline=None)
def test_the_interval_holds_the_time_of_the_exponential(tau: float, step: float, u0: float, start: float) -> None:
    """Source: closed form, t = τ ln(U0/60 V)."""
    exact = tau * math.log(u0 / 60.0)
    result = evaluate(ID, GOOD, columns=log(tau, step, exact + 2.0 + start, start, u0), options={"start": start})
    assert isinstance(result, Result)
    time = result.outputs[0]
    assert time.U is not None and abs(time.value - exact) <= time.U + step
    if exact > step:  # else the moment of parting cuts the step short
        assert time.u is not None and time.u >= step / 2 / math.sqrt(3) * 0.99


def test_figures_are_json_and_hold_nothing_else() -> None:
    found = method(ID)
    assert found is not None
    figures = found.reduce(log(), {"start": 0.0})
    assert json.loads(json.dumps(figures, allow_nan=False)) == figures
    curve: Any = figures["curve"]
    assert len(curve["time"]) <= 400


def test_a_return_above_60_volt_counts() -> None:
    t = np.array([-0.1, 0.0, 0.1, 0.2, 0.3, 0.4, 2.0])
    v = np.array([400.0, 400.0, 50.0, 100.0, 80.0, 40.0, 30.0])
    result = evaluate(ID, GOOD, columns={"time": t, "voltage": v})
    assert isinstance(result, Result) and result.outputs[0].value == pytest.approx(0.35)
    assert result.outputs[0].u is not None and result.outputs[0].u >= 0.05 / math.sqrt(3)


def test_negative_voltages_count_by_their_size() -> None:
    made = log()
    turned = evaluate(ID, GOOD, columns={"time": made["time"], "voltage": -made["voltage"]})
    plain = evaluate(ID, GOOD, columns=made)
    assert isinstance(turned, Result) and isinstance(plain, Result)
    assert turned.outputs[0].value == plain.outputs[0].value


def test_a_log_that_ends_too_soon_gives_a_lower_bound() -> None:
    result = evaluate(ID, GOOD, columns=log(end=0.5))
    assert isinstance(result, Result)
    assert result.outputs[0].bound == ">" and result.outputs[0].value == pytest.approx(0.495)
    assert codes(result) == {"decay.never-safe": False, "decay.log-short": False}
    assert len(result.outputs) == 1


def test_a_dead_bus_shows_nothing() -> None:
    result = evaluate(ID, GOOD, columns=log(u0=48.0))
    assert codes(result)["decay.not-energised"] is True


def test_a_voltage_that_was_safe_before_parting_is_said() -> None:
    result = evaluate(ID, GOOD, columns=log(tau=0.05), options={"start": 1.0})
    assert codes(result) == {"decay.safe-before": False}


def test_a_plateau_just_below_60_is_not_shown_by_a_poor_logger() -> None:
    t = np.arange(-0.1, 3.0, 0.01)
    v = np.where(t < 0.1, 400.0, 59.8)
    good = evaluate(ID, {"logger_check": "60 V ± 0.1 V (k=2)"}, columns={"time": t, "voltage": v})
    poor = evaluate(ID, {"logger_check": "60 V ± 0.6 V (k=2)"}, columns={"time": t, "voltage": v})
    assert isinstance(good, Result) and isinstance(poor, Result)
    assert good.outputs[0].bound == "" and good.outputs[0].value < 0.11
    assert poor.outputs[0].bound == ">" and "decay.logger" in codes(poor)


def test_the_highest_voltage_after_a_second_counts_to_the_end() -> None:
    t = np.array([-0.1, 0.0, 0.5, 1.0, 1.5, 2.0, 3.0])
    v = np.array([400.0, 400.0, 50.0, 20.0, 75.0, 10.0, 5.0])
    result = evaluate(ID, GOOD, columns={"time": t, "voltage": v})
    assert isinstance(result, Result) and result.outputs[1].value == 75.0


def test_unknown_logger() -> None:
    result = evaluate(ID, {"logger_check": None})
    assert isinstance(result, Result) and result.outputs[0].U is None and "uncertainty.not-stated" in codes(result)


@pytest.mark.parametrize(
    ("columns", "options", "code"),
    [
        ({"time": [0.0, 1.0, 1.0], "voltage": [400.0, 100.0, 3.0]}, {}, "log.time"),
        ({"time": [0.0, 2.0, 1.0], "voltage": [400.0, 100.0, 3.0]}, {}, "log.time"),
        ({"time": [0.0, 1.0, 2.0], "voltage": [400.0, math.nan, 3.0]}, {}, "log.not-finite"),
        ({"time": [0.0, 1.0, math.inf], "voltage": [400.0, 100.0, 3.0]}, {}, "log.not-finite"),
        ({"time": [0.0, 1.0, 2.0], "voltage": [400.0, 3.0]}, {}, "log.length"),
        ({"time": [0.0], "voltage": [400.0]}, {}, "log.short"),
        ({"time": [0.0, 1.0]}, {}, "log.channel"),
        ({"time": [0.0, 1.0], "voltage": [400.0, 3.0]}, {"start": 5.0}, "log.start"),
        ({"time": [0.0, 1.0], "voltage": [400.0, 3.0]}, {"start": -1.0}, "log.start"),
    ],
)
def test_a_faulty_log_is_refused(columns: dict[str, list[float]], options: dict[str, float], code: str) -> None:
    refused = evaluate(ID, GOOD, columns={n: np.array(c) for n, c in columns.items()}, options={"start": 0.0} | options)
    assert isinstance(refused, Refused) and code in {p.code for p in refused.faults}


def test_no_log_is_refused() -> None:
    found = method(ID)
    assert found is not None
    refused = found.evaluate({}, {})
    assert isinstance(refused, Refused) and refused.faults[0].code == "log.missing"


@given(st.lists(st.floats(0, 500), min_size=3, max_size=60))
@settings(max_examples=80, deadline=None)
def test_the_last_crossing_is_found_in_any_log(samples: list[float]) -> None:
    """Source: looking at every sample from the end."""
    volts = np.array([400.0, *samples, 10.0])
    t = np.arange(len(volts), dtype=float)
    result = evaluate(ID, GOOD, columns={"time": t, "voltage": volts}, options={"start": 0.0})
    assert isinstance(result, Result)
    last = max(i for i, v in enumerate(volts) if v > 60)
    if not result.outputs[0].bound:
        assert last <= result.outputs[0].value <= last + 1
    else:
        assert result.outputs[0].value <= last + 1
