r"""Rated impulse voltage of equipment from the voltage line to neutral and the overvoltage category.

Source: IEC 60664-1:2020, table F.1, as in public transcriptions (seen).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import marked, say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.insulation_tables import IMPULSE, look_up
from witnessmark.methods.working import EXACT, Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("voltage")
    row = IMPULSE[w.words["category"]]
    w.valid("voltage", None, row[-1][0], "V", say("the table ends there"))
    if w.faults:
        return w.result()
    value, _, high = look_up(row, max(w.value("voltage"), row[0][0]), "next-row")
    w.let("impulse", value, "V")
    w.step(
        say(
            "The row of {high} V, overvoltage category {category}.",
            high=marked(f"{high[0]:g}"),
            category=w.words["category"],
        ),
        r"U_{imp} = <impulse>",
    )
    w.output("rated-impulse-voltage", value, note=say(EXACT))
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="impulse-voltage/1",
    title="Rated impulse voltage",
    purpose="Says which overvoltage the clearances of a circuit have to bear.",
    source="IEC 60664-1:2020, table F.1",
    confidence="seen (transcriptions agree)",
    equation=r"U_{imp} = U_{table} \left( U_{LN} , OVC \right)",
    validity="Up to 1500 V line to neutral; for a circuit that the mains never reaches, state the overvoltage that "
    "can occur.",
    cautions=(
        Caution("High voltage can kill. A circuit that is charged from the mains sees the mains' overvoltages."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("voltage", "U_{LN}", "voltage line to neutral, or DC", "V", 1, 1500),
        InputSpec("category", "", "overvoltage category", choices=tuple(IMPULSE)),
    ),
    measurands=(MeasurandSpec("rated-impulse-voltage", "rated impulse voltage", "U_{imp}", "V"),),
    evaluate_with=_evaluate,
)
