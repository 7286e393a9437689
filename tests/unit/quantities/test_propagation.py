"""The engine against two libraries (GTC, uncertainties), against differences, and against the GUM."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import GTC
import pytest
import uncertainties
import uncertainties.umath

from witnessmark.quantities.propagation import (
    Input,
    Uncertain,
    cos,
    coverage_factor,
    effective_degrees_of_freedom,
    exp,
    expand,
    log,
    propagate,
    sin,
    sqrt,
    tan,
    uncertain,
)

Model = Callable[..., Any]

INPUTS = [Input("a", 1.7, 0.03, 5), Input("b", -0.6, 0.02, 12), Input("c", 2.4, 0.05), Input("d", 0.35, 0.01, 3)]

MODELS: dict[str, Model] = {
    "sum": lambda f, a, b, c, d: a + 2 * b - c / 3 + d,
    "products": lambda f, a, b, c, d: a * b / c - 3 / d + 1,
    "powers": lambda f, a, b, c, d: a**2 + c**0.5 + a**c - 2**b,
    "functions": lambda f, a, b, c, d: (
        f["exp"](b) * f["log"](c) + f["sin"](a) - f["cos"](d) * f["tan"](d) + f["sqrt"](a)
    ),
    "twice": lambda f, a, b, c, d: (a - a * b) / (a + d) + a,
    "isolation": lambda f, a, b, c, d: c * a * (1 / d - 1 / (d + 1)),
    "reversed": lambda f, a, b, c, d: (1 - a) / (2 - c) - (-b) + (+d),
}
OWN = {"exp": exp, "log": log, "sin": sin, "cos": cos, "tan": tan, "sqrt": sqrt}


def _own(model: Model) -> Any:
    return propagate(model(OWN, *(uncertain(i) for i in INPUTS)))


@pytest.mark.parametrize("name", MODELS)
def test_against_gtc(name: str) -> None:
    """Source: GTC 1.5 (reference library): value, u and effective degrees of freedom."""
    functions = {n: getattr(GTC, n) for n in OWN}
    there = MODELS[name](functions, *(GTC.ureal(i.value, i.u, i.dof) for i in INPUTS))
    here = _own(MODELS[name])
    assert here.value == pytest.approx(GTC.value(there), rel=1e-13)
    assert here.u == pytest.approx(GTC.uncertainty(there), rel=1e-12)
    assert here.dof == pytest.approx(GTC.dof(there), rel=1e-10)


@pytest.mark.parametrize("name", MODELS)
def test_against_uncertainties(name: str) -> None:
    """Source: uncertainties 3.2 (reference library): value and u."""
    functions = {n: getattr(uncertainties.umath, n) for n in OWN}
    there = MODELS[name](functions, *(uncertainties.ufloat(i.value, i.u) for i in INPUTS))
    here = _own(MODELS[name])
    assert here.value == pytest.approx(there.nominal_value, rel=1e-13)
    assert here.u == pytest.approx(there.std_dev, rel=1e-9)


@pytest.mark.parametrize("name", MODELS)
def test_slopes_against_differences(name: str) -> None:
    """Source: central differences of the plain model."""
    plain = {n: getattr(math, n) for n in OWN}
    values = [i.value for i in INPUTS]
    here: Uncertain = MODELS[name](OWN, *(uncertain(i) for i in INPUTS))
    for index, given in enumerate(INPUTS):
        step = 1e-6
        up, down = list(values), list(values)
        up[index] += step
        down[index] -= step
        slope = (MODELS[name](plain, *up) - MODELS[name](plain, *down)) / (2 * step)
        assert here.slopes.get(given.name, 0.0) == pytest.approx(slope, rel=1e-6, abs=1e-8)


def test_correlated_inputs_against_gtc() -> None:
    """Source: GTC 1.5 (reference library), correlation given for two inputs."""
    a, b = GTC.ureal(2.0, 0.1, independent=False), GTC.ureal(3.0, 0.2, independent=False)
    GTC.set_correlation(0.6, a, b)
    there = a * b + a
    x, y = uncertain(Input("a", 2.0, 0.1)), uncertain(Input("b", 3.0, 0.2))
    here = propagate(x * y + x, covariance={("a", "b"): 0.6 * 0.1 * 0.2})
    assert here.u == pytest.approx(GTC.uncertainty(there), rel=1e-12)
    assert math.fsum(row.share for row in here.budget) == pytest.approx(1.0)


def test_gum_h1_unrounded() -> None:
    """Source: JCGM 100:2008, H.1.6: 32 nm and 16; unrounded 16.645 (GTC 1.5)."""
    inputs = {
        "l_s": Input("l_s", 0.050000623, 25e-9, 18),
        "d": Input("d", 215e-9, 9.7e-9, 25.6),
        "alpha_s": Input("alpha_s", 11.5e-6, 1.2e-6),
        "theta": Input("theta", -0.1, 0.41),
        "d_alpha": Input("d_alpha", 0.0, 0.58e-6, 50),
        "d_theta": Input("d_theta", 0.0, 0.029, 2),
    }
    x = {name: uncertain(i) for name, i in inputs.items()}
    done = propagate(x["l_s"] + x["d"] - x["l_s"] * (x["d_alpha"] * x["theta"] + x["alpha_s"] * x["d_theta"]))
    assert round(done.u * 1e9) == 32
    assert 16.6 <= done.dof <= 16.8 and math.floor(done.dof) == 16
    assert done.budget[0].name == "l_s" and done.budget[1].name == "d_theta"
    assert "theta" in done.notes[0]


def test_one_input_used_twice_is_one_input() -> None:
    a = uncertain(Input("a", 3.0, 0.1))
    again = uncertain(Input("a", 3.0, 0.1))
    assert propagate(a - again).u == 0.0
    assert propagate(a + again).u == pytest.approx(0.2)


def test_two_inputs_of_one_name_are_a_mistake() -> None:
    with pytest.raises(ValueError, match="both called a"):
        uncertain(Input("a", 3.0, 0.1)) + uncertain(Input("a", 4.0, 0.1))


def test_shares_add_to_one_largest_first() -> None:
    done = _own(MODELS["products"])
    assert math.fsum(row.share for row in done.budget) == pytest.approx(1.0)
    assert [row.share for row in done.budget] == sorted((row.share for row in done.budget), reverse=True)
    assert math.sqrt(math.fsum(row.contribution**2 for row in done.budget)) == pytest.approx(done.u)


def test_correlation_with_finite_degrees_is_said() -> None:
    x, y = uncertain(Input("a", 2.0, 0.1, 4)), uncertain(Input("b", 3.0, 0.2, 4))
    done = propagate(x + y, covariance={("a", "b"): 0.01})
    assert math.isinf(done.dof) and "correlated" in done.notes[0]


@pytest.mark.parametrize("cov", [0.03, -0.03, math.nan, math.inf])
def test_an_impossible_covariance_is_refused(cov: float) -> None:
    x, y = uncertain(Input("a", 2.0, 0.1)), uncertain(Input("b", 3.0, 0.2))
    with pytest.raises(ValueError, match="covariance"):
        propagate(x + y, covariance={("a", "b"): cov})


def test_covariances_that_contradict_each_other_are_refused() -> None:
    a, b, c = (uncertain(Input(n, 1.0, 1.0)) for n in "abc")
    with pytest.raises(ValueError, match="contradict"):
        propagate(a + b + c, covariance={("a", "b"): -1.0, ("b", "c"): -1.0, ("a", "c"): -1.0})


@pytest.mark.parametrize(
    "make",
    [
        lambda: Input("a", math.nan, 0.1),
        lambda: Input("a", math.inf, 0.1),
        lambda: Input("a", 1.0, -0.1),
        lambda: Input("a", 1.0, math.nan),
        lambda: Input("a", 1.0, 0.1, 0),
        lambda: Input("a", 1.0, 0.1, math.nan),
    ],
)
def test_an_input_is_finite_with_a_sensible_u(make: Callable[[], Input]) -> None:
    with pytest.raises(ValueError, match="a"):
        make()


def test_a_result_that_is_not_finite_is_refused() -> None:
    big = uncertain(Input("a", 1e300, 1.0))
    with pytest.raises(ValueError, match="finite"):
        propagate(big * big)
    with pytest.raises(ZeroDivisionError):
        1 / uncertain(Input("a", 0.0, 1.0))
    with pytest.raises(ValueError, match="power"):
        uncertain(Input("a", -2.0, 0.1)) ** 0.5


def test_coverage_factors_at_the_ends() -> None:
    """Source: JCGM 100:2008, table G.2, last row: 1.960 for 95 %, 2.576 for 99 %."""
    assert coverage_factor(math.inf) == pytest.approx(1.960, abs=0.0005)
    assert coverage_factor(math.inf, 0.99) == pytest.approx(2.576, abs=0.0005)
    assert coverage_factor(16.9) == coverage_factor(16.0)
    assert coverage_factor(9 - 1e-12) == coverage_factor(9)
    assert expand(0.5, math.inf)[1] == pytest.approx(0.98, abs=0.0003)
    for dof, p in ((0.5, 0.95), (math.nan, 0.95), (5, 0.0), (5, 1.0)):
        with pytest.raises(ValueError, match=r"."):
            coverage_factor(dof, p)


def test_welch_satterthwaite_without_scale() -> None:
    """Tiny SI values keep their digits in the fourth power; nothing uncertain is infinite."""
    assert effective_degrees_of_freedom([(0.57e-90, 9), (0.25e-90, math.inf)]) == pytest.approx(12.80, abs=0.01)
    assert math.isinf(effective_degrees_of_freedom([(0.0, 3)]))
    assert math.isinf(effective_degrees_of_freedom([]))
