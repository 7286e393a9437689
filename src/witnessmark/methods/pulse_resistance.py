r"""Resistance of a cell from a current pulse: the step of the voltage over the current, at a named time into the pulse.

Source: closed form, R(t) = (U_before − U(t))/I.
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
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("u_before", "u_pulse", "current")
    w.not_negative("time")
    w.whole("series", "parallel")
    if not w.faults and w.value("u_pulse") >= w.value("u_before"):
        w.fault(
            "reading.range",
            say("u_pulse is not below u_before: a discharge pulls the voltage down"),
            say("read both again"),
        )
    if w.faults:
        return w.result()
    r = w.let("r", (w.x["u_before"] - w.x["u_pulse"]) / w.x["current"], "Ω")
    short = w.let("short", w.x["u_before"] / r, "A")
    w.step(say("Resistance at that time into the pulse."), r"R = \frac{<u_before> - <u_pulse>}{<current>} = <r>")
    w.step(say("Estimate of the short-circuit current of the cell."), r"I_k = \frac{<u_before>}{<r>} = <short>")
    where = say("{time} s into the pulse", time=marked(f"{w.value('time'):g}")) if w.has("time") else ""
    w.output("cell-resistance", r, where=where)
    w.output("cell-short-circuit-current", short, where=where)
    if w.has("series", "parallel"):
        pack = w.let("pack", r * w.x["series"] / w.x["parallel"], "Ω")
        w.step(say("Of the pack."), r"R_p = <r> \cdot \frac{<series>}{<parallel>} = <pack>")
        w.output("pack-resistance", pack, where=where)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="pulse-resistance/1",
    title="Resistance from a current pulse",
    purpose="Gives the resistance for fault current, heat and voltage sag.",
    source="closed form: R(t) = (U_before − U(t))/I",
    confidence="closed form",
    equation=r"R = \frac{U_0 - U_t}{I}",
    validity="A discharge pulse from rest; the time into the pulse belongs to the result: early values are smaller, "
    "and "
    "count for fault currents.",
    cautions=(
        Caution(
            "High voltage can kill. Pulses of hundreds of amperes heat every bad joint. Watch and be able to break off."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("u_before", "U_0", "voltage before the pulse", "V", 1, 1500, role="voltmeter"),
        InputSpec("u_pulse", "U_t", "voltage in the pulse", "V", 0.5, 1500, role="voltmeter"),
        InputSpec("current", "I", "size of the current", "A", 0.1, 2000, role="ammeter"),
        InputSpec("time", "t", "time into the pulse", "s", 0, 600, False),
        InputSpec("series", "N_s", "cells in series", "1", 1, 400, False),
        InputSpec("parallel", "N_p", "cells in parallel", "1", 1, 200, False),
    ),
    roles=(
        RoleSpec("voltmeter", "voltmeter or logger", "dc-voltage", "1 mV or finer on a cell"),
        RoleSpec("ammeter", "ammeter or logger", "dc-current", "fast against the pulse"),
    ),
    conditions=(
        ConditionSpec("charge", "state of charge of the battery", required=False),
        ConditionSpec("cell_temperature", "temperature of the cells", required=False),
    ),
    measurands=(
        MeasurandSpec("cell-resistance", "resistance", "R", "mΩ"),
        MeasurandSpec("cell-short-circuit-current", "estimate of the short-circuit current", "I_k", "A"),
        MeasurandSpec("pack-resistance", "resistance of the pack's cells", "R_p", "mΩ"),
    ),
    evaluate_with=_evaluate,
)
