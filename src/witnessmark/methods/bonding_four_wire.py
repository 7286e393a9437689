"""Resistance of a bonding path, four wires, with the current reversed if the instrument can.

R = (U+ − U−)/(I+ − I−): a thermal voltage is the same in both directions and drops out. One direction gives R = U/I.
Source: UN Regulation No. 100, 03 series, Annex 4 (0.2 A or more, resolution 0.01 Ω or finer, R = U/I: seen). Current
reversal: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from witnessmark.language import marked, say, say_n
from witnessmark.methods.base import (
    Alarm,
    Caution,
    ConditionSpec,
    FigureData,
    InputSpec,
    MeasurandSpec,
    Method,
    Output,
    Reading,
    Refused,
    Result,
    RoleSpec,
    Step,
)
from witnessmark.methods.checking import Quantities, latex, output_of, plausibility, spoken, unstated
from witnessmark.problems import Problem
from witnessmark.quantities.evaluation import type_a
from witnessmark.quantities.format import printed
from witnessmark.quantities.propagation import Input, Uncertain, uncertain
from witnessmark.quantities.quantity import Quantity
from witnessmark.quantities.units import parse_unit

__all__ = ["METHOD"]

LEAST_CURRENT_A = 0.2
"""Annex 4: the test current, at least."""


def _given(readings: Mapping[str, tuple[Reading, ...]], name: str) -> tuple[Quantity, ...]:
    return tuple(r.quantity for r in readings.get(name, ()) if r.quantity is not None)


def _common(name: str, value: float, readings: tuple[Reading, ...]) -> tuple[Uncertain, bool]:
    """A mean of readings of one instrument as one input, and whether its uncertainty is known.

    The instrument's error is the same in all of them, so it does not get smaller by averaging: the largest u counts.
    """
    found = [r.input.u if r.input is not None else (r.quantity.u_si if r.quantity else None) for r in readings]
    known = all(u is not None for u in found)
    largest = max(readings, key=lambda r: r.input.u if r.input is not None else 0.0)
    u = max((u for u in found if u is not None), default=0.0)
    if largest.input is not None:
        shape, dof, basis = largest.input.shape, largest.input.dof, largest.input.basis
    else:
        shape, dof = "normal" if known else "", math.inf
        basis = say("as stated with the reading") if known else say("not stated")
    return uncertain(Input(name, value, u, dof, shape, basis)), known


def _with_scatter(mean: Uncertain, values: list[float]) -> Uncertain:
    """The mean with what repeating it showed (type A of the mean), as an input of its own."""
    if len(values) < 2:
        return mean
    found = type_a(values)
    return mean + uncertain(
        Input(
            "repeatability", 0.0, found.u, found.dof, "t", say_n("type A, {n} reading", "type A, {n} readings", found.n)
        )
    )


def _combination(readings: Mapping[str, tuple[Reading, ...]]) -> tuple[Problem, ...]:
    """Faults in which readings were given together, and in their signs."""
    direct = bool(readings.get("resistance"))
    counts = {n: len(readings.get(n, ())) for n in ("u_forward", "i_forward", "u_reverse", "i_reverse")}
    voltages = any(counts.values())
    if direct and voltages:
        return (
            Problem(
                "reading.combination",
                say("both resistance and voltages with currents are given"),
                say("write either resistance with current, or u_forward with i_forward (and u_reverse with i_reverse)"),
            ),
        )
    if not direct and not (counts["u_forward"] and counts["i_forward"]):
        return (
            Problem(
                "reading.missing",
                say("neither a resistance nor a voltage with its current is given"),
                say("write resistance and current, or u_forward and i_forward (and u_reverse and i_reverse)"),
            ),
        )
    faults: list[Problem] = []
    if direct:
        if not readings.get("current"):
            faults.append(
                Problem(
                    "reading.missing",
                    say("the test current is not given"),
                    say("write current: the current that the instrument drives, as in 1.0 A"),
                )
            )
        bounds = [q for q in _given(readings, "resistance") if q.bound]
        if bounds and len(readings["resistance"]) > 1:
            faults.append(
                Problem(
                    "reading.bound",
                    say("a bound stands among several readings"),
                    say("write one bound, or readings only"),
                )
            )
        faults += [
            Problem(
                "reading.range",
                say("resistance is {read}; it has to be zero or more", read=printed(q)),
                say("swap the sense leads, read again"),
            )
            for q in _given(readings, "resistance")
            if q.value < 0
        ]
        faults += [
            Problem(
                "reading.range",
                say("current is {read}; it has to be more than zero", read=printed(q)),
                say("write its size without a sign"),
            )
            for q in _given(readings, "current")
            if q.value <= 0
        ]
        return tuple(faults)
    if readings.get("current"):
        faults.append(
            Problem(
                "reading.combination", say("current belongs to a resistance"), say("write i_forward for the voltages")
            )
        )
    given = {n: c for n, c in counts.items() if c}
    if len(set(given.values())) > 1 or bool(counts["u_reverse"]) != bool(counts["i_reverse"]):
        faults.append(
            Problem(
                "reading.pairs",
                say(
                    "the readings do not pair: {counts}",
                    counts=", ".join(say("{count} of {name}", count=c, name=n) for n, c in counts.items()),
                ),
                say("write as many voltages as currents, and as many reversed as forward"),
            )
        )
    for name, positive in (("i_forward", True), ("i_reverse", False)):
        for q in _given(readings, name):
            if (q.value > 0) is not positive or q.value == 0:
                faults.append(
                    Problem(
                        "reading.range",
                        say("{name} is {read}; it has to be more than zero", name=name, read=printed(q))
                        if positive
                        else say("{name} is {read}; it has to be less than zero", name=name, read=printed(q)),
                        say("write forward currents as 1.000 A and reversed ones as -1.000 A, and voltages as read"),
                    )
                )
    return tuple(faults)


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    faults = _combination(readings)
    if faults:
        return Refused(faults)
    if readings.get("resistance"):
        output, steps, alarms, currents = _direct(readings)
    else:
        output, steps, alarms, currents = _by_voltage(readings)
    smallest = min(currents)
    if smallest < LEAST_CURRENT_A:
        alarms.append(
            Alarm(
                "bonding.current",
                say(
                    "The test current was {smallest} A, less than {least_current} A.",
                    smallest=marked(f"{smallest:g}"),
                    least_current=marked(f"{LEAST_CURRENT_A:g}"),
                ),
                say("Measure again with {least_current} A or more.", least_current=marked(f"{LEAST_CURRENT_A:g}")),
                fatal=True,
            )
        )
    alarms += plausibility(METHOD, readings)
    figure = FigureData(
        "interval",
        say("Bonding resistance"),
        say("resistance"),
        "",
        "Ω",
        "",
        numbers={"value": output.value} | ({} if output.U is None else {"U": output.U}),
        words={"bound": output.bound} if output.bound else {},
    )
    return Result(METHOD.id, (output,), tuple(steps), tuple(alarms), (figure,))


def _direct(
    readings: Mapping[str, tuple[Reading, ...]],
) -> tuple[Output, list[Step], list[Alarm], list[float]]:
    given = _given(readings, "resistance")
    currents = [q.si for q in _given(readings, "current")]
    unit = parse_unit("Ω")
    spec = METHOD.measurands[0]
    if given[0].bound:
        bare = uncertain(Input("resistance", given[0].si, 0.0))
        output = output_of(spec, bare, known=False, bound=given[0].bound)
        less, told = given[0].bound == "<", spoken(given[0])
        step = Step(
            say("The instrument shows less than the end of its range.")
            if less
            else say("The instrument shows more than the end of its range."),
            rf"R {given[0].bound} {latex(given[0])}",
            say("R is less than {value}", value=told) if less else say("R is more than {value}", value=told),
        )
        return output, [step], [], currents
    values = [q.si for q in given]
    mean = type_a(values).mean if len(values) > 1 else values[0]
    number, known = _common("resistance", mean, readings["resistance"])
    result = _with_scatter(number, values)
    if len(values) > 1:
        total = " + ".join(latex(q) for q in given[:4]) + (r" + \ldots" if len(given) > 4 else "")
        step = Step(
            say_n("Mean of {n} reading.", "Mean of {n} readings.", len(values)),
            rf"R = \frac{{{total}}}{{{len(given)}}} = {latex(result.value, unit)}",
            say_n(
                "the mean of {n} reading is {result}",
                "the mean of {n} readings is {result}",
                len(values),
                result=spoken(result.value, unit),
            ),
        )
    else:
        step = Step(
            say("The resistance as shown."), rf"R = {latex(given[0])}", say("R is {value}", value=spoken(given[0]))
        )
    return output_of(spec, result, known=known), [step], list(unstated([] if known else ["resistance"])), currents


def _by_voltage(
    readings: Mapping[str, tuple[Reading, ...]],
) -> tuple[Output, list[Step], list[Alarm], list[float]]:
    uf, i_f = _given(readings, "u_forward"), _given(readings, "i_forward")
    ur, ir = _given(readings, "u_reverse"), _given(readings, "i_reverse")
    currents = [abs(q.si) for q in (*i_f, *ir)]
    volt, ohm = parse_unit("V"), parse_unit("Ω")
    if ur:
        spans = [(a.si - b.si) / 2 for a, b in zip(uf, ur, strict=True)]
        drives = [(a.si - b.si) / 2 for a, b in zip(i_f, ir, strict=True)]
    else:
        spans, drives = [q.si for q in uf], [q.si for q in i_f]
    n = len(spans)
    # Half the difference is one input: the gain error of a meter is the same in both directions, and does not average.
    mean_u, mean_i = math.fsum(spans) / n, math.fsum(drives) / n
    voltage, known_u = _common("voltage", mean_u, (*readings["u_forward"], *readings.get("u_reverse", ())))
    current, known_i = _common("current", mean_i, (*readings["i_forward"], *readings.get("i_reverse", ())))
    single = [s / d for s, d in zip(spans, drives, strict=True)]
    if n == 1:
        result = voltage / current
    else:
        result = (voltage + (spans[0] - mean_u)) / (current + (drives[0] - mean_i))
        for s, d in zip(spans[1:], drives[1:], strict=True):
            result = result + (voltage + (s - mean_u)) / (current + (d - mean_i))
        result = _with_scatter(result / n, single)
    alarms = list(unstated([n for n, known in (("voltage", known_u), ("current", known_i)) if not known]))
    if result.value < 0:
        alarms.append(
            Alarm(
                "bonding.negative",
                say("The resistance comes out negative: a voltage has the wrong sign."),
                say("Swap the sense leads, or write each voltage with the sign that the meter showed."),
                fatal=True,
            )
        )
    steps: list[Step]
    if ur:
        steps = [
            Step(
                say("Forward and reversed, so that a thermal voltage drops out."),
                r"R = \frac{U_{+} - U_{-}}{I_{+} - I_{-}}",
                say("R is U plus minus U minus, over I plus minus I minus"),
            ),
            Step(
                say("With the readings put in, the first pair.") if n > 1 else say("With the readings put in."),
                rf"R = \frac{{{latex(uf[0])} - ({latex(ur[0])})}}{{{latex(i_f[0])} - ({latex(ir[0])})}}"
                rf" = {latex(single[0], ohm)}",
                say(
                    "{u_plus} minus {u_minus}, over {i_plus} minus {i_minus}: {result}",
                    u_plus=spoken(uf[0]),
                    u_minus=spoken(ur[0]),
                    i_plus=spoken(i_f[0]),
                    i_minus=spoken(ir[0]),
                    result=spoken(single[0], ohm),
                ),
            ),
        ]
        offset = math.fsum((a.si + b.si) / 2 for a, b in zip(uf, ur, strict=True)) / n
        steps.append(
            Step(
                say("The thermal voltage that dropped out."),
                rf"\frac{{U_{{+}} + U_{{-}}}}{{2}} = {latex(offset, volt)}",
                say("half the sum is {offset}", offset=spoken(offset, volt)),
            )
        )
    else:
        steps = [
            Step(
                say("One direction of current."),
                rf"R = \frac{{U}}{{I}} = \frac{{{latex(uf[0])}}}{{{latex(i_f[0])}}} = {latex(single[0], ohm)}",
                say(
                    "R is {uf} over {i_f}: {single}",
                    uf=spoken(uf[0]),
                    i_f=spoken(i_f[0]),
                    single=spoken(single[0], ohm),
                ),
            )
        ]
        alarms.append(
            Alarm(
                "bonding.one-direction",
                say("The current was not reversed, so a thermal voltage is still in the result."),
                say("Swap the current leads and read u_reverse and i_reverse too."),
            )
        )
    if n > 1:
        steps.append(
            Step(
                say_n("Mean of {n} reading.", "Mean of {n} readings.", n),
                rf"R = {latex(result.value, ohm)}",
                say("the mean is {result}", result=spoken(result.value, ohm)),
            )
        )
    return output_of(METHOD.measurands[0], result, known=known_u and known_i), steps, alarms, currents


METHOD = Method(
    id="bonding-four-wire/1",
    title="Bonding resistance, four wires",
    purpose="Shows that a conductive cover is joined to the chassis so well that no dangerous voltage can stand on it.",
    source="UN Regulation No. 100, 03 series, Annex 4",
    confidence="current, resolution and R = U/I seen; reversal is common practice",
    equation=r"R = \frac{U_{+} - U_{-}}{I_{+} - I_{-}}",
    validity="Test current 0.2 A or more; resolution 0.01 Ω or finer; sense leads inside the current leads.",
    cautions=(
        Caution(
            "High voltage can kill. Switch off, lock out, and prove the high-voltage system dead before you begin."
        ),
        Caution("Qualified persons only; local codes decide. Clamps on a battery case carry the full test current."),
    ),
    inputs=(
        InputSpec("u_forward", "U_{+}", "voltage, current forward", "mV", -10e3, 10e3, False, True, 1, "voltmeter"),
        InputSpec("i_forward", "I_{+}", "current forward", "A", 0, 100, False, True, 2, "ammeter"),
        InputSpec("u_reverse", "U_{-}", "voltage, current reversed", "mV", -10e3, 10e3, False, True, 3, "voltmeter"),
        InputSpec("i_reverse", "I_{-}", "current reversed", "A", -100, 0, False, True, 4, "ammeter"),
        InputSpec(
            "resistance",
            "R",
            "resistance shown",
            "mΩ",
            0,
            10e3,
            False,
            True,
            5,
            "resistance-meter",
            bound_allowed=True,
        ),
        InputSpec("current", "I", "test current of the meter", "A", 0.01, 100, False, False, 6, bound_allowed=True),
    ),
    roles=(
        RoleSpec(
            "resistance-meter",
            "four-wire resistance meter",
            "four-wire-resistance",
            "0.2 A or more; resolution 0.01 Ω or finer",
            traits=(("test_current", "0.2 A"),),
            finest="0.01 Ω",
            required=False,
        ),
        RoleSpec("voltmeter", "voltmeter at the sense leads", "dc-voltage", "10 µV or finer", required=False),
        RoleSpec("ammeter", "ammeter in the current leads", "dc-current", "for the full test current", required=False),
    ),
    conditions=(
        ConditionSpec("contactors", "main contactors", "open"),
        ConditionSpec("air", "air temperature", required=False),
    ),
    measurands=(MeasurandSpec("bonding-resistance", "bonding resistance", "R", "mΩ"),),
    evaluate_with=_evaluate,
)
