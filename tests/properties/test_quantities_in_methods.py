"""Whatever numbers a person writes, a method gives a finite result or names what is wrong. It never raises."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.methods.helpers import EXAMPLES
from witnessmark.methods.base import Refused, Result
from witnessmark.methods.registry import method
from witnessmark.methods.written import facts_as_written, readings_as_written

NUMBER = st.one_of(
    st.decimals(-1000, 1000, places=3).map(lambda d: format(d, "f")),
    st.tuples(st.integers(-99, 99), st.integers(-30, 28)).map(lambda t: f"{t[0]}e{t[1]}"),
)
SPREAD = st.one_of(st.just(""), st.integers(-20, 20).map(lambda e: f" ± 1e{e} UNIT (k=2)"))


@pytest.mark.parametrize("id", [id for id in EXAMPLES if "columns" not in EXAMPLES[id]])
@settings(max_examples=80, deadline=None)
@given(data=st.data())
def test_any_numbers_give_a_finite_result_or_a_refusal(id: str, data: st.DataObject) -> None:
    found = method(id)
    assert found is not None

    def text(unit: str) -> str:
        bound = data.draw(st.sampled_from(["", "", "", "> ", "< "]))
        spread = "" if bound else data.draw(SPREAD).replace("UNIT", unit)
        return f"{bound}{data.draw(NUMBER)} {unit}{spread}"

    texts: dict[str, str | list[str]] = {}
    for spec in found.inputs:
        if data.draw(st.integers(0, 9)) == 0:
            continue
        if spec.choices:
            texts[spec.name] = data.draw(st.sampled_from([*spec.choices, "elsewhere"]))
        else:
            texts[spec.name] = [text(spec.unit) for _ in range(data.draw(st.integers(1, 2)))]
    readings, _ = readings_as_written(found, texts)
    facts, _ = facts_as_written(found, {spec.name: text(spec.unit) for spec in found.facts})
    result = found.evaluate(readings, facts)
    if isinstance(result, Refused):
        assert result.faults and all(p.message and p.remedy for p in result.faults)
        return
    assert isinstance(result, Result) and result.outputs
    for output in result.outputs:
        assert math.isfinite(output.value)
        assert output.U is None or math.isfinite(output.U)
        if output.bound:
            assert output.U is None
