"""One example for each of the wider methods, as a person would write it. Invented numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from witnessmark.methods.base import Refused, Result
from witnessmark.methods.registry import method
from witnessmark.methods.written import facts_as_written, readings_as_written

__all__ = ["EXAMPLES", "evaluate"]

_FIVE = {
    "ub": "402.9 V ± 0.6 V (k=2)",
    "u1": "203.4 V ± 0.6 V (k=2)",
    "u2": "199.5 V ± 0.6 V (k=2)",
    "ro": "200.0 kΩ ± 0.4 kΩ (k=2)",
    "ro_at": "negative",
    "u1_loaded": "96.1 V ± 0.6 V (k=2)",
    "u2_loaded": "306.8 V ± 0.6 V (k=2)",
}
_WORKING = {"working_voltage": "403.2 V"}
_CURVE = {
    "curve_current": ["100 A", "200 A", "300 A", "400 A", "1000 A", "1500 A"],
    "curve_time": ["4000 s", "100 s", "10 s", "2 s", "0.04 s", "0.01 s"],
}
_GAS = {
    "inside_pressure": "130 kPa",
    "outside_pressure": "101.3 kPa",
    "temperature": "300 °C",
    "isentropic_exponent": "1.25",
    "relative_molar_mass": "31",
    "discharge_coefficient": "0.62",
}
_T = np.arange(0.0, 4.0, 0.02)
_FAST = np.arange(0.0, 0.2, 5e-5)
_EVENT = np.arange(0.0, 2.0, 0.01)
_SEQUENCE = np.arange(0.0, 1.0, 0.005)
_PULSE = np.arange(-0.02, 0.2, 1e-4)

EXAMPLES: dict[str, dict[str, Any]] = {
    "voltmeter-pair-own-source/1": {"readings": _FIVE | {"meter_resistance": "10 MΩ"}, "facts": _WORKING},
    "voltmeter-component/1": {"readings": _FIVE, "facts": {"nominal_voltage": "355 V"}},
    "isolation-parallel/1": {
        "readings": {"resistance": [f"{r} MΩ ± 0.1 MΩ (k=2)" for r in ("5.1", "2.2", "9.4")]},
        "facts": _WORKING,
    },
    "isolation-resistor-choice/1": {"readings": {"required_per_volt": "500 Ω/V"}, "facts": _WORKING},
    "isolation-settling/1": {
        "readings": {"r_positive": "2 MΩ", "r_negative": "3 MΩ", "y_capacitance": "0.33 µF", "part_left": "0.1 %"}
    },
    "isolation-monitor-check/1": {
        "readings": {
            "ri": "8.2 MΩ ± 0.4 MΩ (k=2)",
            "warning_before": "not shown",
            "duty": "100-ohm-per-volt",
            "ro": "39.4 kΩ ± 0.1 kΩ (k=2)",
            "warning": "shown",
        },
        "facts": _WORKING,
    },
    "isolation-monitor-threshold/1": {
        "readings": {
            "ri": "8.2 MΩ ± 0.4 MΩ (k=2)",
            "ro_silent": "52 kΩ ± 0.1 kΩ (k=2)",
            "ro_warned": "50 kΩ ± 0.1 kΩ (k=2)",
        },
        "facts": _WORKING,
    },
    "isolation-sequence/1": {
        "readings": {
            "before": "110 MΩ ± 5 MΩ (k=2)",
            "wet": "5.1 MΩ ± 0.3 MΩ (k=2)",
            "after": "92 MΩ ± 5 MΩ (k=2)",
        },
        "facts": _WORKING,
    },
    "bonding-lead-subtraction/1": {
        "readings": {
            "current": "1.0 A ± 0.01 A (k=2)",
            "leads": "35.0 mΩ ± 0.5 mΩ (k=2)",
            "total": "47.3 mΩ ± 0.5 mΩ (k=2)",
        }
    },
    "bonding-part-to-part/1": {
        "readings": {"distance": "1.2 m", "first": "3.5 mΩ ± 0.5 mΩ (k=2)", "second": "4.3 mΩ ± 0.5 mΩ (k=2)"}
    },
    "bonding-strap/1": {
        "readings": {
            "per_length": "0.780 Ω/km",
            "length": "0.30 m ± 0.01 m (k=2)",
            "temperature": "45 °C",
            "joint": ["0.1 mΩ", "0.1 mΩ"],
            "current": "200 A",
        }
    },
    "discharge-two-readings/1": {
        "readings": {
            "t_first": "1.0 s ± 0.2 s (k=2)",
            "u_first": "310 V ± 1 V (k=2)",
            "t_second": "5.0 s ± 0.2 s (k=2)",
            "u_second": "55 V ± 1 V (k=2)",
            "safe_voltage": "60 V",
        }
    },
    "discharge-fit/1": {
        "readings": {"logger_check": "60 V ± 0.6 V (k=2)"},
        "columns": {"time": _T, "voltage": 400 * np.exp(-_T / 0.9) + 0.2 * np.sin(997 * _T)},
    },
    "discharge-resistor/1": {
        "readings": {
            "resistance": "68 kΩ ± 3.4 kΩ (k=2)",
            "capacitance": "550 µF ± 55 µF (k=2)",
            "start_voltage": "403.2 V",
            "safe_voltage": "60 V",
            "elapsed": "300 s",
        }
    },
    "discharge-resistor/2": {
        "readings": {
            "resistance": "68 kΩ ± 3.4 kΩ (k=2)",
            "capacitance": "550 µF ± 55 µF (k=2)",
            "start_voltage": "403.2 V",
            "safe_voltage": "60 V",
            "elapsed": "300 s",
        }
    },
    "discharge-constant-current/1": {
        "readings": {
            "current": "0.5 A ± 0.05 A (k=2)",
            "capacitance": "550 µF",
            "start_voltage": "403.2 V",
            "safe_voltage": "60 V",
        }
    },
    "discharge-energy/1": {
        "readings": {"voltage_check": "200 V ± 1 V (k=2)", "current_check": "2 A ± 0.02 A (k=2)"},
        "columns": {
            "time": _FAST,
            "voltage": 400 * np.exp(-_FAST / 0.05),
            "current": 4 * np.exp(-_FAST / 0.05),
        },
    },
    "capacitor-energy/1": {
        "readings": {
            "form": "newer",
            "cx": "2 µF",
            "ub": "400 V ± 1 V (k=2)",
            "cy1": "0.33 µF",
            "u1": "210 V ± 1 V (k=2)",
            "cy2": "0.33 µF",
            "u2": "190 V ± 1 V (k=2)",
            "energy_limit": "0.2 J",
        }
    },
    "reaction-time/1": {
        "readings": {},
        "columns": {
            "time": _EVENT,
            "event": (_EVENT > 0.503).astype(float),
            "response": np.where(_EVENT > 0.743, 0.0, 400.0),
        },
        "options": {"event_level": 0.5, "response_level": 60.0, "response_falls": 1.0, "time_limit": 1.0},
    },
    "conductor-resistance/1": {
        "readings": {"class": "class 5", "section": "50 mm²", "length": "6 m ± 0.1 m (k=2)", "temperature": "90 °C"}
    },
    "conductor-class/1": {
        "readings": {
            "class": "class 5",
            "section": "50 mm²",
            "length": "6.00 m ± 0.01 m (k=2)",
            "temperature": "23 °C ± 0.5 K (k=2)",
            "resistance": "2.30 mΩ ± 0.01 mΩ (k=2)",
        }
    },
    "voltage-drop/1": {
        "readings": {
            "current": "200 A ± 4 A (k=2)",
            "per_length": "0.386 Ω/km",
            "length": "6 m",
            "ways": "out-and-back",
            "voltage": "355 V",
        }
    },
    "short-time-rating/1": {
        "readings": {
            "material": "copper",
            "insulation": "xlpe",
            "section": "35 mm²",
            "time": "0.1 s",
            "let_through": "350000 A²·s",
        }
    },
    "prospective-current/1": {
        "readings": {
            "series": "96",
            "parallel": "2",
            "cell_voltage": "4.2 V",
            "cell_resistance": "1.5 mΩ ± 0.1 mΩ (k=2)",
            "wiring_resistance": "8 mΩ",
            "inductance": "20 µH",
        }
    },
    "fuse-melting-time/1": {"readings": _CURVE | {"curve_tolerance": "10 %", "current": "250 A"}},
    "fuse-let-through/1": {
        "readings": {
            "let_through": "350000 A²·s",
            "cable_section": "35 mm²",
            "cable_k": "143",
            "contactor_withstand": "1000000 A²·s",
        }
    },
    "fuse-pulse/1": {
        "readings": {
            "shape": "trapezoid",
            "peak": "100 A",
            "base": "50 A",
            "duration": "10 ms",
            "pulses": "5000",
            "melting": "500 A²·s",
        }
    },
    "fuse-rerating/1": {
        "readings": {
            "rated_current": "200 A",
            "limit_temperature": "130 °C",
            "ambient": "60 °C ± 3 K (k=2)",
            "load_current": "120 A",
        }
    },
    "fuse-time-gate/1": {"readings": {"gate": "ul-248-14 135 %", "opening_time": "900 s ± 1 s (k=2)"}},
    "fuse-coordination/1": {
        "readings": _CURVE
        | {
            "curve_tolerance": "10 %",
            "contactor_break": "800 A",
            "prospective": "5040 A",
            "clear_within": "0.02 s",
            "cable_section": "35 mm²",
            "cable_k": "143",
        }
    },
    "creepage/1": {
        "readings": {
            "voltage": "450 V",
            "pollution_degree": "2",
            "material_group": "IIIa",
            "construction": "general",
            "insulation": "basic",
            "between_rows": "interpolate",
            "clearance": "1.935 mm",
            "distance": "5.2 mm ± 0.1 mm (k=2)",
        }
    },
    "clearance/1": {
        "readings": {
            "impulse": "2500 V",
            "pollution_degree": "2",
            "field": "inhomogeneous",
            "insulation": "basic",
            "altitude": "3500 m",
            "between_rows": "interpolate",
            "distance": "3.1 mm ± 0.1 mm (k=2)",
        }
    },
    "impulse-voltage/1": {"readings": {"voltage": "230 V", "category": "II"}},
    "vent-gas/1": {
        "readings": {
            "cells": "4",
            "capacity": "60 Ah",
            "gas_per_capacity": "2.4 L/Ah ± 0.4 L/Ah (k=2)",
            "relative_molar_mass": "31",
            "duration": "20 s",
        }
    },
    "vent-area/1": {"readings": _GAS | {"mass_rate": "36 g/s ± 6 g/s (k=2)"}},
    "vent-flow/1": {"readings": _GAS | {"area": "500 mm² ± 20 mm² (k=2)"}},
    "enclosure-pressure/1": {
        "readings": {
            "gas_volume": "144 L ± 20 L (k=2)",
            "free_volume": "60 L",
            "temperature": "200 °C",
            "start_pressure": "101.3 kPa",
            "start_temperature": "25 °C",
        }
    },
    "fluoride-release/1": {"readings": {"energy": "40 kWh"}},
    "glycol-properties/1": {"readings": {"concentration": "50 %", "basis": "volume", "temperature": "40 °C"}},
    "coolant-duty/1": {
        "readings": {
            "solve": "heat",
            "density": "1053 kg/m³",
            "heat_capacity": "3413 J/kg/K",
            "flow": "8.2 L/min ± 0.2 L/min (k=2)",
            "rise": "4.8 K ± 0.3 K (k=2)",
        }
    },
    "warm-up/1": {
        "readings": {"power": "15 W ± 1 W (k=2)", "time": "600 s", "mass": "0.9 kg", "heat_capacity": "1000 J/kg/K"}
    },
    "plate-pressure-drop/1": {
        "readings": {
            "flow": "10 L/min ± 0.3 L/min (k=2)",
            "channels": "4",
            "width": "20 mm",
            "height": "3 mm",
            "length": "1.2 m",
            "density": "1053 kg/m³",
            "viscosity": "2.1 mPa·s",
            "single_losses": "6",
        }
    },
    "pack-data/1": {
        "readings": {
            "series": "96",
            "parallel": "2",
            "cell_highest": "4.2 V",
            "cell_nominal": "3.7 V",
            "cell_lowest": "2.8 V",
            "cell_capacity": "60 Ah",
            "cell_resistance": "1.5 mΩ",
        }
    },
    "pack-heat/1": {
        "readings": {
            "series": "96",
            "parallel": "2",
            "cell_resistance": "1.567 mΩ ± 0.05 mΩ (k=2)",
            "current": "100 A",
        }
    },
    "cell-readings/1": {
        "readings": {
            "series": "4",
            "voltage": [f"{v} V ± 2 mV (k=2)" for v in ("3.701", "3.699", "3.710", "3.705")],
        }
    },
    "cell-window-settings/1": {
        "readings": {
            "set_high": "4.15 V",
            "set_low": "3.0 V",
            "sheet_high": "4.2 V",
            "sheet_low": "2.8 V",
            "error": "10 mV",
        }
    },
    "precharge/1": {
        "readings": {
            "voltage": "403.2 V",
            "resistance": "50 Ω ± 2.5 Ω (k=2)",
            "capacitance": "550 µF",
            "close_at": "95 %",
            "time_out": "1 s",
        }
    },
    "contactor-sequence/1": {
        "readings": {"voltage_check": "400 V ± 2 V (k=2)"},
        "columns": {
            "time": _SEQUENCE,
            "first": (_SEQUENCE > 0.1).astype(float),
            "precharge": (_SEQUENCE > 0.2).astype(float),
            "second": (_SEQUENCE > 0.32).astype(float),
            "bus_voltage": np.where(_SEQUENCE > 0.2, 400 * (1 - np.exp(-(_SEQUENCE - 0.2) / 0.03)), 0.0),
            "pack_voltage": np.full_like(_SEQUENCE, 400.0),
        },
    },
    "usable-capacity/1": {
        "readings": {
            "group_capacity": [f"{c} Ah ± 0.3 Ah (k=2)" for c in ("60.1", "59.4", "60.3", "58.7", "60.0")],
            "charge_drawn": "30 Ah",
        }
    },
    "log-coverage/1": {
        "readings": {},
        "columns": {
            "time": np.arange(0.0, 600.0, 1.0),
            "current": np.concatenate([np.full(50, 0.2), np.full(300, -80.0), np.full(50, 0.1), np.full(200, 30.0)]),
            "speed": np.concatenate([np.full(60, 0.0), np.full(280, 40.0), np.full(260, 0.0)]),
        },
    },
    "log-resistance/1": {
        "readings": {
            "voltage_check": "400 V ± 0.2 V (k=2)",
            "current_check": "50 A ± 0.4 A (k=2)",
            "series": "96",
            "parallel": "2",
        },
        "columns": {
            "time": np.arange(0.0, 10.0, 0.5),
            "current": np.array([0, 0, -100, -100, 0, 0, -150, -150, 0, 0, 80, 80, 0, 0, -50, -50, 0, 0, 0, 0.0]),
            "voltage": 395.0
            + 0.05 * np.array([0, 0, -100, -100, 0, 0, -150, -150, 0, 0, 80, 80, 0, 0, -50, -50, 0, 0, 0, 0.0])
            + 0.01 * np.sin(np.arange(20.0)),
        },
    },
    "cell-spread/1": {
        "readings": {"cell_voltage_check": "4 V ± 0.004 V (k=2)"},
        "facts": {"cell_voltage_max": "4.20 V", "cell_voltage_min": "2.80 V"},
        "columns": {
            "time": np.arange(0.0, 100.0, 1.0),
            "cell_voltage:c1": 4.10 - 0.012 * np.arange(100.0),
            "cell_voltage:c2": 4.105 - 0.0125 * np.arange(100.0),
            "cell_voltage:c3": 4.203 - 0.0121 * np.arange(100.0),
        },
        "options": {"set_high": 4.15, "set_low": 3.0},
    },
    "log-capacity/1": {
        "readings": {"current_check": "50 A ± 0.1 A (k=2)", "capacity": "60 Ah", "soc_start": "80 %"},
        "columns": {
            "time": np.array([0.0, 10, 20, 50, 51, 100]),
            "current": np.array([0.0, -100, -100, -40, 20, 20]),
            "voltage": np.array([3.7, 3.6, 3.6, 3.65, 3.72, 3.71]),
        },
    },
    "pulse-resistance/1": {
        "readings": {
            "u_before": "4.086 V ± 2 mV (k=2)",
            "u_pulse": "4.039 V ± 2 mV (k=2)",
            "current": "30 A ± 0.1 A (k=2)",
            "time": "0.5 s",
            "series": "96",
            "parallel": "2",
        }
    },
    "restraint-load/1": {
        "readings": {
            "direction": "forward",
            "mass": "280 kg ± 5 kg (k=2)",
            "acceleration": "20 gₙ",
            "fastenings": "12",
            "capacity": "12 kN",
        }
    },
    "axle-masses/1": {
        "readings": {
            "front_before": "820 kg ± 10 kg (k=2)",
            "rear_before": "610 kg ± 10 kg (k=2)",
            "front_after": "790 kg ± 10 kg (k=2)",
            "rear_after": "760 kg ± 10 kg (k=2)",
            "permitted_front": "950 kg",
            "permitted_rear": "900 kg",
            "permitted_total": "1800 kg",
        }
    },
    "shock-corridor/1": {
        "readings": {
            "class": "M1/N1",
            "direction": "longitudinal",
            "accelerometer_check": "20 gₙ ± 0.2 gₙ (k=2)",
        },
        "columns": {
            "time": _PULSE,
            "acceleration": 9.80665 * np.interp(_PULSE, [0, 0.01, 0.045, 0.07, 0.11], [0, 8, 24, 24, 0]),
        },
        "options": {"cfc": 60.0},
    },
    "half-sine-pulse/1": {"readings": {"peak": "50 gₙ", "duration": "11 ms"}},
    "transport-shock/1": {"readings": {"kind": "large", "mass": "24 kg"}},
    "vibration-profile/1": {"readings": {"frequency": "12 Hz", "acceleration": "10.4 m/s² ± 0.3 m/s² (k=2)"}},
    "touch-current/1": {
        "readings": {"voltage": "400 V", "isolation": "220 kΩ ± 5 kΩ (k=2)", "body": "0 Ω"},
    },
    "access-probe/1": {
        "readings": {"probe": "IPXXB", "force": "10.1 N ± 0.2 N (k=2)", "contact": "no contact"},
    },
    "hydrogen-mass/1": {
        "readings": {
            "volume": "2.00 m³ ± 0.01 m³ (k=2)",
            "concentration_start": "1 ± 0.5 (k=2)",
            "pressure_start": "101.3 kPa ± 0.1 kPa (k=2)",
            "temperature_start": "20 °C ± 0.5 K (k=2)",
            "concentration_end": "900 ± 20 (k=2)",
            "pressure_end": "101.4 kPa ± 0.1 kPa (k=2)",
            "temperature_end": "21 °C ± 0.5 K (k=2)",
        }
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
