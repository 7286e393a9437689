r"""Mass of hydrogen that a battery gave off in a closed chamber, from concentration, pressure and temperature.

k = 2.42 is the molar mass of hydrogen over the gas constant in the units of the formula (2.016/8.314 · 10).

Source: UN Regulation No. 100, 03 series, Annex 8, pages 60 and 63 (formula seen; k from memory, as the gas law says).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import (
    Caution,
    ConditionSpec,
    InputSpec,
    MeasurandSpec,
    Method,
    Reading,
    Refused,
    Result,
    RoleSpec,
)
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]

K = 2.42


def _work(w: Working) -> Result | Refused:
    w.above_zero("volume", "pressure_start", "pressure_end")
    w.not_negative("concentration_start", "concentration_end", "volume_out")
    for name in ("temperature_start", "temperature_end"):
        w.valid(name, -20, 60, "°C", say("the chamber is held at 18 °C to 22 °C"))
    if w.faults:
        return w.result()
    terms = []
    for when in ("end", "start"):
        w.let(f"t_{when}", w.x[f"temperature_{when}"], "K")
        # Annex 8: concentration in ppm, pressure in kPa, temperature in K.
        kpa = w.x[f"pressure_{when}"] / 1000
        terms.append(w.x[f"concentration_{when}"] * kpa / w.x[f"temperature_{when}"])
    factor, put_in = 1 + 0 * w.x["volume"], ""
    if w.has("volume_out"):
        factor = 1 + w.x["volume_out"] / w.x["volume"]
        put_in = r"\left( 1 + \frac{<volume_out>}{<volume>} \right) \cdot "
    grams = K * w.x["volume"] * 1e-4 * (factor * terms[0] - terms[1])
    mass = w.let("mass", grams / 1000, "g")
    w.step(
        say("With concentrations in ppm, pressures in kPa and temperatures in K."),
        r"m = 2.42 \cdot <volume> \cdot 10^{-4} \cdot \left( "
        + put_in
        + r"<concentration_end> \cdot \frac{<pressure_end>}{<t_end>} - <concentration_start> \cdot "
        r"\frac{<pressure_start>}{<t_start>} \right) = <mass>",
    )
    w.output("hydrogen-mass", mass)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="hydrogen-mass/1",
    title="Hydrogen emission",
    purpose="Shows that a battery with aqueous electrolyte gives off little hydrogen while it is charged.",
    source="UN Regulation No. 100, 03 series, Annex 8",
    confidence="formula seen; k = 2.42 from memory, agrees with the gas law",
    equation=r"m = k \cdot V \cdot 10^{-4} \cdot \left( \left( 1 + \frac{V_{out}}{V} \right) \cdot "
    r"\frac{C_f \cdot p_f}{T_f} - \frac{C_i \cdot p_i}{T_i} \right)",
    validity="Sealed chamber, mixed; net volume (for a vehicle 1.42 m³ are taken off). Lithium-ion batteries are "
    "exempt.",
    cautions=(
        Caution("Hydrogen explodes from 4 % in air. Chamber with detector, vent and no source of ignition."),
        Caution("High voltage can kill. Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("volume", "V", "net volume of the chamber", "m³", 0.1, 200, role="chamber"),
        InputSpec("volume_out", "V_{out}", "volume let out to hold the pressure", "m³", 0, 50, False, role="chamber"),
        InputSpec("concentration_start", "C_i", "hydrogen at the start, in ppm", "1", 0, 40000, role="analyser"),
        InputSpec("pressure_start", "p_i", "pressure at the start", "kPa", 80, 110, role="barometer"),
        InputSpec("temperature_start", "T_i", "temperature at the start", "°C", 15, 30, role="thermometer"),
        InputSpec("concentration_end", "C_f", "hydrogen at the end, in ppm", "1", 0, 40000, role="analyser"),
        InputSpec("pressure_end", "p_f", "pressure at the end", "kPa", 80, 110, role="barometer"),
        InputSpec("temperature_end", "T_f", "temperature at the end", "°C", 15, 30, role="thermometer"),
    ),
    roles=(
        RoleSpec("chamber", "chamber", "volume", "volume repeatable to 0.5 %"),
        RoleSpec("analyser", "hydrogen analyser", "concentration", "for hydrogen in air, by volume"),
        RoleSpec("barometer", "barometer", "pressure", "in the room of the chamber"),
        RoleSpec("thermometer", "thermometer", "temperature", "in the chamber"),
    ),
    conditions=(
        ConditionSpec("air", "temperature of the room", required=False),
        ConditionSpec("airing", "whether the room was closed", required=False),
    ),
    measurands=(MeasurandSpec("hydrogen-mass", "mass of hydrogen", "m", "g"),),
    evaluate_with=_evaluate,
)
