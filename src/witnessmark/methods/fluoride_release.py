r"""Hydrogen fluoride and phosphoryl fluoride that a burning pack may release, as a range, from its energy.

Source: Larsson et al. 2017, abstract (20 to 200 mg/Wh HF; 15 to 22 mg/Wh POF3, seen).
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import Words, declared
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]

RANGES = (
    ("hydrogen-fluoride", 20.0, 200.0),
    ("phosphoryl-fluoride", 15.0, 22.0),
)
ENDS = Words(
    {
        "hydrogen-fluoride-low": declared("Hydrogen fluoride, low end of what was measured."),
        "hydrogen-fluoride-high": declared("Hydrogen fluoride, high end of what was measured."),
        "phosphoryl-fluoride-low": declared("Phosphoryl fluoride, low end of what was measured."),
        "phosphoryl-fluoride-high": declared("Phosphoryl fluoride, high end of what was measured."),
    }
)


def _work(w: Working) -> Result | Refused:
    w.above_zero("energy")
    if w.faults:
        return w.result()
    for name, low, high in RANGES:
        for end, per_energy in (("low", low), ("high", high)):
            e = w.let("per_energy", per_energy * 1e-6 / 3600, "mg/Wh")
            mass = w.let("mass", w.x["energy"] * e, "g")
            w.step(
                ENDS[f"{name}-{end}"],
                r"m = <per_energy> \cdot <energy> = <mass>",
            )
            w.output(f"{name}-{end}", mass)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="fluoride-release/1",
    title="Fluorides from a burning pack",
    purpose="Tells rescuers and neighbours what smoke of a battery fire may hold.",
    source="Larsson et al. 2017, Toxic fluoride gas emissions from lithium-ion battery fires (abstract)",
    confidence="ranges seen; other cells may lie outside",
    equation=r"m = e \cdot E",
    validity="Lithium-ion cells with fluorine salts, all of them burning; nominal energy.",
    cautions=(
        Caution(
            "High voltage can kill. Smoke of a battery fire kills too: keep upwind, and leave it to the fire brigade."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(InputSpec("energy", "E", "nominal energy of the pack", "kWh", 0.1, 500)),
    measurands=(
        MeasurandSpec("hydrogen-fluoride-low", "hydrogen fluoride, low end", "m_1", "kg"),
        MeasurandSpec("hydrogen-fluoride-high", "hydrogen fluoride, high end", "m_2", "kg"),
        MeasurandSpec("phosphoryl-fluoride-low", "phosphoryl fluoride, low end", "m_3", "kg"),
        MeasurandSpec("phosphoryl-fluoride-high", "phosphoryl fluoride, high end", "m_4", "kg"),
    ),
    evaluate_with=_evaluate,
)
