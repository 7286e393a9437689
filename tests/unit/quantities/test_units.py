"""Units: every one against an independent library, and text that is no unit."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import Any

import pint
import pytest

from witnessmark.quantities.units import (
    _PREFIX,
    _TABLE,
    ONE,
    UnitFault,
    dimension_name,
    parse_unit,
    prefixed,
)

_PINT_NAMES = {
    "gₙ": "standard_gravity",
    "Ah": "ampere*hour",
    "%": "percent",
    "1": "dimensionless",
    "L": "liter",
    "t": "metric_ton",
    "Ω": "ohm",
    "d": "day",
    "h": "hour",
    "min": "minute",
    "Wh": "watt*hour",
}
_ALL = sorted({p + s for s, (_, _, prefixes) in _TABLE.items() for p in ("", *prefixes)})


@lru_cache(maxsize=1)
def _registry() -> Any:
    return pint.UnitRegistry(non_int_type=Fraction)


def _pint(symbol: str) -> Any:
    ureg = _registry()
    for base in sorted(_TABLE, key=len, reverse=True):
        prefix = symbol[: -len(base)] if symbol.endswith(base) else None
        if prefix is not None and (prefix == "" or prefix in _TABLE[base][2]):
            name = _PINT_NAMES.get(base, base)
            factor = _PREFIX[prefix] if prefix else Fraction(1)
            return factor * ureg.Quantity(Fraction(1), ureg.parse_units(name))
    raise AssertionError(symbol)


@pytest.mark.parametrize("symbol", _ALL)
def test_every_unit_has_the_scale_and_dimension_that_pint_gives_it(symbol: str) -> None:
    """Source: pint 0.25 (reference library). kg and min are units of their own, not prefixed ones."""
    expected = 60 * _registry().Quantity(Fraction(1), "second") if symbol == "min" else _pint(symbol)
    unit = parse_unit(symbol)
    base = expected.to_base_units()
    names = ("[length]", "[mass]", "[time]", "[current]", "[temperature]")
    assert tuple(int(base.dimensionality.get(n, 0)) for n in names) == unit.dimension
    si = expected.to(_registry().parse_units("m**{} * kg**{} * s**{} * A**{} * K**{}".format(*unit.dimension)))
    assert float(si.magnitude) == pytest.approx(float(unit.scale), rel=1e-12)


@pytest.mark.parametrize(
    ("text", "in_pint"),
    [
        ("Ω/V", "ohm/volt"),
        ("km/h", "kilometer/hour"),
        ("m/s²", "meter/second**2"),
        ("mm²", "millimeter**2"),
        ("mm2", "millimeter**2"),
        ("N·m", "newton*meter"),
        ("N*m", "newton*meter"),
        ("A·h", "ampere*hour"),
        ("L/min", "liter/minute"),
        ("W/K", "watt/kelvin"),
        ("kJ/kg/K", "kilojoule/kilogram/kelvin"),
        ("1/K", "1/kelvin"),
        ("Ω·mm²/m", "ohm*millimeter**2/meter"),
        ("A²·s", "ampere**2*second"),
    ],
)
def test_products_and_quotients_agree_with_pint(text: str, in_pint: str) -> None:
    """Source: pint 0.25 (reference library)."""
    unit = parse_unit(text)
    expected = _registry().Quantity(Fraction(1), in_pint)
    si = expected.to(_registry().parse_units("m**{} * kg**{} * s**{} * A**{} * K**{}".format(*unit.dimension)))
    assert float(si.magnitude) == pytest.approx(float(unit.scale), rel=1e-12)


def test_both_ohms_and_both_micros_are_one_letter() -> None:
    assert parse_unit("k\u2126") == parse_unit("k\u03a9")
    assert parse_unit("\u00b5F") == parse_unit("\u03bcF") == parse_unit("uF")


def test_celsius_is_a_temperature_and_kelvin_a_difference() -> None:
    celsius, kelvin = parse_unit("°C"), parse_unit("K")
    assert celsius.offset == Fraction("273.15")
    assert not celsius.compatible(kelvin)
    assert celsius.difference == kelvin
    assert dimension_name(celsius) == "a temperature"
    assert dimension_name(kelvin) == "a difference of temperatures"
    assert parse_unit("mK").compatible(kelvin)


@pytest.mark.parametrize(
    "text",
    [
        *["", "  ", "X", "kkV", "V**2", "2**2**9", "V^4", "V^-1", "°C/W", "m°C", "kmin", "V·", "/V", "V//A"],
        *["A·A·A·A·A", "V" * 25, "V" * 10_000, "dB", "V A", "(V)", "ΩV", "cV"],
    ],
)
def test_what_is_no_unit_is_refused_with_a_remedy(text: str) -> None:
    with pytest.raises(UnitFault) as caught:
        parse_unit(text)
    assert caught.value.message and caught.value.remedy


def test_prefixes_of_a_unit_come_smallest_first() -> None:
    assert [u.symbol for u in prefixed(parse_unit("V"))] == ["pV", "nV", "µV", "mV", "V", "kV", "MV", "GV"]
    assert [u.symbol for u in prefixed(parse_unit("s"))] == ["ps", "ns", "µs", "ms", "s"]
    assert prefixed(parse_unit("Ω/V")) == (parse_unit("Ω/V"),)
    assert prefixed(ONE) == (ONE,)
    assert all(u == parse_unit(u.symbol) and u.scale == parse_unit(u.symbol).scale for u in prefixed(parse_unit("kg")))
