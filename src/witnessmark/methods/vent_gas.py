r"""Gas that venting cells give off, from litres per ampere-hour, and the mean rate while they do.

Source: ideal gas law; litres per ampere-hour are the cell's own test. Published amounts (1.1 to 2.5 L/Ah at 25 °C for
three cells, Golubkov et al. 2014) are from memory and no substitute.
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.gas_flow import GAS_CONSTANT, REFERENCE_TEMPERATURE, STANDARD_PRESSURE
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("capacity", "gas_per_capacity", "relative_molar_mass", "duration")
    w.whole("cells")
    if w.faults:
        return w.result()
    volume = w.let("volume", w.x["cells"] * w.x["capacity"] * w.x["gas_per_capacity"], "L")
    amount = STANDARD_PRESSURE * volume / (GAS_CONSTANT * REFERENCE_TEMPERATURE)
    mass = w.let("mass", amount * w.x["relative_molar_mass"] / 1000, "g")
    w.step(say("Volume at 25 °C and 101.325 kPa."), r"V = <cells> \cdot <capacity> \cdot <gas_per_capacity> = <volume>")
    w.step(
        say("Mass, by the law of the ideal gas."),
        r"m = \frac{101.325\,\mathrm{kPa} \cdot <volume>}{8.314463\,\mathrm{J/mol/K} \cdot 298.15\,\mathrm{K}} "
        r"\cdot <relative_molar_mass>\,\mathrm{g/mol} = <mass>",
    )
    w.output("gas-volume", volume)
    w.output("gas-mass", mass)
    if w.has("duration"):
        rate = w.let("rate", mass / w.x["duration"], "g/s")
        w.step(say("Mean rate while it vents; peaks are higher."), r"q_m = \frac{<mass>}{<duration>} = <rate>")
        w.output("gas-mass-rate", rate)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="vent-gas/1",
    title="Gas from venting cells",
    purpose="Gives the amount of gas for which a vent and a path to the outside are laid out.",
    source="ideal gas law; litres per ampere-hour from the cell's test",
    confidence="closed form; published litres per ampere-hour from memory",
    equation=r"V = N \cdot Q \cdot v \quad m = \frac{p \cdot V \cdot M}{R \cdot T}",
    validity="Litres stated at 25 °C and 101.325 kPa; the mean rate is not the peak rate.",
    cautions=(
        Caution(
            "High voltage can kill. Vent gas burns, poisons (hydrogen fluoride, carbon monoxide) and explodes. Keep "
            "away, call the fire brigade."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("cells", "N", "cells that vent together", "1", 1, 10000),
        InputSpec("capacity", "Q", "capacity of a cell", "Ah", 0.5, 400),
        InputSpec("gas_per_capacity", "v", "gas per capacity at 25 °C", "L/Ah", 0.5, 5),
        InputSpec("relative_molar_mass", "M_r", "relative molecular mass of the gas", "1", 2, 60),
        InputSpec("duration", "t", "time of venting", "s", 0.1, 600, False),
    ),
    measurands=(
        MeasurandSpec("gas-volume", "volume of gas at 25 °C", "V", "L"),
        MeasurandSpec("gas-mass", "mass of gas", "m", "g"),
        MeasurandSpec("gas-mass-rate", "mean rate of gas", "q_m", "g/s"),
    ),
    evaluate_with=_evaluate,
)
