"""Sensors that never move and gaps are seen in every log, whatever the method.

What a stuck sensor shows is nothing: its result may be printed, and must not be believed (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from tests.first_order_against_monte_carlo import EXAMPLES
from tests.unit.methods.wider_examples import evaluate
from witnessmark.methods.base import Refused, Result
from witnessmark.methods.registry import METHODS, method
from witnessmark.methods.written import facts_as_written, readings_as_written

LOGS = [id for id in METHODS if (found := method(id)) is not None and found.channels]


def _of(id: str, change: Mapping[str, Any]) -> Result | Refused:
    found, example = method(id), EXAMPLES[id]
    assert found is not None
    made, faults = readings_as_written(found, {n: v for n, v in example.get("readings", {}).items() if v is not None})
    facts, more = facts_as_written(found, example.get("facts", {}))
    assert not faults and not more
    return found.evaluate(made, facts, found.reduce(example["columns"] | dict(change), example.get("options", {})))


@pytest.mark.parametrize("id", LOGS)
def test_a_sensor_that_never_moves_is_never_believed(id: str) -> None:
    """Every channel that is declared to move, frozen at its middle value; and every cell at once."""
    found, columns = method(id), EXAMPLES[id]["columns"]
    assert found is not None
    tried = 0
    for name, values in columns.items():
        spec = next(s for s in found.channels if s.name == name.partition(":")[0])
        if not (spec.moves or name.startswith("cell_voltage:")):
            continue
        tried += 1
        frozen = {name: np.full(len(values), float(np.asarray(values)[len(values) // 2]))}
        done = _of(id, frozen)
        if isinstance(done, Result):
            assert not done.believable, (id, name)
            assert any(alarm.code.endswith("stuck") for alarm in done.alarms), (id, name)
    assert tried or id == "reaction-time/1", f"{id} reads a log, and no channel of it is declared to move"


def test_a_flat_line_is_no_discharge() -> None:
    """0 V in every sample would be below 60 V at once."""
    done = _of("voltage-decay/1", {"voltage": np.zeros(len(EXAMPLES["voltage-decay/1"]["columns"]["time"]))})
    assert isinstance(done, Refused) or not done.believable


def test_a_gap_is_said_once_and_does_not_take_the_result_away() -> None:
    columns = EXAMPLES["discharge-fit/1"]["columns"]
    keep = (columns["time"] < 1.0) | (columns["time"] > 2.0)
    done = evaluate("discharge-fit/1", columns={name: values[keep] for name, values in columns.items()})
    assert isinstance(done, Result)
    (gap,) = [alarm for alarm in done.alarms if alarm.code.endswith("gaps")]
    assert not gap.fatal and "1 gaps, the longest 1.0" in gap.message
    whole = evaluate("discharge-fit/1")
    assert isinstance(whole, Result) and not [a for a in whole.alarms if a.code.endswith("gaps")]


def test_methods_that_tell_of_gaps_themselves_tell_once() -> None:
    time = np.r_[np.arange(0.0, 50.0, 1.0), np.arange(500.0, 550.0, 1.0)]
    current = np.where(time < 25, -50.0, 30.0)
    for id in ("log-coverage/1", "log-capacity/1"):
        done = _of(id, {"time": time, "current": current, "speed": current * 0, "voltage": 400 + 0.05 * current})
        assert isinstance(done, Result)
        assert len([a for a in done.alarms if a.code.endswith("gaps")]) == 1


def test_states_that_were_not_visited_are_named() -> None:
    done = evaluate("log-coverage/1", columns={"time": np.arange(0.0, 60.0), "current": np.linspace(-90.0, -10.0, 60)})
    assert isinstance(done, Result)
    (missed,) = [alarm for alarm in done.alarms if alarm.code == "log.states"]
    assert "the battery takes, at rest" in missed.message
    charge = done.output("logged-charge-time")
    assert charge is not None and charge.value == 0.0


def test_a_slow_log_of_resistance_says_so() -> None:
    time = np.array([0.0, 0.1, 0.2, 0.3, 5.0, 5.1, 5.2, 5.3])
    current = np.array([0.0, -100, -100, 0, -100, -100, 0, 0])
    done = evaluate("log-resistance/1", columns={"time": time, "current": current, "voltage": 400 + 0.05 * current})
    assert isinstance(done, Result)
    assert "log.sampled-too-slowly" in {a.code for a in done.alarms}
    quick = evaluate(
        "log-resistance/1",
        columns={"time": time, "current": current, "voltage": 400 + 0.05 * current},
        options={"longest_time": 0.5},
    )
    assert isinstance(quick, Result)
    assert "log.sampled-too-slowly" not in {a.code for a in quick.alarms}


def test_time_outside_counts_what_the_accuracy_leaves_open() -> None:
    """Cells at 4.199 V for 10 s: inside as read, outside if the log reads 2 mV too low."""
    time = np.arange(0.0, 30.0)
    high = np.where((time >= 10) & (time < 20), 4.199, 4.0) + 1e-6 * time
    done = evaluate(
        "cell-spread/1",
        {"cell_voltage_check": "4 V ± 0.002 V (k=2)"},
        columns={"time": time, "cell_voltage:a": high, "cell_voltage:b": 3.9 + 1e-6 * time},
    )
    assert isinstance(done, Result)
    outside = done.output("time-outside-window")
    assert outside is not None and outside.value == 0.0 and outside.U is not None
    assert outside.U >= 11.0, "the steps from 9 s to 20 s have an end that may be outside"
    unknown = evaluate("cell-spread/1", {"cell_voltage_check": None})
    assert isinstance(unknown, Result)
    assert all(output.U is None for output in unknown.outputs), "without the accuracy of the log nothing passes"


def test_time_outside_of_a_long_log_is_never_less_than_it_was() -> None:
    """Beyond 2000 samples only some points are kept: what is told is then the most that it can be (NumPy by hand)."""
    time = np.arange(0.0, 20000.0)
    cell = 3.5 + 0.9 * np.sin(time / 500.0)
    ends = np.maximum(cell[:-1], cell[1:])
    for limit in (4.0, 4.2, 4.39):
        done = evaluate(
            "cell-spread/1",
            {"cell_voltage_check": "4 V ± 0.000001 V (k=2)"},
            {"cell_voltage_max": f"{limit} V", "cell_voltage_min": "0.1 V"},
            {"time": time, "cell_voltage:a": cell, "cell_voltage:b": cell - 0.01},
        )
        assert isinstance(done, Result)
        outside = done.output("time-outside-window")
        assert outside is not None
        true = float(np.count_nonzero(ends > limit))
        assert true <= outside.value <= true + 20000 / 400 + 1
