"""Terms of second order: closed forms, the example of the guide, and draws.

Source: JCGM 100:2008, 5.1.2, note. Closed forms for normal inputs: Var(x²) about nought is 2u⁴; Var(xy) of two
independent inputs about nought is u²v² (Goodman); Var(eˣ) = e^(2μ+u²)(e^(u²) − 1), whose second term is 3u⁴/2.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

import numpy as np
import pytest

from witnessmark.methods.base import Result
from witnessmark.methods.registry import method
from witnessmark.methods.written import readings_as_written
from witnessmark.quantities.propagation import Input, Shifts, Uncertain, exp, shifted, uncertain
from witnessmark.quantities.second_order import second_order_variance

Model = Callable[[Mapping[str, Uncertain]], Uncertain]


def extra(model: Model, **inputs: tuple[float, float]) -> float:
    given = {name: Input(name, value, u) for name, (value, u) in inputs.items()}

    def slopes(moves: Mapping[str, float]) -> dict[str, float]:
        with shifted(Shifts(moves)):
            found = model({name: uncertain(one) for name, one in given.items()})
        return {name: slope * given[name].u for name, slope in found.slopes.items()}

    return second_order_variance(slopes, list(given))


def test_against_closed_forms() -> None:
    assert extra(lambda x: x["a"] * x["a"], a=(0.0, 0.3)) == pytest.approx(2 * 0.3**4, rel=1e-9)
    assert extra(lambda x: x["a"] * x["a"], a=(5.0, 0.3)) == pytest.approx(2 * 0.3**4, rel=1e-9)
    assert extra(lambda x: x["a"] * x["b"], a=(0.0, 0.3), b=(0.0, 2.0)) == pytest.approx((0.3 * 2.0) ** 2, rel=1e-9)
    assert extra(lambda x: x["a"] * x["b"], a=(7.0, 0.3), b=(4.0, 2.0)) == pytest.approx((0.3 * 2.0) ** 2, rel=1e-9)
    assert extra(lambda x: exp(x["a"]), a=(1.0, 0.2)) == pytest.approx(1.5 * 0.2**4 * math.exp(2.0), rel=1e-5)
    assert extra(lambda x: 1.0 / x["a"], a=(2.0, 0.1)) == pytest.approx(8 * 0.1**4 / 2.0**6, rel=1e-4)
    assert extra(lambda x: 3.0 * x["a"] - x["b"], a=(2.0, 0.1), b=(1.0, 0.2)) == pytest.approx(0.0, abs=1e-12)


def test_a_slope_that_is_not_finite_is_an_error() -> None:
    with pytest.raises(ValueError, match="not finite"):
        second_order_variance(lambda moves: {"a": math.inf if moves else 1.0}, ["a"])


TEXTS = {
    "resistance": "68 kΩ ± 3.4 kΩ (k=2)",
    "capacitance": "550 µF ± 55 µF (k=2)",
    "start_voltage": "403.2 V",
    "safe_voltage": "60 V",
    "elapsed": "150 s",
}


def result(id: str, texts: Mapping[str, str]) -> Result:
    found = method(id)
    assert found is not None
    readings, faults = readings_as_written(found, texts)
    assert not faults
    done = found.evaluate(readings)
    assert isinstance(done, Result)
    return done


def test_a_method_that_declares_it_comes_nearer_to_the_draws_and_never_below_the_first_order() -> None:
    """Drawn with NumPy's own normal generator and the formula as it stands in books."""
    rng = np.random.default_rng(5)
    r, c = 68e3 + 1.7e3 * rng.standard_normal(400_000), 550e-6 + 27.5e-6 * rng.standard_normal(400_000)
    left = 403.2 * np.exp(-150 / (r * c))
    drawn = {"calculated-voltage-left": left.std(), "calculated-energy-left": (0.5 * c * left**2).std()}
    first, second = result("discharge-resistor/1", TEXTS), result("discharge-resistor/2", TEXTS)
    for name, std in drawn.items():
        one, two = first.output(name), second.output(name)
        assert one is not None and two is not None and one.u is not None and two.u is not None and two.U is not None
        assert one.value == two.value
        assert one.u < two.u and abs(two.u - std) < 0.4 * abs(one.u - std), (name, one.u, two.u, std)
        assert abs(two.U - 2 * two.u) < 1e-12 * two.u
        assert sum(row.share for row in two.budget) == pytest.approx(1.0)
        assert any(row.name == "second order" for row in two.budget)
    assert any("second order" in step.words for step in second.steps)


def test_a_model_that_is_straight_enough_stays_as_it_is() -> None:
    exact = TEXTS | {"resistance": "68 kΩ ± 0.01 kΩ (k=2)", "capacitance": "550 µF ± 0.1 µF (k=2)"}
    first, second = result("discharge-resistor/1", exact), result("discharge-resistor/2", exact)
    assert first.outputs == second.outputs and first.steps == second.steps
