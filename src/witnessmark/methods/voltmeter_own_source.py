r"""Isolation resistance with one voltmeter and the vehicle's own DC source.

Ri = Ro · Ub · (1/U1' − 1/U1) with Ro on the negative side, the mirror with U2 on the positive side. One meter is
moved from side to side: then its own resistance drops out, and the result is the true resistance of the pole opposite
to Ro, which is the weaker one when Ro sits where the larger voltage was read.

Source: UN Regulation No. 100, 03 series, Annex 5A, own DC source (four formulas of document page 41, seen); division by
the working voltage, meter of 10 MΩ or more (sister texts, seen).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from witnessmark.language import declared, marked, say
from witnessmark.methods.base import (
    Alarm,
    Caution,
    ConditionSpec,
    FactSpec,
    FigureData,
    InputSpec,
    MeasurandSpec,
    Method,
    Reading,
    Refused,
    Result,
    RoleSpec,
    Step,
)
from witnessmark.methods.checking import (
    Quantities,
    fact_number,
    latex,
    numbers,
    output_of,
    plausibility,
    spoken,
    the,
    unstated,
)
from witnessmark.methods.formulas import isolation_resistance
from witnessmark.problems import Problem
from witnessmark.quantities.format import printed
from witnessmark.quantities.propagation import Uncertain
from witnessmark.quantities.quantity import Quantity
from witnessmark.quantities.units import parse_unit

__all__ = ["METHOD"]

LEAST_METER_OHM = 10e6
"""Annex 5A: internal resistance of the voltmeter, at least."""

_SLACK = 0.01
"""Sums of readings may miss the bus voltage by this part of it, as the bus moves between two readings (common practice,
no source), or by their expanded uncertainty where that is more."""


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    negative = readings["ro_at"][0].word == "negative"
    side, loaded_name, other, other_loaded = (
        ("u1", "u1_loaded", "u2", "u2_loaded") if negative else ("u2", "u2_loaded", "u1", "u1_loaded")
    )
    faults: list[Problem] = []
    if not readings.get(loaded_name):
        faults.append(
            Problem(
                "reading.missing",
                say("Ro sits on the negative side, so {loaded} is needed", loaded=loaded_name)
                if negative
                else say("Ro sits on the positive side, so {loaded} is needed", loaded=loaded_name),
                say("read {loaded} with Ro fitted, and write it in V", loaded=loaded_name),
            )
        )
    for name in ("ub", "u1", "u2", "ro", "u1_loaded", "u2_loaded"):
        quantity = the(readings, name)
        if quantity is None:
            continue
        may_be_zero = name in (other, other_loaded)
        if quantity.value < 0 or (quantity.value == 0 and not may_be_zero):
            faults.append(
                Problem(
                    "reading.range",
                    say("{name} is {read}; it has to be zero or more", name=name, read=printed(quantity))
                    if may_be_zero
                    else say("{name} is {read}; it has to be more than zero", name=name, read=printed(quantity)),
                    say("write the size of the voltage without a sign, and check that the bus is energised"),
                )
            )
    working = facts["working_voltage"]
    assert isinstance(working, Quantity)
    if working.value <= 0:
        faults.append(
            Problem(
                "fact.range",
                say("the working voltage is {working}; it has to be more than zero", working=printed(working)),
                say("state it anew"),
            )
        )
    if faults:
        return Refused(tuple(faults))

    x, unknown = numbers(readings, ("ub", "u1", "u2", "ro", "u1_loaded", "u2_loaded"))
    ri = isolation_resistance(x["ro"], x["ub"], x[loaded_name], x[side])
    per_volt = ri / fact_number(facts, "working_voltage")
    unknown = [name for name in unknown if name in ("ub", "ro", side, loaded_name)]
    known = not unknown
    outputs = (
        output_of(METHOD.measurands[0], ri, known=known),
        output_of(METHOD.measurands[1], per_volt, known=known),
    )
    alarms = [
        *_alarms(x, side, loaded_name, other, other_loaded, ri.value, working, facts.get("nominal_voltage")),
        *unstated(unknown),
        *plausibility(METHOD, readings),
    ]
    ohm = parse_unit("Ω")
    ohm_per_volt = parse_unit("Ω/V")
    q = {name: readings[name][0].quantity for name in ("ub", "ro", side, loaded_name)}
    ub, ro, plain, loaded = (q[name] for name in ("ub", "ro", side, loaded_name))
    assert ub is not None and ro is not None and plain is not None and loaded is not None
    index = "1" if negative else "2"
    prime = f"U_{index}^{{\\prime}}"
    steps = (
        Step(
            say("Ro sits on the negative side; the result is the resistance of the positive side to chassis.")
            if negative
            else say("Ro sits on the positive side; the result is the resistance of the negative side to chassis."),
            rf"R_i = R_o \cdot U_b \cdot \left( \frac{{1}}{{{prime}}} - \frac{{1}}{{U_{index}}} \right)",
            say(
                "R i is R o times U b times, in brackets, one over U {index} with R o, minus one over U {index}",
                index=index,
            ),
        ),
        Step(
            say("Isolation resistance, with the readings put in."),
            rf"R_i = {latex(ro)} \cdot {latex(ub)} \cdot \left( \frac{{1}}{{{latex(loaded)}}}"
            rf" - \frac{{1}}{{{latex(plain)}}} \right) = {latex(ri.value, ohm)}",
            say(
                "R i is {ro} times {ub} times, in brackets, one over {loaded} minus one over {plain}: {ri}",
                ro=spoken(ro),
                ub=spoken(ub),
                loaded=spoken(loaded),
                plain=spoken(plain),
                ri=spoken(ri.value, ohm),
            ),
        ),
        Step(
            say("Divided by the working voltage of the bus."),
            rf"\frac{{R_i}}{{U_w}} = \frac{{{latex(ri.value, ohm)}}}{{{latex(working)}}}"
            rf" = {latex(per_volt.value, ohm_per_volt)}",
            say(
                "R i over U w is {ri} over {working}: {per_volt}",
                ri=spoken(ri.value, ohm),
                working=spoken(working),
                per_volt=spoken(per_volt.value, ohm_per_volt),
            ),
        ),
    )
    figure = FigureData(
        "interval",
        say("Isolation resistance per volt"),
        say("isolation per volt"),
        "",
        "Ω/V",
        "",
        numbers={"value": per_volt.value} | ({} if outputs[1].U is None else {"U": outputs[1].U}),
    )
    return Result(METHOD.id, outputs, steps, tuple(alarms), (figure,))


SUM = declared(
    "{one} and {two} add to {total} V, but {low} V to {high} V is possible with ub = {ub} V and a meter of 10 MΩ or "
    "more."
)
SUM_WITH_RO = declared(
    "{one} and {two} with Ro add to {total} V, but {low} V to {high} V is possible with ub = {ub} V and a meter of "
    "10 MΩ or more."
)


def _tolerance(x: Mapping[str, Uncertain], *names: str) -> float:
    """How far a sum may miss, in V: the expanded uncertainty (k = 2) or the slack, whichever is more."""
    u = math.sqrt(math.fsum(x[name].inputs[name].u ** 2 for name in names))
    return max(2 * u, _SLACK * x["ub"].value)


def _alarms(
    x: Mapping[str, Uncertain],
    side: str,
    loaded_name: str,
    other: str,
    other_loaded: str,
    ri: float,
    working: Quantity,
    nominal: Quantity | str | None,
) -> list[Alarm]:
    """What the readings say about each other. Voltages in V, `ri` in Ω."""
    alarms: list[Alarm] = []
    v = {name: number.value for name, number in x.items()}
    ub = v["ub"]
    # Right pole: Ro belongs where the larger voltage was read, or the result is that of the stronger pole.
    if v[other] > v[side]:
        apart = v[other] - v[side] > 2 * math.hypot(x[other].inputs[other].u, x[side].inputs[side].u)
        alarms.append(
            Alarm(
                "isolation.wrong-pole",
                say(
                    "{other} is larger than {side}, but Ro sits where {side} was read: the result is the "
                    "better pole's.",
                    other=other,
                    side=side,
                ),
                say("Fit Ro to the other side and read {other_loaded}.", other_loaded=other_loaded),
                fatal=apart,
            )
        )
    if v[loaded_name] > v[side]:
        alarms.append(
            Alarm(
                "isolation.loaded-higher",
                say(
                    "{loaded} is larger than {side}: a resistor to chassis cannot raise the voltage across itself.",
                    loaded=loaded_name,
                    side=side,
                ),
                say("Look at the side on which Ro sits, and whether the bus voltage moved; read both again."),
                fatal=True,
            )
        )
    # With a meter of at least 10 MΩ the other pole reads low by up to U · Ri / 10 MΩ (nodal analysis); never high.
    sums = [(False, side, other)]
    if other_loaded in v:
        sums.append((True, loaded_name, other_loaded))
    for with_ro, one, two in sums:
        total = v[one] + v[two]
        tolerance = _tolerance(x, "ub", one, two)
        drop = min(v[one] * max(ri, 0.0) / LEAST_METER_OHM, ub - v[one] if ub > v[one] else 0.0)
        low, high = ub - drop - tolerance, ub + tolerance
        if not low <= total <= high:
            alarms.append(
                Alarm(
                    "isolation.sum",
                    say(
                        SUM_WITH_RO if with_ro else SUM,
                        one=one,
                        two=two,
                        total=marked(f"{total:.1f}"),
                        low=marked(f"{low:.1f}"),
                        high=marked(f"{high:.1f}"),
                        ub=marked(f"{ub:.1f}"),
                    ),
                    say(
                        "One of ub, {one} and {two} is wrong, or the bus moved: read the three again.", one=one, two=two
                    ),
                    fatal=True,
                )
            )
    if ub - 2 * x["ub"].inputs["ub"].u > working.si * (1 + 1e-9):
        alarms.append(
            Alarm(
                "isolation.working-voltage",
                say(
                    "The bus is at {ub} V, above the stated working voltage of {working}.",
                    ub=marked(f"{ub:.1f}"),
                    working=printed(working),
                ),
                say("Correct the fact working_voltage: it is the highest voltage that can occur."),
                fatal=True,
            )
        )
    if isinstance(nominal, Quantity) and ub + 2 * x["ub"].inputs["ub"].u < nominal.si:
        alarms.append(
            Alarm(
                "isolation.bus-low",
                say(
                    "The bus is at {ub} V, below its nominal voltage of {nominal}.",
                    ub=marked(f"{ub:.1f}"),
                    nominal=printed(nominal),
                ),
                say("Charge first: the test is made at nominal voltage or above."),
                fatal=True,
            )
        )
    ratio = v["ro"] / working.si
    if not 80 <= ratio <= 600:
        alarms.append(
            Alarm(
                "isolation.resistor-choice",
                say(
                    "Ro is {ratio} Ω per volt of working voltage: the readings are little apart, and U gets large.",
                    ratio=f"{ratio:.0f}",
                ),
                say("Take Ro near 100 to 500 Ω/V times the working voltage. Any value is allowed."),
            )
        )
    return alarms


METHOD = Method(
    id="voltmeter-own-source/1",
    title="Isolation resistance, one voltmeter, own DC source",
    purpose="Shows how well a high-voltage bus is isolated from the chassis, with the vehicle's own battery as source.",
    source="UN Regulation No. 100, 03 series, Annex 5A (own DC source)",
    confidence="formulas seen; preparation and meter seen in sister texts",
    equation=r"R_i = R_o \cdot U_b \cdot \left( \frac{1}{U_1^{\prime}} - \frac{1}{U_1} \right)",
    validity="DC bus at nominal voltage or above; one meter of 10 MΩ or more, moved from side to side; any Ro. "
    "With two meters left connected the result has to be corrected, and this method does not do it.",
    cautions=(
        Caution(
            "High voltage can kill. The bus is live: qualified persons only, two of them, insulated tools and gloves."
        ),
        Caution("Never touch chassis and bus together. Fit and remove Ro with the contactors open and the bus dead."),
        Caution("Ro has to stand the bus voltage and U²/Ro of heat. Local codes and the qualified person decide."),
    ),
    inputs=(
        InputSpec("ub", "U_b", "voltage across the bus", "V", 30, 1500, order=1, role="voltmeter"),
        InputSpec("u1", "U_1", "negative side to chassis", "V", 0, 1500, order=2, role="voltmeter"),
        InputSpec("u2", "U_2", "positive side to chassis", "V", 0, 1500, order=3, role="voltmeter"),
        InputSpec("ro", "R_o", "known resistor", "kΩ", 1, 10e3, order=4, role="resistor"),
        InputSpec("ro_at", "", "side to which Ro is fitted", order=5, choices=("negative", "positive")),
        InputSpec(
            "u1_loaded",
            r"U_1^{\prime}",
            "negative side to chassis, with Ro",
            "V",
            0,
            1500,
            False,
            order=6,
            role="voltmeter",
        ),
        InputSpec(
            "u2_loaded",
            r"U_2^{\prime}",
            "positive side to chassis, with Ro",
            "V",
            0,
            1500,
            False,
            order=7,
            role="voltmeter",
        ),
    ),
    facts=(
        FactSpec("working_voltage", "highest voltage of the bus in use", "V", "U_w"),
        FactSpec("nominal_voltage", "nominal voltage of the bus", "V", "U_n", required=False),
    ),
    roles=(
        RoleSpec(
            "voltmeter",
            "voltmeter",
            "dc-voltage",
            "DC voltmeter with an internal resistance of 10 MΩ or more",
            traits=(("input_resistance", "10 MΩ"),),
        ),
        RoleSpec("resistor", "known resistor", "resistance", "value known with its uncertainty, rated for the bus"),
    ),
    conditions=(
        ConditionSpec("contactors", "main contactors", "closed"),
        ConditionSpec("air", "air temperature", required=False),
        ConditionSpec("humidity", "relative humidity", required=False),
    ),
    measurands=(
        MeasurandSpec("isolation-resistance", "isolation resistance", "R_i", "Ω"),
        MeasurandSpec("isolation-per-volt", "isolation resistance per volt of working voltage", "R_i/U_w", "Ω/V"),
    ),
    evaluate_with=_evaluate,
)
