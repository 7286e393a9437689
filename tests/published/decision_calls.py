"""Decisions. README.md lists arguments and outputs."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, cast

from tests.published.calling import Call, Given, Outputs, RefusedCase
from tests.published.values import CaseFault, plain, quantity, si, span_si
from witnessmark.quantities.decision import (
    Decision,
    DecisionRule,
    Limit,
    LimitKind,
    conformance_probability,
    decide,
    guard_band,
    just_passes,
)
from witnessmark.quantities.risk import global_risk

_KINDS = {"at least": "at_least", "more than": "more_than", "at most": "at_most", "less than": "less_than"}
_SIGNS = {">=": "at_least", "≥": "at_least", ">": "more_than", "<=": "at_most", "≤": "at_most", "<": "less_than"}


def limit_of(given: Any) -> Limit:
    if isinstance(given, Mapping):
        ((kind, text),) = given.items()
        return Limit.of(cast("LimitKind", str(kind).replace(" ", "_")), quantity(text, what="limit"))
    text = str(given).strip()
    for words, kind in (_KINDS | _SIGNS).items():
        if text.startswith(words):
            return Limit.of(cast("LimitKind", kind), quantity(text[len(words) :].strip(), what="limit"))
    raise CaseFault(f"the limit {text!r} does not say at least, more than, at most or less than")


def rule_of(given: Given) -> DecisionRule:
    rule = str(given.get("rule", "guarded"))
    if rule in ("guarded", "w = U", "w=U"):
        return DecisionRule.guarded(Decimal(repr(plain(given["probability"]))) if "probability" in given else None)
    if rule == "simple":
        if "cap" not in given:
            raise RefusedCase(("decision.cap",), "the simple rule needs a cap")
        return DecisionRule.simple(Decimal(repr(plain(given["cap"]))))
    raise CaseFault(f"no rule is called {rule!r}")


def said(decision: Decision) -> Outputs:
    return {
        "statement": str(decision.statement), "passes": decision.passes, "fails": decision.fails,
        "acceptance_limit": decision.acceptance_limit, "rejection_limit": decision.rejection_limit,
        "probability": decision.probability, "reason": decision.reason,
    }  # fmt: skip


def _decide(given: Given) -> Outputs:
    limit, rule = limit_of(given["limit"]), rule_of(given)
    text = str(given["value"]).strip()
    if text.lower().lstrip("+-.").split(" ")[0] in ("nan", "inf", "infinity"):
        return said(decide(float(text.split(" ")[0].replace(".", "")), 0.0, "", limit, rule))
    found = quantity(text, what="value")
    if not found.unit.compatible(limit.unit):
        raise RefusedCase(("quantity.dimension",), f"{found.unit} against {limit.unit}")
    u: float | None = None
    U: Decimal | None = None
    if "u" in given:
        u = span_si(given["u"])
        k = plain(given.get("k", "2"))
        U = _exact_si(given["u"]) * Decimal(repr(k))
    elif "U" in given:
        U = _exact_si(given["U"])
        u = float(U) / plain(given.get("k", "2"))
    elif found.U is not None:
        U = Decimal(found.U) * _scale(found.unit)
        u = found.u_si
    dof = plain(given["dof"]) if "dof" in given else float("inf")
    computed = str(given.get("computed", "no")) in ("yes", "true")
    exact = _exact(found.si_exact)
    value: float | Decimal = found.si if computed else exact
    return said(decide(value, U, found.bound or str(given.get("bound", "")), limit, rule, u=u, dof=dof))


def _exact(fraction: Any) -> Decimal:
    return Decimal(fraction.numerator) / Decimal(fraction.denominator)


def _scale(unit: Any) -> Decimal:
    return _exact(unit.scale)


def _exact_si(text: Any) -> Decimal:
    found = quantity(text, what="U")
    return found.value * _scale(found.unit)


def _conformance_probability(given: Given) -> Outputs:
    value = si(given["value"])
    u = span_si(given["u"]) if "u" in given else span_si(given["U"]) / plain(given.get("k", "2"))
    lower = si(given["lower"]) if "lower" in given else None
    upper = si(given["upper"]) if "upper" in given else None
    if u <= 0:
        raise RefusedCase(("value",), "u is not above zero")
    probability = conformance_probability(value, u, lower=lower, upper=upper)
    below = None if lower is None else 1 - conformance_probability(value, u, lower=lower)
    above = None if upper is None else 1 - conformance_probability(value, u, upper=upper)
    nearest = min(abs(value - edge) for edge in (lower, upper) if edge is not None)
    return {
        "probability": probability, "nonconformity": 1 - probability, "below": below, "above": above,
        "z": nearest / u, "capability": nearest / (3 * u),
    }  # fmt: skip


def _guard_band(given: Given) -> Outputs:
    u = span_si(given.get("u", "1"))
    w = guard_band(u, plain(given["probability"]), plain(given.get("dof", "inf")))
    return {"w": w, "w/u": w / u}


def _just_passes(given: Given) -> Outputs:
    limit = limit_of(given["limit"])
    fixed = span_si(given["U"]) if "U" in given else 0.0
    relative = plain(given["relative_U"]) if "relative_U" in given else 0.0
    return {"value": just_passes(limit, lambda y: fixed + relative * abs(y))}


def _global_risk(given: Given) -> Outputs:
    found = global_risk(
        si(given.get("mean", "0")),
        span_si(given["deviation"]),
        span_si(given["u"]),
        lower=si(given["lower"]) if "lower" in given else None,
        upper=si(given["upper"]) if "upper" in given else None,
        guard=span_si(given.get("guard", "0")),
    )
    return {"false_accept": found.false_accept, "false_reject": found.false_reject}


CALLS: dict[str, Call] = {
    "global_risk": Call(_global_risk, ("deviation", "u"), ("mean", "lower", "upper", "guard"), lists=True),
    "decide": Call(
        _decide,
        ("value", "limit"),
        ("U", "u", "k", "dof", "rule", "cap", "probability", "bound", "computed"),
        lists=True,
    ),
    "conformance_probability": Call(
        _conformance_probability, ("value",), ("u", "U", "k", "lower", "upper"), lists=True
    ),
    "guard_band": Call(_guard_band, ("probability",), ("u", "dof"), lists=True),
    "just_passes": Call(_just_passes, ("limit",), ("U", "relative_U")),
}
