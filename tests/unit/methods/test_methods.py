"""What every method owes: cautions, declared units, formulas that become MathML, results that name it."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest
from docutils.utils.math.latex2mathml import tex2mathml

from tests.unit.methods.helpers import EXAMPLES, evaluate
from witnessmark.methods.base import Refused, Result
from witnessmark.methods.registry import METHODS, method, method_ids, newest_ids, source_digest
from witnessmark.quantities.units import parse_unit


@pytest.mark.parametrize("id", METHODS)
def test_declarations_hold_together(id: str) -> None:
    found = method(id)
    assert found is not None and found.id == id
    assert re.fullmatch(r"[a-z0-9-]+/[1-9][0-9]*", id) and found.version >= 1
    assert found.cautions and all(c.text for c in found.cautions)
    assert found.source and found.confidence and found.validity and found.purpose and found.title
    for spec in found.inputs:
        assert bool(spec.unit) is not bool(spec.choices)
        if spec.unit:
            parse_unit(spec.unit)
        if spec.preset:
            assert spec.role and parse_unit(spec.unit)
    for unit in (
        [s.unit for s in found.measurands] + [s.unit for s in found.facts if s.unit] + [s.unit for s in found.channels]
    ):
        parse_unit(unit)
    assert bool(found.channels) is (found.reduce_with is not None)
    tex2mathml(found.equation)


@pytest.mark.parametrize("id", EXAMPLES)
def test_steps_become_mathml_and_can_be_read_aloud(id: str) -> None:
    result = evaluate(id)
    assert isinstance(result, Result) and result.method == id
    assert result.steps
    for step in result.steps:
        ET.fromstring(tex2mathml(step.formula))
        assert step.words.endswith((".", ".)")) and "\\" not in step.spoken and step.spoken


@pytest.mark.parametrize("id", EXAMPLES)
def test_results_are_whole(id: str) -> None:
    found, result = method(id), evaluate(id)
    assert found is not None and isinstance(result, Result)
    assert result.believable
    for output in result.outputs:
        spec = found.measurand(output.measurand)
        assert spec is not None and output.unit == parse_unit(spec.unit) == found.unit_of(output.measurand)
        assert output.u is not None and output.k is not None and output.U is not None
        assert output.U / output.u == pytest.approx(output.k)
        assert output.budget and sum(row.share for row in output.budget) == pytest.approx(1.0)
    assert result.figure is not None


@pytest.mark.parametrize("id", EXAMPLES)
def test_nothing_at_all_is_refused_with_every_fault(id: str) -> None:
    found = method(id)
    assert found is not None
    refused = found.evaluate({})
    assert isinstance(refused, Refused) and refused.faults
    assert all(p.code and p.message and p.remedy for p in refused.faults)


def test_unknown_methods_are_none() -> None:
    assert method("nothing/1") is None
    assert set(METHODS) <= set(method_ids())


def test_the_digest_is_of_the_source_that_counts() -> None:
    digests = {id: source_digest(m) for id in METHODS if (m := method(id)) is not None}
    assert all(re.fullmatch("sha256:[0-9a-f]{64}", d) for d in digests.values())
    modules = {m.evaluate_with.__module__ for id in digests if (m := method(id)) is not None}
    assert len(set(digests.values())) == len(modules)


def test_new_measurements_are_made_by_the_newest_version() -> None:
    newest = newest_ids()
    assert "discharge-resistor/2" in newest and "discharge-resistor/1" not in newest
    assert {id.partition("/")[0] for id in newest} == {id.partition("/")[0] for id in method_ids()}
    assert method("discharge-resistor/1") is not None, "old versions stay for the records that name them"


@pytest.mark.parametrize("id", METHODS)
def test_each_declares_what_a_reader_needs(id: str) -> None:
    """Ranges, demands, conditions, equation, validity: nothing is left for the reader to guess."""
    found = method(id)
    assert found is not None
    for spec in found.inputs:
        assert spec.choices or (spec.low is not None and spec.high is not None and spec.low < spec.high), spec.name
    for role in found.roles:
        assert role.demands or role.traits or role.finest, role.name
    assert found.conditions or not found.roles, "what is measured is measured under some conditions"
    assert found.equation and found.validity and found.source and found.confidence and found.purpose
