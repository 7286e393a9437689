"""Quantities as text: what is read, what is refused and with which remedy."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from witnessmark.quantities import Quantity, QuantityError, parse_quantity, parse_unit


@pytest.mark.parametrize(
    ("text", "value", "unit", "U", "k", "bound"),
    [
        ("203.4 V", "203.4", "V", None, None, ""),
        ("203.40V", "203.40", "V", None, None, ""),
        ("  -5.4   V ", "-5.4", "V", None, None, ""),
        ("\u22125.4 V", "-5.4", "V", None, None, ""),
        ("+0.5 mΩ", "0.5", "mΩ", None, None, ""),
        (".5 A", "0.5", "A", None, None, ""),
        ("1.2e3 Ω", "1200", "Ω", None, None, ""),
        ("203.4 V ± 0.6 V (k=2)", "203.4", "V", "0.6", "2", ""),
        ("203.4 V +/- 600 mV ( k = 2.0 )", "203.4", "V", "0.6", "2", ""),
        ("(203.4 ± 0.6) V (k=2)", "203.4", "V", "0.6", "2", ""),
        ("200 V ± 0.5 % (k=2)", "200", "V", "1", "2", ""),
        ("-200 V ± 0.5 % (k=2)", "-200", "V", "1", "2", ""),
        ("55 % ± 2 % (k=2)", "55", "%", "2", "2", ""),
        ("25 °C ± 0.5 °C (k=2)", "25", "°C", "0.5", "2", ""),
        ("25 °C ± 0.5 K (k=2)", "25", "°C", "0.5", "2", ""),
        ("> 999 MΩ", "999", "MΩ", None, None, ">"),
        ("<0.1 mΩ", "0.1", "mΩ", None, None, "<"),
        ("500 Ω/V", "500", "Ω/V", None, None, ""),
        ("1.15e-05 1/K", "0.0000115", "1/K", None, None, ""),
    ],
)
def test_what_is_read(text: str, value: str, unit: str, U: str | None, k: str | None, bound: str) -> None:
    found = parse_quantity(text)
    assert found.value == Decimal(value)
    assert found.unit == parse_unit(unit)
    assert (found.U, found.k) == tuple(None if x is None else Decimal(x) for x in (U, k))
    assert found.bound == bound
    assert found.text == text
    assert parse_quantity(str(found)) == found


@pytest.mark.parametrize(
    ("text", "code", "in_remedy"),
    [
        ("203,4 V", "quantity.comma", "203.4"),
        ("1,234.5 V", "quantity.thousands", "1234.5"),
        ("1 234 V", "quantity.thousands", "1234"),
        ("1\u202f234 V", "quantity.thousands", "1234"),
        ("1'234 V", "quantity.thousands", "1234"),
        ("1_234 V", "quantity.thousands", "1234"),
        ("1.234.567 V", "quantity.thousands", "decimals"),
        ("203.4", "quantity.missing-unit", "203.4 V"),
        ("203.4 V ± 0.6 V", "quantity.coverage-factor", "(k=2)"),
        ("203.4 V ± 0.6", "quantity.coverage-factor", "(k=2)"),
        ("203.4 V ± 0.6 (k=2)", "quantity.missing-unit", "± 0.6 V"),
        ("203.4 V ± 0.6 V (k=two)", "quantity.number", "number"),
        ("203.4 V ± 0.6 V (k=0)", "quantity.coverage-factor", "k=2"),
        ("203.4 V ± 0 V (k=2)", "quantity.uncertainty", "positive"),
        ("203.4 V ± -1 V (k=2)", "quantity.uncertainty", "positive"),
        ("203.4 V ± 0.6 A (k=2)", "quantity.dimension", "V"),
        ("203.4 V (k=2)", "quantity.coverage-factor", "203.4 V ± 0.6 V (k=2)"),
        ("(203.4 ± 0.6 V (k=2)", "quantity.number", "close it"),
        ("> 999 MΩ ± 5 MΩ (k=2)", "quantity.bound", "> 999 MΩ"),
        (">= 999 MΩ", "quantity.bound", ">"),
        ("≥ 999 MΩ", "quantity.bound", ">"),
        ("nan V", "quantity.not-finite", "number"),
        ("inf V", "quantity.not-finite", "number"),
        ("-Infinity V", "quantity.not-finite", "number"),
        ("∞ Ω", "quantity.not-finite", "number"),
        ("1e999 V", "quantity.exponent", "prefix"),
        ("1e99999999999 V", "quantity.exponent", "prefix"),
        ("1" * 40 + " V", "quantity.digits", "30"),
        ("9" * 500, "quantity.length", "203.4 V"),
        ("", "quantity.empty", "203.4 V"),
        ("V", "quantity.number", "203.4 V"),
        ("OL", "quantity.number", "203.4 V"),
        ("12 parsec", "quantity.unit", "V"),
        ("2**2**2**2**9 V", "quantity.unit", "at most 4"),
        ("3 V**9**9**9", "quantity.unit", ""),
        ("-300 °C", "quantity.temperature", "instrument"),
        ("203.4 V V", "quantity.unit", "factors"),
        ("5.", "quantity.unit", ""),
        ("0x10 V", "quantity.unit", "factors"),
        ("٣ V", "quantity.number", ""),
    ],
)
def test_what_is_refused(text: str, code: str, in_remedy: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text)
    assert caught.value.code == code
    assert in_remedy in caught.value.remedy


def test_the_wrong_dimension_names_both() -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity("5 A", like=parse_unit("V"))
    assert caught.value.message == "A is the unit of a current, but a voltage is asked for"
    assert caught.value.remedy == "write it in V"


def test_a_bare_number_only_where_it_is_asked_for() -> None:
    assert parse_quantity("8", bare=True).unit == parse_unit("1")
    assert parse_quantity("8", like=parse_unit("1")).value == 8
    with pytest.raises(QuantityError):
        parse_quantity("8", like=parse_unit("V"))
    with pytest.raises(QuantityError):
        parse_quantity("8", like=parse_unit("V"), bare=True)


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("36 km/h", "m/s", "10"),
        ("100 kΩ", "Ω", "100000"),
        ("25 °C", "°C", "25"),
        ("1 bar", "kPa", "100"),
        ("90 min", "h", "1.5"),
        ("1 m/s", "km/h", "3.6"),
    ],
)
def test_units_are_changed_exactly(text: str, unit: str, expected: str) -> None:
    assert parse_quantity(text).to(parse_unit(unit)).value == Decimal(expected)


def test_changing_to_another_kind_is_refused() -> None:
    with pytest.raises(QuantityError, match="voltage"):
        parse_quantity("1 V").to(parse_unit("A"))


def test_si_values_and_uncertainties() -> None:
    """Source: definitions of the units (SI Brochure, 9th edition): 0 °C is 273.15 K."""
    found: Any = parse_quantity("25 °C ± 0.5 K (k=2)")
    assert found.si == 298.15
    assert found.u_si == 0.25
    assert parse_quantity("200.0 kΩ ± 0.4 kΩ (k=2)").u_si == 200.0
    assert parse_quantity("203.40 V").resolution == Decimal("0.01")
    assert parse_quantity("5 V").u_si is None


def test_a_quantity_is_a_value() -> None:
    one, other = parse_quantity("203.4 V"), parse_quantity("203.40 V")
    assert one == other and hash(one) == hash(other)
    assert one != parse_quantity("203400 mV")
    with pytest.raises(AttributeError):
        one.value = Decimal(3)  # type: ignore[misc]  # that it is frozen is what is tested
    assert Quantity(Decimal("1E+2"), parse_unit("V")).si == 100.0
