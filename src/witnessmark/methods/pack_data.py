r"""Data of a pack from its cells: voltages, capacity, energy, resistance.

The voltage class is judged by the highest voltage: fifteen cells of 3.7 V nominal are above 60 V when full.

Source: closed form; 60 V DC: UN Regulation No. 100, 5.1 (seen).
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from witnessmark.language import Words, declared, marked, say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD", "is_high_voltage"]

CLASS_LIMIT = 60.0
"""Highest DC voltage in V that is not high voltage."""


VOLTAGES = Words(
    {
        "highest": declared("Highest voltage."),
        "nominal": declared("Nominal voltage."),
        "lowest": declared("Lowest voltage."),
    }
)


def is_high_voltage(highest: float) -> bool:
    """Whether a DC voltage `highest` in V is high voltage: above 60 V. Source: UN Regulation No. 100, 5.1."""
    return highest > CLASS_LIMIT


def _work(w: Working) -> Result | Refused:
    w.whole("series", "parallel")
    w.above_zero("cell_highest", "cell_nominal", "cell_lowest", "cell_capacity", "cell_resistance")
    order = [name for name in ("cell_lowest", "cell_nominal", "cell_highest") if w.has(name)]
    for low, high in pairwise(order):
        if w.value(low) >= w.value(high):
            w.fault(
                "reading.range",
                say("{low} is not below {high}", low=low, high=high),
                say("look at the data sheet of the cell again"),
            )
    if w.faults:
        return w.result()
    series = w.x["series"]
    for name, title in VOLTAGES.items():
        if w.has(f"cell_{name}"):
            voltage = w.let(name, series * w.x[f"cell_{name}"], "V")
            w.step(title, rf"U = <series> \cdot <cell_{name}> = <{name}>")
            w.output(f"pack-voltage-{name}", voltage)
    if w.has("cell_capacity"):
        capacity = w.let("capacity", w.x["parallel"] * w.x["cell_capacity"], "Ah")
        w.step(say("Capacity."), r"Q = <parallel> \cdot <cell_capacity> = <capacity>")
        w.output("pack-capacity", capacity)
        if w.has("cell_nominal"):
            energy = w.let("energy", capacity * w.x["nominal"], "kWh")
            w.step(say("Energy at the nominal voltage."), r"E = <capacity> \cdot <nominal> = <energy>")
            w.output("pack-energy", energy)
    if w.has("cell_resistance"):
        r = w.let("r", w.x["cell_resistance"] * series / w.x["parallel"], "Ω")
        w.step(say("Resistance of the cells."), r"R = <cell_resistance> \cdot \frac{<series>}{<parallel>} = <r>")
        w.output("calculated-pack-resistance", r)
    if is_high_voltage(w.value("highest")):
        w.alarm(
            "pack.high-voltage",
            say(
                "Full, the pack has {highest} V: above 60 V DC it is high voltage, whatever the nominal says.",
                highest=marked(f"{w.value('highest'):.4g}"),
            ),
            say("Treat it as high voltage from the first cell on."),
        )
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="pack-data/1",
    title="Data of a pack from its cells",
    purpose="Gives voltages, capacity and energy for the file, and the voltage by which the class is judged.",
    source="closed form; UN Regulation No. 100, 5.1 (60 V DC)",
    confidence="closed form; 60 V seen",
    equation=r"U = N_s \cdot U_c \quad Q = N_p \cdot Q_c \quad E = Q \cdot U_{nom}",
    validity="Equal cells; data sheet of the cell at the temperature of use.",
    cautions=(
        Caution(
            "High voltage can kill. A pack cannot be switched off: every module is live from the moment it is joined."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("series", "N_s", "cells in series", "1", 1, 400),
        InputSpec("parallel", "N_p", "cells in parallel", "1", 1, 200),
        InputSpec("cell_highest", "U_{c,max}", "highest voltage of a cell", "V", 1, 5),
        InputSpec("cell_nominal", "U_{c,nom}", "nominal voltage of a cell", "V", 1, 5, False),
        InputSpec("cell_lowest", "U_{c,min}", "lowest voltage of a cell", "V", 0.5, 4, False),
        InputSpec("cell_capacity", "Q_c", "capacity of a cell", "Ah", 0.1, 400, False),
        InputSpec("cell_resistance", "R_c", "resistance of a cell", "mΩ", 0.05, 200, False),
    ),
    measurands=(
        MeasurandSpec("pack-voltage-highest", "highest voltage", "U_{max}", "V"),
        MeasurandSpec("pack-voltage-nominal", "nominal voltage", "U_{nom}", "V"),
        MeasurandSpec("pack-voltage-lowest", "lowest voltage", "U_{min}", "V"),
        MeasurandSpec("pack-capacity", "capacity", "Q", "Ah"),
        MeasurandSpec("pack-energy", "energy", "E", "kWh"),
        MeasurandSpec("calculated-pack-resistance", "resistance of the cells", "R", "mΩ"),
    ),
    evaluate_with=_evaluate,
)
