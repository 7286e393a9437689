"""Ethylene glycol and water: polynomials of density, heat capacity, conductivity, viscosity, and of the freezing point.

Source: Melinder 2010, Properties of secondary working fluids for indirect systems, as CoolProp 8.0.0 carries it
(INCOMP::MEG, MIT licence). Numbers of that library are in the published cases.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

__all__ = ["GLYCOL_DENSITY", "PROPERTIES", "WATER_DENSITY", "freezing_point", "properties"]

GLYCOL_DENSITY, WATER_DENSITY = 1113.2, 998.2
"""Densities in kg/m³ at 20 °C by which a concentration by volume becomes one by mass (glycol from memory)."""

PROPERTIES = (
    ("density", r"\rho", "density", "kg/m³"),
    ("heat-capacity", "c_p", "heat capacity", "J/kg/K"),
    ("conductivity", r"\lambda", "heat conductivity", "W/m/K"),
    ("viscosity", r"\mu", "dynamic viscosity", "mPa·s"),
)
"""Name, symbol, title and unit of what `properties` gives."""

_T_BASE, _X_BASE = 304.878, 0.308462

_DENSITY = (
    (1.034e3, 1.311e2, 7.49e-1, -1.062e2, -9.623e1, 4.891e2),
    (-4.781e-1, -6.876e-1, 7.855e-1, 1.229, -7.211),
    (-2.692e-3, 4.805e-3, -3.995e-3, -1.153e-2),
    (4.725e-6, 1.69e-6, 4.982e-5),
)
_HEAT_CAPACITY = (
    (3737.0, -1799.0, -993.3, 2610.0, 1537.0, -16180.0),
    (2.93, 10.46, 3.516, -1.189, -42.72),
    (-4.675e-3, -4.147e-2, 5.109e-2, -1.643e-1),
    (-1.389e-5, 1.847e-5, -7.138e-4),
)
_CONDUCTIVITY = (
    (4.72e-1, -4.286e-1, 1.747e-1, 3.017e-2, -1.322e-1, 2.678e-1),
    (8.903e-4, -1.473e-3, 6.814e-4, -2.412e-3, 2.555e-3),
    (-1.058e-6, 1.059e-5, -3.612e-5, 4.004e-5),
    (-2.789e-9, -1.142e-8, 2.365e-8),
)
_LOG_VISCOSITY = (
    (4.705e-1, 2.471, 3.328e-2, 1.659, 3.089, -18.65),
    (-2.55e-2, -1.171e-2, 1.086e-2, 3.157e-3, 1.831e-2),
    (1.782e-4, 1.052e-4, 1.051e-4, 4.063e-4),
    (-7.669e-7, -1.634e-6, -6.475e-6),
)
"""Of the natural logarithm of the viscosity in mPa·s."""
_FREEZING = ((257.9, -80.8, -133.4, -72.93, 100.6, 11.4),)


def _polynomial(rows: Sequence[Sequence[float]], fraction: float, kelvin: float) -> float:
    t, x = kelvin - _T_BASE, fraction - _X_BASE
    return math.fsum(c * t**i * x**j for i, row in enumerate(rows) for j, c in enumerate(row))


def properties(fraction: float, kelvin: float) -> dict[str, float]:
    """Density in kg/m³, heat capacity in J/(kg·K), conductivity in W/(m·K) and viscosity in Pa·s, by name.

    `fraction` is the mass fraction of ethylene glycol, 0 to 0.6; `kelvin` lies above the freezing point and up to
    373.15 K. Source: Melinder 2010, as in CoolProp 8.0.0.
    """
    return {
        "density": _polynomial(_DENSITY, fraction, kelvin),
        "heat-capacity": _polynomial(_HEAT_CAPACITY, fraction, kelvin),
        "conductivity": _polynomial(_CONDUCTIVITY, fraction, kelvin),
        "viscosity": math.exp(_polynomial(_LOG_VISCOSITY, fraction, kelvin)) / 1000,
    }


def freezing_point(fraction: float) -> float:
    """Freezing point in K of a mass `fraction` of ethylene glycol, 0 to 0.6.
    Source: Melinder 2010, as in CoolProp 8."""
    return _polynomial(_FREEZING, fraction, _T_BASE)
