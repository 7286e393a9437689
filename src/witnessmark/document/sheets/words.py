"""What is ticked off on a sheet before the covers go on: the alarms of the methods, said so that they can be done in
the head. A method without words of its own has its plausible ranges."""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.methods.base import Method

__all__ = ["checks", "if_one_fails"]

Numbers = Mapping[str, str]


def checks(method: Method, numbers: Numbers, voltage: float | None) -> tuple[str, ...]:
    """The checks of a method; `numbers` are those of the readings on the sheet, `voltage` the working voltage in V."""
    n = numbers
    if method.name == "voltmeter-own-source":
        slack = f"{max(1, round(0.01 * voltage))} V" if voltage else "1 %"
        return (
            f"{n.get('u1', 'U1')} + {n.get('u2', 'U2')} equals {n.get('ub', 'Ub')}, within {slack}",
            f"{n.get('u1_loaded', 'U1 loaded')} + {n.get('u2_loaded', 'U2 loaded')} equals {n.get('ub', 'Ub')}, "
            f"within {slack}",
            "the pole with the resistor reads less than before; no reading is larger than the bus",
            "the resistor sat at the pole with the higher voltage",
            "meter tried again on the known voltage",
        )
    if method.name == "insulation-tester":
        half = f"{voltage / 2:.0f} V or more" if voltage else "half the working voltage or more"
        return (
            f"{n.get('test_voltage', 'test voltage')} is {half}",
            "the value stood still before it was written",
            "the bus was discharged afterwards and proved dead again",
        )
    if method.name == "bonding-four-wire":
        return (
            f"{n.get('current', 'test current')} is 0.2 A or more",
            "each reading with the clamps set anew; none differs from another by more than a tenth",
            "clamps on case and chassis, not on the strap",
        )
    return tuple(
        f"{n[spec.name]} lies between {spec.low:g} and {spec.high:g} {spec.unit}"
        for spec in method.inputs
        if spec.name in n and spec.low is not None and spec.high is not None
    )


def if_one_fails(method: Method) -> str:
    """What to do then."""
    if method.name == "voltmeter-own-source":
        return "If one fails: let the meter settle 30 s, look at the probe on the chassis, read all again."
    return "If one fails: look at the contacts, and read again before anything is put back."
