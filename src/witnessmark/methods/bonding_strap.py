r"""Resistance of a bonding strap from its conductor and its joints, and the voltage across it when current flows.

Source: closed form; largest resistance per length IEC 60228; coefficient of copper IEC 60028 (seen).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.conductor_data import ALPHA_COPPER, at_temperature
from witnessmark.methods.working import Working, ordered, total, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("per_length", "length", "current")
    w.not_negative("joint")
    w.valid("temperature", -50, 150, "°C", say("the linear coefficient is not stated beyond this"))
    if w.faults:
        return w.result()
    r20 = w.let("r20", w.x["per_length"] * w.x["length"], "Ω")
    strap, symbol = r20, "<r20>"
    if w.has("temperature"):
        strap = w.let("strap", at_temperature(r20, w.x["temperature"]), "Ω")
        w.show("alpha", f"{ALPHA_COPPER:g}")
        symbol = "<strap>"
    joints = w.many.get("joint", ())
    r = w.let("r", total([strap, *joints]), "Ω")
    u = w.let("u", r * w.x["current"], "V")
    w.step(say("Conductor at 20 °C."), r"R_{20} = <per_length> \cdot <length> = <r20>")
    if w.has("temperature"):
        w.step(
            say("At its temperature, with the coefficient of copper (per kelvin)."),
            r"R_s = <r20> \cdot \left( 1 + <alpha> \cdot \left( <temperature> - 20\,^{\circ}\mathrm{C} \right) \right)"
            " = <strap>",
        )
    if joints:
        w.step(say("With its joints."), rf"R = {symbol} + " + w.joined("joint", "*", " + ") + " = <r>")
    w.step(say("Voltage across it."), r"U = <r> \cdot <current> = <u>")
    w.output("strap-resistance", r)
    w.output("strap-voltage", u)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="bonding-strap/1",
    title="Bonding strap with its joints, calculated",
    purpose="Says what a strap should measure, so that a bad joint stands out.",
    source="closed form; IEC 60228 (resistance per length), IEC 60028 (coefficient of copper)",
    confidence="class 5 table and 0.00393 1/K seen; closed form",
    equation=r"R = R_{20} \cdot l \cdot \left( 1 + \alpha_{20} \cdot \left( \theta - 20 \right) \right) + \sum R_j",
    validity="Copper from −50 °C to 150 °C; a calculation replaces no measurement of the joint.",
    cautions=(
        Caution("High voltage can kill. A strap that was calculated is not a strap that was measured."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("per_length", "R_{20}", "largest resistance per length at 20 °C", "Ω/km", 0.01, 100),
        InputSpec("length", "l", "length", "m", 0.01, 50),
        InputSpec("temperature", r"\theta", "temperature of the strap", "°C", -40, 120, False),
        InputSpec("joint", "R_j", "each joint", "mΩ", 0, 10, False, repeats=True),
        InputSpec("current", "I", "current", "A", 0.2, 2000),
    ),
    measurands=(
        MeasurandSpec("strap-resistance", "strap with joints", "R", "mΩ"),
        MeasurandSpec("strap-voltage", "voltage across it", "U", "mV"),
    ),
    evaluate_with=_evaluate,
)
