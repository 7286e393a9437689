r"""Cells read one by one with a meter: highest, lowest and spread.

Source: closed form; limits are the maker's.
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import marked, say
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
from witnessmark.methods.working import Working, larger, ordered, smaller, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("voltage", "series")
    w.whole("series")
    cells = w.many["voltage"]
    if not w.faults and len(cells) != w.value("series"):
        w.fault(
            "reading.missing",
            say(
                "{cells} cells were read, and {series} are in series",
                cells=len(cells),
                series=marked(f"{w.value('series'):g}"),
            ),
            say("read every cell, in the order of the pack"),
        )
    if w.faults:
        return w.result()
    high, low = larger(cells), smaller(cells)
    names = [x.value for x in cells]
    first, last = names.index(high.value) + 1, names.index(low.value) + 1
    w.let("high", high, "V")
    w.let("low", low, "V")
    spread = w.let("spread", high - low, "V") if len(cells) > 1 else w.let("spread", high * 0, "V")
    w.step(say("Cell {first} is the highest.", first=first), "U_{max} = <high>")
    w.step(say("Cell {last} is the lowest.", last=last), "U_{min} = <low>")
    w.step(say("Spread."), r"\Delta U = <high> - <low> = <spread>")
    w.output("cell-reading-highest", high, where=say("cell {first}", first=first), among=("voltage",))
    w.output("cell-reading-lowest", low, where=say("cell {last}", last=last), among=("voltage",))
    w.output("cell-reading-spread", spread, among=("voltage",))
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="cell-readings/1",
    title="Cells read one by one",
    purpose="Shows every cell inside its window, independent of the battery management.",
    source="closed form; window: data sheet of the cell",
    confidence="closed form",
    equation=r"\Delta U = U_{max} - U_{min}",
    validity="At rest for an hour or more; every cell of the string, in the order of the pack.",
    cautions=(
        Caution(
            "High voltage can kill. Each further cell adds voltage: probes with guards, one hand, never bridge two "
            "taps."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("series", "N_s", "cells in series", "1", 1, 400),
        InputSpec("voltage", "U_n", "voltage of each cell, in order", "V", 1, 5, repeats=True, role="voltmeter"),
    ),
    roles=(RoleSpec("voltmeter", "voltmeter", "dc-voltage", "1 mV or finer", finest="1 mV"),),
    conditions=(
        ConditionSpec("rest", "how long the battery has rested", required=False),
        ConditionSpec("air", "air temperature", required=False),
    ),
    measurands=(
        MeasurandSpec("cell-reading-highest", "highest cell voltage", "U_{max}", "V"),
        MeasurandSpec("cell-reading-lowest", "lowest cell voltage", "U_{min}", "V"),
        MeasurandSpec("cell-reading-spread", "spread of the cells", r"\Delta U", "mV"),
    ),
    evaluate_with=_evaluate,
)
