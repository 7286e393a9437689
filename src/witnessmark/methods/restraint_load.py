r"""Load on the fastenings of a battery at a design acceleration, and how much of their strength it takes.

Source: closed form, F = m · n · gₙ; 20 g as a design figure: leaflet seen (summary).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("mass", "acceleration", "capacity")
    w.whole("fastenings")
    w.valid(
        "worst_share",
        0,
        1,
        "1",
        say("state the part of the load that the worst fastening takes, 1 over their number at least"),
    )
    if not w.faults and w.has("worst_share") and w.value("worst_share") * w.value("fastenings") < 1 - 1e-9:
        w.fault(
            "validity.range",
            say("worst_share is below one over the number of fastenings: somewhere the rest has to go"),
            say("state 1 over the number, or more where the load is uneven"),
        )
    if w.faults:
        return w.result()
    force = w.let("force", w.x["mass"] * w.x["acceleration"], "kN")
    w.step(say("Force at the design acceleration."), r"F = <mass> \cdot <acceleration> = <force>")
    if w.has("worst_share"):
        one = w.let("one", force * w.x["worst_share"], "kN")
        w.step(say("On the worst fastening."), r"F_1 = <force> \cdot <worst_share> = <one>")
    else:
        one = w.let("one", force / w.x["fastenings"], "kN")
        w.step(say("On each fastening, evenly shared."), r"F_1 = \frac{<force>}{<fastenings>} = <one>")
    ratio = w.let("ratio", one / w.x["capacity"], "1")
    w.step(say("Over what a fastening bears in that direction."), r"q = \frac{<one>}{<capacity>} = <ratio>")
    w.output("restraint-ratio", ratio)
    w.output("restraint-force", force)
    w.output("fastening-force", one)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="restraint-load/1",
    title="Load on battery fastenings",
    purpose="Shows that the battery stays in place in a crash.",
    source="closed form: F = m · n · gₙ; 20 g: a German leaflet for conversions",
    confidence="closed form; 20 g seen (summary); even sharing is common practice, no source",
    equation=r"q = \frac{m \cdot a}{N \cdot F_{max}}",
    validity="One direction at a time; strength of bolt, thread and the sheet beneath: the weakest of the three "
    "counts.",
    cautions=(
        Caution(
            "High voltage can kill. A battery that comes loose in a crash shorts and burns. A calculation does not "
            "test the sheet metal."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("direction", "", "direction", choices=("forward", "rearward", "sideways", "upward", "downward")),
        InputSpec("mass", "m", "mass of battery and carrier", "kg", 1, 2000),
        InputSpec("acceleration", "a", "design acceleration", "gₙ", 1, 60),
        InputSpec("fastenings", "N", "fastenings that bear in this direction", "1", 1, 200),
        InputSpec("worst_share", "s", "part of the load on the worst fastening", "1", 0, 1, False),
        InputSpec("capacity", "F_{max}", "what a fastening bears in this direction", "kN", 0.1, 500),
    ),
    measurands=(
        MeasurandSpec("restraint-ratio", "load over strength", "q", "1"),
        MeasurandSpec("restraint-force", "force on all fastenings", "F", "kN"),
        MeasurandSpec("fastening-force", "force on the worst fastening", "F_1", "kN"),
    ),
    evaluate_with=_evaluate,
)
