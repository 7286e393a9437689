"""Global risks against an independent double integral."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad
from scipy.stats import norm

from witnessmark.quantities.risk import global_risk


@pytest.mark.parametrize(
    ("u", "lower", "upper", "guard"),
    [(0.25, -2.0, 2.0, 0.0), (0.25, -2.0, 2.0, 0.5), (0.5, -1.0, None, 0.0), (0.1, None, 1.5, 0.2)],
)
def test_against_scipy(u: float, lower: float | None, upper: float | None, guard: float) -> None:
    """Source: scipy.integrate.quad over scipy.stats.norm (reference library)."""
    low, high = -math.inf if lower is None else lower, math.inf if upper is None else upper

    def accepted(x: float) -> float:
        return float(norm.cdf(high - guard, x, u) - norm.cdf(low + guard, x, u))

    outside = sum(
        quad(lambda x: norm.pdf(x) * accepted(x), a, b, epsabs=1e-12)[0]
        for a, b in ((-9, low), (high, 9))
        if -10 < a < b < 10
    )
    inside = quad(lambda x: norm.pdf(x) * (1 - accepted(x)), max(low, -9), min(high, 9), epsabs=1e-12)[0]
    found = global_risk(0.0, 1.0, u, lower=lower, upper=upper, guard=guard)
    assert found.false_accept == pytest.approx(outside, abs=1e-9)
    assert found.false_reject == pytest.approx(inside, abs=1e-9)


def test_misuse_is_refused() -> None:
    with pytest.raises(ValueError, match="limit"):
        global_risk(0.0, 1.0, 0.1)
    with pytest.raises(ValueError, match="above zero"):
        global_risk(0.0, 1.0, 0.0, lower=-1.0)
    with pytest.raises(ValueError, match="guard band"):
        global_risk(0.0, 1.0, 0.1, lower=-1.0, upper=1.0, guard=1.0)
