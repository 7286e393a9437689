r"""Which known resistor Ro to take for a voltmeter test: required Ω/V times the voltage, ± 20 %, and its heat.

Source: UN Regulation No. 100, 02 series, Annex 4B, note on Ro (seen: ± 20 %, any other value is valid too).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, FactSpec, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import EXACT, Working, ordered, worked

__all__ = ["METHOD"]

BAND = 0.2


def _work(w: Working) -> Result | Refused:
    w.above_zero("required_per_volt", "working_voltage")
    if w.faults:
        return w.result()
    voltage = w.x["working_voltage"]
    centre = w.let("centre", w.x["required_per_volt"] * voltage, "Ω")
    low, high = w.let("low", centre * (1 - BAND), "Ω"), w.let("high", centre * (1 + BAND), "Ω")
    heat = w.let("heat", voltage * voltage / low, "W")
    w.step(
        say("Required resistance per volt times the voltage."),
        r"R_o = <required_per_volt> \cdot <working_voltage> = <centre>",
    )
    w.step(say("Twenty per cent to either side reads well."), r"<low> \leq R_o \leq <high>")
    w.step(
        say("The heat in the smallest of them at full voltage."),
        r"P = \frac{\left( <working_voltage> \right)^2}{<low>} = <heat>",
    )
    for name, value in (("resistor", centre), ("resistor-low", low), ("resistor-high", high), ("resistor-heat", heat)):
        w.output(name, value, note=say(EXACT))
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="isolation-resistor-choice/1",
    title="Choice of the known resistor for an isolation test",
    purpose="Says which resistor reads well at the limit, and what power it has to bear.",
    source="UN Regulation No. 100, 02 series, Annex 4B, 1.2.3.5 note 1",
    confidence="seen",
    equation=r"R_o = r_{req} \cdot U_w \quad P = \frac{U_w^2}{R_o}",
    validity="Any resistor is valid; this one lets the two readings differ well at the limit.",
    cautions=(
        Caution(
            "High voltage can kill. The resistor carries the whole bus voltage when a pole is faulty: rate it for that."
        ),
        Caution("It gets hot and is live while fitted. Qualified persons only; local codes decide."),
    ),
    inputs=ordered(InputSpec("required_per_volt", "r_{req}", "required isolation per volt", "Ω/V", 50, 1000)),
    facts=(FactSpec("working_voltage", "voltage by which isolation is divided", "V", "U_w"),),
    measurands=(
        MeasurandSpec("resistor", "resistor to take", "R_o", "Ω"),
        MeasurandSpec("resistor-low", "smallest resistor of the band", "R_{o,low}", "Ω"),
        MeasurandSpec("resistor-high", "largest resistor of the band", "R_{o,high}", "Ω"),
        MeasurandSpec("resistor-heat", "heat in the smallest resistor", "P", "W"),
    ),
    evaluate_with=_evaluate,
)
