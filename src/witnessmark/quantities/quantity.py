"""A number with its unit as somebody wrote it: value as decimal digits, uncertainty with its k, or a bound.

What is accepted: `203.4 V`, `203.4 V ± 0.6 V (k=2)`, `(203.4 ± 0.6) V (k=2)`, `203.4 V ± 0.3 % (k=2)` (percent of the
value), `> 999 MΩ`, `< 0.1 mΩ`, and `8` where a bare number is asked for. Everything else is refused with a remedy.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field
from decimal import Context, Decimal
from fractions import Fraction

from witnessmark.language import say
from witnessmark.quantities.units import ONE, Unit, UnitFault, dimension_name, parse_unit

__all__ = ["Quantity", "QuantityError", "decimal_text", "parse_quantity"]

_EXACT = Context(prec=30)
_LONGEST = 120
_MOST_DIGITS = 30
_LARGEST_EXPONENT = 30


class QuantityError(ValueError):
    """The text is no quantity. `code` is stable (`quantity.what`); `remedy` says what to write."""

    def __init__(self, code: str, message: str, remedy: str) -> None:
        super().__init__(f"{message}; {remedy}")
        self.code = code
        self.message = message
        self.remedy = remedy


def decimal_text(number: Decimal) -> str:
    """The digits of `number` as written, without exponent as long as that is short."""
    if -12 <= number.adjusted() <= 15 or number == 0:
        return format(number, "f")
    return str(number).replace("E+", "e").replace("E", "e")


def _to_decimal(number: Fraction) -> Decimal:
    return _EXACT.divide(Decimal(number.numerator), Decimal(number.denominator))


def _shortest(number: Decimal) -> Decimal:
    """Without the zeros that a division leaves behind; integers keep their plain form."""
    short = number.normalize(_EXACT)
    return short.quantize(Decimal(1), context=_EXACT) if short == short.to_integral_value() else short


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value with unit; `U` is the expanded uncertainty in `unit` (K for °C) with coverage factor `k`.

    `bound` is ">" or "<" when an instrument only said more than or less than. `text` is what was written, for
    people; it takes no part in comparisons.
    """

    value: Decimal
    unit: Unit
    U: Decimal | None = None
    k: Decimal | None = None
    bound: str = ""
    text: str = field(default="", compare=False)

    @property
    def si(self) -> float:
        """The value in the coherent SI unit; a temperature in kelvin."""
        if self.unit.scale == 1 and not self.unit.offset:
            return float(self.value)
        return float(self.si_exact)

    @property
    def si_exact(self) -> Fraction:
        """The value in the coherent SI unit, exactly as the written digits say."""
        return Fraction(self.value) * self.unit.scale + self.unit.offset

    @property
    def u_si(self) -> float | None:
        """The stated standard uncertainty U/k in the coherent SI unit, None when none was stated."""
        if self.U is None or self.k is None:
            return None
        return float(Fraction(self.U) / Fraction(self.k) * self.unit.scale)

    @property
    def resolution(self) -> Decimal:
        """One step of the last digit written, in `unit`."""
        exponent = self.value.as_tuple().exponent
        return Decimal(1).scaleb(exponent if isinstance(exponent, int) else 0)

    def to(self, unit: Unit) -> Quantity:
        """The same quantity in another unit of its kind, computed exactly. Raises `QuantityError` otherwise."""
        if unit.symbol == self.unit.symbol:
            return self
        if not self.unit.compatible(unit):
            raise _wrong_dimension(self.unit, unit)
        value = (self.si_exact - unit.offset) / unit.scale
        expanded = None if self.U is None else _shortest(_to_decimal(Fraction(self.U) * self.unit.scale / unit.scale))
        return Quantity(_shortest(_to_decimal(value)), unit, expanded, self.k, self.bound, self.text)

    def __str__(self) -> str:
        """The canonical text, which `parse_quantity` reads back to an equal quantity."""
        unit = "" if self.unit.symbol == "1" else f" {self.unit.symbol}"
        text = f"{self.bound} " if self.bound else ""
        text += decimal_text(self.value) + unit
        if self.U is not None and self.k is not None:
            spread = "" if not unit else f" {self.unit.difference.symbol}"
            text += f" ± {decimal_text(self.U)}{spread} (k={decimal_text(self.k)})"
        return text


def _wrong_dimension(found: Unit, wanted: Unit) -> QuantityError:
    return QuantityError(
        "quantity.dimension",
        say(
            "{symbol} is the unit of {found}, but {wanted} is asked for",
            symbol=found.symbol,
            found=dimension_name(found),
            wanted=dimension_name(wanted),
        ),
        say("write it in {symbol}", symbol=wanted.symbol),
    )


_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_NOT_A_NUMBER = re.compile(r"[+-]?\s*(nan|inf|infinity|∞)\b|[+-]?∞", re.IGNORECASE)
_COMMA = re.compile(r"([+-]?\d+),(\d+)", re.ASCII)
_COVERAGE = re.compile(r"\(\s*k\s*=\s*(?P<k>[^()]*)\)\s*\Z")
_THOUSANDS = re.compile(r"\d[\s'’_]\d(?!/)|\d,\d{3},|\d,\d+\.|\d\.\d+,|\d\.\d+\.\d")


def _plain(text: str) -> str:
    text = unicodedata.normalize("NFC", text)
    text = text.replace("\u2212", "-").replace("\u00a0", " ").replace("\u202f", " ").replace("\u2009", " ")
    return text.replace("+/-", "±").replace("+-", "±").strip()


def _decimal(text: str, whole: str) -> Decimal:
    digits = re.sub(r"[eE].*", "", text)
    if sum(c.isdigit() for c in digits) > _MOST_DIGITS:
        raise QuantityError(
            "quantity.digits",
            say("the number in {whole} has too many digits", whole=repr(whole)),
            say("write at most {n} digits", n=_MOST_DIGITS),
        )
    exponent = re.search(r"[eE]([+-]?\d+)", text)
    if exponent and (len(exponent[1]) > 4 or abs(int(exponent[1])) > _LARGEST_EXPONENT):
        raise QuantityError(
            "quantity.exponent",
            say("the exponent in {whole} is out of all measure", whole=repr(whole)),
            say("write it with a prefix (mV, MΩ) or an exponent within ±{n}", n=_LARGEST_EXPONENT),
        )
    return Decimal(text)


def _number_and_rest(text: str, whole: str) -> tuple[Decimal, str]:
    if _NOT_A_NUMBER.match(text):
        raise QuantityError(
            "quantity.not-finite",
            say("{whole} is not a finite number", whole=repr(whole)),
            say("write the number that the instrument showed"),
        )
    if _THOUSANDS.search(text):
        digits = "".join(re.findall(r"[+-]?[\d\s'’_,.]*\d", text)[:1])
        bare = re.sub(r"[\s'’_,]", "", digits)
        raise QuantityError(
            "quantity.thousands",
            say("{whole} has marks between the thousands, or two numbers", whole=repr(whole)),
            say("write the digits together with one point for the decimals, as in {bare}", bare=bare),
        )
    comma = _COMMA.match(text)
    if comma:
        raise QuantityError(
            "quantity.comma",
            say("{whole} has a comma in the number", whole=repr(whole)),
            say("write {number}, with a point", number=f"{comma[1]}.{comma[2]}"),
        )
    match = _NUMBER.match(text)
    if match is None:
        raise QuantityError(
            "quantity.number",
            say("{whole} does not begin with a number", whole=repr(whole)),
            say("write number and unit, as in {example}", example="203.4 V"),
        )
    return _decimal(match[0], whole), text[match.end() :].strip()


def _unit(text: str, whole: str) -> Unit:
    try:
        return parse_unit(text)
    except UnitFault as fault:
        raise QuantityError("quantity.unit", fault.message, fault.remedy) from fault


def _value(text: str, whole: str, *, like: Unit | None, bare: bool) -> tuple[Decimal, Unit]:
    number, rest = _number_and_rest(text, whole)
    if rest:
        return number, _unit(rest, whole)
    if bare or (like is not None and like.symbol == "1"):
        return number, ONE
    example = like.symbol if like is not None else "V"
    raise QuantityError(
        "quantity.missing-unit",
        say("{whole} has no unit", whole=repr(whole)),
        say("write the unit behind the number, as in {example}", example=f"{decimal_text(number)} {example}"),
    )


def _spread(text: str, value: Decimal, unit: Unit, whole: str) -> Decimal:
    """The expanded uncertainty in `unit`, from what stands between ± and (k=…)."""
    number, rest = _number_and_rest(text, whole)
    if not rest:
        if unit.symbol != "1":
            raise QuantityError(
                "quantity.missing-unit",
                say("the uncertainty in {whole} has no unit", whole=repr(whole)),
                say("write {example}", example=f"± {decimal_text(number)} {unit.difference.symbol}"),
            )
        spread = number
    else:
        own = _unit(rest, whole)
        if own.symbol == "%" and unit.symbol != "%":
            spread = _shortest(_to_decimal(abs(Fraction(value)) * Fraction(number) / 100))
        elif own.symbol == unit.symbol:
            spread = number
        else:
            # A spread of a temperature is a difference; people write it in °C or in K, and both mean kelvin.
            base = unit.difference
            own = own.difference
            if not own.compatible(base):
                raise _wrong_dimension(own, base)
            spread = _shortest(_to_decimal(Fraction(number) * own.scale / base.scale))
    if spread <= 0:
        raise QuantityError(
            "quantity.uncertainty",
            say("the uncertainty in {whole} is not more than zero", whole=repr(whole)),
            say("write a positive one, or none if it is not known"),
        )
    return spread


def parse_quantity(text: str, *, like: Unit | None = None, bare: bool = False) -> Quantity:
    """The quantity that `text` writes.

    `like` is a unit whose kind the quantity must have; `bare` allows a number without unit (a count).
    Raises `QuantityError` with code, message and remedy: never returns a number for what it does not understand.
    """
    whole = text if len(text) <= 60 else text[:57] + "…"
    if len(text) > _LONGEST:
        raise QuantityError(
            "quantity.length",
            say("{whole} is too long for a quantity", whole=repr(whole)),
            say("write number and unit, as in {example}", example="203.4 V"),
        )
    rest = _plain(text)
    if not rest:
        raise QuantityError(
            "quantity.empty",
            say("nothing is written"),
            say("write number and unit, as in {example}", example="203.4 V"),
        )
    bound = ""
    if rest[0] in "<>":
        bound, rest = rest[0], rest[1:].strip()
        if rest.startswith("="):
            bound, rest = rest[:1], rest[1:]
    if bound == "=" or rest[:1] in ("≥", "≤"):
        raise QuantityError(
            "quantity.bound",
            say("{whole} has a sign that is not read here", whole=repr(whole)),
            say("write > 999 MΩ for an instrument that shows more than its range, < for less"),
        )
    left, plus_minus, right = rest.partition("±")
    coverage: Decimal | None = None
    expanded: Decimal | None = None
    if not plus_minus:
        if "(" in left or "k=" in left.replace(" ", ""):
            raise QuantityError(
                "quantity.coverage-factor",
                say("{whole} has brackets without ±", whole=repr(whole)),
                say("write {example}, or number and unit alone", example="203.4 V ± 0.6 V (k=2)"),
            )
        value, unit = _value(left, whole, like=like, bare=bare)
    else:
        if bound:
            raise QuantityError(
                "quantity.bound",
                say("{whole} is a bound with an uncertainty", whole=repr(whole)),
                say("write the bound alone, as in > 999 MΩ: it already says that the value is not known"),
            )
        factor = _COVERAGE.search(right)
        if factor is None:
            raise QuantityError(
                "quantity.coverage-factor",
                say("{whole} has ± without its coverage factor", whole=repr(whole)),
                say("write {example}: without k nobody can tell what ± means", example="203.4 V ± 0.6 V (k=2)"),
            )
        coverage, left_over = _number_and_rest(factor["k"].strip(), whole)
        if left_over or not 1 <= coverage <= 100:
            raise QuantityError(
                "quantity.coverage-factor",
                say("the coverage factor in {whole} is not a number from 1 to 100", whole=repr(whole)),
                say("write (k=2) as the certificate says; k=1 for a standard uncertainty"),
            )
        right = right[: factor.start()].strip()
        if left.startswith("("):  # (203.4 ± 0.6) V (k=2)
            inner, bracket, unit_text = right.partition(")")
            if not bracket:
                raise QuantityError(
                    "quantity.number",
                    say("{whole} has an unclosed bracket", whole=repr(whole)),
                    say("close it before the unit"),
                )
            value, unit = _value(f"{left[1:].strip()} {unit_text.strip()}".strip(), whole, like=like, bare=bare)
            expanded, more = _number_and_rest(inner.strip(), whole)
            if more or expanded <= 0:
                raise QuantityError(
                    "quantity.uncertainty",
                    say("the uncertainty in {whole} is not a positive number", whole=repr(whole)),
                    say("write {example}", example="(203.4 ± 0.6) V (k=2)"),
                )
        else:
            value, unit = _value(left.strip(), whole, like=like, bare=bare)
            expanded = _spread(right, value, unit, whole)
    if like is not None and not unit.compatible(like):
        raise _wrong_dimension(unit, like)
    if unit.kind == "temperature" and Fraction(value) + unit.offset < 0:
        raise QuantityError(
            "quantity.temperature",
            say("{whole} lies below absolute zero", whole=repr(whole)),
            say("write what the instrument showed"),
        )
    return Quantity(value, unit, expanded, coverage, bound, text)
