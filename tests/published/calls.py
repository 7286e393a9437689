"""The calculations that a case can name, with their arguments and outputs. README.md lists them for those who write.

Every call takes the `given` mapping of a case (all scalars as text) and gives its outputs by name, numbers in SI.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, cast

from tests.published import arithmetic
from tests.published.values import CaseFault, numbers, plain, quantity, si, span_si
from witnessmark.methods import formulas
from witnessmark.methods.base import Method, Refused
from witnessmark.methods.registry import method, method_ids
from witnessmark.methods.written import facts_as_written, readings_as_written
from witnessmark.quantities import evaluation, propagation
from witnessmark.quantities.accuracy import Accuracy, maximum_permissible_error, reading_input
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
from witnessmark.quantities.format import show
from witnessmark.quantities.montecarlo import Distribution, monte_carlo
from witnessmark.quantities.propagation import Input, Uncertain
from witnessmark.quantities.quantity import QuantityError, parse_quantity
from witnessmark.quantities.units import UnitFault, parse_unit

Given = Mapping[str, Any]
Outputs = dict[str, Any]


class RefusedCase(Exception):
    """The program refused the input, with these codes; a case may expect that."""

    def __init__(self, codes: tuple[str, ...], messages: str) -> None:
        super().__init__(messages)
        self.codes = codes


@dataclass(frozen=True)
class Call:
    """A calculation: its required and optional arguments. With `lists`, scalars may be lists of equal length."""

    run: Callable[[Given], Outputs]
    required: tuple[str, ...]
    optional: tuple[str, ...] = ()
    lists: bool = False


_FUNCTIONS: dict[str, Callable[[Any], Any]] = {
    "exp": lambda x: propagation.exp(x) if isinstance(x, Uncertain) else math.exp(x),
    "log": lambda x: propagation.log(x) if isinstance(x, Uncertain) else math.log(x),
    "ln": lambda x: propagation.log(x) if isinstance(x, Uncertain) else math.log(x),
    "sqrt": lambda x: propagation.sqrt(x) if isinstance(x, Uncertain) else math.sqrt(x),
    "sin": lambda x: propagation.sin(x) if isinstance(x, Uncertain) else math.sin(x),
    "cos": lambda x: propagation.cos(x) if isinstance(x, Uncertain) else math.cos(x),
    "tan": lambda x: propagation.tan(x) if isinstance(x, Uncertain) else math.tan(x),
    "abs": abs,
}


# ---- uncertainty -----------------------------------------------------------------------------------------------

_INPUT_KEYS = {"value", "u", "U", "k", "dof", "half_width", "shape", "beta", "values", "unit", "edge", "s", "n"}


def _input(name: str, given: Any) -> Input:
    """An input of a propagation; see README, "Inputs"."""
    if isinstance(given, str):
        found = quantity(given, what=name)
        return Input(name, found.si, found.u_si or 0.0)
    if isinstance(given, list):
        return evaluation.type_a_input(name, numbers(given, what=name))
    if not isinstance(given, Mapping):
        raise CaseFault(f"{name}: write a quantity, a list of readings, or a mapping")
    extra = set(given) - _INPUT_KEYS
    if extra:
        raise CaseFault(f"{name}: unknown {sorted(extra)}")
    unit = str(given.get("unit", ""))
    if "values" in given:
        return evaluation.type_a_input(name, numbers(given["values"], unit, name))
    dof = plain(given["dof"], name) if "dof" in given else math.inf
    value = si(_with_unit(given.get("value", "0"), unit), name)
    shape = str(given.get("shape", "normal"))
    if "u" in given:
        return Input(name, value, span_si(_with_unit(given["u"], unit), name), dof, shape)
    if "s" in given:
        n = plain(given.get("n", "1"), name)
        return Input(name, value, span_si(_with_unit(given["s"], unit), name) / math.sqrt(n), dof, shape)
    if "U" in given:
        u = evaluation.standard_uncertainty(
            span_si(_with_unit(given["U"], unit), name), "normal", k=plain(given.get("k", "2"), name)
        )
        return Input(name, value, u, dof, shape)
    if "half_width" in given:
        u = evaluation.standard_uncertainty(
            span_si(_with_unit(given["half_width"], unit), name),
            str(given.get("shape", "rectangular")),
            k=plain(given["k"], name) if "k" in given else None,
            beta=plain(given["beta"], name) if "beta" in given else None,
        )
        return Input(name, value, u, dof, str(given.get("shape", "rectangular")))
    found = quantity(_with_unit(given.get("value", "0"), unit), what=name)
    return Input(name, value, found.u_si or 0.0, dof, shape)


def _with_unit(text: Any, unit: str) -> str:
    text = str(text).strip()
    return text if not unit or unit == "1" or text[-1:].isalpha() or text[-1:] in "Ω%³²" else f"{text} {unit}"


def _models(given: Given) -> dict[str, str]:
    model = given.get("model")
    if isinstance(model, Mapping):
        return {str(k): str(v) for k, v in model.items()}
    text = str(model)
    name, equals, formula = text.partition("=")
    return {name.strip(): formula} if equals else {"y": text}


def _covariance(given: Given, inputs: Mapping[str, Input], raw: Mapping[str, Any]) -> dict[tuple[str, str], float]:
    found: dict[tuple[str, str], float] = {}
    for key, value in cast("Mapping[str, Any]", given.get("correlation") or {}).items():
        one, _, other = (part.strip() for part in key.partition(","))
        if one not in inputs or other not in inputs:
            raise CaseFault(f"correlation names {key}: write two inputs with a comma between")
        found[one, other] = plain(value, key) * inputs[one].u * inputs[other].u
    for key, value in cast("Mapping[str, Any]", given.get("covariance") or {}).items():
        one, _, other = (part.strip() for part in key.partition(","))
        if one not in inputs or other not in inputs:
            raise CaseFault(f"covariance names {key}: write two inputs with a comma between")
        found[one, other] = plain(value, key)
    if str(given.get("correlated_readings", "no")) in ("yes", "true"):
        series = {
            name: numbers(g["values"], str(g.get("unit", "")), name)
            if isinstance(g, Mapping)
            else numbers(g, what=name)
            for name, g in raw.items()
            if isinstance(g, list) or (isinstance(g, Mapping) and "values" in g)
        }
        names = sorted(series)
        for i, one in enumerate(names):
            for other in names[i + 1 :]:
                found[one, other] = evaluation.covariance_of_means(series[one], series[other])
    return found


def _propagate(given: Given) -> Outputs:
    raw = given["inputs"]
    if not isinstance(raw, Mapping):
        raise CaseFault("inputs: a mapping of names is asked for")
    inputs = {name: _input(name, g) for name, g in raw.items()}
    covariance = _covariance(given, inputs, raw)
    p = plain(given.get("p", "0.95"))
    outputs: Outputs = {}
    models = _models(given)
    for result_name, formula in models.items():
        used = arithmetic.names_in(formula, _FUNCTIONS)
        unknown = used - set(inputs)
        if unknown:
            raise CaseFault(f"the model uses {sorted(unknown)}, which are no inputs")
        result = arithmetic.compute(formula, {n: propagation.uncertain(i) for n, i in inputs.items()}, _FUNCTIONS)
        if not isinstance(result, Uncertain):
            raise CaseFault("the model uses no input")
        done = propagation.propagate(
            result, covariance={pair: c for pair, c in covariance.items() if set(pair) <= set(result.inputs)}
        )
        k, U = propagation.expand(done.u, done.dof, p)
        own: Outputs = {"value": done.value, "u": done.u, "dof": done.dof, "k": k, "U": U}
        own |= {"relative_u": done.u / abs(done.value) if done.value else None}
        for row in done.budget:
            own |= {
                f"contribution.{row.name}": row.contribution,
                f"sensitivity.{row.name}": row.sensitivity,
                f"share.{row.name}": row.share,
            }
        outputs |= {f"{result_name}.{key}": value for key, value in own.items()} | {result_name: done.value}
        if len(models) == 1:
            outputs |= own
    for name, i in inputs.items():
        outputs |= {f"u.{name}": i.u, f"value.{name}": i.value, f"dof.{name}": i.dof}
    for (one, other), c in covariance.items():
        product = inputs[one].u * inputs[other].u
        outputs |= {f"correlation.{one},{other}": c / product, f"correlation.{other},{one}": c / product}
    return outputs


def _array_functions() -> dict[str, Callable[[Any], Any]]:
    import numpy as np

    names = ("exp", "log", "sqrt", "sin", "cos", "tan", "abs")
    return {name: getattr(np, name) for name in names} | {"ln": np.log}


def _monte_carlo(given: Given) -> Outputs:
    raw = given["inputs"]
    distributions: dict[str, Distribution] = {}
    for name, g in raw.items():
        if isinstance(g, Mapping) and ("half_width" in g or "low" in g):
            unit = str(g.get("unit", ""))
            shape = str(g.get("shape", "rectangular"))
            if "low" in g:
                low, high = si(_with_unit(g["low"], unit), name), si(_with_unit(g["high"], unit), name)
                centre, half = (low + high) / 2, (high - low) / 2
            else:
                centre = si(_with_unit(g.get("value", "0"), unit), name)
                half = span_si(_with_unit(g["half_width"], unit), name)
            edge = span_si(_with_unit(g["edge"], unit), name) if "edge" in g else 0.0
            distributions[name] = Distribution(shape, centre, half, beta=plain(g.get("beta", "0")), edge=edge)
        else:
            i = _input(name, g)
            shape = "t" if math.isfinite(i.dof) else "normal"
            if i.shape in ("rectangular", "triangular", "arcsine"):
                distributions[name] = Distribution(i.shape, i.value, i.u * evaluation.DIVISORS[i.shape])
            else:
                distributions[name] = Distribution(shape, i.value, i.u, i.dof)
    functions = _array_functions()
    ((_, formula),) = _models(given).items()
    unknown = arithmetic.names_in(formula, functions) - set(distributions)
    if unknown:
        raise CaseFault(f"the model uses {sorted(unknown)}, which are no inputs")
    done = monte_carlo(
        lambda drawn: arithmetic.compute(formula, drawn, functions),
        distributions,
        draws=int(plain(given.get("draws", "1000000"))),
        seed=int(plain(given.get("seed", "1"))),
        p=plain(given.get("p", "0.95")),
    )
    return {
        "value": done.value, "u": done.u, "low": done.low, "high": done.high, "interval": [done.low, done.high],
        "shortest": [done.shortest_low, done.shortest_high], "shortest_low": done.shortest_low,
        "shortest_high": done.shortest_high,
    }  # fmt: skip


def _evaluate(given: Given) -> Outputs:
    with_ = {name: si(value, name) for name, value in cast("Given", given.get("with") or {}).items()}
    used = arithmetic.names_in(str(given["formula"]), _FUNCTIONS)
    if used != set(with_):
        raise CaseFault(f"the formula uses {sorted(used)}, with gives {sorted(with_)}")
    zero = {name: propagation.uncertain(Input(name, value, 0.0)) for name, value in with_.items()}
    result = arithmetic.compute(str(given["formula"]), zero, _FUNCTIONS)
    return {"value": result.value if isinstance(result, Uncertain) else result}


def _type_a(given: Given) -> Outputs:
    values = given["values"]
    if isinstance(values, Mapping) and "then" in values:  # NumAcc: a first value, then pairs that repeat
        values = [values["first"], *list(values["then"]) * int(plain(values["times"]))]
    found = evaluation.type_a(numbers(values, str(given.get("unit", "")), "values"))
    k, U = propagation.expand(found.u, found.dof, plain(given.get("p", "0.95")))
    return {"mean": found.mean, "s": found.s, "u": found.u, "dof": found.dof, "n": found.n, "k": k, "U": U}


def _type_b(given: Given) -> Outputs:
    u = evaluation.standard_uncertainty(
        span_si(given["half_width"], "half_width"),
        str(given["shape"]),
        k=plain(given["k"]) if "k" in given else None,
        beta=plain(given["beta"]) if "beta" in given else None,
    )
    return {"u": u, "divisor": span_si(given["half_width"]) / u if u else None}


def _coverage_factor(given: Given) -> Outputs:
    return {"k": propagation.coverage_factor(plain(given["dof"]), plain(given.get("p", "0.95")))}


def _dof(given: Given) -> Outputs:
    if "contributions" in given:
        pairs = [
            (span_si(row["u"], "u"), plain(row.get("dof", "inf"))) if isinstance(row, Mapping) else
            (span_si(row[0], "u"), plain(row[1]))
            for row in given["contributions"]
        ]  # fmt: skip
    else:
        pairs = [(span_si(u), plain(d)) for u, d in zip(given["u"], given["dof"], strict=True)]
    u = math.sqrt(math.fsum(c * c for c, _ in pairs))
    dof = propagation.effective_degrees_of_freedom(pairs)
    k, U = propagation.expand(u, dof, plain(given.get("p", "0.95")))
    return {"dof": dof, "u": u, "k": k, "U": U, "truncated": math.inf if math.isinf(dof) else float(math.floor(dof))}


def _expand(given: Given) -> Outputs:
    k, U = propagation.expand(span_si(given["u"]), plain(given.get("dof", "inf")), plain(given.get("p", "0.95")))
    return {"k": k, "U": U}


def _pooled(given: Given) -> Outputs:
    s, dof = evaluation.pooled([span_si(x) for x in given["s"]], [plain(x) for x in given["dof"]])
    return {"s": s, "dof": dof}


def _analysis_of_variance(given: Given) -> Outputs:
    means = numbers(given["means"], str(given.get("unit", "")), "means")
    deviations = numbers(given["deviations"], str(given.get("unit_of_deviations", given.get("unit", ""))), "deviations")
    n = plain(given["n"])
    between = evaluation.type_a(means)
    within, _ = evaluation.pooled(deviations, [n - 1] * len(deviations))
    return {
        "mean": between.mean, "s_between": between.s, "s_within": within, "u": between.u,
        "F": n * between.s**2 / within**2, "dof": between.dof,
    }  # fmt: skip


# ---- decisions -------------------------------------------------------------------------------------------------

_KINDS = {"at least": "at_least", "more than": "more_than", "at most": "at_most", "less than": "less_than"}
_SIGNS = {">=": "at_least", "≥": "at_least", ">": "more_than", "<=": "at_most", "≤": "at_most", "<": "less_than"}


def _limit(given: Any) -> Limit:
    if isinstance(given, Mapping):
        ((kind, text),) = given.items()
        return Limit.of(cast("LimitKind", str(kind).replace(" ", "_")), quantity(text, what="limit"))
    text = str(given).strip()
    for words, kind in (_KINDS | _SIGNS).items():
        if text.startswith(words):
            return Limit.of(cast("LimitKind", kind), quantity(text[len(words) :].strip(), what="limit"))
    raise CaseFault(f"the limit {text!r} does not say at least, more than, at most or less than")


def _rule(given: Given) -> DecisionRule:
    rule = str(given.get("rule", "guarded"))
    if rule in ("guarded", "w = U", "w=U"):
        return DecisionRule.guarded()
    if rule == "simple":
        if "cap" not in given:
            raise RefusedCase(("decision.cap",), "the simple rule needs a cap")
        return DecisionRule.simple(Decimal(repr(plain(given["cap"]))))
    raise CaseFault(f"no rule is called {rule!r}")


def _said(decision: Decision) -> Outputs:
    return {
        "statement": str(decision.statement), "passes": decision.passes, "fails": decision.fails,
        "acceptance_limit": decision.acceptance_limit, "rejection_limit": decision.rejection_limit,
        "probability": decision.probability, "reason": decision.reason,
    }  # fmt: skip


def _decide(given: Given) -> Outputs:
    limit, rule = _limit(given["limit"]), _rule(given)
    text = str(given["value"]).strip()
    if text.lower().lstrip("+-").split(" ")[0] in ("nan", "inf", "infinity"):
        return _said(decide(float(text.split(" ")[0]), 0.0, "", limit, rule))
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
    computed = str(given.get("computed", "no")) in ("yes", "true")
    exact = _exact(found.si_exact)
    value: float | Decimal = found.si if computed else exact
    return _said(decide(value, U, found.bound or str(given.get("bound", "")), limit, rule, u=u))


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
    w = guard_band(u, plain(given["probability"]))
    return {"w": w, "w/u": w / u}


def _just_passes(given: Given) -> Outputs:
    limit = _limit(given["limit"])
    fixed = span_si(given["U"]) if "U" in given else 0.0
    relative = plain(given["relative_U"]) if "relative_U" in given else 0.0
    return {"value": just_passes(limit, lambda y: fixed + relative * abs(y))}


# ---- quantities ------------------------------------------------------------------------------------------------


def _parse_quantity(given: Given) -> Outputs:
    like = parse_unit(str(given["like"])) if "like" in given else None
    found = parse_quantity(str(given["text"]), like=like, bare=str(given.get("bare", "no")) in ("yes", "true"))
    return {
        "value": found.si, "number": str(found.value), "unit": found.unit.symbol, "bound": found.bound,
        "U": None if found.U is None else float(found.U) * float(found.unit.scale),
        "k": None if found.k is None else float(found.k), "u": found.u_si, "text": str(found),
    }  # fmt: skip


def _parse_unit(given: Given) -> Outputs:
    unit = parse_unit(str(given["text"]))
    return {"symbol": unit.symbol, "scale": float(unit.scale), "offset": float(unit.offset)}


def _convert(given: Given) -> Outputs:
    found = quantity(given["value"]).to(parse_unit(str(given["to"])))
    return {"value": found.si, "number": float(found.value), "text": str(found)}


def _show(given: Given) -> Outputs:
    unit = quantity(given["value"]).unit
    U = span_si(given["U"]) if "U" in given else None
    found = show(si(given["value"]), U, unit, choose_prefix=str(given.get("prefix", "yes")) in ("yes", "true"))
    return {
        "text": str(found).replace("\u202f", " "),
        "value": found.value.replace("\u202f", " "),
        "U": found.U,
        "unit": found.unit,
    }


def _reading(given: Given) -> Outputs:
    found = quantity(given["reading"])
    zero, largest = "0 " + found.unit.symbol, f"1e12 {found.unit.symbol}"
    accuracy = Accuracy(
        "",
        quantity(given.get("low", zero)),
        quantity(given.get("high", largest)),
        Decimal(str(given.get("percent_of_reading", "0"))),
        Decimal(str(given.get("digits", "0"))),
        quantity(given["resolution"]) if "resolution" in given else None,
        quantity(given["fixed"]) if "fixed" in given else None,
        quantity(given["certificate_U"]) if "certificate_U" in given else None,
        Decimal(str(given["certificate_k"])) if "certificate_k" in given else None,
    )
    made = reading_input("reading", found, accuracy)
    return {
        "half_width": maximum_permissible_error(found, accuracy),
        "u": None if made is None else made.u,
        "in_range": accuracy.covers(found),
    }


# ---- closed forms ----------------------------------------------------------------------------------------------


def _isolation(given: Given) -> Outputs:
    ri = formulas.isolation_resistance(si(given["ro"]), si(given["ub"]), si(given["u_loaded"]), si(given["u"]))
    outputs: Outputs = {"ri": ri}
    if "working_voltage" in given:
        outputs["per_volt"] = ri / si(given["working_voltage"])
    if "meter" in given:
        outputs["corrected"] = formulas.two_meter_correction(ri, si(given["meter"]))
    return outputs


def _two_meters(given: Given) -> Outputs:
    return {"resistance": formulas.two_meter_correction(si(given["read"]), si(given["meter"]))}


def _monitor(given: Given) -> Outputs:
    low, high = formulas.monitor_resistor_window(
        si(given["working_voltage"]), si(given["isolation"]), si(given["per_volt"])
    )
    return {"low": low, "high": high, "window": [low, high]}


def _parallel(given: Given) -> Outputs:
    return {"resistance": formulas.parallel(numbers(given["resistances"], str(given.get("unit", ""))))}


def _settling(given: Given) -> Outputs:
    tau = si(given["tau"]) if "tau" in given else si(given["resistance"]) * si(given["capacitance"])
    return {"tau": tau, "time": formulas.settling_time(tau, plain(given["part"])) if "part" in given else None}


def _capacitor_energy(given: Given) -> Outputs:
    residual = si(given["residual"]) if "residual" in given else 0.0
    return {"energy": formulas.capacitor_energy(si(given["capacitance"]), si(given["voltage"]), residual)}


def _discharge(given: Given) -> Outputs:
    tau = si(given["tau"]) if "tau" in given else si(given["resistance"]) * si(given["capacitance"])
    outputs: Outputs = {"tau": tau}
    start = si(given["start"]) if "start" in given else None
    if start is not None and "end" in given:
        outputs["time"] = formulas.discharge_time(start, si(given["end"]), tau)
    if "at" in given:
        at = si(given["at"])
        outputs["ratio"] = math.exp(-at / tau)
        if start is not None:
            outputs["voltage"] = formulas.discharge_voltage(start, tau, 1.0, at)
            if "capacitance" in given:
                outputs["energy"] = formulas.capacitor_energy(si(given["capacitance"]), outputs["voltage"])
    return outputs


def _time_constant(given: Given) -> Outputs:
    t1, u1, t2, u2 = (si(given[name]) for name in ("t1", "u1", "t2", "u2"))
    tau = formulas.time_constant(t1, u1, t2, u2)
    start = u1 * math.exp(t1 / tau)
    outputs: Outputs = {"tau": tau, "start": start}
    if "end" in given:
        outputs["time"] = formulas.discharge_time(start, si(given["end"]), tau)
    return outputs


def _constant_current(given: Given) -> Outputs:
    arguments = (si(given[name]) for name in ("capacitance", "start", "end", "current"))
    return {"time": formulas.constant_current_time(*arguments)}


def _four_wire(given: Given) -> Outputs:
    if "u_reverse" in given:
        uf, ur, jf, jr = (si(given[n]) for n in ("u_forward", "u_reverse", "i_forward", "i_reverse"))
        r = formulas.reversed_resistance(uf, ur, jf, jr)
        return {"resistance": r, "offset": (uf + ur) / 2, "single": uf / jf, "error": uf / jf - r}
    return {"resistance": formulas.four_wire_resistance(si(given["u_forward"]), si(given["i_forward"]))}


CALLS: dict[str, Call] = {
    "propagate": Call(_propagate, ("model", "inputs"), ("p", "correlation", "covariance", "correlated_readings")),
    "monte_carlo": Call(_monte_carlo, ("model", "inputs"), ("p", "draws", "seed")),
    "evaluate": Call(_evaluate, ("formula",), ("with",)),
    "type_a": Call(_type_a, ("values",), ("unit", "p")),
    "type_b": Call(_type_b, ("half_width", "shape"), ("k", "beta"), lists=True),
    "coverage_factor": Call(_coverage_factor, ("dof",), ("p",), lists=True),
    "effective_degrees_of_freedom": Call(_dof, (), ("contributions", "u", "dof", "p")),
    "expand": Call(_expand, ("u",), ("dof", "p"), lists=True),
    "pooled": Call(_pooled, ("s", "dof")),
    "analysis_of_variance": Call(_analysis_of_variance, ("means", "deviations", "n"), ("unit", "unit_of_deviations")),
    "decide": Call(_decide, ("value", "limit"), ("U", "u", "k", "rule", "cap", "bound", "computed"), lists=True),
    "conformance_probability": Call(
        _conformance_probability, ("value",), ("u", "U", "k", "lower", "upper"), lists=True
    ),
    "guard_band": Call(_guard_band, ("probability",), ("u",), lists=True),
    "just_passes": Call(_just_passes, ("limit",), ("U", "relative_U")),
    "parse_quantity": Call(_parse_quantity, ("text",), ("like", "bare")),
    "parse_unit": Call(_parse_unit, ("text",)),
    "convert": Call(_convert, ("value", "to"), lists=True),
    "show": Call(_show, ("value",), ("U", "prefix")),
    "reading": Call(
        _reading,
        ("reading",),
        ("percent_of_reading", "digits", "resolution", "fixed", "certificate_U", "certificate_k", "low", "high"),
    ),
    "isolation_resistance": Call(_isolation, ("ro", "ub", "u", "u_loaded"), ("working_voltage", "meter"), lists=True),
    "two_meter_correction": Call(_two_meters, ("read", "meter"), lists=True),
    "monitor_resistor_window": Call(_monitor, ("working_voltage", "isolation", "per_volt")),
    "parallel": Call(_parallel, ("resistances",), ("unit",)),
    "settling": Call(_settling, (), ("tau", "resistance", "capacitance", "part"), lists=True),
    "capacitor_energy": Call(_capacitor_energy, ("capacitance", "voltage"), ("residual",), lists=True),
    "discharge": Call(_discharge, (), ("start", "end", "at", "tau", "resistance", "capacitance"), lists=True),
    "time_constant": Call(_time_constant, ("t1", "u1", "t2", "u2"), ("end",)),
    "constant_current_discharge": Call(_constant_current, ("capacitance", "start", "end", "current"), lists=True),
    "four_wire_resistance": Call(_four_wire, ("u_forward", "i_forward"), ("u_reverse", "i_reverse"), lists=True),
}


# ---- methods ---------------------------------------------------------------------------------------------------

_METHOD_KEYS = {"facts", "readings", "log", "limits", "rule", "cap"}


def _column(name: str, given: Any, unit: str, time: Any) -> Any:
    """A column in the unit of its channel: numbers, {values, unit}, {from, to, step}, or {formula} of t in s."""
    import numpy as np

    factor = parse_unit(unit)
    if isinstance(given, Mapping) and "formula" in given:
        functions = _array_functions()
        made = arithmetic.compute(str(given["formula"]), {"t": time}, functions)
        return np.broadcast_to(np.asarray(made, dtype=np.float64), time.shape).copy()
    if isinstance(given, Mapping) and "step" in given:
        low, high, step = (si(_with_unit(given[n], unit), name) for n in ("from", "to", "step"))
        return low + step * np.arange(round((high - low) / step) + 1)
    own = str(given.get("unit", unit)) if isinstance(given, Mapping) else unit
    values = given["values"] if isinstance(given, Mapping) else given
    if not isinstance(values, list):
        raise CaseFault(f"{name}: a column is a list, values with unit, from/to/step, or a formula of t")
    made_values = []
    for item in values:
        text = str(item).strip()
        if text.lower().lstrip("+-") in ("nan", ".nan", "inf", ".inf"):
            made_values.append(float(text.lower().replace(".", "")))
        else:
            found = quantity(_with_unit(text, own), like=unit, what=name)
            made_values.append(float(found.to(factor).value))
    return np.asarray(made_values)


def _run_method(found: Method, given: Given) -> Outputs:
    import numpy as np

    inputs = {spec.name for spec in found.inputs}
    facts = {spec.name for spec in found.facts}
    channels = {spec.name: spec for spec in found.channels}
    options = {spec.name: spec for spec in found.options}
    flat: dict[str, Any] = {}
    for group in ("facts", "readings", "log"):
        flat |= cast("Given", given.get(group) or {})
    flat |= {name: value for name, value in given.items() if name not in _METHOD_KEYS}
    unknown = set(flat) - inputs - facts - set(channels) - set(options)
    # A reading that the method does not know is the method's to refuse; what is not called a reading is a mistake.
    unknown -= set(cast("Given", given.get("readings") or {}))
    if unknown:
        raise CaseFault(f"{found.id} takes no {sorted(unknown)}")
    known_inputs = {n: v for n, v in flat.items() if n not in facts and n not in channels and n not in options}
    readings, reading_faults = readings_as_written(found, known_inputs)
    stated, fact_faults = facts_as_written(found, {n: str(v) for n, v in flat.items() if n in facts})
    faults = (*reading_faults, *fact_faults)
    if faults:
        raise RefusedCase(tuple(p.code for _, p in faults), "; ".join(p.message for _, p in faults))
    figures: Mapping[str, object] | None = None
    if channels and any(n in channels for n in flat):
        columns: dict[str, Any] = {}
        time = _column("time", flat["time"], "s", np.empty(0)) if "time" in flat else np.empty(0)
        for name, spec in channels.items():
            if name not in flat:
                continue
            if name == "time":
                columns["time"] = time
            elif spec.many:
                for column, values in flat[name].items():
                    columns[f"{name}:{column}"] = _column(f"{name}:{column}", values, spec.unit, time)
            else:
                columns[name] = _column(name, flat[name], spec.unit, time)
        chosen = {n: si(_with_unit(flat[n], options[n].unit), n) for n in options if n in flat}
        figures = found.reduce(columns, chosen)
    result = found.evaluate(readings, stated, figures)
    if isinstance(result, Refused):
        raise RefusedCase(tuple(p.code for p in result.faults), "; ".join(p.message for p in result.faults))
    outputs: Outputs = {
        "alarms": sorted({alarm.code for alarm in result.alarms}),
        "fatal_alarms": sorted({alarm.code for alarm in result.alarms if alarm.fatal}),
        "believable": result.believable,
    }
    limits = cast("Given", given.get("limits") or {})
    for output in result.outputs:
        name = output.measurand
        outputs |= {
            name: output.value, f"{name}.u": output.u, f"{name}.U": output.U, f"{name}.k": output.k,
            f"{name}.dof": output.dof, f"{name}.bound": output.bound, f"{name}.where": output.where,
        }  # fmt: skip
        for row in output.budget:
            outputs |= {f"{name}.share.{row.name}": row.share, f"{name}.contribution.{row.name}": row.contribution}
        if name in limits:
            said = _said(decide(output.value, output.U, output.bound, _limit(limits[name]), _rule(given), u=output.u))
            outputs |= {f"{name}.{key}": value for key, value in said.items()}
    missing = set(limits) - {output.measurand for output in result.outputs}
    if missing:
        raise CaseFault(f"limits for {sorted(missing)}, which {found.id} does not yield here")
    return outputs


def run(call: str, given: Given) -> Outputs:
    """The outputs of a call; raises `CaseFault` for a case that is written wrongly, `RefusedCase` for refused input."""
    try:
        if call in CALLS:
            return _run_call(CALLS[call], call, given)
        found = method(call)
        if found is None:
            raise CaseFault(f"no call is named {call!r}; there are {', '.join((*sorted(CALLS), *method_ids()))}")
        return _run_method(found, given)
    except arithmetic.FormulaFault as fault:
        raise CaseFault(str(fault)) from fault
    except QuantityError as fault:
        raise RefusedCase((fault.code,), str(fault)) from fault
    except UnitFault as fault:
        raise RefusedCase(("quantity.unit",), str(fault)) from fault
    except ZeroDivisionError as fault:
        raise RefusedCase(("value",), str(fault)) from fault
    except ValueError as fault:
        raise RefusedCase(("value",), str(fault)) from fault


def _run_call(call: Call, name: str, given: Given) -> Outputs:
    unknown = set(given) - set(call.required) - set(call.optional)
    missing = set(call.required) - set(given)
    if unknown or missing:
        raise CaseFault(f"{name}: unknown {sorted(unknown)}, missing {sorted(missing)}")
    many = {n: v for n, v in given.items() if isinstance(v, list)} if call.lists else {}
    if not many:
        return call.run(given)
    lengths = {len(v) for v in many.values()}
    if len(lengths) != 1:
        raise CaseFault(f"{name}: the lists {sorted(many)} differ in length")
    rows = [call.run({**given, **{n: v[i] for n, v in many.items()}}) for i in range(lengths.pop())]
    return {key: [row.get(key) for row in rows] for key in rows[0]}
