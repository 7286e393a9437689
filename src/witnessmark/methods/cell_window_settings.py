r"""Settings of a battery management against the data sheet of the cell: what margin is left when it measures wrong.

Source: closed form; the data sheet governs (common practice, no source for the margins).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]

SIDES = (("high", "set_high", "sheet_high", 1), ("low", "set_low", "sheet_low", -1))


def _work(w: Working) -> Result | Refused:
    w.above_zero("set_high", "set_low", "sheet_high", "sheet_low")
    w.not_negative("error")
    for low, high in (("set_low", "set_high"), ("sheet_low", "sheet_high")):
        if w.value(low) >= w.value(high):
            w.fault("reading.range", say("{low} is not below {high}", low=low, high=high), say("read both again"))
    if w.faults:
        return w.result()
    for side, set_to, sheet, sign in SIDES:
        margin = w.let("margin", (w.x[sheet] - w.x[set_to]) * sign - w.x["error"], "V")
        upper, lower = (f"<{sheet}>", f"<{set_to}>") if sign > 0 else (f"<{set_to}>", f"<{sheet}>")
        w.step(
            say("Margin at the upper end, when the measurement errs that way.")
            if sign > 0
            else say("Margin at the lower end, when the measurement errs that way."),
            rf"m = {upper} - {lower} - <error> = <margin>",
        )
        w.output(f"window-margin-{side}", margin)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="cell-window-settings/1",
    title="Settings of the cell window",
    purpose="Shows that the battery management acts before a cell leaves its data sheet.",
    source="closed form; data sheet of the cell and exported settings",
    confidence="common practice, no source",
    equation=r"m = U_{sheet} - U_{set} - e",
    validity="Settings exported from the unit that is built in; error of its cell measurement as its maker states it.",
    cautions=(
        Caution("High voltage can kill. A cell that is charged above its window burns, later and without warning."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("set_high", "U_{set,1}", "upper end as set", "V", 1, 5),
        InputSpec("set_low", "U_{set,2}", "lower end as set", "V", 0.5, 4),
        InputSpec("sheet_high", "U_{sheet,1}", "highest voltage of the data sheet", "V", 1, 5),
        InputSpec("sheet_low", "U_{sheet,2}", "lowest voltage of the data sheet", "V", 0.5, 4),
        InputSpec("error", "e", "largest error of the cell measurement", "mV", 0, 100),
    ),
    measurands=(
        MeasurandSpec("window-margin-high", "margin at the upper end", "m_1", "mV"),
        MeasurandSpec("window-margin-low", "margin at the lower end", "m_2", "mV"),
    ),
    evaluate_with=_evaluate,
)
