"""Cells: extremes, which and when; channels that show nothing; gaps; the band."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from tests.unit.methods.helpers import EXAMPLES, evaluate
from witnessmark.methods.base import Refused, Result
from witnessmark.methods.registry import method

ID = "cell-window/1"


def columns(**changes: Any) -> dict[str, Any]:
    made = {n: np.array(c) for n, c in EXAMPLES[ID]["columns"].items()}
    return made | {n.replace("__", ":"): c for n, c in changes.items()}


def codes(result: Result | Refused) -> dict[str, bool]:
    assert isinstance(result, Result)
    return {a.code: a.fatal for a in result.alarms}


def test_extremes_against_numpy() -> None:
    """Source: numpy's maximum and minimum over all channels at once."""
    result = evaluate(ID)
    assert isinstance(result, Result)
    made = columns()
    volts = np.stack([c for n, c in made.items() if n.startswith("cell_voltage:")])
    warm = np.stack([c for n, c in made.items() if n.startswith("cell_temperature:")])
    assert result.output("cell-voltage-highest").value == volts.max()  # type: ignore[union-attr]  # it is there
    assert result.output("cell-voltage-lowest").value == volts.min()  # type: ignore[union-attr]  # it is there
    assert result.output("cell-temperature-highest").value == pytest.approx(warm.max() + 273.15)  # type: ignore[union-attr]  # it is there
    assert result.output("cell-temperature-lowest").where == "probe_1 at 0 s"  # type: ignore[union-attr]  # it is there
    assert codes(result) == {}


def test_the_band_loses_no_extreme() -> None:
    made = columns()
    made["cell_voltage:cell_03"][333] = 4.4
    made["cell_voltage:cell_05"][77] = 1.1
    result = evaluate(ID, columns=made)
    assert isinstance(result, Result)
    band = result.figures[0].arrays
    assert max(band["high"]) == 4.4 and min(band["low"]) == 1.1 and len(band["time"]) <= 400
    assert result.outputs[0].where == "cell_03 at 333 s" and result.outputs[1].where == "cell_05 at 77 s"


def test_figures_are_json() -> None:
    found = method(ID)
    assert found is not None
    made = columns()
    made["cell_voltage:cell_03"][3] = np.nan
    figures = found.reduce(made)
    assert json.loads(json.dumps(figures, allow_nan=False)) == figures


def test_a_row_that_is_no_number_is_fatal_and_named() -> None:
    made = columns()
    made["cell_voltage:cell_03"][5] = np.nan
    made["cell_voltage:cell_03"][9] = np.inf
    result = evaluate(ID, columns=made)
    assert codes(result)["cells.not-finite"] is True
    assert isinstance(result, Result) and "cell_03 in 2 rows, first in data row 6" in result.alarms[0].message
    assert np.isfinite(result.outputs[0].value)


def test_a_channel_that_never_moves() -> None:
    result = evaluate(ID, columns=columns(cell_voltage__cell_04=np.full(600, 3.6)))
    assert codes(result)["cells.stuck"] is True
    warm = evaluate(ID, columns=columns(cell_temperature__probe_2=np.full(600, 25.0)))
    assert codes(warm)["cells.stuck"] is False
    still = {n: (c if n == "time" else np.full(600, 3.6)) for n, c in columns().items() if "temperature" not in n}
    assert codes(evaluate(ID, columns=still))["cells.stuck"] is True


def test_gaps_are_said_and_half_a_log_is_no_log() -> None:
    made = columns()
    made["time"] = np.where(np.arange(600) >= 300, made["time"] + 100.0, made["time"])
    result = evaluate(ID, columns=made)
    assert codes(result) == {"cells.gaps": False}
    made["time"] = np.where(np.arange(600) >= 300, made["time"] + 1000.0, made["time"])
    assert codes(evaluate(ID, columns=made)) == {"cells.gaps": True}


def test_temperatures_may_be_absent_and_voltages_not() -> None:
    only = {n: c for n, c in columns().items() if "temperature" not in n}
    result = evaluate(ID, columns=only)
    assert isinstance(result, Result) and len(result.outputs) == 2
    refused = evaluate(ID, columns={n: c for n, c in columns().items() if "voltage" not in n})
    assert isinstance(refused, Refused) and refused.faults[0].code == "log.channel"


def test_lengths_have_to_agree() -> None:
    refused = evaluate(ID, columns=columns(cell_voltage__cell_04=np.full(599, 3.6)))
    assert isinstance(refused, Refused) and refused.faults[0].code == "log.length"


def test_unknown_accuracy() -> None:
    result = evaluate(ID, {"cell_voltage_check": None})
    assert isinstance(result, Result) and result.outputs[0].U is None and result.outputs[2].U is not None
    assert codes(result) == {"uncertainty.not-stated": False}
