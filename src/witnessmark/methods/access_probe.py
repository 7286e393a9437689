r"""Access probe: was a live part touched, with the probe, the force and the circuit that the clause asks for.

Source: UN Regulation No. 100, 03 series, Annex 3 (finger 80 mm, 10 N ± 10 %, 40 V to 50 V: seen; wire: from memory).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import declared, marked, say
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

PROBES = {
    "IPXXB": (10.0, 1.0, "12", "80"),
    "IPXXD": (1.0, 0.1, "1.0", "100"),
}
"""Force in N, its tolerance in N; diameter and length in mm, as written in the standard."""

FORCES = {
    "IPXXB": declared(
        "Force over what is asked (jointed finger, {diameter} mm × {length} mm; force seen, diameter from memory)."
    ),
    "IPXXD": declared("Force over what is asked (rigid wire, {diameter} mm × {length} mm; from memory)."),
}


def _work(w: Working) -> Result | Refused:
    w.above_zero("force", "lamp_voltage")
    if w.faults:
        return w.result()
    force, tolerance, diameter, length = PROBES[w.words["probe"]]
    w.let("asked", force, "N")
    ratio = w.let("ratio", w.x["force"] / force, "1")
    w.step(
        say(FORCES[w.words["probe"]], diameter=marked(diameter), length=marked(length)),
        r"q = \frac{<force>}{<asked>} = <ratio>",
    )
    spread = 2 * w.x["force"].inputs["force"].u
    if w.value("force") - spread < force - tolerance - 1e-12:
        w.alarm(
            "probe.force-low",
            say(
                "The force was not surely {force} N or more: a harder push may reach a live part.",
                force=marked(f"{force - tolerance:g}"),
            ),
            say("Push with the force that is asked, and repeat every place."),
            fatal=True,
        )
    elif w.value("force") > force + tolerance + 1e-12:
        w.alarm(
            "probe.force-high",
            say("The force was above the tolerance: harder than asked."),
            say("Say so in the record."),
        )
    if w.has("lamp_voltage") and not 40 <= w.value("lamp_voltage") <= 50:
        w.alarm(
            "probe.lamp",
            say(
                "The lamp circuit had {lamp_voltage} V; 40 V to 50 V is asked for.",
                lamp_voltage=marked(f"{w.value('lamp_voltage'):g}"),
            ),
            say("Set the supply and repeat."),
            fatal=True,
        )
    touched = w.words["contact"] != "no contact"
    w.output(
        "live-part-touched",
        1.0 if touched else 0.0,
        note=say("1: a live part was touched; 0: none. Observed, not measured: ask for less than 0.5."),
        among=("force",),
    )
    w.output("probe-force-ratio", ratio)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="access-probe/1",
    title="Access probe",
    purpose="Shows that no finger and no wire reaches a live part.",
    source="UN Regulation No. 100, 03 series, Annex 3; ISO 20653",
    confidence="finger and force seen; wire, diameters and its tolerance from memory",
    equation=r"q = \frac{F}{F_0}",
    validity="Every opening, every position of the finger; inner barriers count as part of the enclosure.",
    cautions=(
        Caution(
            "High voltage can kill. Probe with the bus dead and proven dead; the lamp circuit shows contact instead."
        ),
        Caution("Never push a probe into a live enclosure. Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("probe", "", "probe", choices=tuple(PROBES)),
        InputSpec("force", "F", "force", "N", 0.5, 15, role="force-gauge"),
        InputSpec("lamp_voltage", "U_l", "voltage of the lamp circuit", "V", 40, 50, False, role="voltmeter"),
        InputSpec("contact", "", "what was seen", choices=("no contact", "contact")),
    ),
    roles=(
        RoleSpec("force-gauge", "force gauge", "force", "0.1 N or finer for the wire"),
        RoleSpec("voltmeter", "voltmeter", "dc-voltage", "1 V or finer", required=False),
    ),
    conditions=(ConditionSpec("bus", "high-voltage bus", "dead"),),
    measurands=(
        MeasurandSpec("live-part-touched", "live part touched (1) or not (0)", "c", "1"),
        MeasurandSpec("probe-force-ratio", "force over what is asked", "q", "1"),
    ),
    evaluate_with=_evaluate,
)
