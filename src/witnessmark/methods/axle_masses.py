r"""Masses on the axles before and after a conversion: totals, increase, shift of the share, and what is permitted.

Source: closed form; +20 % and 10 points are limits of a French order (seen).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import Words, declared, say
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
from witnessmark.methods.working import Working, larger, ordered, worked

__all__ = ["METHOD"]

AXLES = ("front", "rear")
PERMITTED = Words(
    {
        "front": declared("Over what is permitted, front."),
        "rear": declared("Over what is permitted, rear."),
        "total": declared("Over what is permitted, total."),
    }
)


def _work(w: Working) -> Result | Refused:
    w.above_zero(*(f"{axle}_{when}" for axle in AXLES for when in ("before", "after")))
    w.above_zero("permitted_front", "permitted_rear", "permitted_total")
    if w.faults:
        return w.result()
    before = w.let("before", w.x["front_before"] + w.x["rear_before"], "kg")
    after = w.let("after", w.x["front_after"] + w.x["rear_after"], "kg")
    increase = w.let("increase", after / before - 1, "%")
    share_0 = w.let("share_0", w.x["front_before"] / before, "%")
    share_1 = w.let("share_1", w.x["front_after"] / after, "%")
    shift = w.let("shift", abs(share_1 - share_0), "%")
    w.step(say("Total before."), r"m_0 = <front_before> + <rear_before> = <before>")
    w.step(say("Total after."), r"m_1 = <front_after> + <rear_after> = <after>")
    w.step(say("Increase."), r"\frac{<after>}{<before>} - 1 = <increase>")
    w.step(say("Share of the front axle before and after."), r"<share_0> \quad <share_1>")
    w.step(say("Shift of the share, in points of per cent."), r"\left| <share_1> - <share_0> \right| = <shift>")
    w.output("mass-total", after)
    w.output("mass-increase", increase)
    w.output("axle-share-shift", shift)
    ratios = []
    for name, mass in (("front", w.x["front_after"]), ("rear", w.x["rear_after"]), ("total", after)):
        if w.has(f"permitted_{name}"):
            ratio = w.let(f"ratio_{name}", mass / w.x[f"permitted_{name}"], "1")
            put = "<after>" if name == "total" else f"<{name}_after>"
            w.step(
                PERMITTED[name],
                rf"q = \frac{{{put}}}{{<permitted_{name}>}} = <ratio_{name}>",
            )
            ratios.append(ratio)
            w.output(f"mass-ratio-{name}", ratio)
    if len(ratios) == 3:
        w.output("mass-ratio-largest", larger(ratios))
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="axle-masses/1",
    title="Masses on the axles",
    purpose="Shows that the converted vehicle stays inside its permitted masses, and how its balance moved.",
    source="closed form; a French order for conversions (+20 %, 10 points)",
    confidence="closed form; both limits seen",
    equation=r"\Delta s = \left| \frac{m_{f,1}}{m_1} - \frac{m_{f,0}}{m_0} \right|",
    validity="Same load, fuel, driver and scale before and after, or stated on the tickets; the vehicle level on "
    "the scale.",
    cautions=(
        Caution("High voltage can kill. Secure the vehicle on the scale; nobody stands between vehicle and wall."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("front_before", "m_{f,0}", "front axle before", "kg", 50, 20000, role="scale"),
        InputSpec("rear_before", "m_{r,0}", "rear axle before", "kg", 50, 20000, role="scale"),
        InputSpec("front_after", "m_{f,1}", "front axle after", "kg", 50, 20000, role="scale"),
        InputSpec("rear_after", "m_{r,1}", "rear axle after", "kg", 50, 20000, role="scale"),
        InputSpec("permitted_front", "M_f", "permitted on the front axle", "kg", 50, 20000, False),
        InputSpec("permitted_rear", "M_r", "permitted on the rear axle", "kg", 50, 20000, False),
        InputSpec("permitted_total", "M", "permitted in total", "kg", 100, 40000, False),
    ),
    roles=(RoleSpec("scale", "vehicle scale", "mass", "verified; ticket with date, axle and load"),),
    conditions=(ConditionSpec("load", "load, fuel and driver on the scale", required=False),),
    measurands=(
        MeasurandSpec("mass-ratio-largest", "largest of the three masses over permitted", "q", "1"),
        MeasurandSpec("mass-total", "total mass after", "m_1", "kg"),
        MeasurandSpec("mass-increase", "increase of the total", r"\Delta m", "%"),
        MeasurandSpec("axle-share-shift", "shift of the front share, in points", r"\Delta s", "%"),
        MeasurandSpec("mass-ratio-front", "front axle over permitted", "q_f", "1"),
        MeasurandSpec("mass-ratio-rear", "rear axle over permitted", "q_r", "1"),
        MeasurandSpec("mass-ratio-total", "total over permitted", "q_t", "1"),
    ),
    evaluate_with=_evaluate,
)
