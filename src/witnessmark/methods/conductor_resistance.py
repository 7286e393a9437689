r"""Resistance of a copper conductor from its class and section, at its temperature.

Source: IEC 60228:2004, tables 2 to 4 (largest resistance at 20 °C); IEC 60287-1-1 (coefficient of copper).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import marked, say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.conductor_data import ALPHA_COPPER, CLASSES, at_temperature, resistance_per_length
from witnessmark.methods.working import HOW_SURE, Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("section", "per_length", "length")
    w.valid("temperature", -50, 250, "°C", say("the linear coefficient is not stated beyond this"))
    confidence = "as declared"
    if w.has("per_length") == w.has("section", "class"):
        w.fault(
            "reading.missing",
            say("the resistance per length has to come from one place"),
            say("write class and section, or per_length"),
        )
    elif w.has("section", "class") and not w.faults:
        found = resistance_per_length(w.words["class"], round(w.value("section") * 1e6, 6))
        if found is None:
            w.fault(
                "validity.range",
                say(
                    "{section} mm² is no section of IEC 60228 that is in the table (0.5 mm² to 300 mm²)",
                    section=marked(f"{w.value('section') * 1e6:g}"),
                ),
                say("write a standard section, or per_length from the maker"),
            )
        else:
            w.let("per_length", found[0], "Ω/km")
            confidence = found[1]
            w.step(
                say(
                    "Largest resistance of {conductor} at 20 °C from the table ({confidence}).",
                    conductor=w.chosen("class"),
                    confidence=HOW_SURE[confidence],
                ),
                r"R^{\prime}_{20} = <per_length>",
            )
    if w.faults:
        return w.result()
    at = w.let("at", at_temperature(w.x["per_length"], w.x["temperature"]), "Ω/km")
    r = w.let("r", at * w.x["length"], "Ω")
    w.show("alpha", f"{ALPHA_COPPER:g}")
    w.step(
        say("At its temperature, with the coefficient of copper (per kelvin)."),
        r"R^{\prime} = <per_length> \cdot \left( 1 + <alpha> \cdot \left( <temperature> - "
        r"20\,^{\circ}\mathrm{C} \right) \right) = <at>",
    )
    w.step(say("Over its length."), r"R = <at> \cdot <length> = <r>")
    note = say("Resistance per length: {confidence}.", confidence=HOW_SURE[confidence])
    w.output("resistance-per-length", at, note=note)
    w.output("conductor-resistance", r, note=note)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="conductor-resistance/1",
    title="Resistance of a conductor",
    purpose="Says what a cable may have at most, for voltage drop, heat and fault current.",
    source="IEC 60228:2004, tables 2 to 4; IEC 60287-1-1",
    confidence="class 5, 10 to 120 mm²: seen; other rows from memory; 0.00393 1/K seen",
    equation=r"R = R^{\prime}_{20} \cdot \left( 1 + \alpha_{20} \cdot \left( \theta - 20 \right) \right) \cdot l",
    validity="Copper, direct current, −50 °C to 250 °C; sections of the table, or the maker's figure.",
    cautions=(
        Caution(
            "High voltage can kill. A calculated cable is not an inspected one: joints and crimps are not in this "
            "figure."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("class", "", "class of the conductor", required=False, choices=tuple(CLASSES)),
        InputSpec("section", "S", "section", "mm²", 0.5, 300, False),
        InputSpec("per_length", r"R^{\prime}_{20}", "resistance per length at 20 °C", "Ω/km", 0.01, 100, False),
        InputSpec("length", "l", "length of the conductor", "m", 0.01, 100),
        InputSpec("temperature", r"\theta", "temperature of the conductor", "°C", -40, 180),
    ),
    measurands=(
        MeasurandSpec("conductor-resistance", "resistance of the conductor", "R", "mΩ"),
        MeasurandSpec("resistance-per-length", "resistance per length at its temperature", r"R^{\prime}", "Ω/km"),
    ),
    evaluate_with=_evaluate,
)
