"""Numbers as cases write them: with or without unit, alone or in lists; and how near a value has to come."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Any

from witnessmark.quantities import Quantity, QuantityError, Unit, UnitFault, parse_quantity, parse_unit
from witnessmark.quantities.units import ONE


class CaseFault(Exception):
    """The case is written wrongly: always a failure, never a skip."""


@dataclass(frozen=True)
class Made:
    """One output of a call: a number in SI, a word, a truth, or a list of them."""

    value: Any


def quantity(text: Any, like: str = "", what: str = "") -> Quantity:
    """A quantity from text, a bare number, or {value, unit}."""
    if isinstance(text, Mapping):
        extra = set(text) - {"value", "unit"}
        if extra or "value" not in text:
            raise CaseFault(f"{what}: write value and unit, not {sorted(text)}")
        text = f"{text['value']} {'' if text.get('unit') in (None, '1') else text['unit']}".strip()
    if not isinstance(text, str):
        raise CaseFault(f"{what or 'given'}: {text!r} is no quantity")
    expected = parse_unit(like) if like else None
    if text.strip().lower() in ("inf", "infinite", "infinity"):
        raise CaseFault(f"{what}: a quantity is finite")
    return parse_quantity(text, like=expected, bare=True)


def si(text: Any, what: str = "") -> float:
    """A number in SI."""
    return quantity(text, what=what).si


def span_si(text: Any, what: str = "") -> float:
    """A difference, half-width or uncertainty in SI: the offset of °C does not count."""
    found = quantity(text, what=what)
    return float(Fraction(found.value) * found.unit.scale)


def plain(text: Any, what: str = "") -> float:
    """A number without unit; `inf` and percent allowed."""
    if not isinstance(text, str):
        raise CaseFault(f"{what or 'given'}: {text!r} is no number")
    if text.strip().lower().lstrip("+") in ("inf", "infinite", "infinity", ".inf"):
        return math.inf
    return quantity(text, like="1", what=what).si


def numbers(given: Any, unit: str = "", what: str = "") -> list[float]:
    """A list of numbers in SI: a list of texts, or {values: [...], unit: ...}."""
    if isinstance(given, Mapping):
        extra = set(given) - {"values", "unit"}
        if extra or "values" not in given:
            raise CaseFault(f"{what}: write values and unit, not {sorted(given)}")
        return numbers(given["values"], str(given.get("unit", "")), what)
    if not isinstance(given, list):
        raise CaseFault(f"{what or 'given'}: a list is asked for")
    tail = f" {unit}" if unit and unit != "1" else ""
    return [si(item if re.search(r"[A-Za-zΩµ°%]\s*$", str(item)) else f"{item}{tail}", what) for item in given]


def within(form: Any, expected: float, unit: Unit, digits: str, kind: str = "value") -> float:
    """The tolerance in SI. Without one: half a unit of the last digit printed."""
    scale = float(unit.scale)
    if form is None:
        exponent = Decimal(digits).as_tuple().exponent
        assert isinstance(exponent, int)
        return 0.5 * 10.0**exponent * scale
    if isinstance(form, Mapping):
        keys = set(form)
        if keys == {"kind"} and form["kind"] == "exact":
            return 0.0
        if keys in ({"kind", "value"}, {"kind", "value", "unit"}):
            form = {str(form["kind"]): f"{form['value']} {form.get('unit', '')}".strip()}
            keys = set(form)
        if keys == {"relative"}:
            return abs(expected) * plain(str(form["relative"]))
        if keys == {"absolute"}:
            return within(str(form["absolute"]), expected, unit, digits)
        raise CaseFault(f"within: write absolute or relative, not {sorted(form)}")
    text = str(form).strip()
    if text == "exact":
        return 0.0
    try:
        found = parse_quantity(text, bare=True)
    except QuantityError as fault:
        raise CaseFault(f"within: {fault}") from fault
    if found.unit.symbol == "%" and unit.symbol != "%":
        return abs(expected) * float(found.value) / 100
    if found.unit is ONE or found.unit.symbol == "1":
        return float(found.value) * scale
    if found.unit.dimension != unit.dimension:
        raise CaseFault(f"within {text} is of another kind than {unit}")
    return float(Fraction(found.value) * found.unit.scale)


_EXPECT_KEYS = {"value", "unit", "within", "tolerance", "note"}


def compare(name: str, made: Any, wanted: Any) -> str | None:
    """None when `made` is what is wanted, else what differs."""
    form = unit_text = None
    if isinstance(wanted, Mapping):
        extra = set(wanted) - _EXPECT_KEYS
        if extra or "value" not in wanted:
            raise CaseFault(f"expect {name}: write value, unit and within, not {sorted(wanted)}")
        form = wanted.get("within", wanted.get("tolerance"))
        unit_text = wanted.get("unit")
        wanted = wanted["value"]
    if isinstance(wanted, list):
        if not isinstance(made, list | tuple):
            return f"{name}: a list is expected, {made!r} came"
        if len(made) != len(wanted):
            return f"{name}: {len(wanted)} values are expected, {len(made)} came"
        differences = [
            _one(f"{name}[{i}]", m, w, form, unit_text) for i, (m, w) in enumerate(zip(made, wanted, strict=True))
        ]
        return "; ".join(d for d in differences if d) or None
    return _one(name, made, wanted, form, unit_text)


def _one(name: str, made: Any, wanted: Any, form: Any, unit_text: Any) -> str | None:
    text = str(wanted).strip()
    if made is None or text.lower() in ("none", "null", "~"):
        if made is None and text.lower() in ("none", "null", "~"):
            return None
        return f"{name}: {wanted!r} is expected, {made!r} came"
    if isinstance(made, bool):
        truth = {"true": True, "yes": True, "false": False, "no": False}.get(text.lower())
        if truth is None:
            raise CaseFault(f"expect {name}: write true or false")
        return None if made is truth else f"{name}: {truth} is expected, {made} came"
    if isinstance(made, str):
        return None if made.strip() == text else f"{name}: {text!r} is expected, {made!r} came"
    if not isinstance(made, int | float):
        return f"{name}: {made!r} came, which is no single value"
    if text.lower().lstrip("+") in ("inf", "infinite", "infinity", ".inf"):
        return None if math.isinf(made) else f"{name}: infinite is expected, {made!r} came"
    if unit_text and unit_text != "1":
        text = f"{text} {unit_text}"
    try:
        expected = parse_quantity(text, bare=True)
    except (QuantityError, UnitFault, InvalidOperation) as fault:
        raise CaseFault(f"expect {name}: {fault}") from fault
    # Of an uncertainty or a span in °C the offset does not count.
    span = name.rpartition(".")[2] in ("u", "U", "contribution") or name in ("u", "U", "s")
    target = float(Fraction(expected.value) * expected.unit.scale) if span else expected.si
    tolerance = within(form, target, expected.unit, str(expected.value))
    # One part in 10^12 for the binary form of the decimal digits.
    if math.isfinite(made) and abs(made - target) <= tolerance * (1 + 1e-9) + 1e-12 * abs(target):
        return None
    offset = 0 if span else float(expected.unit.offset)
    shown = (made - offset) / float(expected.unit.scale)
    return (
        f"{name}: {text} within {tolerance / float(expected.unit.scale):.3g} is expected, "
        f"{shown:.10g}{'' if expected.unit.symbol == '1' else ' ' + expected.unit.symbol} came"
    )
