r"""Vibration profile at a frequency: acceleration that is asked, and the amplitudes of displacement and speed.

Source: UN Regulation No. 100, 03 series, Annex 9A (seen): 10 m/s² from 7 to 18 Hz, falling to 2 m/s² at 30 Hz, 2 m/s²
to 50 Hz. That the fall is straight in frequency is our reading.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise

from witnessmark.language import say
from witnessmark.methods.base import (
    Caution,
    ConditionSpec,
    InputSpec,
    MeasurandSpec,
    Method,
    Reading,
    Refused,
    Result,
    RoleSpec,
)
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import EXACT, Working, ordered, worked

__all__ = ["METHOD", "profile"]

POINTS = ((7.0, 10.0), (18.0, 10.0), (30.0, 2.0), (50.0, 2.0))
"""Frequency in Hz and acceleration in m/s²."""


def profile(frequency: float) -> float:
    """Acceleration in m/s² at `frequency` in Hz, 7 to 50; straight between the points. Source: Annex 9A."""
    for (f0, a0), (f1, a1) in pairwise(POINTS):
        if f0 <= frequency <= f1:
            return a0 + (frequency - f0) / (f1 - f0) * (a1 - a0)
    raise ValueError("the profile runs from 7 to 50 Hz")


def _work(w: Working) -> Result | Refused:
    w.valid("frequency", POINTS[0][0], POINTS[-1][0], "Hz", say("the sweep runs from 7 Hz to 50 Hz"))
    w.above_zero("acceleration")
    if w.faults:
        return w.result()
    asked = w.let("asked", profile(w.value("frequency")), "m/s²")
    omega = 2 * math.pi * w.x["frequency"]
    speed = w.let("speed", asked / omega, "m/s")
    stroke = w.let("stroke", asked / (omega * omega), "mm")
    w.step(say("Acceleration of the profile."), "a = <asked>")
    w.step(say("Amplitude of the speed."), r"v = \frac{<asked>}{2 \cdot \pi \cdot <frequency>} = <speed>")
    w.step(
        say("Amplitude of the displacement."),
        r"s = \frac{<asked>}{\left( 2 \cdot \pi \cdot <frequency> \right)^2} = <stroke>",
    )
    w.output("vibration-asked", asked.value, note=say(EXACT))
    w.output("vibration-speed", speed)
    w.output("vibration-displacement", stroke)
    if w.has("acceleration"):
        ratio = w.let("ratio", w.x["acceleration"] / asked, "1")
        w.step(say("What was run over what is asked."), r"q = \frac{<acceleration>}{<asked>} = <ratio>")
        w.output("vibration-ratio", ratio)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="vibration-profile/1",
    title="Vibration profile at a frequency",
    purpose="Shows that a vibration test was run at its level.",
    source="UN Regulation No. 100, 03 series, Annex 9A",
    confidence="points seen; straight between 18 and 30 Hz: our reading",
    equation=r"s = \frac{a}{\left( 2 \cdot \pi \cdot f \right)^2}",
    validity="7 Hz to 50 Hz, sine, vertical as mounted.",
    cautions=(
        Caution(
            "High voltage can kill. A battery on the shaker is live and may vent: watch from outside, for an hour "
            "after too."
        ),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("frequency", "f", "frequency", "Hz", 7, 50),
        InputSpec("acceleration", "a_m", "acceleration that was run", "m/s²", 0.5, 30, False, role="accelerometer"),
    ),
    roles=(
        RoleSpec(
            "accelerometer", "accelerometer", "acceleration", "over the whole range of the profile", required=False
        ),
    ),
    conditions=(
        ConditionSpec("charge", "state of charge of the battery", required=False),
        ConditionSpec("air", "air temperature", required=False),
    ),
    measurands=(
        MeasurandSpec("vibration-ratio", "acceleration over what is asked", "q", "1"),
        MeasurandSpec("vibration-asked", "acceleration that is asked", "a", "m/s²"),
        MeasurandSpec("vibration-speed", "amplitude of the speed", "v", "m/s"),
        MeasurandSpec("vibration-displacement", "amplitude of the displacement", "s", "mm"),
    ),
    evaluate_with=_evaluate,
)
