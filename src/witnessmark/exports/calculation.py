"""One calculation as JSON."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from witnessmark.assessment.model import Cause
from witnessmark.methods.base import Method, Output, Result
from witnessmark.methods.planning import Plan, Point
from witnessmark.methods.simulating import Compared
from witnessmark.quantities.decision import Decision, begins_with
from witnessmark.quantities.format import decimal_string

__all__ = ["calculation_envelope", "quantity_json"]


def quantity_json(output: Output) -> dict[str, Any]:
    """`{"value", "unit", "u", "U", "k", "dof", "bound"}`: decimal strings in its unit, null where not known."""
    scale, offset = float(output.unit.scale), float(output.unit.offset)
    spread = {
        name: None if value is None else decimal_string(value / scale)
        for name, value in (("u", output.u), ("U", output.U))
    }
    return {
        "value": decimal_string((output.value - offset) / scale),
        "unit": output.unit.symbol,
        **spread,
        "k": None if output.k is None else decimal_string(output.k),
        "dof": None if output.dof == float("inf") else decimal_string(output.dof),
        "bound": output.bound,
    }


def calculation_envelope(
    method: Method,
    result: Result,
    judged: tuple[str, Decision] | None,
    compared: tuple[Compared, ...] = (),
    probability: float | None = None,
    planned: Plan | None = None,
    meter_causes: Sequence[Cause] = (),
) -> str:
    """The envelope of `calculate --format json`; `compared` is the check by Monte Carlo, where it was asked for, and
    `probability` the conformance probability for which the beginning of such results was; `planned` says what the meter
    can decide, and `meter_causes` why it would not count."""
    document: dict[str, Any] = {
        "format": 1,
        "command": "calculate",
        "as_of": None,
        "problems": [],
        "method": method.id,
        "outputs": [{"measurand": o.measurand, **quantity_json(o), "where": o.where} for o in result.outputs],
        "decision": None,
        "alarms": [{"code": a.code, "message": a.message, "remedy": a.remedy, "fatal": a.fatal} for a in result.alarms],
        "steps": [{"words": s.words, "formula": s.formula, "spoken": s.spoken} for s in result.steps],
        "budgets": {
            o.measurand: [
                {
                    "name": r.name,
                    "contribution": decimal_string(r.contribution),
                    "share": decimal_string(r.share),
                    "basis": r.basis,
                }
                for r in o.budget
            ]
            for o in result.outputs
        },
        "cautions": [c.text for c in method.cautions],
    }
    if compared:
        document["monte_carlo"] = [_compared_json(one) for one in compared]
    if judged:
        name, decision = judged
        document["decision"] = {
            "measurand": name,
            "limit": str(decision.limit),
            "rule": str(decision.rule),
            "statement": decision.statement.value,
            "reason": decision.reason,
            "conformance_probability": _decimal(decision.probability),
            "specific_risk": _decimal(decision.specific_risk),
        }
        output = next(o for o in result.outputs if o.measurand == name)
        if probability is not None and output.u is not None and decision.probability is not None:
            begin = begins_with(decision.limit, output.u, probability, output.dof)
            document["decision"]["begins_with"] = {
                "probability": decimal_string(probability),
                "value": decimal_string((begin - float(output.unit.offset)) / float(output.unit.scale)),
                "unit": output.unit.symbol,
            }
    if planned is not None:
        document["meter"] = {
            "decides": planned.decides and not meter_causes,
            "cannot": planned.cannot,
            "faults": [{"code": c.code, "message": c.message, "remedy": c.remedy} for c in meter_causes],
            "just_passes": _point_json(planned.passing),
            "just_fails": _point_json(planned.failing),
            "at_limit": _point_json(planned.at_limit),
        }
    return json.dumps(document, ensure_ascii=False, indent=2)


def _point_json(point: Point | None) -> dict[str, Any] | None:
    if point is None:
        return None
    return {
        "reading": point.name,
        "value": str(point.reading.value),
        "unit": point.reading.unit.symbol,
        "result": quantity_json(point.output),
    }


def _decimal(value: float | None) -> str | None:
    return None if value is None else decimal_string(value)


def _compared_json(one: Compared) -> dict[str, Any]:
    scale, offset = float(one.output.unit.scale), float(one.output.unit.offset)
    ends = {
        name: None if end is None else decimal_string((end - offset) / scale)
        for name, end in (("low", one.low), ("high", one.high))
    }
    part = one.difference
    return {
        "measurand": one.output.measurand,
        "where": one.output.where,
        "unit": one.output.unit.symbol,
        **ends,
        "difference_of_U": None if part is None or part == float("inf") else decimal_string(part),
        "valid": one.valid,
        "narrower": one.narrower,
        "why": one.why,
    }
