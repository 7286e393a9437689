"""Tables, filters and fits as calls. README.md lists arguments and outputs."""

from __future__ import annotations

import cmath
import math
from typing import Any

from tests.published import arithmetic
from tests.published.calling import Call, Given, Outputs
from tests.published.uncertainty_calls import array_functions
from tests.published.values import plain, si
from witnessmark.methods import conductor_data, insulation_tables, shock_data, touch_data
from witnessmark.methods.access_probe import PROBES
from witnessmark.methods.fitting import fit_curve
from witnessmark.methods.plate_pressure_drop import laminar_product


def _fit(given: Given) -> Outputs:
    import numpy as np

    start = [float(v) for v in given["start"]]
    formula, functions = str(given["model"]), array_functions()

    def model(p: Any, x: Any) -> Any:
        names = {"x": x, **{f"b{n}": value for n, value in enumerate(p, start=1)}}
        return np.asarray(arithmetic.compute(formula, names, functions), dtype=np.float64)

    found = fit_curve(model, np.array([float(v) for v in given["x"]]), np.array([float(v) for v in given["y"]]), start)
    if found is None:
        raise ValueError("no fit")
    return {
        "parameters": list(found.parameters),
        "deviations": [math.sqrt(found.covariance[n][n]) for n in range(len(start))],
        "residual_sum": found.residual_sum,
        "residual_deviation": found.residual_deviation,
        "dof": found.dof,
    }


def _filter(given: Given) -> Outputs:
    cfc, rate = round(plain(given["cfc"])), si(given["rate"])
    a0, a1, a2, b1, b2 = shock_data.coefficients(cfc, rate)
    outputs: Outputs = {
        "coefficients": [a0, a1, a2, b1, b2],
        "limit": shock_data.CFC_LIMITS.get(cfc),
        "smallest_rate": 10.0 * cfc,
    }
    if "frequency" in given:
        z = cmath.exp(-2j * math.pi * si(given["frequency"]) / rate)
        outputs["gain"] = abs((a0 + a1 * z + a2 * z * z) / (1 - b1 * z - b2 * z * z)) ** 2
    return outputs


def _corridor(given: Given) -> Outputs:
    corridor = shock_data.CORRIDORS[(str(given["class"]), str(given["direction"]))]
    found: Outputs = {}
    for name, points in (("lower", corridor.lower), ("upper", corridor.upper)):
        value = shock_data.curve(points, si(given["time"]) * 1000)
        found[name] = None if value is None else value * shock_data.STANDARD_GRAVITY
    return found


def _probe(given: Given) -> Outputs:
    force, _, diameter, length = PROBES[str(given["probe"])]
    return {"force": force, "diameter": float(diameter) / 1000, "length": float(length) / 1000}


def _groove(given: Given) -> Outputs:
    clearance = si(given["clearance"]) * 1000 if "clearance" in given else None
    return {"width": insulation_tables.groove_width(str(given["degree"]), clearance) / 1000}


CALLS: dict[str, Call] = {
    "fit_curve": Call(_fit, ("model", "x", "y", "start")),
    "channel_filter": Call(_filter, ("cfc", "rate"), ("frequency",), lists=True),
    "shock_corridor": Call(_corridor, ("class", "direction", "time"), lists=True),
    "awg_area": Call(
        lambda g: {"area": conductor_data.awg_area_mm2(round(plain(g["gauge"]))) / 1e6}, ("gauge",), lists=True
    ),
    "adiabatic_k": Call(
        lambda g: {"k": conductor_data.adiabatic_k(str(g["material"]), si(g["start"]) - 273.15, si(g["end"]) - 273.15)},
        ("material", "start", "end"),
        lists=True,
    ),
    "material_group": Call(
        lambda g: {"group": insulation_tables.material_group(plain(g["cti"]))}, ("cti",), lists=True
    ),
    "groove_width": Call(_groove, ("degree",), ("clearance",), lists=True),
    "body_impedance": Call(
        lambda g: {"impedance": touch_data.BODY_IMPEDANCE[round(si(g["voltage"]))]}, ("voltage",), lists=True
    ),
    "touch_voltage_limit": Call(
        lambda g: {"limit": touch_data.TOUCH_VOLTAGE_LIMITS[str(g["group"])]}, ("group",), lists=True
    ),
    "network_impedance": Call(
        lambda g: {"impedance": touch_data.network_impedance(si(g["frequency"]))}, ("frequency",), lists=True
    ),
    "access_probe": Call(_probe, ("probe",)),
    "laminar_product": Call(lambda g: {"product": laminar_product(plain(g["aspect"]))}, ("aspect",), lists=True),
}
