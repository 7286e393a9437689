"""Tables of conductors: resistance per length by class, constants of metals, gauges, and who says so.

Each number carries its confidence: "seen" was read in a source, "from memory" was not, and methods say which they used.
"""

from __future__ import annotations

import math
from typing import TypeVar

from witnessmark.quantities.propagation import Uncertain

__all__ = [
    "ALPHA_COPPER",
    "CLASSES",
    "CLASS_SEEN",
    "MATERIALS",
    "SECTIONS",
    "TEMPERATURES",
    "adiabatic_k",
    "at_temperature",
    "awg_area_mm2",
    "next_section",
    "resistance_per_length",
]

T = TypeVar("T", float, Uncertain)

ALPHA_COPPER = 0.00393
"""Temperature coefficient of annealed copper at 20 °C in 1/K. Source: IEC 60028 (seen in a public IEC 60287 table)."""

MATERIALS = {
    # β in K, volumetric heat capacity in J/(K·mm³) and resistivity at 20 °C in Ω·mm, as IEC 60949 uses them.
    "copper": (234.5, 3.45e-3, 17.241e-6),
    "aluminium": (228.0, 2.5e-3, 28.264e-6),
}
"""Source: IEC 60949, material constants: β of copper 234.5 seen, the rest of this table from memory."""

K_MATERIAL = {"copper": 226.0, "aluminium": 148.0}
"""Constant K of IEC 60949 in A·√s/mm² (seen)."""

TEMPERATURES = {"pvc": (70.0, 160.0), "xlpe": (90.0, 250.0), "silicone": (180.0, 350.0)}
"""Start at full load and end of a short circuit in °C. pvc and xlpe (also EPR): IEC 60364-4-43, table 43A (115 and 143
seen); silicone rubber: from memory."""

SECTIONS = (
    0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0, 50.0, 70.0, 95.0, 120.0, 150.0, 185.0, 240.0, 300.0,
)  # fmt: skip
"""Standard sections in mm². Source: IEC 60228:2004."""

_CLASS_5 = (
    39.0, 26.0, 19.5, 13.3, 7.98, 4.95, 3.30, 1.91, 1.21, 0.780, 0.554, 0.386, 0.272, 0.206, 0.161, 0.129, 0.106,
    0.0801, 0.0641,
)  # fmt: skip
_CLASS_5_TINNED = (
    40.1, 26.7, 20.0, 13.7, 8.21, 5.09, 3.39, 1.95, 1.24, 0.795, 0.565, 0.393, 0.277, 0.210, 0.164, 0.132, 0.108,
    0.0817, 0.0654,
)  # fmt: skip
_CLASS_2 = (
    36.0, 24.5, 18.1, 12.1, 7.41, 4.61, 3.08, 1.83, 1.15, 0.727, 0.524, 0.387, 0.268, 0.193, 0.153, 0.124, 0.0991,
    0.0754, 0.0601,
)  # fmt: skip
CLASSES = {
    "class 2": dict(zip(SECTIONS, _CLASS_2, strict=True)),
    "class 5": dict(zip(SECTIONS, _CLASS_5, strict=True)),
    "class 5 tinned": dict(zip(SECTIONS, _CLASS_5_TINNED, strict=True)),
    "class 6": dict(zip(SECTIONS, _CLASS_5, strict=True)),
}
"""Largest resistance of copper conductors at 20 °C in Ω/km by section in mm². Source: IEC 60228:2004, tables 2 to 4."""

CLASS_SEEN = {("class 5", section) for section in SECTIONS if 10 <= section <= 120}
"""Rows that were read on four pages; all others are from memory."""


def resistance_per_length(kind: str, section_mm2: float) -> tuple[float, str] | None:
    """Largest resistance in Ω/m at 20 °C for a class and a standard section `section_mm2` in mm², with its confidence;
    None: no row.

    Source: IEC 60228:2004, tables 2 to 4.
    """
    row = CLASSES[kind].get(section_mm2)
    if row is None:
        return None
    return row / 1000, "seen" if (kind, section_mm2) in CLASS_SEEN else "from memory"


def at_temperature(r20: T, kelvin: T, alpha: float = ALPHA_COPPER) -> T:
    """Resistance at `kelvin` in K from `r20` at 20 °C: R20 · (1 + α·(θ − 20 °C)); `alpha` in 1/K. Unit of `r20`.

    Source: IEC 60287-1-1 (α of copper 0.00393 1/K, seen).
    """
    return r20 * (1 + alpha * (kelvin - 293.15))


def adiabatic_k(material: str, start_celsius: float, end_celsius: float) -> float:
    """k in A·√s/mm² for a short circuit without loss of heat, from `start_celsius` to `end_celsius` in °C.

    k = K·√(ln((θ_end + β)/(θ_start + β))). Raises ValueError unless the end is hotter than the start.
    Source: IEC 60949 (adiabatic equation), with K 226 and β 234.5 for copper (seen).
    """
    beta = MATERIALS[material][0]
    if not -beta < start_celsius < end_celsius:
        raise ValueError("a short circuit ends hotter than it starts")
    return K_MATERIAL[material] * math.sqrt(math.log((end_celsius + beta) / (start_celsius + beta)))


def next_section(section_mm2: float) -> float | None:
    """The smallest standard section in mm² that is not below `section_mm2`; None above the table."""
    return next((s for s in SECTIONS if s >= section_mm2 * (1 - 1e-12)), None)


def awg_area_mm2(gauge: int) -> float:
    """Area in mm² of a solid wire by its American `gauge`; 0 is 1/0, −1 is 2/0, −3 is 4/0.

    d = 0.127 mm · 92^((36 − n)/39). Raises ValueError outside −3 to 40. Source: ASTM B258 (formula from memory).
    """
    if not -3 <= gauge <= 40:
        raise ValueError("the gauge runs from 4/0 (written -3) to 40")
    return math.pi / 4 * (0.127 * math.pow(92, (36 - gauge) / 39)) ** 2
