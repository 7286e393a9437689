r"""Pressure drop of a cooling plate: equal rectangular channels side by side, straight lengths and single losses.

Laminar below Re 2300 by the series for rectangular channels, turbulent above 4000 by Blasius. Between the two the
turbulent figure is taken, as it is the larger one, with an alarm.

Source: Darcy and Weisbach (closed form); Shah and London 1978 for rectangles (from memory; 56.9 for the square and 96
for the slit are textbook values); Blasius 1913.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD", "laminar_product"]

LAMINAR_END, TURBULENT_BEGIN, BLASIUS_END = 2300.0, 4000.0, 1e5


def laminar_product(aspect: float) -> float:
    """f · Re of laminar flow in a rectangle, Darcy's f, by its ratio `aspect`, 0 to 1.
    Source: Shah and London 1978 (memory)."""
    terms = (1, -1.3553, 1.9467, -1.7012, 0.9564, -0.2537)
    return 96 * math.fsum(c * aspect**n for n, c in enumerate(terms))


def _work(w: Working) -> Result | Refused:
    w.above_zero("flow", "width", "height", "length", "density", "viscosity")
    w.whole("channels")
    w.not_negative("single_losses")
    if w.faults:
        return w.result()
    width, height = w.x["width"], w.x["height"]
    area = width * height
    d = w.let("d", 2 * area / (width + height), "mm")
    speed = w.let("speed", w.x["flow"] / (w.x["channels"] * area), "m/s")
    re = w.let("re", w.x["density"] * speed * d / w.x["viscosity"], "1")
    w.step(say("Hydraulic diameter."), r"d = \frac{2 \cdot <width> \cdot <height>}{<width> + <height>} = <d>")
    w.step(say("Speed in a channel."), r"v = \frac{<flow>}{<channels> \cdot <width> \cdot <height>} = <speed>")
    w.step(say("Reynolds number."), r"\mathrm{Re} = \frac{<density> \cdot <speed> \cdot <d>}{<viscosity>} = <re>")
    w.valid("re", None, BLASIUS_END, "1", say("Blasius ends there: choose larger channels"))
    if w.faults:
        return w.result()
    if re.value < LAMINAR_END:
        aspect = min(width.value, height.value) / max(width.value, height.value)
        w.show("product", f"{laminar_product(aspect):.5g}")
        f = w.let("f", laminar_product(aspect) / re, "1")
        w.step(say("Friction factor, laminar, for this rectangle."), r"f = \frac{<product>}{<re>} = <f>")
    else:
        f = w.let("f", 0.3164 / re**0.25, "1")
        w.step(say("Friction factor, turbulent and smooth."), r"f = \frac{0.3164}{<re>^{0.25}} = <f>")
        if re.value < TURBULENT_BEGIN:
            w.alarm(
                "flow.between",
                say(
                    "Re is {re}, between laminar and turbulent: the larger, turbulent figure is taken.",
                    re=f"{re.value:.0f}",
                ),
                say("Measure the drop, or choose a flow that is clearly one of the two."),
            )
    dynamic = w.let("dynamic", 0.5 * w.x["density"] * speed * speed, "kPa")
    losses = f * w.x["length"] / d
    if w.has("single_losses"):
        losses = losses + w.x["single_losses"]
    drop = w.let("drop", dynamic * losses, "kPa")
    w.step(say("Dynamic pressure."), r"\frac{1}{2} \cdot <density> \cdot \left( <speed> \right)^2 = <dynamic>")
    single = " + <single_losses>" if w.has("single_losses") else ""
    w.step(
        say("Pressure drop."),
        rf"\Delta p = <dynamic> \cdot \left( <f> \cdot \frac{{<length>}}{{<d>}}{single} \right) = <drop>",
    )
    w.output("pressure-drop", drop, where=say("laminar") if re.value < LAMINAR_END else say("turbulent"))
    w.output("reynolds-number", re)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="plate-pressure-drop/1",
    title="Pressure drop of a cooling plate",
    purpose="Shows that the pump drives the flow that the heat needs.",
    source="Darcy-Weisbach; Shah and London 1978 (rectangles); Blasius 1913",
    confidence="closed form; coefficients for rectangles from memory, checked at both ends",
    equation=r"\Delta p = \frac{\rho \cdot v^2}{2} \cdot \left( f \cdot \frac{l}{d} + \zeta \right)",
    validity="Smooth, straight channels of equal flow; Reynolds number up to 100 000; bends and ports as single "
    "losses.",
    cautions=(
        Caution("High voltage can kill. Coolant conducts: test the plate for leaks before it goes near cells."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("flow", "q_v", "flow through the plate", "L/min", 0.05, 200),
        InputSpec("channels", "n", "channels side by side", "1", 1, 500),
        InputSpec("width", "w", "width of a channel", "mm", 0.2, 500),
        InputSpec("height", "h", "height of a channel", "mm", 0.2, 50),
        InputSpec("length", "l", "length of a channel", "m", 0.01, 20),
        InputSpec("density", r"\rho", "density of the coolant", "kg/m³", 900, 1200),
        InputSpec("viscosity", r"\mu", "viscosity of the coolant", "mPa·s", 0.2, 100),
        InputSpec("single_losses", r"\zeta", "sum of single losses", "1", 0, 200, False),
    ),
    measurands=(
        MeasurandSpec("pressure-drop", "pressure drop", r"\Delta p", "kPa"),
        MeasurandSpec("reynolds-number", "Reynolds number", r"\mathrm{Re}", "1"),
    ),
    evaluate_with=_evaluate,
)
