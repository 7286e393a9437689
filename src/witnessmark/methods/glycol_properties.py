r"""Properties of ethylene glycol and water: density, heat capacity, viscosity, conductivity, freezing point.

The concentration is by mass or by volume, and the record says which: fifty per cent by volume is fifty-three by mass.

Source: Melinder 2010 polynomials as CoolProp 8.0.0 carries them (INCOMP::MEG, MIT licence); by volume: closed form.
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import Words, declared, marked, say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.coolant_data import GLYCOL_DENSITY, PROPERTIES, WATER_DENSITY, freezing_point, properties
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]


BY_POLYNOMIAL = Words(
    {
        "density": declared("Density, by the polynomial."),
        "heat-capacity": declared("Heat capacity, by the polynomial."),
        "conductivity": declared("Heat conductivity, by the polynomial."),
        "viscosity": declared("Dynamic viscosity, by the polynomial."),
    }
)


def _work(w: Working) -> Result | Refused:
    w.not_negative("concentration")
    x = w.x["concentration"]
    if w.words["basis"] == "volume":
        w.valid("concentration", 0, 56, "%", say("the polynomials end at 60 % by mass"))
        rg, rw = GLYCOL_DENSITY, WATER_DENSITY
        fraction = x * rg / (x * rg + (1 - x) * rw)
    else:
        w.valid("concentration", 0, 60, "%", say("the polynomials end there"))
        fraction = x * 1.0
    if w.faults:
        return w.result()
    mass = w.let("mass", fraction, "%")
    freezing = w.let("freezing", freezing_point(mass.value), "°C")
    t = w.value("temperature")
    if t < freezing.value:
        w.fault(
            "validity.range",
            say(
                "the temperature is below the freezing point of this mixture, {freezing} °C",
                freezing=marked(f"{freezing.value - 273.15:.1f}"),
            ),
            say("use more glycol, or a higher temperature"),
        )
    w.valid("temperature", None, 100, "°C", say("the polynomials end there"))
    if w.faults:
        return w.result()
    if w.words["basis"] == "volume":
        w.show("rg", f"{rg:g}")
        w.show("rw", f"{rw:g}")
        w.step(
            say("By mass, from the volumes before mixing at 20 °C (densities of glycol and water in kg/m³)."),
            r"x = \frac{<concentration> \cdot <rg>}{<concentration> \cdot <rg> + \left( 1 - <concentration> \right) "
            r"\cdot <rw>} = <mass>",
        )
    found = properties(mass.value, t)
    for name, symbol, _, unit in PROPERTIES:
        w.let(name, found[name], unit)
        w.step(BY_POLYNOMIAL[name], rf"{symbol} = <{name}>")
        w.output(f"coolant-{name}", found[name], note=say("A fit to tables: no uncertainty is stated with it."))
    w.step(say("Freezing point."), r"\theta_f = <freezing>")
    w.output("coolant-freezing-point", freezing.value, note=say("A fit to tables: no uncertainty is stated with it."))
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="glycol-properties/1",
    title="Properties of glycol and water",
    purpose="Gives the numbers for heat, flow and pressure drop of a coolant, and when it freezes.",
    source="Melinder 2010, as in CoolProp 8.0.0 (INCOMP::MEG); volume to mass: closed form",
    confidence="polynomials seen in a reference library; tables by volume of other houses differ by up to 1.3 % in "
    "density; "
    "density of glycol, 1113.2 kg/m³ at 20 °C, from memory",
    equation=r"y = \sum_{i,j} a_{ij} \cdot \left( T - T_b \right)^i \cdot \left( x - x_b \right)^j",
    validity="Ethylene glycol, 0 to 60 % by mass (0 to 56 % by volume), from the freezing point to 100 °C; without the "
    "additives of a ready-mixed coolant.",
    cautions=(
        Caution(
            "High voltage can kill. Coolant conducts: a leak inside a battery shorts it. Glycol poisons; keep it "
            "off the ground."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("concentration", "x", "concentration of ethylene glycol", "%", 0, 60),
        InputSpec("basis", "", "concentration is by", choices=("mass", "volume")),
        InputSpec("temperature", r"\theta", "temperature", "°C", -40, 90),
    ),
    measurands=(
        *(MeasurandSpec(f"coolant-{name}", title, symbol, unit) for name, symbol, title, unit in PROPERTIES),
        MeasurandSpec("coolant-freezing-point", "freezing point", r"\theta_f", "°C"),
    ),
    evaluate_with=_evaluate,
)
