r"""Energy in the X and Y capacitors of a bus, in the newer and in the older form, and the capacitance for a limit.

The newer form is ½ · C · U². The older one subtracts the energy at 60 V, ½ · C · (U² − 3600 V²), with another limit.
The record has to say which edition it applies.

Source: UN Regulation No. 94, revision 4, pages 61 and 62 (newer, seen); the older form from memory.
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import Words, declared, marked, say
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

FORMS = {"newer": 0.0, "older": 60.0}
"""Voltage in V whose energy is subtracted."""


NEWER = Words(
    {
        "x": declared("Energy of the X capacitance, newer form."),
        "y1": declared("Energy of the Y capacitance, negative side, newer form."),
        "y2": declared("Energy of the Y capacitance, positive side, newer form."),
    }
)
OLDER = Words(
    {
        "x": declared("Energy of the X capacitance, older form."),
        "y1": declared("Energy of the Y capacitance, negative side, older form."),
        "y2": declared("Energy of the Y capacitance, positive side, older form."),
    }
)


def _work(w: Working) -> Result | Refused:
    pairs = [("x", "cx", "ub"), ("y1", "cy1", "u1"), ("y2", "cy2", "u2")]
    residual = FORMS[w.words["form"]]
    given = [(name, c, u) for name, c, u in pairs if w.has(c) or w.has(u)]
    for _, c, u in given:
        for one, other in ((c, u), (u, c)):
            if not w.has(one) and not (one == "cx" and w.has("ub") and w.has("energy_limit")):
                w.fault(
                    "reading.missing",
                    say("{other} is given without {one}", other=other, one=one),
                    say("write {one} too", one=one),
                )
        w.above_zero(c, u)
        if residual and w.has(u) and w.value(u) < residual:
            w.fault(
                "validity.range",
                say(
                    "{name} is {read} V: below {residual} V, where the older form begins",
                    name=u,
                    read=marked(f"{w.value(u):.6g}"),
                    residual=marked(f"{residual:g}"),
                ),
                say("there is no energy to count below 60 V in that form"),
            )
    w.above_zero("energy_limit")
    if not given:
        w.fault(
            "reading.missing", say("no capacitance is given"), say("write cx with ub, or cy1 with u1 and cy2 with u2")
        )
    if w.faults:
        return w.result()
    energies = []
    for name, c, u in given:
        less = "" if not residual else " - 3600\\,\\mathrm{V}^2"
        if w.has(c):
            energy = w.let(f"e_{name}", 0.5 * w.x[c] * (w.x[u] * w.x[u] - residual * residual), "J")
            energies.append(energy)
            w.step(
                (OLDER if residual else NEWER)[name],
                rf"E = \frac{{1}}{{2}} \cdot <{c}> \cdot \left( \left( <{u}> \right)^2{less} \right) = <e_{name}>",
            )
            w.output(f"energy-{name}", energy)
    if len(energies) == len(pairs):
        w.output("energy-largest", larger(energies))
    elif energies:
        w.alarm(
            "energy.some",
            say("Not all of X and both Y capacitances are given: the largest energy is not told."),
            say("Write cx with ub, cy1 with u1 and cy2 with u2."),
        )
    if w.has("energy_limit", "ub"):
        if w.value("ub") <= residual:
            w.fault(
                "validity.range", say("ub is not above 60 V, where the older form begins"), say("use the newer form")
            )
            return w.result()
        most = w.let("most", 2 * w.x["energy_limit"] / (w.x["ub"] * w.x["ub"] - residual * residual), "F")
        less = "" if not residual else r" - 3600\,\mathrm{V}^2"
        w.step(
            say("Capacitance across the bus that holds just the energy limit."),
            rf"C = \frac{{2 \cdot <energy_limit>}}{{\left( <ub> \right)^2{less}}} = <most>",
        )
        w.output("capacitance-at-limit", most)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="capacitor-energy/1",
    title="Energy in X and Y capacitors",
    purpose="Shows that what is left on a parted bus is too little to hurt.",
    source="UN Regulation No. 94, revision 4 (04 series), pages 61 and 62; older editions of the same rule",
    confidence="newer form and 0.2 J seen; older form (less 3600 V²) and 2.0 J from memory",
    equation=r"E_x = \frac{1}{2} \cdot C_x \cdot U_b^2 \quad E_{y1} = \frac{1}{2} \cdot C_{y1} \cdot U_1^2",
    validity="Form named by the record: newer (no subtraction) or older (less 60 V). In-use clauses of Regulation "
    "No. 100 "
    "have no energy criterion.",
    cautions=(
        Caution("High voltage can kill. Charged capacitors hold their voltage after everything is switched off."),
        Caution("Discharge through a resistor, never by a short. Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("form", "", "edition of the formula", choices=("newer", "older")),
        InputSpec("cx", "C_x", "X capacitance across the bus, upper end of its tolerance", "µF", 1e-4, 1e5, False),
        InputSpec("ub", "U_b", "voltage across the bus", "V", 1, 1500, False, role="voltmeter"),
        InputSpec("cy1", "C_{y1}", "Y capacitance of the negative side, upper end", "µF", 1e-4, 100, False),
        InputSpec("u1", "U_1", "negative side to chassis", "V", 1, 1500, False, role="voltmeter"),
        InputSpec("cy2", "C_{y2}", "Y capacitance of the positive side, upper end", "µF", 1e-4, 100, False),
        InputSpec("u2", "U_2", "positive side to chassis", "V", 1, 1500, False, role="voltmeter"),
        InputSpec("energy_limit", "E_{max}", "energy for which the capacitance is asked", "J", 0.01, 10, False),
    ),
    roles=(RoleSpec("voltmeter", "voltmeter", "dc-voltage", "rated for the bus"),),
    conditions=(ConditionSpec("parted", "how the bus was parted from its source", required=False),),
    measurands=(
        MeasurandSpec("energy-largest", "largest of the three energies", "E", "J"),
        MeasurandSpec("energy-x", "energy of the X capacitance", "E_x", "J"),
        MeasurandSpec("energy-y1", "energy of the Y capacitance, negative side", "E_{y1}", "J"),
        MeasurandSpec("energy-y2", "energy of the Y capacitance, positive side", "E_{y2}", "J"),
        MeasurandSpec("capacitance-at-limit", "capacitance that holds the energy named", "C", "µF"),
    ),
    evaluate_with=_evaluate,
)
