r"""Discharge of a capacitance through a resistor, second version: with the terms of second order in the uncertainty.

What is left after several time constants goes with exp(−t/RC): a few percent of R and C are half of the voltage then,
and the first order alone states too small an uncertainty for it.

Source: closed form, U = U0 · exp(−t/(R·C)); JCGM 100:2008, 5.1.2, note.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from witnessmark.methods.base import Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.discharge_resistor import METHOD as FIRST
from witnessmark.methods.discharge_resistor import work
from witnessmark.methods.working import worked

__all__ = ["METHOD"]


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, work, readings, facts)


METHOD = replace(FIRST, id="discharge-resistor/2", evaluate_with=_evaluate, second_order=True)
