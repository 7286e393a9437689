r"""Rating of a fuse in a warm place: Ia = In · √((a − θ)/(a − 30 °C)), with the link's limit temperature a.

Source: a fuse maker's data page (a = 130 °C seen); the formula is from memory.
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked
from witnessmark.quantities.propagation import sqrt

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("rated_current", "load_current")
    w.valid("limit_temperature", 60, 300, "°C", say("take the maker's limit temperature of the link"))
    w.valid("ambient", -40, None, "°C", say("the rule is not stated below"))
    if not w.faults and w.value("ambient") >= w.value("limit_temperature"):
        w.fault(
            "validity.range", say("ambient is not below limit_temperature: nothing may flow"), say("cool the place")
        )
    if w.faults:
        return w.result()
    limit = w.x["limit_temperature"]
    factor = w.let("factor", sqrt((limit - w.x["ambient"]) / (limit - 303.15)), "1")
    rated = w.let("rated", factor * w.x["rated_current"], "A")
    w.step(
        say("Factor for the ambient temperature (formula from memory)."),
        r"f = \sqrt{\frac{<limit_temperature> - <ambient>}{<limit_temperature> - 30\,^{\circ}\mathrm{C}}} = <factor>",
    )
    w.step(say("Rating there."), r"I_a = <factor> \cdot <rated_current> = <rated>")
    w.output("rerating-factor", factor)
    w.output("rerated-current", rated)
    if w.has("load_current"):
        load = w.let("load", w.x["load_current"] / rated, "1")
        w.step(say("Continuous load over that."), r"q = \frac{<load_current>}{<rated>} = <load>")
        w.output("fuse-load-ratio", load)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="fuse-rerating/1",
    title="Rating of a fuse in a warm place",
    purpose="Shows that a fuse carries its load where it is mounted.",
    source="a fuse maker's data page for DC fuses",
    confidence="limit temperature of 130 °C seen; formula from memory: the maker's own curve comes first",
    equation=r"I_a = I_n \cdot \sqrt{\frac{a - \theta}{a - 30}}",
    validity="Ambient below the limit temperature of the link; rated at 30 °C.",
    cautions=(
        Caution("High voltage can kill. A fuse that runs hot opens in traffic and ages its neighbours."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("rated_current", "I_n", "rated current", "A", 1, 2000),
        InputSpec("limit_temperature", "a", "limit temperature of the link", "°C", 100, 200),
        InputSpec("ambient", r"\theta", "temperature of the place", "°C", -40, 120),
        InputSpec("load_current", "I", "continuous load", "A", 0.1, 2000, False),
    ),
    measurands=(
        MeasurandSpec("fuse-load-ratio", "load over rating", "q", "1"),
        MeasurandSpec("rerating-factor", "factor", "f", "1"),
        MeasurandSpec("rerated-current", "rating in that place", "I_a", "A"),
    ),
    evaluate_with=_evaluate,
)
