"""Isolation resistance with an insulation tester: an outside DC source.

Source: UN Regulation No. 100, 03 series, Annex 5A, outside DC source: half the working voltage or more (seen).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import (
    Alarm,
    Caution,
    ConditionSpec,
    FactSpec,
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
from witnessmark.methods.checking import (
    Quantities,
    fact_number,
    latex,
    numbers,
    output_of,
    plausibility,
    spoken,
    unstated,
)
from witnessmark.problems import Problem
from witnessmark.quantities.format import printed
from witnessmark.quantities.quantity import Quantity
from witnessmark.quantities.units import parse_unit

__all__ = ["METHOD"]


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    resistance = readings["resistance"][0].quantity
    voltage = readings["test_voltage"][0].quantity
    working = facts["working_voltage"]
    assert resistance is not None and voltage is not None and isinstance(working, Quantity)
    faults = [
        Problem(
            "reading.range",
            say("{name} is {read}; it has to be zero or more", name=name, read=printed(quantity))
            if name == "resistance"
            else say("{name} is {read}; it has to be more than zero", name=name, read=printed(quantity)),
            remedy,
        )
        for name, quantity, bad, remedy in (
            ("resistance", resistance, resistance.value < 0, say("write what the tester shows")),
            ("test_voltage", voltage, voltage.value <= 0, say("write the voltage that the tester applies")),
            ("working_voltage", working, working.value <= 0, say("state the fact anew")),
        )
        if bad
    ]
    if faults:
        return Refused(tuple(faults))
    x, unknown = numbers(readings, ("resistance",))
    ri = x["resistance"]
    per_volt = ri / fact_number(facts, "working_voltage")
    bound = resistance.bound
    outputs: tuple[Output, ...] = tuple(
        output_of(spec, number, known=not bound and not unknown, bound=bound)
        for spec, number in zip(METHOD.measurands, (ri, per_volt), strict=True)
    )
    alarms: list[Alarm] = []
    if voltage.si * 2 < working.si * (1 - 1e-9):
        alarms.append(
            Alarm(
                "isolation.test-voltage",
                say(
                    "The tester applied {voltage}, less than half the working voltage of {working}.",
                    voltage=printed(voltage),
                    working=printed(working),
                ),
                say("Measure again at {least} V or more.", least=f"{working.si / 2:.0f}"),
                fatal=True,
            )
        )
    if not bound:
        alarms += unstated(unknown)
    alarms += plausibility(METHOD, readings)
    unit = parse_unit("Ω/V")
    sign = f"{bound} " if bound else ""
    relation = bound or "="
    steps = (
        Step(
            say("At least half the working voltage has to be applied."),
            rf"\frac{{1}}{{2}} \cdot {latex(working)} = {latex(working.si / 2, parse_unit('V'))}",
            say(
                "half of {working} is {least}; applied: {voltage}",
                working=spoken(working),
                least=spoken(working.si / 2, parse_unit("V")),
                voltage=spoken(voltage),
            ),
        ),
        Step(
            say("Divided by the working voltage of the bus."),
            rf"\frac{{R_i}}{{U_w}} {relation} \frac{{{latex(resistance)}}}{{{latex(working)}}}"
            rf" = {latex(per_volt.value, unit)}",
            say(
                "R i over U w: {sign}{resistance} over {working}: {sign}{per_volt}",
                sign=sign,
                resistance=spoken(resistance),
                working=spoken(working),
                per_volt=spoken(per_volt.value, unit),
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
        words={"bound": bound} if bound else {},
    )
    return Result(METHOD.id, outputs, steps, tuple(alarms), (figure,))


METHOD = Method(
    id="insulation-tester/1",
    title="Isolation resistance, insulation tester",
    purpose="Shows how well a high-voltage bus is isolated from the chassis, with an insulation tester as source.",
    source="UN Regulation No. 100, 03 series, Annex 5A (outside DC source)",
    confidence="applied voltage seen; capability of the instrument from memory",
    equation=r"\frac{R_i}{U_w}",
    validity="Applied voltage at least half the working voltage; parts that cannot stand it are measured apart.",
    cautions=(
        Caution(
            "High voltage can kill. The tester makes up to 1000 V or more, and charges every capacitor on the bus."
        ),
        Caution(
            "Qualified persons only. Prove the bus dead first; discharge it after the test and prove it dead again."
        ),
        Caution("Electronics may be harmed by the test voltage: take them off as the maker says. Local codes decide."),
    ),
    inputs=(
        InputSpec("test_voltage", "U_t", "voltage applied", "V", 20, 5000, order=1, role="tester", bound_allowed=False),
        InputSpec("resistance", "R_i", "resistance shown", "MΩ", 0, 1e6, order=2, role="tester", bound_allowed=True),
    ),
    facts=(FactSpec("working_voltage", "highest voltage of the bus in use", "V", "U_w"),),
    roles=(
        RoleSpec(
            "tester",
            "insulation tester",
            "insulation-resistance",
            "can apply at least half the working voltage of the bus",
        ),
    ),
    conditions=(
        ConditionSpec("battery", "traction battery connected or disconnected", required=False),
        ConditionSpec("air", "air temperature", required=False),
        ConditionSpec("humidity", "relative humidity", required=False),
    ),
    measurands=(
        MeasurandSpec("isolation-resistance", "isolation resistance", "R_i", "Ω"),
        MeasurandSpec("isolation-per-volt", "isolation resistance per volt of working voltage", "R_i/U_w", "Ω/V"),
    ),
    evaluate_with=_evaluate,
)
