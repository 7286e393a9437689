"""Printing: rules of JCGM 100:2008, 7.2.6 and the SI Brochure, 5.4.3; the digits are worked by hand."""

from __future__ import annotations

from decimal import Decimal

import pytest

from witnessmark.quantities.format import best_unit, decimal_string, number, round_to_uncertainty, show
from witnessmark.quantities.units import parse_unit

GAP = "\u202f"


@pytest.mark.parametrize(
    ("value", "U", "expected"),
    [
        (10.05762, 0.027, ("10.058", "0.027")),  # JCGM 100:2008, 7.2.6 prints 10.058 Ω with 27 mΩ
        (1097.0644, 13.3101, ("1097", "13")),
        (1097.94, 1.13, ("1097.9", "1.1")),
        (0.0123456, 0.000996, ("0.0123", "0.0010")),
        (123456.0, 1500.0, ("1.235E+5", "1.5E+3")),
        (-5.4, 0.05, ("-5.400", "0.050")),
    ],
)
def test_u_has_two_digits_and_the_value_the_same(value: float, U: float, expected: tuple[str, str]) -> None:
    rounded, spread = round_to_uncertainty(value, U)
    assert (rounded, spread) == (Decimal(expected[0]), Decimal(expected[1]))


def test_no_uncertainty_no_rounding_to_it() -> None:
    with pytest.raises(ValueError, match="above zero"):
        round_to_uncertainty(1.0, 0.0)


@pytest.mark.parametrize(
    ("x", "text"),
    [
        ("1234", "1234"),
        ("12345", f"12{GAP}345"),
        ("-1234567.25", f"\u22121{GAP}234{GAP}567.25"),
        ("-0.00", "0.00"),
        ("1E+5", f"100{GAP}000"),
    ],
)
def test_true_minus_and_gaps_from_five_digits(x: str, text: str) -> None:
    assert number(Decimal(x)) == text


@pytest.mark.parametrize(
    ("si", "unit", "symbol"),
    [
        (442336.0, "Ω", "kΩ"),
        (0.00122, "Ω", "mΩ"),
        (999e6, "Ω", "MΩ"),
        (1.0, "V", "V"),
        (0.999, "V", "mV"),
        (1097.0, "Ω/V", "Ω/V"),
        (298.15, "°C", "°C"),
        (0.0, "V", "V"),
        (7200.0, "s", "s"),
        (1e-15, "A", "pA"),
    ],
)
def test_the_prefix_that_reads_well(si: float, unit: str, symbol: str) -> None:
    assert best_unit(si, parse_unit(unit)).symbol == symbol


def test_results_as_people_say_them() -> None:
    assert str(show(507.2, 11.2, parse_unit("Ω/V"))) == "507 Ω/V ± 11 Ω/V"
    assert str(show(442336.4, 5366.6, parse_unit("Ω"))) == "442.3 kΩ ± 5.4 kΩ"
    assert str(show(318.15, 0.6, parse_unit("°C"))) == "45.00 °C ± 0.60 K"
    assert str(show(999e6, None, parse_unit("Ω"), bound=">")) == "> 999 MΩ"
    assert str(show(8.0, None, parse_unit("1"))) == "8"
    assert str(show(0.0, None, parse_unit("V"))) == "0 V"


@pytest.mark.parametrize("x", [1097.9, 0.1, 1e-7, 1e22, 5e-324, -0.0025, 3.0, 1.7976931348623157e308])
def test_decimal_strings_read_back_to_the_same_number(x: float) -> None:
    text = decimal_string(x)
    assert float(text) == x and "e" not in text.lower()


@pytest.mark.parametrize("x", [float("nan"), float("inf")])
def test_only_finite_numbers_have_one(x: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        decimal_string(x)
