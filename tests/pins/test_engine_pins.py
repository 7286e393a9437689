"""The engine beneath the methods, on fixed inputs, to twelve digits: a change of it changes every method.

These are our own outputs, kept to notice a change: they show nothing about being right, and cite no source.
`python -m tests.pins.test_engine_pins` prints them anew. A change here means new versions of the methods it reaches.
"""

from __future__ import annotations

import math
import sys
from decimal import Decimal
from pathlib import Path

import pytest
import yaml

from witnessmark.quantities import parse_quantity, parse_unit
from witnessmark.quantities.accuracy import Accuracy, standard_uncertainty_of_reading
from witnessmark.quantities.decision import DecisionRule, Limit, decide, guard_band
from witnessmark.quantities.evaluation import pooled, standard_uncertainty, type_a
from witnessmark.quantities.format import show
from witnessmark.quantities.montecarlo import Distribution, monte_carlo
from witnessmark.quantities.propagation import (
    Input,
    Uncertain,
    coverage_factor,
    exp,
    log,
    propagate,
    sin,
    sqrt,
    uncertain,
)
from witnessmark.quantities.risk import global_risk

PINS = Path(__file__).parent / "engine.yaml"


def _model() -> Uncertain:
    a = uncertain(Input("a", 3.2, 0.11, 7.0, "t"))
    b = uncertain(Input("b", 0.84, 0.02))
    c = uncertain(Input("c", 12.5, 0.4, math.inf, "rectangular"))
    return a * exp(-b) / sqrt(c) + sin(b) ** 2 + log(c / a) * a**b


def pinned() -> dict[str, str]:
    """Numbers of every part of the engine, by name."""
    done = propagate(_model())
    tied = propagate(_model(), covariance={("b", "c"): 0.004})
    readings = [5.0012, 5.0007, 4.9991, 5.0026, 5.0003]
    series = type_a(readings)
    meter = Accuracy(
        "dc-voltage",
        parse_quantity("0 V"),
        parse_quantity("1000 V"),
        Decimal("0.15"),
        Decimal(2),
        parse_quantity("0.1 V"),
    )
    numbers = {
        "propagate.value": done.value,
        "propagate.u": done.u,
        "propagate.dof": done.dof,
        "propagate.correlated.u": tied.u,
        **{f"propagate.sensitivity.{row.name}": row.sensitivity for row in done.budget},
        **{f"propagate.share.{row.name}": row.share for row in done.budget},
        **{f"coverage_factor.{dof:g}": coverage_factor(dof) for dof in (1.0, 2.0, 4.7, 10.0, 50.0, math.inf)},
        **{f"guard_band.{dof:g}": guard_band(1.0, 0.99, dof) for dof in (2.0, 9.0, math.inf)},
        "type_a.mean": series.mean,
        "type_a.u": series.u,
        "pooled": pooled([0.2, 0.31, 0.26], [4, 6, 3])[0],
        **{f"type_b.{shape}": standard_uncertainty(0.7, shape) for shape in ("rectangular", "triangular", "arcsine")},
        "type_b.trapezoidal": standard_uncertainty(0.7, "trapezoidal", beta=0.4),
        "type_b.normal": standard_uncertainty(0.7, "normal", k=2.0),
        "meter": standard_uncertainty_of_reading(parse_quantity("403.2 V"), meter),
    }
    drawn = monte_carlo(
        lambda x: x["a"] / x["b"],
        {"a": Distribution("normal", 5.0, 0.1), "b": Distribution("rectangular", 2.0, 0.3)},
        draws=5000,
        seed=3,
    )
    numbers |= {
        "monte_carlo.value": drawn.value,
        "monte_carlo.u": drawn.u,
        "monte_carlo.low": drawn.low,
        "monte_carlo.high": drawn.high,
        "global_risk.false_accept": global_risk(0.0, 1.0, 0.25, lower=-2.0, upper=2.0).false_accept,
    }
    texts = {name: f"{number:.11e}" for name, number in numbers.items()}
    limit = Limit.of("at_least", parse_quantity("500 V"))
    rules = {
        "guarded": DecisionRule.guarded(),
        "99": DecisionRule.guarded(Decimal("0.99")),
        "simple": DecisionRule.simple(Decimal("0.05")),
    }
    for name, rule in rules.items():
        for value in (485.0, 489.0, 495.0, 505.0, 511.0, 512.0):
            said = decide(value, 10.0, "", limit, rule, u=5.0)
            texts[f"decide.{name}.{value:g}"] = f"{said.statement.value}, {said.probability:.9e}"
    for value, U, unit in (
        (203.44, 0.637, "V"),
        (0.0099512, 0.000249, "Ω"),
        (999.96, 0.0961, "V"),
        (1.5e6, 7.4e4, "Ω"),
    ):
        texts[f"show.{value:g}"] = str(show(value, U, parse_unit(unit)))
    return texts


def test_the_engine_keeps_its_digits() -> None:
    kept: dict[str, str] = yaml.load(PINS.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    now = pinned()
    assert set(kept) == set(now)
    for name, text in kept.items():
        if name.startswith(("decide", "show")):
            assert now[name] == text, name
        else:
            assert float(now[name]) == pytest.approx(float(text), rel=2e-11, abs=1e-300), name


if __name__ == "__main__":
    sys.stdout.write(yaml.safe_dump(pinned(), sort_keys=True, allow_unicode=True))
