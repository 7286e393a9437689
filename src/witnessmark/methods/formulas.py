"""Closed forms that methods and plug-ins share. All arguments and results in the coherent SI unit.

Each takes plain numbers; those marked so also take `Uncertain` numbers, and then carry the uncertainty.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TypeVar

from witnessmark.quantities.propagation import Uncertain

__all__ = [
    "capacitor_energy",
    "constant_current_time",
    "discharge_time",
    "discharge_voltage",
    "four_wire_resistance",
    "isolation_resistance",
    "monitor_resistor_window",
    "parallel",
    "reversed_resistance",
    "settling_time",
    "time_constant",
    "two_meter_correction",
]

T = TypeVar("T", float, Uncertain)


def isolation_resistance(ro: T, ub: T, u_loaded: T, u: T) -> T:
    """Isolation resistance Ri in Ω from `ro` in Ω and voltages in V: Ro · Ub · (1/U' − 1/U).

    `ub` across the bus, `u` of a pole, `u_loaded` of the same pole with Ro fitted.
    Valid for voltages above zero. Source: UN Regulation No. 100, 03 series, Annex 5A.
    """
    return ro * ub * (1 / u_loaded - 1 / u)


def two_meter_correction(read: T, meter: T) -> T:
    """The resistance in Ω of a pole across which a meter of resistance `meter` in Ω stayed connected: 1/(1/R − 1/r).

    Valid for `read` below `meter`. Source: closed form (two resistors in parallel).
    """
    return 1 / (1 / read - 1 / meter)


def parallel(resistances: Sequence[float]) -> float:
    """The resistance in Ω of several `resistances` in parallel; each above zero. Source: closed form."""
    if not resistances or any(not r > 0 for r in resistances):
        raise ValueError("parallel resistances are one or more, each above zero")
    return 1 / math.fsum(1 / r for r in resistances)


def monitor_resistor_window(working_voltage: float, isolation: float, per_volt: float) -> tuple[float, float]:
    """Smallest (allowed) and largest (not allowed) test resistor in Ω for the check of an isolation monitor.

    `working_voltage` in V, `isolation` (measured before) in Ω, `per_volt` the duty in Ω/V: with the resistor fitted,
    isolation lies from 95 % of the duty to just below it. Raises ValueError when isolation is not above the duty: the
    bound has no meaning then. Source: UN Regulation No. 100, 03 series, Annex 6 (95/100 and 475/500 Ω/V).
    """
    target = per_volt * working_voltage
    if not (working_voltage > 0 and per_volt > 0 and isolation > target):
        raise ValueError("the isolation measured before has to lie above the duty")
    return 1 / (1 / (0.95 * target) - 1 / isolation), 1 / (1 / target - 1 / isolation)


def four_wire_resistance(voltage: T, current: T) -> T:
    """R = U/I in Ω, from `voltage` in V and `current` in A. Source: UN Regulation No. 100, 03 series, Annex 4."""
    return voltage / current


def reversed_resistance(u_forward: T, u_reverse: T, i_forward: T, i_reverse: T) -> T:
    """R = (U+ − U−)/(I+ − I−) in Ω: a constant voltage in the loop drops out. Source: closed form.

    `u_forward` and `u_reverse` in V, `i_forward` and `i_reverse` in A, with their signs."""
    return (u_forward - u_reverse) / (i_forward - i_reverse)


def capacitor_energy(capacitance: T, voltage: T, residual: float = 0.0) -> T:
    """Energy in J of a capacitor: ½ · C · (U² − residual²), `capacitance` in F, `voltage` in V.

    `residual` in V: 60 V is the form of older editions. Source: UN Regulation No. 94, revision 4, pages 61 and 62.
    """
    return 0.5 * capacitance * (voltage * voltage - residual * residual)


def discharge_voltage(start: float, resistance: float, capacitance: float, time: float) -> float:
    """Voltage in V of a capacitor after `time` in s through a resistance: U0 · exp(−t/(R·C)).

    `start` in V, `resistance` in Ω, `capacitance` in F. Source: closed form."""
    return start * math.exp(-time / (resistance * capacitance))


def discharge_time(start: float, end: float, tau: float) -> float:
    """Time in s until a voltage has fallen from `start` to `end` with time constant `tau` in s. Source: closed form."""
    if not (start >= end > 0 and tau > 0):
        raise ValueError("a discharge goes from a larger to a smaller voltage above zero")
    return tau * math.log(start / end)


def constant_current_time(capacitance: float, start: float, end: float, current: float) -> float:
    """Time in s until a constant `current` in A has discharged a `capacitance` in F from `start` to `end` in V.

    Source: closed form."""
    if not current > 0:
        raise ValueError("the current is above zero")
    return capacitance * (start - end) / current


def time_constant(t1: float, u1: float, t2: float, u2: float) -> float:
    """Time constant in s from two voltages of one decay: `u1` at `t1`, `u2` at `t2`, in V and in s.
    Source: closed form."""
    if not (t2 > t1 and u1 > u2 > 0):
        raise ValueError("the later voltage is the smaller one, both above zero")
    return (t2 - t1) / math.log(u1 / u2)


def settling_time(tau: float, part: float) -> float:
    """Time in s until only `part` (0 to 1) of a step is left; time constant `tau` in s. Source: closed form."""
    if not (tau > 0 and 0 < part < 1):
        raise ValueError("a time constant above zero, and a part between 0 and 1")
    return -tau * math.log(part)
