"""What each of the wider methods owes: whole results, worked steps, refusals, and no number from bad input."""

from __future__ import annotations

import json
import math
import xml.etree.ElementTree as ET
from decimal import Decimal
from typing import Any

import pytest
from docutils.utils.math.latex2mathml import tex2mathml

from tests.unit.methods.helpers import EXAMPLES as FIRST
from tests.unit.methods.wider_examples import EXAMPLES, evaluate
from witnessmark.methods.base import InputSpec, Refused, Result
from witnessmark.methods.registry import METHODS, method
from witnessmark.quantities.quantity import Quantity, parse_quantity
from witnessmark.quantities.units import parse_unit, prefixed


def test_every_method_has_an_example() -> None:
    assert set(METHODS) <= set(EXAMPLES) | set(FIRST)


def test_what_is_only_calculated_never_passes_for_what_is_measured() -> None:
    """A leaf asks for a measurand by its name: a desk calculation may not yield one that a measurement yields."""
    measured: set[str] = set()
    calculated: set[str] = set()
    for id in METHODS:
        found = method(id)
        assert found is not None
        (measured if found.roles else calculated).update(spec.name for spec in found.measurands)
    assert measured and calculated and not measured & calculated


@pytest.mark.parametrize("id", EXAMPLES)
def test_results_are_whole(id: str) -> None:
    found, result = method(id), evaluate(id)
    assert found is not None and isinstance(result, Result), result
    assert result.method == id and result.outputs and result.believable
    for output in result.outputs:
        spec = found.measurand(output.measurand)
        assert spec is not None and output.unit == parse_unit(spec.unit)
        assert math.isfinite(output.value)
        if output.u is not None and output.u > 0:
            assert output.k is not None and pytest.approx(output.k * output.u) == output.U
            assert sum(row.share for row in output.budget) == pytest.approx(1.0)


@pytest.mark.parametrize("id", EXAMPLES)
def test_steps_become_mathml_and_can_be_read_aloud(id: str) -> None:
    result = evaluate(id)
    assert isinstance(result, Result) and result.steps
    for step in result.steps:
        ET.fromstring(tex2mathml(step.formula))
        assert "<" not in step.spoken and "\\" not in step.spoken and "{" not in step.spoken, step.spoken
        assert not any(mark in step.formula for mark in ("nan", "inf")), step.formula
        assert step.words.endswith((".", ".)")), step.words


@pytest.mark.parametrize("id", EXAMPLES)
def test_cautions_name_the_danger_and_defer_to_local_codes(id: str) -> None:
    found = method(id)
    assert found is not None
    text = " ".join(c.text for c in found.cautions)
    assert "High voltage can kill" in text and "ocal codes" in text and "ualified" in text


@pytest.mark.parametrize("id", EXAMPLES)
def test_nothing_at_all_is_refused_with_every_fault(id: str) -> None:
    found = method(id)
    assert found is not None
    refused = found.evaluate({})
    assert isinstance(refused, Refused) and refused.faults
    assert all(p.code and p.message and p.remedy for p in refused.faults)


@pytest.mark.parametrize("id", [id for id, example in EXAMPLES.items() if "columns" in example])
def test_figures_are_plain_data(id: str) -> None:
    found = method(id)
    assert found is not None
    figures = found.reduce(EXAMPLES[id]["columns"], EXAMPLES[id].get("options", {}))
    assert json.loads(json.dumps(figures, allow_nan=False)) == figures


@pytest.mark.parametrize("id", [id for id, example in EXAMPLES.items() if "columns" in example])
def test_a_log_with_a_hole_is_refused(id: str) -> None:
    columns = EXAMPLES[id]["columns"]
    for name in columns:
        broken = {key: values.copy() for key, values in columns.items()}
        broken[name][len(broken[name]) // 2] = math.nan
        refused = evaluate(id, columns=broken)
        assert isinstance(refused, Refused) and any(p.code == "log.not-finite" for p in refused.faults), name
    swapped = {key: values.copy() for key, values in columns.items()}
    swapped["time"][[1, 2]] = swapped["time"][[2, 1]]
    assert isinstance(evaluate(id, columns=swapped), Refused)


def _numbers() -> list[tuple[str, str]]:
    cases = []
    for id, example in EXAMPLES.items():
        found = method(id)
        assert found is not None
        cases += [(id, spec.name) for spec in found.inputs if spec.unit and spec.name in example["readings"]]
    return cases


def _spec(id: str, name: str) -> InputSpec:
    found = method(id)
    assert found is not None
    spec = found.input(name)
    assert spec is not None
    return spec


def _rewritten(text: str, spec: InputSpec) -> str | None:
    """The same quantity with another prefix, None where the unit has only itself."""
    quantity = parse_quantity(text, like=parse_unit(spec.unit))
    others = [u for u in prefixed(quantity.unit) if u.symbol != quantity.unit.symbol]
    return str(quantity.to(others[len(others) // 2])) if others else None


@pytest.mark.parametrize(("id", "name"), _numbers())
def test_other_units_change_nothing(id: str, name: str) -> None:
    given, spec = EXAMPLES[id]["readings"][name], _spec(id, name)
    texts = [given] if isinstance(given, str) else list(given)
    others = [_rewritten(text, spec) for text in texts]
    if None in others:
        return
    plain = evaluate(id)
    other = evaluate(id, {name: [t for t in others if t is not None] if not isinstance(given, str) else others[0]})
    assert isinstance(plain, Result) and isinstance(other, Result)
    for a, b in zip(plain.outputs, other.outputs, strict=True):
        assert (a.measurand, a.bound, a.where) == (b.measurand, b.bound, b.where)
        assert b.value == pytest.approx(a.value, rel=1e-12, abs=1e-300)
        assert (a.u is None) == (b.u is None) and (a.u is None or b.u == pytest.approx(a.u, rel=1e-9, abs=1e-300))


def _with(quantity: Quantity, value: Decimal) -> str:
    return str(Quantity(value, quantity.unit, quantity.U, quantity.k))


@pytest.mark.parametrize(("id", "name"), _numbers())
def test_numbers_out_of_all_proportion_are_refused_or_give_finite_results(id: str, name: str) -> None:
    given, spec = EXAMPLES[id]["readings"][name], _spec(id, name)
    first: str = given if isinstance(given, str) else given[0]
    quantity = parse_quantity(first, like=parse_unit(spec.unit))
    for value in (Decimal(0), -quantity.value, quantity.value.scaleb(12), quantity.value.scaleb(-12)):
        if quantity.unit.symbol == "°C" and value < -273:
            continue
        changed: Any = _with(quantity, value)
        result = evaluate(id, {name: changed if isinstance(given, str) else [changed, *given[1:]]})
        if isinstance(result, Refused):
            assert all(p.code and p.message and p.remedy for p in result.faults)
        else:
            assert all(math.isfinite(o.value) and (o.u is None or math.isfinite(o.u)) for o in result.outputs)


SIGNED = {"temperature", "start_temperature", "ambient", "temperature_start", "temperature_end"}


@pytest.mark.parametrize(
    ("id", "name"), [(id, name) for id, name in _numbers() if name not in SIGNED and not name.endswith("_check")]
)
def test_a_negative_size_is_refused(id: str, name: str) -> None:
    given, spec = EXAMPLES[id]["readings"][name], _spec(id, name)
    first: str = given if isinstance(given, str) else given[0]
    quantity = parse_quantity(first, like=parse_unit(spec.unit))
    if not quantity.value:
        return
    changed = _with(quantity, -quantity.value)
    result = evaluate(id, {name: changed if isinstance(given, str) else [changed, *given[1:]]})
    assert isinstance(result, Refused), [o.value for o in result.outputs]


@pytest.mark.parametrize("id", EXAMPLES)
def test_without_uncertainty_a_measured_result_has_none(id: str) -> None:
    found = method(id)
    assert found is not None
    measured = {spec.name for spec in found.inputs if spec.role and not spec.preset}
    stripped: dict[str, Any] = {}
    for name, given in EXAMPLES[id]["readings"].items():
        if name in measured:
            stripped[name] = given.split(" ±")[0] if isinstance(given, str) else [t.split(" ±")[0] for t in given]
    result = evaluate(id, stripped)
    assert isinstance(result, Result)
    if stripped:
        assert any(alarm.code == "uncertainty.not-stated" for alarm in result.alarms)
        assert any(o.u is None for o in result.outputs)
