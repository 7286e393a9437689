r"""Warm-up of a mass without loss: the time for a rise, or the rise in a time.

Source: closed form, P · t = m · c · ΔT.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked
from witnessmark.quantities.propagation import Uncertain

__all__ = ["METHOD"]

T = TypeVar("T", float, Uncertain)


def _work(w: Working) -> Result | Refused:
    w.above_zero("power", "mass", "heat_capacity", "rise", "time")
    if w.has("rise") == w.has("time"):
        w.fault(
            "reading.missing", say("either rise or time has to be given, and not both"), say("write one of the two")
        )
    if w.faults:
        return w.result()
    store = w.x["mass"] * w.x["heat_capacity"]
    if w.has("rise"):
        value = w.let("answer", store * w.x["rise"] / w.x["power"], "s")
        w.step(say("Time for the rise."), r"t = \frac{<mass> \cdot <heat_capacity> \cdot <rise>}{<power>} = <answer>")
        w.output("warm-up-time", value)
    else:
        value = w.let("answer", w.x["power"] * w.x["time"] / store, "K")
        w.step(
            say("Rise in the time."), r"\Delta T = \frac{<power> \cdot <time>}{<mass> \cdot <heat_capacity>} = <answer>"
        )
        w.output("warm-up-rise", value)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="warm-up/1",
    title="Warm-up without loss",
    purpose="Says how fast a cell or pack warms, by its own loss or by a heater.",
    source="closed form: P · t = m · c · ΔT",
    confidence="closed form",
    equation=r"P \cdot t = m \cdot c \cdot \Delta T",
    validity="No heat is lost and the mass has one temperature: the fastest rise that can be.",
    cautions=(
        Caution(
            "High voltage can kill. A heater inside a battery needs its own fuse and its own limit of temperature."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("power", "P", "power", "W", 0.1, 2e4),
        InputSpec("mass", "m", "mass", "kg", 0.01, 2000),
        InputSpec("heat_capacity", "c", "heat capacity", "J/kg/K", 300, 4300),
        InputSpec("rise", r"\Delta T", "rise of temperature", "K", 0.1, 200, False),
        InputSpec("time", "t", "time", "s", 0.1, 1e5, False),
    ),
    measurands=(
        MeasurandSpec("warm-up-time", "time for the rise", "t", "s"),
        MeasurandSpec("warm-up-rise", "rise in the time", r"\Delta T", "K"),
    ),
    evaluate_with=_evaluate,
)
