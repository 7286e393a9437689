r"""Rate of gas through a vent of known area: choked or subcritical; with temperature and speed in the narrowest place.

Source: isentropic flow of an ideal gas through a nozzle (closed form; choked form seen).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.gas_flow import gas_of
from witnessmark.methods.working import Working, ordered, worked
from witnessmark.quantities.propagation import Uncertain

__all__ = ["METHOD"]

T = TypeVar("T", float, Uncertain)


def _work(w: Working) -> Result | Refused:
    w.above_zero("area")
    gas = gas_of(w)
    if gas is None:
        return w.result()
    if gas.ratio.value > 1:
        w.fault(
            "validity.range", say("outside_pressure is above inside_pressure: gas flows in"), say("exchange the two")
        )
        return w.result()
    if gas.ratio.value == 1:
        w.step(say("Equal pressures."), "q_m = 0")
        w.output("vent-mass-rate", 0.0)
        return w.result()
    flux = w.let("flux", gas.flux(), "kg/s/m²")
    rate = w.let("rate", w.x["discharge_coefficient"] * flux * w.x["area"], "g/s")
    gas.steps(w)
    w.step(say("Rate of gas."), r"q_m = <discharge_coefficient> \cdot <flux> \cdot <area> = <rate>")
    throat = w.let("throat", gas.throat_temperature(), "K")
    speed = w.let("speed", gas.throat_speed(), "m/s")
    w.step(say("Temperature in the narrowest place."), "T = <throat>")
    w.step(say("Speed there."), "c = <speed>")
    where = say("choked") if gas.choked else say("subcritical")
    w.output("vent-mass-rate", rate, where=where)
    w.output("throat-temperature", throat)
    w.output("throat-speed", speed)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="vent-flow/1",
    title="Flow of gas through a vent",
    purpose="Says how much gas a vent lets out at the pressure that the enclosure bears.",
    source="isentropic nozzle flow of an ideal gas",
    confidence="choked form seen; subcritical: closed form",
    equation=r"q_m = C_d \cdot G \cdot A",
    validity="Steady flow of gas without particles; inside pressure at or above outside.",
    cautions=(
        Caution(
            "High voltage can kill. Vent gas of cells burns, poisons and explodes. Nobody stands in the path of the "
            "vent."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("area", "A", "area of the vent", "mm²", 1, 1e5),
        InputSpec("inside_pressure", "p_0", "pressure inside, absolute", "kPa", 100, 1000),
        InputSpec("outside_pressure", "p_b", "pressure outside, absolute", "kPa", 50, 110),
        InputSpec("temperature", "T_0", "temperature of the gas inside", "°C", -40, 1200),
        InputSpec("isentropic_exponent", r"\kappa", "ratio of heat capacities", "1", 1.01, 1.67),
        InputSpec("relative_molar_mass", "M_r", "relative molecular mass of the gas", "1", 2, 150),
        InputSpec("compressibility", "Z", "compressibility factor, 1 when not given", "1", 0.5, 1.2, False),
        InputSpec("discharge_coefficient", "C_d", "discharge coefficient", "1", 0.3, 1),
    ),
    measurands=(
        MeasurandSpec("vent-mass-rate", "rate of gas", "q_m", "g/s"),
        MeasurandSpec("throat-temperature", "temperature in the narrowest place", "T", "°C"),
        MeasurandSpec("throat-speed", "speed there", "c", "m/s"),
    ),
    evaluate_with=_evaluate,
)
