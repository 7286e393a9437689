r"""What a fuse lets through against what cable and contactor bear.

Source: closed form; k² · S² of the cable after IEC 60949; the contactor's figure is its maker's.
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, larger, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("let_through", "cable_section", "cable_k", "contactor_withstand")
    if not w.has("cable_section", "cable_k") and not w.has("contactor_withstand"):
        w.fault(
            "reading.missing",
            say("neither a cable nor a contactor is given"),
            say("write cable_section with cable_k, or contactor_withstand"),
        )
    if w.has("cable_section") != w.has("cable_k"):
        w.fault("reading.missing", say("cable_section and cable_k belong together"), say("write both"))
    if w.faults:
        return w.result()
    ratios = []
    through = w.x["let_through"]
    if w.has("cable_section"):
        section = w.x["cable_section"] * 1e6
        cable = w.let("cable", w.x["cable_k"] * w.x["cable_k"] * section * section, "A²·s")
        ratios.append(w.let("q_cable", through / cable, "1"))
        w.step(
            say("What the cable bears."),
            r"k^2 \cdot S^2 = <cable_k>^2 \cdot \left( <cable_section> \right)^2 = <cable>",
        )
        w.step(say("What comes through over that."), r"q_c = \frac{<let_through>}{<cable>} = <q_cable>")
        w.output("cable-withstand", cable)
        w.output("cable-let-through-ratio", ratios[-1])
    if w.has("contactor_withstand"):
        ratios.append(w.let("q_contactor", through / w.x["contactor_withstand"], "1"))
        w.step(
            say("Over what the contactor bears."), r"q_k = \frac{<let_through>}{<contactor_withstand>} = <q_contactor>"
        )
        w.output("contactor-let-through-ratio", ratios[-1])
    if len(ratios) == 2:
        w.output("largest-let-through-ratio", larger(ratios))
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="fuse-let-through/1",
    title="Let-through of a fuse against cable and contactor",
    purpose="Shows that cable and contactor outlive the fault that the fuse clears.",
    source="closed form; IEC 60949 for the cable; makers' data for fuse and contactor",
    confidence="closed form",
    equation=r"q = \frac{I^2t}{k^2 \cdot S^2}",
    validity="Total let-through (melting and arcing) at the highest voltage and the prospective current of this pack.",
    cautions=(
        Caution("High voltage can kill. Contacts that weld do not open: check for it after every fault."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("let_through", "I^2t", "total let-through of the fuse", "A²·s", 1, 1e9),
        InputSpec("cable_section", "S", "section of the cable", "mm²", 0.35, 300, False),
        InputSpec("cable_k", "k", "k of the cable in A·√s/mm²", "1", 50, 250, False),
        InputSpec("contactor_withstand", "I^2t_k", "what the contactor bears closed", "A²·s", 1, 1e9, False),
    ),
    measurands=(
        MeasurandSpec("largest-let-through-ratio", "larger of the two ratios", "q", "1"),
        MeasurandSpec("cable-withstand", "what the cable bears", "k^2S^2", "A²·s"),
        MeasurandSpec("cable-let-through-ratio", "let-through over what the cable bears", "q_c", "1"),
        MeasurandSpec("contactor-let-through-ratio", "let-through over what the contactor bears", "q_k", "1"),
    ),
    evaluate_with=_evaluate,
)
