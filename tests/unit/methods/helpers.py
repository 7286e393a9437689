"""Readings as a person writes them, put through a method. Invented numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from witnessmark.methods.base import Refused, Result
from witnessmark.methods.registry import method
from witnessmark.methods.written import facts_as_written, readings_as_written

_T = np.arange(-0.2, 3.0, 0.005)
_CELL_T = np.arange(0.0, 600.0, 1.0)

EXAMPLES: dict[str, dict[str, Any]] = {
    "voltmeter-own-source/1": {
        "readings": {
            "ub": "402.9 V ± 0.6 V (k=2)",
            "u1": "203.4 V ± 0.6 V (k=2)",
            "u2": "199.8 V ± 0.6 V (k=2)",
            "ro": "200.0 kΩ ± 0.4 kΩ (k=2)",
            "ro_at": "negative",
            "u1_loaded": "96.1 V ± 0.6 V (k=2)",
            "u2_loaded": "306.8 V ± 0.6 V (k=2)",
        },
        "facts": {"working_voltage": "403.2 V"},
    },
    "insulation-tester/1": {
        "readings": {"resistance": "22.4 MΩ ± 1.2 MΩ (k=2)", "test_voltage": "500 V"},
        "facts": {"working_voltage": "403.2 V"},
    },
    "bonding-four-wire/1": {
        "readings": {
            "u_forward": ["1.234 mV ± 0.004 mV (k=2)", "1.236 mV ± 0.004 mV (k=2)", "1.231 mV ± 0.004 mV (k=2)"],
            "u_reverse": ["-1.206 mV ± 0.004 mV (k=2)", "-1.207 mV ± 0.004 mV (k=2)", "-1.209 mV ± 0.004 mV (k=2)"],
            "i_forward": ["1.000 A ± 0.002 A (k=2)"] * 3,
            "i_reverse": ["-1.000 A ± 0.002 A (k=2)"] * 3,
        },
    },
    "voltage-decay/1": {
        "readings": {"logger_check": "60 V ± 0.6 V (k=2)"},
        "columns": {"time": _T, "voltage": 400.0 * np.exp(-np.maximum(_T, 0.0) / 0.4)},
        "options": {"start": 0.0},
    },
    "cell-window/1": {
        "readings": {"cell_voltage_check": "4 V ± 5 mV (k=2)", "cell_temperature_check": "40 °C ± 1 K (k=2)"},
        "columns": {
            "time": _CELL_T,
            **{f"cell_voltage:cell_{i:02d}": 3.7 + 0.3 * np.sin(_CELL_T / 100 + i) for i in range(1, 9)},
            **{f"cell_temperature:probe_{i}": 25 + _CELL_T / 100 + i for i in range(1, 3)},
        },
    },
}


def evaluate(
    id: str,
    readings: Mapping[str, str | Sequence[str] | None] | None = None,
    facts: Mapping[str, str] | None = None,
    columns: Mapping[str, Any] | None = None,
    options: Mapping[str, float] | None = None,
) -> Result | Refused:
    """The example of a method with what is given here put over it; None takes a reading out."""
    found, example = method(id), EXAMPLES[id]
    assert found is not None
    texts = {n: v for n, v in (example["readings"] | dict(readings or {})).items() if v is not None}
    made, faults = readings_as_written(found, texts)
    stated, more = facts_as_written(found, example.get("facts", {}) | dict(facts or {}))
    assert not faults and not more, (faults, more)
    figures = None
    if "columns" in example:
        figures = found.reduce(
            example["columns"] if columns is None else columns, example.get("options", {}) | dict(options or {})
        )
    return found.evaluate(made, stated, figures)
