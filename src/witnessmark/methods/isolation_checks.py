"""What the five readings of a voltmeter test say about each other: own source, vehicle or device.

Source: UN Regulation No. 100, 03 series, Annexes 5A and 5B (order of the readings); sums: Kirchhoff's voltage law.
"""

from __future__ import annotations

import math

from witnessmark.language import marked, say
from witnessmark.methods.base import Caution, InputSpec, RoleSpec
from witnessmark.methods.working import Working

__all__ = ["CAUTIONS", "READINGS", "ROLES", "SLACK", "check_readings", "sides"]

SLACK = 0.01
"""Sums may miss the bus voltage by this part of it, as the bus moves between readings (common practice, no source)."""

CAUTIONS = (
    Caution("High voltage can kill. The bus is live: qualified persons only, two of them, insulated tools and gloves."),
    Caution("Never touch chassis and bus together. Fit and remove Ro with the contactors open and the bus dead."),
    Caution("Ro has to stand the bus voltage and U²/Ro of heat. Local codes and the qualified person decide."),
)

READINGS = (
    InputSpec("ub", "U_b", "voltage across the bus", "V", 30, 1500, role="voltmeter"),
    InputSpec("u1", "U_1", "negative side to chassis", "V", 0, 1500, role="voltmeter"),
    InputSpec("u2", "U_2", "positive side to chassis", "V", 0, 1500, role="voltmeter"),
    InputSpec("ro", "R_o", "known resistor", "kΩ", 1, 10e3, role="resistor"),
    InputSpec("ro_at", "", "side to which Ro is fitted", choices=("negative", "positive")),
    InputSpec("u1_loaded", r"U_1^{\prime}", "negative side with Ro", "V", 0, 1500, False, role="voltmeter"),
    InputSpec("u2_loaded", r"U_2^{\prime}", "positive side with Ro", "V", 0, 1500, False, role="voltmeter"),
)

ROLES = (
    RoleSpec(
        "voltmeter",
        "voltmeter",
        "dc-voltage",
        "DC voltmeter with an internal resistance of 10 MΩ or more",
        traits=(("input_resistance", "10 MΩ"),),
    ),
    RoleSpec("resistor", "known resistor", "resistance", "value known with its uncertainty, rated for the bus"),
)


def sides(working: Working) -> tuple[str, str, str, str]:
    """The names of the readings on Ro's side without and with it, and of the other side."""
    if working.words["ro_at"] == "negative":
        return "u1", "u1_loaded", "u2", "u2_loaded"
    return "u2", "u2_loaded", "u1", "u1_loaded"


def check_readings(working: Working, *, both_meters_on: bool) -> None:
    """Faults and alarms: the reading that the side needs, signs, the right pole, the sums with the bus voltage.

    With both meters left on, the two sides share the bus exactly; with one meter moved, the sum may read low.
    """
    side, loaded, other, other_loaded = sides(working)
    if not working.has(loaded):
        working.fault(
            "reading.missing",
            say("Ro sits on the negative side, so {loaded} is needed", loaded=loaded)
            if working.words["ro_at"] == "negative"
            else say("Ro sits on the positive side, so {loaded} is needed", loaded=loaded),
            say("read {loaded} with Ro fitted, and write it in V", loaded=loaded),
        )
    working.above_zero("ub", "ro", side, loaded)
    working.not_negative(other, other_loaded)
    if working.faults:
        return
    v = {name: working.value(name) for name in ("ub", "u1", "u2", "u1_loaded", "u2_loaded") if working.has(name)}
    u = {name: working.x[name].inputs[name].u for name in v}
    if v[other] > v[side]:
        working.alarm(
            "isolation.wrong-pole",
            say(
                "{other} is larger than {side}, but Ro sits where {side} was read: this is the "
                "better pole's resistance.",
                other=other,
                side=side,
            ),
            say("Fit Ro to the other side and read {other_loaded}.", other_loaded=other_loaded),
            fatal=v[other] - v[side] > 2 * math.hypot(u[other], u[side]),
        )
    if v[loaded] > v[side]:
        working.alarm(
            "isolation.loaded-higher",
            say(
                "{loaded} is larger than {side}: a resistor to chassis cannot raise the voltage across itself.",
                loaded=loaded,
                side=side,
            ),
            say("Look at the side on which Ro sits, and whether the bus moved; read both again."),
            fatal=True,
        )
    pairs = [(side, other)] + ([(loaded, other_loaded)] if other_loaded in v else [])
    for one, two in pairs:
        total = v[one] + v[two]
        spread = max(SLACK * v["ub"], 2 * math.hypot(u[one], u[two], u["ub"]))
        low = v["ub"] - spread if both_meters_on else 0.0
        if not low <= total <= v["ub"] + spread:
            working.alarm(
                "isolation.sum",
                say(
                    "{one} and {two} add to {total} V, but the bus is at {ub} V.",
                    one=one,
                    two=two,
                    total=marked(f"{total:.1f}"),
                    ub=marked(f"{v['ub']:.1f}"),
                ),
                say("One of ub, {one} and {two} is wrong, or the bus moved: read the three again.", one=one, two=two),
                fatal=True,
            )
