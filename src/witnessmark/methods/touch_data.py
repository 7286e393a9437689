"""What is stated about the human body and touch: impedances, long-duration voltage limits, the measuring network.

Source: named beside each table; what is from memory says so.
"""

from __future__ import annotations

import math

__all__ = ["BODY_IMPEDANCE", "TOUCH_VOLTAGE_LIMITS", "network_impedance"]

BODY_IMPEDANCE = {25: 3250.0, 100: 1725.0, 225: 1225.0}
"""Total body impedance in Ω by touch voltage in V, half of the population, hand to hand, large and dry.

Source: IEC TS 60479-1:2005, table 1 (from memory; the 1994 edition has 1875 Ω at 100 V).
"""

TOUCH_VOLTAGE_LIMITS = {
    "adults AC": 50.0,
    "adults DC": 120.0,
    "children and livestock AC": 25.0,
    "children and livestock DC": 60.0,
}
"""Conventional touch voltage limit in V for a long time. Source: IEC 60364-4-41, as quoted by EMF-Portal (seen)."""


def network_impedance(frequency: float) -> float:
    """Size of the input impedance in Ω of the touch-current network at `frequency` in Hz: 1500 Ω parallel to 0.22 µF,
    in series with 500 Ω. Source: IEC 60990, figure 3 (component values from memory)."""
    return abs(500 + 1 / (1 / 1500 + 2j * math.pi * frequency * 0.22e-6))
