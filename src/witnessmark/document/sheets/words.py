"""The words of a sheet: those of its layout, what is ticked off before the covers go on, and what limits say.

The checks are the alarms of the methods, said so that they can be done in the head. A method without words of its own
has its plausible ranges.
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import Words, declared, marked, say
from witnessmark.methods.base import Method

__all__ = ["AUTHORITY", "CHOICES", "KINDS", "LAYOUT", "checks", "if_one_fails", "limit_words", "times"]

Numbers = Mapping[str, str]

AUTHORITY = declared("Local codes and a qualified person decide, not this sheet. Who is not qualified keeps away.")

LAYOUT = Words(
    {
        "air": declared("Air, °C; dry or wet"),
        "again": declared("Again, if asked"),
        "begins_at": declared("begins at:"),
        "before": declared("Before the first reading"),
        "cannot_tell": declared("cannot tell"),
        "check_now": declared("Check now, before the covers go on"),
        "code": declared("square code"),
        "date": declared("Date, time"),
        "does_not": declared("does not"),
        "drawing": declared("measuring points, numbered like the readings"),
        "file": declared("file:"),
        "for_the_meter": declared("for the meter"),
        "limit": declared("limit"),
        "limit_and_u": declared("the limit and the meter’s U"),
        "log": declared("The log"),
        "meets": declared("meets"),
        "must_read": declared("must read"),
        "no_pass": declared("no reading can pass"),
        "not_known": declared("not known"),
        "notes": declared("Notes, deviations (write “none” if none)"),
        "picture": declared("picture"),
        "row": declared("row: ________"),
        "tester": declared("Tester, name and signature"),
        "to_know": declared("To know at the car; the tool decides later"),
        "vehicle": declared("Vehicle"),
        "vin": declared("VIN"),
        "witness": declared("Witness, name and signature"),
        "write": declared(
            "Write what the meter shows, all digits. The mark is printed. Write OL for “over the range”."
        ),
    }
)
"""What the template prints itself; four underscores or more are a line to write on."""

KINDS = Words({"inspect": declared("Look"), "photograph": declared("Photograph"), "trial": declared("Try")})
"""What is done at the vehicle, by the kind of leaf."""

CHOICES: Mapping[str, str] = Words(
    {
        "100-ohm-per-volt": declared("100 Ω/V"),
        "500-ohm-per-volt": declared("500 Ω/V"),
        "contact": declared("contact"),
        "negative": declared("neg."),
        "no contact": declared("no contact"),
        "not shown": declared("not shown"),
        "positive": declared("pos."),
        "shown": declared("shown"),
    }
)
"""Words beside a box, short; a choice that is a class or number stands as it is."""

_LIMITS = {
    "at_least": declared("at least {limit}"),
    "more_than": declared("more than {limit}"),
    "at_most": declared("at most {limit}"),
    "less_than": declared("less than {limit}"),
}


def limit_words(kind: str, limit: str) -> str:
    """`at least 500 Ω/V`."""
    return say(_LIMITS[kind], limit=limit)


_TIMES = {
    2: declared("second time"),
    3: declared("third time"),
    4: declared("fourth time"),
    5: declared("fifth time"),
}


def times(n: int) -> str:
    """`second time`: above the blank of a reading that is taken again."""
    return say(_TIMES[n]) if n in _TIMES else say("{n}th time", n=n)


def _sum(one: str, two: str, whole: str, slack: str) -> str:
    return say("{one} + {two} equals {whole}, within {slack}", one=one, two=two, whole=whole, slack=slack)


def checks(method: Method, numbers: Numbers, voltage: float | None) -> tuple[str, ...]:
    """The checks of a method; `numbers` are those of the readings on the sheet, `voltage` the working voltage in V."""
    n = numbers
    if method.name == "voltmeter-own-source":
        slack = f"{max(1, round(0.01 * voltage))} V" if voltage else "1 %"
        ub = n.get("ub", "Ub")
        return (
            _sum(n.get("u1", "U1"), n.get("u2", "U2"), ub, slack),
            _sum(n.get("u1_loaded", say("U1 loaded")), n.get("u2_loaded", say("U2 loaded")), ub, slack),
            say("the pole with the resistor reads less than before; no reading is larger than the bus"),
            say("the resistor sat at the pole with the higher voltage"),
            say("meter tried again on the known voltage"),
        )
    if method.name == "insulation-tester":
        test = n.get("test_voltage", say("test voltage"))
        return (
            say("{reading} is {least} or more", reading=test, least=f"{voltage / 2:.0f} V")
            if voltage
            else say("{reading} is half the working voltage or more", reading=test),
            say("the value stood still before it was written"),
            say("the bus was discharged afterwards and proved dead again"),
        )
    if method.name == "bonding-four-wire":
        return (
            say(
                "{reading} is {least} or more",
                reading=n.get("current", say("test current")),
                least=f"{marked('0.2')} A",
            ),
            say("each reading with the clamps set anew; none differs from another by more than a tenth"),
            say("clamps on case and chassis, not on the strap"),
        )
    return tuple(
        say(
            "{reading} lies between {low} and {high} {unit}",
            reading=n[spec.name],
            low=marked(f"{spec.low:g}"),
            high=marked(f"{spec.high:g}"),
            unit=spec.unit,
        )
        for spec in method.inputs
        if spec.name in n and spec.low is not None and spec.high is not None
    )


def if_one_fails(method: Method) -> str:
    """What to do then."""
    if method.name == "voltmeter-own-source":
        return say("If one fails: let the meter settle 30 s, look at the probe on the chassis, read all again.")
    return say("If one fails: look at the contacts, and read again before anything is put back.")
