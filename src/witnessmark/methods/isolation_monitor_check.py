r"""Check of an isolation monitor with a resistor that puts isolation just below the figure.

The resistor has to lie in a window computed from the isolation that was measured before: with it fitted, isolation is
from 95 % of the duty to just below it. There the warning has to appear, and without the resistor it must not.

Source: UN Regulation No. 100, 03 series, Annex 6 (window for 100 and 500 Ω/V, page 46, seen).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import marked, say
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

DUTIES = {"100-ohm-per-volt": (95.0, 100.0), "500-ohm-per-volt": (475.0, 500.0)}
"""Annex 6: isolation per volt with the resistor, from and below, in Ω/V."""


def _work(w: Working) -> Result | Refused:
    w.above_zero("ri", "ro", "working_voltage")
    if w.faults:
        return w.result()
    low_duty, duty = DUTIES[w.words["duty"]]
    ri, voltage = w.x["ri"], w.x["working_voltage"]
    lower_bound = w.bounds["ri"]
    if ri.value <= duty * voltage.value:
        w.fault(
            "validity.range",
            say(
                "ri is {ri} Ω, not above {duty} Ω/V times the working voltage ({product} Ω): the window has no meaning",
                ri=marked(f"{ri.value:.6g}"),
                duty=marked(f"{duty:g}"),
                product=marked(f"{duty * voltage.value:.6g}"),
            ),
            say("isolation is too low already: find the fault first"),
        )
    if lower_bound == "<":
        w.fault(
            "reading.bound",
            say("ri is only known to be below a value"),
            say("measure it in a range that shows a number"),
        )
    if w.faults:
        return w.result()
    w.show("low_duty", f"{low_duty:g}")
    w.show("duty", f"{duty:g}")
    # Annex 6. Where ri is only known to be above a value, the window is the part that holds for every such value: its
    # lower end from the bound, its upper end from no leakage at all.
    low = w.let("low", 1 / (1 / (low_duty * voltage) - 1 / ri), "Ω")
    high = w.let("high", duty * voltage if lower_bound else 1 / (1 / (duty * voltage) - 1 / ri), "Ω")
    reached = w.let("reached", 1 / (1 / w.x["ro"] + 1 / ri) / voltage, "Ω/V")
    w.step(
        say("Smallest resistor that is allowed."),
        r"\frac{1}{\frac{1}{<low_duty> \cdot <working_voltage>} - \frac{1}{<ri>}} = <low>",
    )
    w.step(
        say("The resistor has to be smaller than this."),
        r"<duty> \cdot <working_voltage> = <high>"
        if lower_bound
        else r"\frac{1}{\frac{1}{<duty> \cdot <working_voltage>} - \frac{1}{<ri>}} = <high>",
    )
    w.step(
        say("Isolation per volt with the resistor fitted."),
        r"\frac{1}{<working_voltage> \cdot \left( \frac{1}{<ro>} + \frac{1}{<ri>} \right)} = <reached>",
    )
    spread = 2 * w.x["ro"].inputs["ro"].u
    inside = low.value <= w.value("ro") - spread and w.value("ro") + spread < high.value
    if not inside:
        w.alarm(
            "monitor.resistor-outside",
            say(
                "Ro is {ro} Ω ± {spread} Ω, not surely inside {low} Ω to below {high} Ω: the check shows nothing.",
                ro=marked(f"{w.value('ro'):.6g}"),
                spread=marked(f"{spread:.2g}"),
                low=marked(f"{low.value:.6g}"),
                high=marked(f"{high.value:.6g}"),
            ),
            say("Set the decade to the middle of the window and check again."),
            fatal=True,
        )
    if w.words["warning_before"] == "shown":
        w.alarm(
            "monitor.warned-before",
            say("The warning was already shown without the resistor: that it shows with it proves nothing."),
            say("Clear the cause, wait for the warning to go out, and check again."),
            fatal=True,
        )
    w.output("monitor-window-low", low)
    w.output("monitor-window-high", high)
    w.output("isolation-with-resistor", reached, bound=lower_bound)
    w.output(
        "monitor-warned",
        1.0 if w.words["warning"] == "shown" else 0.0,
        note=say(
            "1: the warning was shown with the resistor fitted; 0: it was not. Observed, not "
            "measured: ask for more than 0.5."
        ),
        among=("ri", "ro"),
    )
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="isolation-monitor-check/1",
    title="Check of an isolation monitor with a test resistor",
    purpose="Shows that the driver is warned when isolation falls just below the figure.",
    source="UN Regulation No. 100, 03 series, Annex 6",
    confidence="window seen",
    equation=r"\frac{1}{\frac{1}{0.95 \cdot r \cdot U} - \frac{1}{R_i}} \leq R_o < "
    r"\frac{1}{\frac{1}{r \cdot U} - \frac{1}{R_i}}",
    validity="Isolation before lies above the duty; the resistor lies between the watched terminal and chassis. "
    "The 02 series asks for another test: a resistor that keeps isolation at the figure.",
    cautions=(
        Caution(
            "High voltage can kill. The resistor ties a live pole to chassis: fit and remove it with the bus dead."
        ),
        Caution("The resistor carries the bus voltage and U²/R of heat: rate it. While it is fitted, touch nothing."),
        Caution("Qualified persons only, two of them; local codes decide."),
    ),
    inputs=ordered(
        InputSpec(
            "ri", "R_i", "isolation measured before", "MΩ", 1e-3, 1e4, role="insulation-tester", bound_allowed=True
        ),
        InputSpec("warning_before", "", "warning without the resistor", choices=("not shown", "shown")),
        InputSpec("duty", "", "figure at which the monitor has to warn", choices=tuple(DUTIES)),
        InputSpec("ro", "R_o", "test resistor", "kΩ", 1, 1000, role="resistor"),
        InputSpec("warning", "", "warning with the resistor", choices=("shown", "not shown")),
    ),
    facts=(FactSpec("working_voltage", "highest voltage of the bus in use", "V", "U"),),
    roles=(
        RoleSpec("insulation-tester", "insulation tester", "insulation-resistance", "as for the isolation of this bus"),
        RoleSpec(
            "resistor", "decade resistor", "resistance", "value known to 1 % or better, rated for the bus voltage"
        ),
    ),
    conditions=(ConditionSpec("contactors", "main contactors", "closed"),),
    measurands=(
        MeasurandSpec("monitor-warned", "warning shown (1) or not (0)", "w", "1"),
        MeasurandSpec("monitor-window-low", "smallest test resistor", "R_{low}", "Ω"),
        MeasurandSpec("monitor-window-high", "test resistor has to be below", "R_{high}", "Ω"),
        MeasurandSpec("isolation-with-resistor", "isolation per volt with the resistor", "R/U", "Ω/V"),
    ),
    evaluate_with=_evaluate,
)
