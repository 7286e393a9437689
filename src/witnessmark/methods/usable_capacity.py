r"""Usable capacity of a string that was balanced full: the weakest group ends the discharge.

Source: closed form.
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
from witnessmark.methods.working import Working, larger, ordered, smaller, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("group_capacity")
    w.not_negative("charge_drawn")
    if w.faults:
        return w.result()
    groups = w.many["group_capacity"]
    weakest, strongest = smaller(groups), larger(groups)
    names = [x.value for x in groups]
    w.let("weakest", weakest, "Ah")
    w.let("strongest", strongest, "Ah")
    left = w.let("left", strongest - weakest, "Ah") if len(groups) > 1 else w.let("left", weakest * 0, "Ah")
    w.step(say("Group {number} is the weakest.", number=names.index(weakest.value) + 1), "Q = <weakest>")
    w.step(say("Left in the strongest group when it is empty."), r"<strongest> - <weakest> = <left>")
    w.output(
        "usable-capacity",
        weakest,
        where=say("group {number}", number=names.index(weakest.value) + 1),
        among=("group_capacity",),
    )
    w.output("capacity-left", left, among=("group_capacity",))
    if w.has("charge_drawn"):
        if w.value("charge_drawn") > weakest.value:
            w.fault(
                "validity.range",
                say("charge_drawn is more than the weakest group holds"),
                say("the group would be reversed"),
            )
            return w.result()
        soc = w.let("soc", 1 - w.x["charge_drawn"] / weakest, "%")
        w.step(say("State of charge by the weakest group."), r"1 - \frac{<charge_drawn>}{<weakest>} = <soc>")
        w.output("state-of-charge", soc, among=("group_capacity",))
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="usable-capacity/1",
    title="Usable capacity of a string",
    purpose="Gives the capacity that may be drawn, and the state of charge by the group that ends it.",
    source="closed form",
    confidence="closed form",
    equation=r"Q = \min \left( Q_1 , Q_2 \cdots \right)",
    validity="All groups full at the start (top balanced); capacities at the same temperature and current.",
    cautions=(
        Caution("High voltage can kill. A group that is drawn below empty is reversed, and burns at the next charge."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("group_capacity", "Q_n", "capacity of each group", "Ah", 0.1, 1000, repeats=True, role="cycler"),
        InputSpec("charge_drawn", "q", "charge drawn since full", "Ah", 0, 1000, False),
    ),
    roles=(RoleSpec("cycler", "cell cycler", "charge", "charge known to 1 % or better"),),
    conditions=(
        ConditionSpec("air", "air temperature", required=False),
        ConditionSpec("cell_temperature", "temperature of the cells", required=False),
    ),
    measurands=(
        MeasurandSpec("usable-capacity", "usable capacity", "Q", "Ah"),
        MeasurandSpec("capacity-left", "left in the strongest group", r"\Delta Q", "Ah"),
        MeasurandSpec("state-of-charge", "state of charge by the weakest group", "s", "%"),
    ),
    evaluate_with=_evaluate,
)
