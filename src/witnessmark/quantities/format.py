"""Numbers as laboratories print them: U with two digits, the value to the same digit, true minus, thin gaps.

What is printed for people has the decimal mark of the language (`number`, `show`, `printed`, `written`); what another
program reads has the point (`decimal_string`, `digits`).

Source: JCGM 100:2008, 7.2.6 (digits); SI Brochure, 9th edition (2019), 5.4.3 and 5.4.4 (gaps, decimal marker).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Context, Decimal
from fractions import Fraction

from witnessmark.language import marked
from witnessmark.quantities.quantity import Quantity, QuantityError, parse_quantity
from witnessmark.quantities.units import Unit, prefixed

__all__ = [
    "MINUS",
    "THIN",
    "Shown",
    "best_unit",
    "decimal_string",
    "digits",
    "number",
    "printed",
    "round_to_uncertainty",
    "show",
    "written",
]

MINUS = "\u2212"
THIN = "\u202f"
_CONTEXT = Context(prec=40)


@dataclass(frozen=True, slots=True)
class Shown:
    """A result ready to print: `value` and `U` to the same digit (U empty when there is none), `unit`, `bound`."""

    value: str
    U: str
    unit: str
    bound: str = ""

    def __str__(self) -> str:
        """`507 Ω/V ± 11 Ω/V`, unit with both, as people say it."""
        unit = "" if self.unit == "1" else f" {self.unit}"
        text = (f"{self.bound} " if self.bound else "") + self.value + unit
        spread = " K" if self.unit == "°C" else unit
        return f"{text} ± {self.U}{spread}" if self.U else text


def _decimal(x: float | Decimal | Fraction) -> Decimal:
    if isinstance(x, Decimal):
        return x
    if isinstance(x, Fraction):
        return _CONTEXT.divide(Decimal(x.numerator), Decimal(x.denominator))
    return Decimal(repr(x))


def decimal_string(x: float | Decimal) -> str:
    """All digits of the number `x` as plain decimal text for JSON; reading it back gives the same number.
    Finite only."""
    value = _decimal(x)
    if not value.is_finite():
        raise ValueError("only finite numbers have a decimal string")
    text = format(value, "f")
    if isinstance(x, float) and text.endswith(".0"):
        text = text[:-2]
    return text


def round_to_uncertainty(value: float | Decimal, U: float | Decimal) -> tuple[Decimal, Decimal]:
    """`value` and `U`, in one unit: `U` at two significant digits, the value at the same digit. `U` is above zero."""
    spread = _decimal(U)
    if not (spread.is_finite() and spread > 0):
        raise ValueError("an expanded uncertainty to round to is above zero")
    digit = Decimal(1).scaleb(spread.adjusted() - 1)
    rounded = spread.quantize(digit, ROUND_HALF_UP, _CONTEXT)
    if rounded.adjusted() > spread.adjusted():  # 0.996 becomes 1.0, not 1.00
        digit = digit.scaleb(1)
        rounded = spread.quantize(digit, ROUND_HALF_UP, _CONTEXT)
    return _decimal(value).quantize(digit, ROUND_HALF_EVEN, _CONTEXT), rounded


def number(x: Decimal) -> str:
    """Digits with true minus and narrow gaps from five digits before the mark on, which is that of the language; never
    an exponent."""
    return marked(digits(x))


def printed(quantity: Quantity) -> str:
    """The canonical text of a quantity with the decimal mark of the language: `203.4 V ± 0.6 V (k=2)`."""
    return marked(str(quantity))


def written(text: str) -> str:
    """A number with its unit as somebody wrote it, with the decimal mark of the language; every other text as it is.

    A bare number stays as it is: nobody can tell `2.4` from the second edition's fourth printing.
    """
    try:
        parse_quantity(text)
    except QuantityError:
        return text
    return marked(text)


def digits(x: Decimal) -> str:
    """As `number`, with a point in every language: for formulas, which have their own way to the page."""
    text = format(abs(x), "f")
    whole, point, broken = text.partition(".")
    if len(whole) >= 5:
        first = len(whole) % 3 or 3
        whole = THIN.join([whole[:first], *(whole[i : i + 3] for i in range(first, len(whole), 3))])
    negative = x < 0 and any(c in "123456789" for c in text)
    return (MINUS if negative else "") + whole + point + broken


def best_unit(value_si: float, unit: Unit) -> Unit:
    """The prefix of `unit` that puts `value_si`, in SI, between 1 and 1000; the unit itself for products, zero and
    °C."""
    if not math.isfinite(value_si) or value_si == 0 or unit.offset:
        return unit
    candidates = prefixed(unit)  # smallest scale first
    fitting = [c for c in candidates if abs(value_si) >= 0.9999999999 * c.scale.numerator / c.scale.denominator]
    return fitting[-1] if fitting else candidates[0]


def show(
    value_si: float,
    U_si: float | None,
    unit: Unit,
    *,
    bound: str = "",
    significant: int = 4,
    choose_prefix: bool = True,
) -> Shown:
    """A result `value_si` ± `U_si`, in SI, as text in `unit` or its best prefix.

    With U: two digits of U, the value to the same. Without: `significant` digits of the value.
    """
    shown_in = best_unit(value_si, unit) if choose_prefix else unit
    exact = (Fraction(value_si) - shown_in.offset) / shown_in.scale
    # Fifteen digits: what a float carries, without the dust behind it.
    value = Context(prec=15).create_decimal(_decimal(exact))
    if U_si is not None and U_si > 0 and math.isfinite(U_si):
        spread = Context(prec=15).create_decimal(_decimal(Fraction(U_si) / shown_in.scale))
        rounded, U = round_to_uncertainty(value, spread)
        return Shown(number(rounded), number(U), shown_in.symbol, bound)
    if value == 0:
        return Shown("0", "", shown_in.symbol, bound)
    exponent = min(value.adjusted() - significant + 1, 0)
    text = digits(value.quantize(Decimal(1).scaleb(exponent), ROUND_HALF_EVEN, _CONTEXT))
    # Without U nobody knows how many digits mean something: zeros at the end would claim that they do.
    return Shown(marked(text.rstrip("0").rstrip(".") if "." in text else text), "", shown_in.symbol, bound)
