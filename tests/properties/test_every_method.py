"""What holds for every method: another unit changes nothing, and bad input never gives a number.

The examples are those of the unit tests (invented numbers); each is its own oracle, so there is no outside source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pytest

from tests.unit.methods import helpers, wider_examples
from witnessmark.methods.base import Refused, Result
from witnessmark.methods.registry import METHODS, method
from witnessmark.methods.written import facts_as_written, readings_as_written
from witnessmark.quantities import parse_quantity, parse_unit
from witnessmark.quantities.units import prefixed

EXAMPLES: dict[str, dict[str, Any]] = helpers.EXAMPLES | wider_examples.EXAMPLES
LOGGED = sorted(id for id in EXAMPLES if "columns" in EXAMPLES[id])
_SPELT = {"Ω/V": "kΩ/V", "Ω/km": "mΩ/m", "m/s²": "km/s²", "A²·s": "kA·A·s", "mg/Wh": "g/kWh", "N": "kN"}
WORDS_ONLY = {"glycol-properties/1", "log-coverage/1", "reaction-time/1", "shock-corridor/1"}
"""Their readings are words, plain numbers and degrees Celsius, which have no prefix."""
NONSENSE = ("nan {u}", "inf {u}", "-inf {u}", "1e999 {u}", "three {u}", "12 13 {u}", "", "± 1 {u}", "1,5 {u}", "7 cd")

Texts = Mapping[str, str | Sequence[str]]


def run(
    id: str, readings: Texts, facts: Mapping[str, str], columns: Mapping[str, Any] | None = None
) -> Result | Refused | None:
    """The result; None where what was written is refused before the method sees it."""
    found = method(id)
    assert found is not None
    made, faults = readings_as_written(found, readings)
    stated, more = facts_as_written(found, facts)
    if faults or more:
        assert all(problem.message and problem.remedy for _, problem in (*faults, *more))
        return None
    figures = None
    if "columns" in EXAMPLES[id]:
        taken = EXAMPLES[id]["columns"] if columns is None else columns
        figures = found.reduce(taken, EXAMPLES[id].get("options", {}))
    return found.evaluate(made, stated, figures)


def plain(id: str) -> Result:
    result = run(id, EXAMPLES[id].get("readings", {}), EXAMPLES[id].get("facts", {}))
    assert isinstance(result, Result), (id, result)
    return result


def test_no_method_is_left_out() -> None:
    assert set(EXAMPLES) == set(METHODS)


def _spellings(text: str, unit: str) -> list[str]:
    """The same quantity with its other prefixes, ± U with it."""
    try:
        found = parse_quantity(text, like=parse_unit(unit))
    except ValueError:
        return []
    others = [u for u in prefixed(found.unit) if u.symbol != found.unit.symbol]
    if found.unit.symbol in _SPELT:
        others.append(parse_unit(_SPELT[found.unit.symbol]))
    return [str(found.to(other)) for other in (others[:1] + others[-1:] if len(others) > 1 else others)]


@pytest.mark.parametrize("id", sorted(EXAMPLES))
def test_other_units_change_nothing(id: str) -> None:
    """Every reading and fact that has a unit, in the smallest and in the largest prefix there is."""
    found = method(id)
    assert found is not None
    readings, facts = dict(EXAMPLES[id].get("readings", {})), dict(EXAMPLES[id].get("facts", {}))
    units = {spec.name: spec.unit for spec in found.inputs if spec.unit not in ("", "1")}
    units |= {spec.name: spec.unit for spec in found.facts if spec.unit not in ("", "1")}
    wanted, tried = plain(id), 0
    for part in (readings, facts):
        for name, text in list(part.items()):
            several = [text] if isinstance(text, str) else list(text)
            for spelt in zip(*[_spellings(one, units[name]) for one in several] if name in units else [], strict=True):
                part[name] = spelt[0] if isinstance(text, str) else list(spelt)
                result = run(id, readings, facts)
                assert isinstance(result, Result), (name, spelt, result)
                same(wanted, result, (name, spelt))
                tried += 1
            part[name] = text
    assert (tried == 0) == (id in WORDS_ONLY)


def same(a: Result, b: Result, where: object) -> None:
    assert [alarm.code for alarm in a.alarms] == [alarm.code for alarm in b.alarms], where
    for x, y in zip(a.outputs, b.outputs, strict=True):
        assert (x.measurand, x.bound, x.where) == (y.measurand, y.bound, y.where), where
        assert math.isclose(x.value, y.value, rel_tol=1e-9, abs_tol=1e-15), (where, x.measurand)
        assert (x.U is None) == (y.U is None), where
        if x.U is not None and y.U is not None:
            assert math.isclose(x.U, y.U, rel_tol=1e-7, abs_tol=1e-12 * abs(x.value) + 1e-18), (where, x.measurand)


@pytest.mark.parametrize("id", sorted(EXAMPLES))
def test_nonsense_in_a_reading_is_refused(id: str) -> None:
    """No number, or of another kind: it never reaches the method. A word that is no choice is refused by it."""
    found = method(id)
    assert found is not None
    readings, facts = EXAMPLES[id].get("readings", {}), EXAMPLES[id].get("facts", {})
    for spec in found.inputs:
        if spec.name not in readings:
            continue
        if spec.choices:
            assert isinstance(run(id, {**readings, spec.name: "no such word"}, facts), Refused), spec.name
            continue
        for form in NONSENSE:
            text = form.format(u="" if spec.unit == "1" else spec.unit).strip()
            assert run(id, {**readings, spec.name: text}, facts) is None, (spec.name, text)
    for name in facts:
        unit = next(spec.unit for spec in found.facts if spec.name == name)
        for form in NONSENSE if unit else ():
            text = form.format(u="" if unit == "1" else unit).strip()
            assert run(id, readings, {**facts, name: text}) is None, (name, text)


@pytest.mark.parametrize("id", sorted(EXAMPLES))
def test_a_reading_that_is_missing_or_unknown_is_refused(id: str) -> None:
    found = method(id)
    assert found is not None
    readings, facts = dict(EXAMPLES[id].get("readings", {})), EXAMPLES[id].get("facts", {})
    for spec in found.inputs:
        if spec.required and spec.name in readings:
            less = {name: text for name, text in readings.items() if name != spec.name}
            assert isinstance(run(id, less, facts), Refused), spec.name
    for fact in found.facts:
        if fact.required:
            less = {name: text for name, text in facts.items() if name != fact.name}
            assert isinstance(run(id, readings, less), Refused), fact.name
    assert isinstance(run(id, {**readings, "no-such-reading": "1 V"}, facts), Refused)


def _spoilt(columns: Mapping[str, Any], name: str) -> list[tuple[str, dict[str, Any]]]:
    values = np.asarray(columns[name], dtype=np.float64)
    made = []
    for word, bad in (("nan", math.nan), ("inf", math.inf)):
        spoilt = values.copy()
        spoilt[len(spoilt) // 2] = bad
        made.append((word, {**columns, name: spoilt}))
    made.append(("shorter", {**columns, name: values[:-1]}))
    if name == "time":
        made.append(("backwards", {**columns, name: values[::-1].copy()}))
    return made


@pytest.mark.parametrize("id", LOGGED)
def test_a_spoilt_log_is_refused_or_not_believed(id: str) -> None:
    """Not a number, infinite, of another length, time running back, nothing at all: no result that can be believed."""
    columns = EXAMPLES[id]["columns"]
    readings, facts = EXAMPLES[id].get("readings", {}), EXAMPLES[id].get("facts", {})
    worlds = [spoilt for name in columns for spoilt in _spoilt(columns, name)]
    worlds.append(("empty", {name: np.empty(0) for name in columns}))
    for what, spoilt in worlds:
        result = run(id, readings, facts, spoilt)
        assert isinstance(result, Refused) or (isinstance(result, Result) and not result.believable), what
