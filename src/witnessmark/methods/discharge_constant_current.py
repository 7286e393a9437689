r"""Time until a constant current has brought a capacitance to a safe voltage, as active discharge does.

Source: closed form, t = C · (U0 − Us)/I.
"""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.language import say
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.methods.working import Working, ordered, worked

__all__ = ["METHOD"]


def _work(w: Working) -> Result | Refused:
    w.above_zero("current", "capacitance", "start_voltage", "safe_voltage")
    if not w.faults and w.value("safe_voltage") >= w.value("start_voltage"):
        w.fault(
            "validity.range",
            say("start_voltage is not above safe_voltage: there is nothing to discharge"),
            say("state the highest voltage that can stand on the bus"),
        )
    if w.faults:
        return w.result()
    t = w.let("t", w.x["capacitance"] * (w.x["start_voltage"] - w.x["safe_voltage"]) / w.x["current"], "s")
    w.step(
        say("Charge to be taken out, over the current."),
        r"t = \frac{<capacitance> \cdot \left( <start_voltage> - <safe_voltage> \right)}{<current>} = <t>",
    )
    w.output("calculated-time-to-safe-voltage", t)
    return w.result()


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    return worked(METHOD, _work, readings, facts)


METHOD = Method(
    id="discharge-constant-current/1",
    title="Discharge by a constant current, calculated",
    purpose="Says how long active discharge takes.",
    source="closed form: t = C (U0 − Us)/I",
    confidence="closed form",
    equation=r"t = \frac{C \cdot \left( U_0 - U_s \right)}{I}",
    validity="The current is constant down to the safe voltage; no source on the bus.",
    cautions=(
        Caution("High voltage can kill. Active discharge fails with its supply: measure before touching, every time."),
        Caution("Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec("current", "I", "discharge current", "A", 1e-3, 100),
        InputSpec("capacitance", "C", "capacitance of the bus", "µF", 0.01, 1e5),
        InputSpec("start_voltage", "U_0", "highest voltage of the bus", "V", 10, 1500),
        InputSpec("safe_voltage", "U_s", "voltage that is safe", "V", 1, 120),
    ),
    measurands=(MeasurandSpec("calculated-time-to-safe-voltage", "time to the safe voltage", "t", "s"),),
    evaluate_with=_evaluate,
)
