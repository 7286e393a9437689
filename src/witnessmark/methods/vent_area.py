r"""Area of a relief vent for a rate of gas: choked or subcritical, decided by the pressures.

Source: isentropic flow of an ideal gas through a nozzle (closed form; choked form seen); API Standard 520, part I.
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.gas_flow import gas_of
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("mass_rate")
    gas = gas_of(w)
    if gas is None:
        return w.result()
    if gas.ratio.value >= 1:
        w.fault(
            "validity.range",
            say("inside_pressure is not above outside_pressure: nothing flows"),
            say("state what the enclosure bears"),
        )
        return w.result()
    flux = w.let("flux", gas.flux(), "kg/s/m²")
    area = w.let("area", w.x["mass_rate"] / (w.x["discharge_coefficient"] * flux), "mm²")
    gas.steps(w)
    w.step(say("Area of the vent."), r"A = \frac{<mass_rate>}{<discharge_coefficient> \cdot <flux>} = <area>")
    where = say("choked") if gas.choked else say("subcritical")
    w.output("vent-area", area, where=where)
    w.output("critical-pressure-ratio", gas.critical)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="vent-area/1",
    title="Area of a relief vent",
    purpose="Says how large a vent has to be, so that the enclosure of a battery does not burst.",
    source="isentropic nozzle flow of an ideal gas; API Standard 520, part I (gas, critical flow)",
    confidence="choked form seen; subcritical: closed form. Gas rates of cells differ widely: the cell's test decides",
    equation=r"A = \frac{\dot{m}}{C_d \cdot G} \quad G_{choked} = p_0 \cdot \sqrt{\frac{\kappa}{Z \cdot R \cdot "
    r"T_0}} \cdot "
    r"\left( \frac{2}{\kappa + 1} \right)^{\frac{\kappa + 1}{2 \cdot \left( \kappa - 1 \right)}}",
    validity="Steady flow of gas without particles; inside pressure above outside. Particles clog vents: add margin.",
    cautions=(
        Caution(
            "High voltage can kill. Vent gas of cells burns, poisons and explodes. Nobody stands in the path of the "
            "vent."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("mass_rate", r"\dot{m}", "rate of gas", "g/s", 0.01, 1e5),
        InputSpec("inside_pressure", "p_0", "pressure inside, absolute", "kPa", 100, 1000),
        InputSpec("outside_pressure", "p_b", "pressure outside, absolute", "kPa", 50, 110),
        InputSpec("temperature", "T_0", "temperature of the gas inside", "°C", -40, 1200),
        InputSpec("isentropic_exponent", r"\kappa", "ratio of heat capacities", "1", 1.01, 1.67),
        InputSpec("relative_molar_mass", "M_r", "relative molecular mass of the gas", "1", 2, 150),
        InputSpec("compressibility", "Z", "compressibility factor, 1 when not given", "1", 0.5, 1.2, False),
        InputSpec("discharge_coefficient", "C_d", "discharge coefficient", "1", 0.3, 1),
    ),
    measurands=(
        MeasurandSpec("vent-area", "area of the vent", "A", "mm²"),
        MeasurandSpec(
            "critical-pressure-ratio", "pressure ratio below which the flow is choked", r"p^{\prime}/p_0", "1"
        ),
    ),
    evaluate_with=_evaluate,
)
