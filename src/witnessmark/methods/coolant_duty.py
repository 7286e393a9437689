r"""Heat, flow or temperature rise of a coolant: two of the three are given, the third is computed.

Source: closed form, Q = q_m · c_p · ΔT, with q_m = ρ · q_v.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

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
from witnessmark.quantities.propagation import Uncertain

__all__ = ["METHOD"]

T = TypeVar("T", float, Uncertain)


def _work(w: Working) -> Result | Refused:
    w.above_zero("heat", "flow", "rise", "density", "heat_capacity")
    solve = w.words["solve"]
    for name in ("heat", "flow", "rise"):
        if (name == solve) == w.has(name):
            w.fault(
                "reading.repeated" if name == solve else "reading.missing",
                say("{name} is asked for, and given too", name=name)
                if name == solve
                else say("{name} is needed to find the {wanted}", name=name, wanted=solve),
                say("take {name} out", name=name) if name == solve else say("write {name}", name=name),
            )
    if w.faults:
        return w.result()
    carried = w.x["density"] * w.x["heat_capacity"]
    if solve == "heat":
        value = w.let("heat", carried * w.x["flow"] * w.x["rise"], "W")
        w.step(say("Heat carried away."), r"Q = <density> \cdot <flow> \cdot <heat_capacity> \cdot <rise> = <heat>")
    elif solve == "flow":
        value = w.let("flow", w.x["heat"] / (carried * w.x["rise"]), "L/min")
        w.step(
            say("Flow that is needed."), r"q_v = \frac{<heat>}{<density> \cdot <heat_capacity> \cdot <rise>} = <flow>"
        )
    else:
        value = w.let("rise", w.x["heat"] / (carried * w.x["flow"]), "K")
        w.step(
            say("Rise of temperature."),
            r"\Delta T = \frac{<heat>}{<density> \cdot <flow> \cdot <heat_capacity>} = <rise>",
        )
    w.output({"heat": "coolant-heat", "flow": "coolant-flow", "rise": "coolant-rise"}[solve], value)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="coolant-duty/1",
    title="Heat, flow and temperature rise of a coolant",
    purpose="Shows that a loop carries the heat of battery, inverter or motor.",
    source="closed form: Q = ρ · q_v · c_p · ΔT",
    confidence="closed form",
    equation=r"Q = \rho \cdot q_v \cdot c_p \cdot \Delta T",
    validity="Steady state; density and heat capacity at the mean temperature, by the concentration that was named.",
    cautions=(
        Caution("High voltage can kill. Coolant conducts: a leak inside a battery shorts it. Hot coolant scalds."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("solve", "", "what is asked", choices=("heat", "flow", "rise")),
        InputSpec("density", r"\rho", "density of the coolant", "kg/m³", 900, 1200),
        InputSpec("heat_capacity", "c_p", "heat capacity of the coolant", "J/kg/K", 2000, 4300),
        InputSpec("heat", "Q", "heat", "W", 1, 2e5, False),
        InputSpec("flow", "q_v", "flow", "L/min", 0.1, 200, False, role="flow-meter"),
        InputSpec("rise", r"\Delta T", "rise of temperature, out less in", "K", 0.1, 60, False, role="thermometer"),
    ),
    roles=(
        RoleSpec("flow-meter", "flow meter", "flow", "or bucket and clock", required=False),
        RoleSpec(
            "thermometer", "pair of thermometers", "temperature-difference", "both in one bath first", required=False
        ),
    ),
    conditions=(ConditionSpec("air", "air temperature", required=False),),
    measurands=(
        MeasurandSpec("coolant-heat", "heat carried away", "Q", "W"),
        MeasurandSpec("coolant-flow", "flow that is needed", "q_v", "L/min"),
        MeasurandSpec("coolant-rise", "rise of temperature", r"\Delta T", "K"),
    ),
    evaluate_with=_evaluate,
)
