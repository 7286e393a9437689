"""Uncertainty: propagation, random draws, type A and B, coverage. README.md lists arguments and outputs."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, cast

from tests.published import arithmetic
from tests.published.calling import Call, Given, Outputs, with_unit
from tests.published.values import CaseFault, numbers, plain, quantity, si, span_si
from witnessmark.quantities import evaluation, propagation
from witnessmark.quantities.montecarlo import Distribution, monte_carlo
from witnessmark.quantities.propagation import Input, Uncertain
from witnessmark.quantities.second_order import second_order_variance

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
    value = si(with_unit(given.get("value", "0"), unit), name)
    shape = str(given.get("shape", "normal"))
    if "u" in given:
        return Input(name, value, span_si(with_unit(given["u"], unit), name), dof, shape)
    if "s" in given:
        n = plain(given.get("n", "1"), name)
        return Input(name, value, span_si(with_unit(given["s"], unit), name) / math.sqrt(n), dof, shape)
    if "U" in given:
        u = evaluation.standard_uncertainty(
            span_si(with_unit(given["U"], unit), name), "normal", k=plain(given.get("k", "2"), name)
        )
        return Input(name, value, u, dof, shape)
    if "half_width" in given:
        u = evaluation.standard_uncertainty(
            span_si(with_unit(given["half_width"], unit), name),
            str(given.get("shape", "rectangular")),
            k=plain(given["k"], name) if "k" in given else None,
            beta=plain(given["beta"], name) if "beta" in given else None,
        )
        return Input(name, value, u, dof, str(given.get("shape", "rectangular")))
    found = quantity(with_unit(given.get("value", "0"), unit), what=name)
    return Input(name, value, found.u_si or 0.0, dof, shape)


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
        if str(given.get("second_order", "no")) in ("yes", "true"):
            extra = _second_order(formula, {name: inputs[name] for name in used})
            own |= {"second_order": math.sqrt(max(extra, 0.0)), "u_second": math.sqrt(done.u**2 + extra)}
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


def _second_order(formula: str, inputs: Mapping[str, Input]) -> float:
    def slopes(moves: Mapping[str, float]) -> dict[str, float]:
        with propagation.shifted(propagation.Shifts(moves)):
            found = arithmetic.compute(formula, {n: propagation.uncertain(i) for n, i in inputs.items()}, _FUNCTIONS)
        return {name: slope * inputs[name].u for name, slope in found.slopes.items()}

    return second_order_variance(slopes, [name for name, one in inputs.items() if one.u > 0])


def array_functions() -> dict[str, Callable[[Any], Any]]:
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
                low, high = si(with_unit(g["low"], unit), name), si(with_unit(g["high"], unit), name)
                centre, half = (low + high) / 2, (high - low) / 2
            else:
                centre = si(with_unit(g.get("value", "0"), unit), name)
                half = span_si(with_unit(g["half_width"], unit), name)
            edge = span_si(with_unit(g["edge"], unit), name) if "edge" in g else 0.0
            distributions[name] = Distribution(shape, centre, half, beta=plain(g.get("beta", "0")), edge=edge)
        else:
            i = _input(name, g)
            shape = "t" if math.isfinite(i.dof) else "normal"
            if i.shape in ("rectangular", "triangular", "arcsine"):
                distributions[name] = Distribution(i.shape, i.value, i.u * evaluation.DIVISORS[i.shape])
            else:
                distributions[name] = Distribution(shape, i.value, i.u, i.dof)
    functions = array_functions()
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


CALLS: dict[str, Call] = {
    "propagate": Call(
        _propagate, ("model", "inputs"), ("p", "correlation", "covariance", "correlated_readings", "second_order")
    ),
    "monte_carlo": Call(_monte_carlo, ("model", "inputs"), ("p", "draws", "seed")),
    "evaluate": Call(_evaluate, ("formula",), ("with",)),
    "type_a": Call(_type_a, ("values",), ("unit", "p")),
    "type_b": Call(_type_b, ("half_width", "shape"), ("k", "beta"), lists=True),
    "coverage_factor": Call(_coverage_factor, ("dof",), ("p",), lists=True),
    "effective_degrees_of_freedom": Call(_dof, (), ("contributions", "u", "dof", "p")),
    "expand": Call(_expand, ("u",), ("dof", "p"), lists=True),
    "pooled": Call(_pooled, ("s", "dof")),
    "analysis_of_variance": Call(_analysis_of_variance, ("means", "deviations", "n"), ("unit", "unit_of_deviations")),
}
