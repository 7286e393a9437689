r"""What a conductor bears for a short time without loss of heat: k² · S², current for a time, section for a current.

Source: IEC 60949 (adiabatic equation); IEC 60364-4-43, table 43A (115 and 143 for copper, seen).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.conductor_data import K_MATERIAL, MATERIALS, TEMPERATURES, adiabatic_k, next_section
from witnessmark.methods.working import EXACT, HOW_SURE, Working, ordered, worked
from witnessmark.quantities.propagation import sqrt

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("section", "current", "time", "let_through")
    w.valid(
        "time", None, 5, "s", say("beyond 5 s the conductor gives off heat, and the adiabatic equation does not hold")
    )
    own = w.has("start_temperature", "end_temperature")
    if not own and "insulation" not in w.words:
        w.fault(
            "reading.missing",
            say("neither insulation nor both temperatures are given"),
            say("write insulation, or start_temperature and end_temperature in °C"),
        )
    if own:
        w.valid("start_temperature", -50, 300, "°C", say("state the temperature at full load"))
        w.valid("end_temperature", 0, 600, "°C", say("state the end temperature that the insulation bears"))
        if w.value("end_temperature") <= w.value("start_temperature"):
            w.fault("reading.range", say("end_temperature is not above start_temperature"), say("state both again"))
    if w.faults:
        return w.result()
    material = w.words["material"]
    if own:
        start, end = w.value("start_temperature") - 273.15, w.value("end_temperature") - 273.15
        told = "stated"
    else:
        start, end = TEMPERATURES[w.words["insulation"]]
        told = "from memory" if w.words["insulation"] == "silicone" or material == "aluminium" else "seen"
    k = adiabatic_k(material, start, end)
    # k in A·√s/mm² is an SI number with the section in mm².
    w.let("k", k, "1")
    w.show("start", f"{start:g}")
    w.show("end", f"{end:g}")
    w.show("beta", f"{MATERIALS[material][0]:g}")
    w.show("big_k", f"{K_MATERIAL[material]:g}")
    w.step(
        say(
            "k of {material} in ampere, root second per square millimetre ({confidence}).",
            material=w.chosen("material"),
            confidence=HOW_SURE[told],
        ),
        r"k = <big_k> \cdot \sqrt{\mathrm{ln} \frac{<end> + <beta>}{<start> + <beta>}} = <k>",
    )
    w.output(
        "short-time-k",
        k,
        note=say("In A·√s/mm²; temperatures: {confidence}. {exact}", confidence=HOW_SURE[told], exact=say(EXACT)),
    )
    if w.has("section"):
        section = w.x["section"] * 1e6
        energy = w.let("energy", k * k * section * section, "A²·s")
        w.step(say("What the section bears."), r"k^2 \cdot S^2 = <k>^2 \cdot \left( <section> \right)^2 = <energy>")
        w.output("short-time-withstand", energy)
        if w.has("time"):
            current = w.let("permitted", k * section / sqrt(w.x["time"]), "A")
            w.step(say("Current for that time."), r"I = \frac{<k> \cdot <section>}{\sqrt{<time>}} = <permitted>")
            w.output("short-time-current", current)
        if w.has("let_through"):
            ratio = w.let("ratio", w.x["let_through"] / energy, "1")
            w.step(say("What comes through over what is borne."), r"q = \frac{<let_through>}{<energy>} = <ratio>")
            w.output("let-through-ratio", ratio)
    through = None
    if w.has("let_through"):
        through, formula = w.x["let_through"], r"\sqrt{<let_through>}"
    elif w.has("current", "time"):
        through, formula = w.x["current"] * w.x["current"] * w.x["time"], r"<current> \cdot \sqrt{<time>}"
    if through is not None:
        least = w.let("least", sqrt(through) / k * 1e-6, "mm²")
        w.step(say("Smallest section."), rf"S = \frac{{{formula}}}{{<k>}} = <least>")
        w.output("short-time-section", least)
        standard = next_section(least.value * 1e6)
        if standard is None:
            w.alarm("section.none", say("No section of the table is large enough."), say("Use a faster fuse."))
        else:
            w.let("standard", standard * 1e-6, "mm²")
            w.step(say("The next standard section."), r"S = <standard>")
            w.output("short-time-standard-section", standard * 1e-6, note=say(EXACT))
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="short-time-rating/1",
    title="Short-time rating of a conductor",
    purpose="Shows that a cable outlives the fault until its fuse has cleared.",
    source="IEC 60949 (adiabatic equation); IEC 60364-4-43, table 43A",
    confidence="k 115 and 143 for copper seen; aluminium and silicone rubber from memory",
    equation=r"k^2 \cdot S^2 \geq I^2 \cdot t \quad k = K \cdot \sqrt{\mathrm{ln} \frac{\theta_e + \beta}{\theta_s "
    r"+ \beta}}",
    validity="Not more than 5 s, no loss of heat; the insulation bears the end temperature; for times under 0.1 s "
    "use the "
    "let-through of the fuse instead of current and time.",
    cautions=(
        Caution("High voltage can kill. A short circuit throws molten metal. A calculated cable is not a tested one."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("material", "", "metal of the conductor", choices=tuple(MATERIALS)),
        InputSpec("insulation", "", "insulation", required=False, choices=tuple(TEMPERATURES)),
        InputSpec("start_temperature", r"\theta_s", "temperature at full load", "°C", 0, 200, False),
        InputSpec("end_temperature", r"\theta_e", "temperature at the end of the fault", "°C", 80, 400, False),
        InputSpec("section", "S", "section", "mm²", 0.35, 300, False),
        InputSpec("current", "I", "fault current", "A", 1, 50000, False),
        InputSpec("time", "t", "time until it is cleared", "s", 1e-4, 5, False),
        InputSpec("let_through", "I^2t", "total let-through of the fuse", "A²·s", 1, 1e9, False),
    ),
    measurands=(
        MeasurandSpec("let-through-ratio", "let-through over withstand", "q", "1"),
        MeasurandSpec("short-time-withstand", "what the conductor bears", "k^2S^2", "A²·s"),
        MeasurandSpec("short-time-current", "current for the time", "I", "A"),
        MeasurandSpec("short-time-section", "smallest section", "S", "mm²"),
        MeasurandSpec("short-time-standard-section", "next standard section", "S", "mm²"),
        MeasurandSpec("short-time-k", "k in A·√s/mm²", "k", "1"),
    ),
    evaluate_with=_evaluate,
)
