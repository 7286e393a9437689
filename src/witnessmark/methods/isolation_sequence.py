r"""Isolation before, wet and after: the lowest of the three counts, and how much the water took.

Source: UN Regulation No. 100, 03 series, 5.1.4 and Annex 7B (checked wet and again after 24 h; hours seen as proposal).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import Words, declared, say
from witnessmark.methods.base import (
    Caution,
    ConditionSpec,
    FactSpec,
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

STAGES = ("before", "wet", "after")
STAGE_WORDS = Words({"before": declared("before"), "wet": declared("wet"), "after": declared("after")})
PER_VOLT = Words(
    {
        "before": declared("Isolation per volt, before."),
        "wet": declared("Isolation per volt, wet."),
        "after": declared("Isolation per volt, after."),
    }
)


def _work(w: Working) -> Result | Refused:
    w.above_zero(*STAGES, "working_voltage")
    for stage in STAGES:
        if w.bounds.get(stage) == "<":
            w.fault(
                "reading.bound",
                say("{stage} is only known to be below a value", stage=stage),
                say("measure in a range that shows a number"),
            )
    if w.faults:
        return w.result()
    voltage = w.x["working_voltage"]
    for stage in STAGES:
        bound = w.bounds[stage]
        per_volt = w.let(f"{stage}_per_volt", w.x[stage] / voltage, "Ω/V")
        w.step(
            PER_VOLT[stage],
            rf"\frac{{<{stage}>}}{{<working_voltage>}} = <{stage}_per_volt>",
        )
        w.output(f"isolation-{stage}-per-volt", per_volt, bound=bound)
    lowest = min(STAGES, key=lambda stage: w.value(stage))
    w.output("isolation-lowest-per-volt", w.x[f"{lowest}_per_volt"], bound=w.bounds[lowest], where=STAGE_WORDS[lowest])
    if not w.bounds["before"] and not w.bounds["after"]:
        ratio = w.let("ratio", w.x["after"] / w.x["before"], "1")
        w.step(say("What came back after drying."), r"\frac{<after>}{<before>} = <ratio>")
        w.output("isolation-recovered", ratio)
        if ratio.value < 0.5:
            w.alarm(
                "isolation.not-recovered",
                say("After drying only {ratio} % of the isolation came back.", ratio=f"{100 * ratio.value:.0f}"),
                say("Water may still stand somewhere: open, look and dry, then measure again."),
            )
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="isolation-sequence/1",
    title="Isolation before, wet and after",
    purpose="Shows that isolation survives water, while wet and after drying.",
    source="UN Regulation No. 100, 03 series, 5.1.4 and Annex 7B",
    confidence="wet and after: seen (summary); 24 h seen as a proposal",
    equation=r"r = \frac{R_i}{U_w}",
    validity="Same points, same tester and same test voltage at all three; wet means at once after the exposure.",
    cautions=(
        Caution("High voltage can kill, and more so wet: test with an insulation tester and the vehicle's source off."),
        Caution(
            "Nobody touches the vehicle while the tester applies its voltage. Local codes and qualified persons decide."
        ),
    ),
    inputs=ordered(
        *(
            InputSpec(
                stage,
                f"R_{{{stage}}}",
                f"isolation resistance, {title}",
                "MΩ",
                1e-3,
                1e6,
                role="insulation-tester",
                bound_allowed=True,
            )
            for stage, title in (
                ("before", "dry, before"),
                ("wet", "at once, wet"),
                ("after", "after the waiting time"),
            )
        )
    ),
    facts=(FactSpec("working_voltage", "highest voltage of the bus in use", "V", "U_w"),),
    roles=(
        RoleSpec(
            "insulation-tester", "insulation tester", "insulation-resistance", "at least half the working voltage"
        ),
    ),
    conditions=(
        ConditionSpec("exposure", "which exposure, and how long"),
        ConditionSpec("waiting_time", "time from wet to after", required=False),
    ),
    measurands=(
        MeasurandSpec("isolation-lowest-per-volt", "lowest isolation per volt of the three", "r_{min}", "Ω/V"),
        *(MeasurandSpec(f"isolation-{s}-per-volt", f"isolation per volt, {s}", f"r_{{{s}}}", "Ω/V") for s in STAGES),
        MeasurandSpec("isolation-recovered", "isolation after over before", "q", "1"),
    ),
    evaluate_with=_evaluate,
)
