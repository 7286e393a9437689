"""Type A and type B."""

from __future__ import annotations

import math
import statistics

import numpy as np
import pytest

from witnessmark.quantities.evaluation import (
    covariance_of_means,
    pooled,
    rectangular,
    standard_uncertainty,
    type_a,
    type_a_input,
)
from witnessmark.quantities.montecarlo import Distribution, monte_carlo

READINGS = [2.31, 2.28, 2.35, 2.30, 2.33]


def test_type_a_against_the_standard_library() -> None:
    """Source: Python's statistics module (reference library)."""
    found = type_a(READINGS)
    assert found.mean == pytest.approx(statistics.mean(READINGS), rel=1e-15)
    assert found.s == pytest.approx(statistics.stdev(READINGS), rel=1e-14)
    assert found.u == pytest.approx(found.s / math.sqrt(5))
    assert (found.dof, found.n) == (4, 5)
    assert type_a_input("r", READINGS).dof == 4


@pytest.mark.parametrize("bad", [[], [1.0], [1.0, math.nan], [1.0, math.inf]])
def test_too_few_or_not_finite(bad: list[float]) -> None:
    with pytest.raises(ValueError, match=r"."):
        type_a(bad)


def test_covariance_against_numpy() -> None:
    """Source: numpy.cov (reference library)."""
    other = [5.1, 5.0, 5.3, 5.2, 5.2]
    assert covariance_of_means(READINGS, other) == pytest.approx(np.cov(READINGS, other, ddof=1)[0, 1] / 5, rel=1e-12)
    with pytest.raises(ValueError, match="pairs"):
        covariance_of_means(READINGS, other[:-1])


def test_pooled_of_equal_series_is_their_deviation() -> None:
    assert pooled([2.0, 2.0], [4, 9]) == (2.0, 13)
    with pytest.raises(ValueError, match="pooling"):
        pooled([2.0], [])


@pytest.mark.parametrize(
    ("shape", "beta"), [("rectangular", 0.0), ("triangular", 0.0), ("arcsine", 0.0), ("trapezoidal", 0.4)]
)
def test_divisors_against_draws(shape: str, beta: float) -> None:
    """Source: the standard deviation of drawn numbers (numpy), 400 000 draws."""
    drawn = Distribution(shape, 0.0, 2.0, beta=beta).draw(np.random.PCG64(7), 400_000)
    u = standard_uncertainty(2.0, shape, beta=beta if shape == "trapezoidal" else None)
    assert float(np.std(drawn)) == pytest.approx(u, rel=0.005)
    assert float(np.max(np.abs(drawn))) <= 2.0


@pytest.mark.parametrize(
    ("half_width", "shape", "k", "beta"),
    [
        (-1.0, "rectangular", None, None),
        (math.nan, "rectangular", None, None),
        (1.0, "normal", None, None),
        (1.0, "normal", 0.0, None),
        (1.0, "trapezoidal", None, None),
        (1.0, "trapezoidal", None, 1.5),
        (1.0, "square", None, None),
    ],
)
def test_type_b_misuse_is_refused(half_width: float, shape: str, k: float | None, beta: float | None) -> None:
    with pytest.raises(ValueError, match=r"."):
        standard_uncertainty(half_width, shape, k=k, beta=beta)


def test_normal_and_rectangle() -> None:
    assert standard_uncertainty(1.0, "normal", k=2.0) == 0.5
    assert rectangular("x", 1.0, math.sqrt(3)).u == pytest.approx(1.0)


def test_draws_are_the_same_for_the_same_seed() -> None:
    inputs = {"x": Distribution("normal", 1.0, 0.1), "y": Distribution("t", 2.0, 0.1, dof=5)}
    one, again, other = (monte_carlo(lambda d: d["x"] * d["y"], inputs, draws=60_000, seed=s) for s in (3, 3, 4))
    assert one == again != other
    assert one.value == pytest.approx(2.0, abs=0.01)
    with pytest.raises(ValueError, match="draws"):
        monte_carlo(lambda d: d["x"], inputs, draws=10)
    with pytest.raises(ValueError, match="no distribution"):
        monte_carlo(lambda d: d["x"], {"x": Distribution("square", 0.0, 1.0)}, draws=1000)
    with pytest.raises(ValueError, match="finite"):
        monte_carlo(lambda d: d["x"] * math.inf, inputs, draws=1000)
    assert monte_carlo(lambda d: d["x"], {"x": Distribution("normal", 4.0, 0.0)}, draws=1000).u == 0.0
