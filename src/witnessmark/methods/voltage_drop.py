r"""Voltage drop and loss of a cable run.

Source: closed form, ΔU = I · R′ · l · n, with n = 2 for out and back.
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]

WAYS = {"out-and-back": 2.0, "one-way": 1.0}


def _work(w: Working) -> Result | Refused:
    w.above_zero("current", "length", "per_length", "voltage")
    if w.faults:
        return w.result()
    ways = WAYS[w.words["ways"]]
    w.show("n", f"{ways:g}")
    drop = w.let("drop", w.x["current"] * w.x["per_length"] * w.x["length"] * ways, "V")
    part = w.let("part", drop / w.x["voltage"], "%")
    loss = w.let("loss", drop * w.x["current"], "W")
    w.step(
        say("Voltage drop, {ways}.", ways=w.chosen("ways")),
        r"\Delta U = <current> \cdot <per_length> \cdot <length> \cdot <n> = <drop>",
    )
    w.step(say("Of the voltage of the circuit."), r"\frac{<drop>}{<voltage>} = <part>")
    w.step(say("Heat along the run."), r"P = <drop> \cdot <current> = <loss>")
    if part.value > 1:
        w.alarm(
            "drop.more-than-all",
            say("The drop is more than the whole voltage."),
            say("Look at the prefixes."),
            fatal=True,
        )
    w.output("voltage-drop", drop)
    w.output("voltage-drop-part", part)
    w.output("cable-loss", loss)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="voltage-drop/1",
    title="Voltage drop of a cable run",
    purpose="Says what a run costs in voltage and heat.",
    source="closed form: ΔU = I · R′ · l · n",
    confidence="closed form",
    equation=r"\Delta U = I \cdot R^{\prime} \cdot l \cdot n",
    validity="Direct current; resistance per length at the temperature of the conductor; joints not counted.",
    cautions=(
        Caution("High voltage can kill. Heat in a bundle adds up: the drop does not say that the cable stays cool."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("current", "I", "current", "A", 0.01, 2000),
        InputSpec("per_length", r"R^{\prime}", "resistance per length, at temperature", "Ω/km", 0.01, 100),
        InputSpec("length", "l", "length of the run", "m", 0.01, 100),
        InputSpec("ways", "", "counted", choices=tuple(WAYS)),
        InputSpec("voltage", "U", "voltage of the circuit", "V", 5, 1500),
    ),
    measurands=(
        MeasurandSpec("voltage-drop", "voltage drop", r"\Delta U", "V"),
        MeasurandSpec("voltage-drop-part", "voltage drop over voltage", "q", "%"),
        MeasurandSpec("cable-loss", "heat along the run", "P", "W"),
    ),
    evaluate_with=_evaluate,
)
