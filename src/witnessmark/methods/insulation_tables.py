"""Tables of insulation coordination: creepage, clearance, impulse voltage, altitude, material groups, grooves.

Distances in mm, voltages in V, altitudes in m. From public transcriptions and a reprint of the standard (seen),
compared with each other: no difference in what is used here.

Source: IEC 60664-1:2020, tables A.2, F.1, F.2 and F.5 (F.4 of the 2007 edition), 4.8.1 and 6.8.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

__all__ = [
    "ALTITUDE",
    "CLEARANCE",
    "GROUPS",
    "IMPULSE",
    "RULES",
    "creepage_rows",
    "groove_width",
    "look_up",
    "material_group",
    "reinforced_impulse",
]

Rows = tuple[tuple[float, float], ...]

GROUPS = ("I", "II", "IIIa", "IIIb")
RULES = ("next-row", "interpolate")
"""What is done with a value between two rows: the choice is the record's."""

_VOLTS = (
    10, 12.5, 16, 20, 25, 32, 40, 50, 63, 80, 100, 125, 160, 200, 250, 320, 400, 500, 630, 800, 1000, 1250, 1600,
    2000, 2500, 3200, 4000, 5000, 6300, 8000, 10000,
)  # fmt: skip
_ONE = (
    0.08, 0.09, 0.1, 0.11, 0.125, 0.14, 0.16, 0.18, 0.2, 0.22, 0.25, 0.28, 0.32, 0.42, 0.56, 0.75, 1, 1.3, 1.8, 2.4,
    3.2, 4.2, 5.6, 7.5, 10, 12.5, 16, 20, 25, 32, 40,
)  # fmt: skip
_TWO_I = (
    0.4, 0.42, 0.45, 0.48, 0.5, 0.53, 0.56, 0.6, 0.63, 0.67, 0.71, 0.75, 0.8, 1, 1.25, 1.6, 2, 2.5, 3.2, 4, 5, 6.3,
    8, 10, 12.5, 16, 20, 25, 32, 40, 50,
)  # fmt: skip
_TWO_II = (
    0.4, 0.42, 0.45, 0.48, 0.5, 0.53, 0.8, 0.85, 0.9, 0.95, 1, 1.05, 1.1, 1.4, 1.8, 2.2, 2.8, 3.6, 4.5, 5.6, 7.1, 9,
    11, 14, 18, 22, 28, 36, 45, 56, 71,
)  # fmt: skip
_TWO_III = (
    0.4, 0.42, 0.45, 0.48, 0.5, 0.53, 1.1, 1.2, 1.25, 1.3, 1.4, 1.5, 1.6, 2, 2.5, 3.2, 4, 5, 6.3, 8, 10, 12.5, 16,
    20, 25, 32, 40, 50, 63, 80, 100,
)  # fmt: skip
_THREE_I = (
    1, 1.05, 1.1, 1.2, 1.25, 1.3, 1.4, 1.5, 1.6, 1.7, 1.8, 1.9, 2, 2.5, 3.2, 4, 5, 6.3, 8, 10, 12.5, 16, 20, 25, 32,
    40, 50, 63, 80, 100, 125,
)  # fmt: skip
_THREE_II = (
    1, 1.05, 1.1, 1.2, 1.25, 1.3, 1.6, 1.7, 1.8, 1.9, 2, 2.1, 2.2, 2.8, 3.6, 4.5, 5.6, 7.1, 9, 11, 14, 18, 22, 28,
    36, 45, 56, 71, 90, 110, 140,
)  # fmt: skip
_THREE_III = (
    1, 1.05, 1.1, 1.2, 1.25, 1.3, 1.8, 1.9, 2, 2.1, 2.2, 2.4, 2.5, 3.2, 4, 5, 6.3, 8, 10, 12.5, 16, 20, 25, 32, 40,
    50, 63, 80, 100, 125, 160,
)  # fmt: skip
_PRINTED_ONE = (
    0.025, 0.025, 0.025, 0.025, 0.025, 0.025, 0.025, 0.025, 0.04, 0.063, 0.1, 0.16, 0.25, 0.4, 0.56, 0.75, 1, 1.3,
    1.8, 2.4, 3.2,
)  # fmt: skip
_PRINTED_TWO = (
    0.04, 0.04, 0.04, 0.04, 0.04, 0.04, 0.04, 0.04, 0.063, 0.1, 0.16, 0.25, 0.4, 0.63, 1, 1.6, 2, 2.5, 3.2, 4, 5,
)  # fmt: skip
_IMPULSES = (
    330, 400, 500, 600, 800, 1000, 1200, 1500, 2000, 2500, 3000, 4000, 5000, 6000, 8000, 10000, 12000, 15000, 20000,
    25000, 30000, 40000, 50000, 60000, 80000, 100000,
)  # fmt: skip
_INHOMOGENEOUS = (
    0.01, 0.02, 0.04, 0.06, 0.1, 0.15, 0.25, 0.5, 1, 1.5, 2, 3, 4, 5.5, 8, 11, 14, 18, 25, 33, 40, 60, 75, 90, 130,
    170,
)  # fmt: skip
_HOMOGENEOUS = (
    0.01, 0.02, 0.04, 0.06, 0.1, 0.15, 0.2, 0.3, 0.45, 0.6, 0.8, 1.2, 1.5, 2, 3, 3.5, 4.5, 5.5, 8, 10, 12.5, 17, 22,
    27, 35, 45,
)  # fmt: skip


def _rows(keys: Sequence[float], values: Sequence[float]) -> Rows:
    return tuple(zip(keys, values, strict=True))


_CREEPAGE: Mapping[tuple[str, str], Rows] = {
    ("1", "I"): _rows(_VOLTS, _ONE),
    ("1", "II"): _rows(_VOLTS, _ONE),
    ("1", "IIIa"): _rows(_VOLTS, _ONE),
    ("1", "IIIb"): _rows(_VOLTS, _ONE),
    ("2", "I"): _rows(_VOLTS, _TWO_I),
    ("2", "II"): _rows(_VOLTS, _TWO_II),
    ("2", "IIIa"): _rows(_VOLTS, _TWO_III),
    ("2", "IIIb"): _rows(_VOLTS, _TWO_III),
    ("3", "I"): _rows(_VOLTS, _THREE_I),
    ("3", "II"): _rows(_VOLTS, _THREE_II),
    ("3", "IIIa"): _rows(_VOLTS, _THREE_III),
    ("3", "IIIb"): _rows(_VOLTS, _THREE_III),
}

CLEARANCE: Mapping[str, Mapping[str, Rows]] = {
    field: {
        degree: _rows(_IMPULSES, [max(value, least) for value in values])
        for degree, least in (("1", 0.0), ("2", 0.2), ("3", 0.8))
    }
    for field, values in (("inhomogeneous", _INHOMOGENEOUS), ("homogeneous", _HOMOGENEOUS))
}
"""Clearance in mm by field, pollution degree and impulse voltage in V, up to 2000 m. Source: table F.2."""

IMPULSE: Mapping[str, Rows] = {
    "I": _rows((50, 100, 150, 300, 600, 1000, 1500), (330, 500, 800, 1500, 2500, 4000, 6000)),
    "II": _rows((50, 100, 150, 300, 600, 1000, 1500), (500, 800, 1500, 2500, 4000, 6000, 8000)),
    "III": _rows((50, 100, 150, 300, 600, 1000, 1500), (800, 1500, 2500, 4000, 6000, 8000, 10000)),
    "IV": _rows((50, 100, 150, 300, 600, 1000, 1500), (1500, 2500, 4000, 6000, 8000, 12000, 15000)),
}
"""Rated impulse voltage in V by overvoltage category and voltage line to neutral in V. Source: table F.1."""

ALTITUDE: Rows = (
    (2000, 1.0), (3000, 1.14), (4000, 1.29), (5000, 1.48), (6000, 1.7), (7000, 1.95), (8000, 2.25), (9000, 2.62),
    (10000, 3.02), (15000, 6.67), (20000, 14.5),
)  # fmt: skip
"""Factor for clearances by altitude in m. Source: table A.2."""

_PREFERRED = (330.0, 500.0, 800.0, 1500.0, 2500.0, 4000.0, 6000.0, 8000.0, 12000.0)


def creepage_rows(degree: str, group: str, construction: str) -> Rows | None:
    """Rows (voltage in V, creepage in mm) for a pollution degree, material group and kind of surface; None: no column.

    Source: IEC 60664-1:2020, table F.5.
    """
    if construction == "printed wiring":
        if degree == "1":
            return _rows(_VOLTS[: len(_PRINTED_ONE)], _PRINTED_ONE)
        if degree == "2" and group != "IIIb":
            return _rows(_VOLTS[: len(_PRINTED_TWO)], _PRINTED_TWO)
        return None
    return _CREEPAGE.get((degree, group))


def look_up(rows: Rows, key: float, rule: str) -> tuple[float, tuple[float, float], tuple[float, float]]:
    """The value at `key`, and the rows below and at or above it: the upper row's with rule "next-row", on the
    straight line between them with "interpolate". Raises ValueError outside the rows. Units as the rows have them."""
    if not rows[0][0] <= key <= rows[-1][0]:
        raise ValueError("outside the table")
    below = rows[0]
    for row in rows:
        if row[0] == key:
            return row[1], row, row
        if row[0] > key:
            if rule == "next-row":
                return row[1], below, row
            return below[1] + (key - below[0]) / (row[0] - below[0]) * (row[1] - below[1]), below, row
        below = row
    raise ValueError("outside the table")


def material_group(cti: float) -> str | None:
    """The material group of a comparative tracking index `cti`; None below 100. Source: IEC 60664-1, 4.8.1."""
    for least, group in ((600, "I"), (400, "II"), (175, "IIIa"), (100, "IIIb")):
        if cti >= least:
            return group
    return None


def reinforced_impulse(impulse: float) -> float:
    """The impulse voltage in V for reinforced insulation from `impulse` in V for basic: the next of the preferred
    series, else 160 %.

    Source: IEC 60664-1, 5.2.5 (from memory).
    """
    if impulse in _PREFERRED[:-1]:
        return _PREFERRED[_PREFERRED.index(impulse) + 1]
    return 1.6 * impulse


def groove_width(degree: str, clearance_mm: float | None = None) -> float:
    """Smallest width X in mm of a groove that counts in a creepage path; a third of `clearance_mm`, in mm,
    when that is below 3 mm and gives less. Source: IEC 60664-1:2020, 6.8."""
    x = {"1": 0.25, "2": 1.0, "3": 1.5}[degree]
    if clearance_mm is not None and clearance_mm < 3:
        return min(x, clearance_mm / 3)
    return x
