r"""Bonding resistance with two wires, the resistance of leads and clips measured first and subtracted.

The contact at the clips is not the same twice, so that the difference of two readings of like size is uncertain; four
wires need no subtraction.

Source: UN Regulation No. 100, 03 series, Annex 4 (R = U/I, 0.2 A or more, seen); subtraction: engineering practice.
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

LEAST_CURRENT = 0.2
"""Annex 4: test current in A, at least."""


def _work(w: Working) -> Result | Refused:
    w.above_zero("current", "total", "leads")
    w.valid("current", LEAST_CURRENT, None, "A", say("set 0.2 A or more: the clause asks for it"))
    if w.faults:
        return w.result()
    r = w.let("r", w.x["total"] - w.x["leads"], "Ω")
    w.step(say("Reading with the leads, less that of the leads clipped together."), r"R = <total> - <leads> = <r>")
    if r.value < 0:
        w.fault(
            "calculation.range",
            say(
                "the leads alone read more ({leads} Ω) than leads and joint ({total} Ω)",
                leads=marked(f"{w.value('leads'):.6g}"),
                total=marked(f"{w.value('total'):.6g}"),
            ),
            say("clip the leads together again, tight, and read both again"),
        )
        return w.result()
    if w.value("leads") > 3 * r.value:
        w.alarm(
            "bonding.leads-dominate",
            say("The leads are more than three times the joint: the contact of the clips decides the result."),
            say("Use four wires."),
        )
    w.output("bonding-resistance", r)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="bonding-lead-subtraction/1",
    title="Bonding resistance, two wires, leads subtracted",
    purpose="Shows that touchable metal is joined to the chassis, where no four-wire instrument is at hand.",
    source="UN Regulation No. 100, 03 series, Annex 4; subtraction of the leads: engineering practice",
    confidence="0.2 A and R = U/I seen; subtraction: common practice, no source",
    equation=r"R = R_{total} - R_{leads}",
    validity="0.2 A or more; the leads are clipped together at the same clips, just before; direct current.",
    cautions=(
        Caution("High voltage can kill. The bus is dead and proven dead before anybody touches covers and chassis."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("current", "I", "test current", "A", 0.2, 30, role="ammeter"),
        InputSpec("leads", "R_{leads}", "leads clipped together", "mΩ", 0.1, 1000, role="ohmmeter"),
        InputSpec("total", "R_{total}", "leads and joint", "mΩ", 0.1, 2000, role="ohmmeter"),
    ),
    roles=(
        RoleSpec("ohmmeter", "resistance tester", "resistance", "resolution of 0.01 Ω or finer", finest="0.01 Ω"),
        RoleSpec("ammeter", "current setting or ammeter", "dc-current", "shows that 0.2 A flow"),
    ),
    conditions=(ConditionSpec("bus", "high-voltage bus", "dead"),),
    measurands=(MeasurandSpec("bonding-resistance", "bonding resistance", "R", "mΩ"),),
    evaluate_with=_evaluate,
)
