r"""Pressure in a closed enclosure when gas is set free in it: the gas and the heated air, each by the ideal gas law.

Source: ideal gas law; law of partial pressures.
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.gas_flow import REFERENCE_TEMPERATURE, STANDARD_PRESSURE
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("gas_volume", "free_volume", "start_pressure")
    w.valid("temperature", -40, 1500, "°C", say("state the temperature of the gas in the enclosure"))
    w.valid("start_temperature", -40, 150, "°C", say("state the temperature of the air before"))
    if w.faults:
        return w.result()
    t, v = w.x["temperature"], w.x["free_volume"]
    gas = w.let("gas", STANDARD_PRESSURE * w.x["gas_volume"] / REFERENCE_TEMPERATURE * t / v, "kPa")
    air = w.let("air", w.x["start_pressure"] * t / w.x["start_temperature"], "kPa")
    inside = w.let("inside", gas + air, "kPa")
    rise = w.let("rise", inside - w.x["start_pressure"], "kPa")
    w.let("t_k", t, "K")
    w.let("t0_k", w.x["start_temperature"], "K")
    w.step(
        say("The gas alone, from its volume at 25 °C and 101.325 kPa."),
        r"p_g = 101.325\,\mathrm{kPa} \cdot \frac{<gas_volume>}{<free_volume>} \cdot "
        r"\frac{<t_k>}{298.15\,\mathrm{K}} = <gas>",
    )
    w.step(say("The air that was there, heated."), r"p_a = <start_pressure> \cdot \frac{<t_k>}{<t0_k>} = <air>")
    w.step(say("Together."), r"p = <gas> + <air> = <inside>")
    w.output("enclosure-pressure", inside)
    w.output("gas-partial-pressure", gas)
    w.output("pressure-rise", rise)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="enclosure-pressure/1",
    title="Pressure in a closed enclosure",
    purpose="Shows what an enclosure would have to bear if its vent did not open.",
    source="ideal gas law; partial pressures",
    confidence="closed form",
    equation=r"p = p_n \cdot \frac{V_g}{V} \cdot \frac{T}{T_n} + p_a \cdot \frac{T}{T_a}",
    validity="Closed, rigid enclosure; gas and air at one temperature; no combustion inside, which adds much more.",
    cautions=(
        Caution("High voltage can kill. A closed box with venting cells bursts: it has to have a vent to the outside."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("gas_volume", "V_g", "gas set free, at 25 °C and 101.325 kPa", "L", 0.1, 1e6),
        InputSpec("free_volume", "V", "free volume of the enclosure", "L", 0.1, 2000),
        InputSpec("temperature", "T", "temperature inside", "°C", 0, 1000),
        InputSpec("start_pressure", "p_a", "pressure before, absolute", "kPa", 50, 120),
        InputSpec("start_temperature", "T_a", "temperature before", "°C", -40, 80),
    ),
    measurands=(
        MeasurandSpec("enclosure-pressure", "pressure inside, absolute", "p", "kPa"),
        MeasurandSpec("pressure-rise", "rise over the pressure before", r"\Delta p", "kPa"),
        MeasurandSpec("gas-partial-pressure", "part of the gas", "p_g", "kPa"),
    ),
    evaluate_with=_evaluate,
)
