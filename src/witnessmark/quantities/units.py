"""Units of measurement: read from text, kept exact, never guessed.

The table is our own: a unit has the symbol it is shown with, its dimension as exponents of the SI base units
(m, kg, s, A, K), an exact scale to the coherent SI unit, and, for a temperature on the Celsius scale, an offset.
A temperature (°C) and a difference of temperatures (K) are two kinds that never mix.

Source: SI Brochure, 9th edition (2019), tables 2 to 8; prefixes from its table 7.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache

from witnessmark.language import declared, say

__all__ = ["DIMENSIONLESS", "ONE", "Unit", "UnitFault", "dimension_name", "parse_unit", "prefixed"]

Dimension = tuple[int, int, int, int, int]
"""Exponents of metre, kilogram, second, ampere and kelvin."""

DIMENSIONLESS: Dimension = (0, 0, 0, 0, 0)

_LONGEST = 24
_MOST_FACTORS = 4


class UnitFault(ValueError):
    """The text is no unit that this tool knows. `remedy` says what to write."""

    def __init__(self, message: str, remedy: str) -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: `si = value * scale + offset`. Two units are equal when they show the same symbol.

    `kind` is `temperature` for the Celsius scale, `difference` for kelvin, and empty for the rest.
    """

    symbol: str
    dimension: Dimension = field(compare=False)
    scale: Fraction = field(compare=False)
    offset: Fraction = field(default=Fraction(0), compare=False)
    kind: str = field(default="", compare=False)

    def __str__(self) -> str:
        return self.symbol

    def compatible(self, other: Unit) -> bool:
        """Whether a number in one can be written in the other."""
        return self.dimension == other.dimension and self.kind == other.kind

    @property
    def difference(self) -> Unit:
        """The unit in which differences and uncertainties of this unit are stated: K for °C, else itself."""
        return parse_unit("K") if self.kind == "temperature" else self


def _d(m: int = 0, kg: int = 0, s: int = 0, a: int = 0, k: int = 0) -> Dimension:
    return (m, kg, s, a, k)


_V = _d(2, 1, -3, -1)
_J = _d(2, 1, -2)
_W = _d(2, 1, -3)
_PA = _d(-1, 1, -2)
_N = _d(1, 1, -2)

_PREFIX: dict[str, Fraction] = {
    "p": Fraction(1, 10**12),
    "n": Fraction(1, 10**9),
    "µ": Fraction(1, 10**6),
    "m": Fraction(1, 1000),
    "c": Fraction(1, 100),
    "k": Fraction(1000),
    "M": Fraction(10**6),
    "G": Fraction(10**9),
}
_ALL = "pnµmkMG"

# symbol: (dimension, scale, prefixes it takes)
_TABLE: dict[str, tuple[Dimension, Fraction, str]] = {
    "V": (_V, Fraction(1), _ALL),
    "A": (_d(a=1), Fraction(1), _ALL),
    "Ω": (_d(2, 1, -3, -2), Fraction(1), _ALL),
    "S": (_d(-2, -1, 3, 2), Fraction(1), _ALL),
    "F": (_d(-2, -1, 4, 2), Fraction(1), _ALL),
    "H": (_d(2, 1, -2, -2), Fraction(1), _ALL),
    "W": (_W, Fraction(1), _ALL),
    "Wh": (_J, Fraction(3600), "mkMG"),
    "J": (_J, Fraction(1), _ALL),
    "C": (_d(s=1, a=1), Fraction(1), _ALL),
    "Ah": (_d(s=1, a=1), Fraction(3600), "mk"),
    "s": (_d(s=1), Fraction(1), "pnµm"),
    "min": (_d(s=1), Fraction(60), ""),
    "h": (_d(s=1), Fraction(3600), ""),
    "d": (_d(s=1), Fraction(86400), ""),
    "Hz": (_d(s=-1), Fraction(1), "mkMG"),
    "m": (_d(1), Fraction(1), "pnµmck"),
    "g": (_d(kg=1), Fraction(1, 1000), "nµmk"),
    "t": (_d(kg=1), Fraction(1000), ""),
    "N": (_N, Fraction(1), "µmkM"),
    "Pa": (_PA, Fraction(1), "µmkMG"),
    "bar": (_PA, Fraction(100000), "m"),
    "L": (_d(3), Fraction(1, 1000), "µm"),
    "K": (_d(k=1), Fraction(1), "m"),
    "rad": (DIMENSIONLESS, Fraction(1), "m"),
    "%": (DIMENSIONLESS, Fraction(1, 100), ""),
    # The standard acceleration of free fall, 9.806 65 m/s² exactly (3rd CGPM, 1901). Plain g is the gram.
    "gₙ": (_d(1, 0, -2), Fraction(980665, 100000), ""),
    "1": (DIMENSIONLESS, Fraction(1), ""),
}

# What people type on a keyboard without the letter.
_SPELLED = {
    "ohm": "Ω",
    "Ohm": "Ω",
    "degC": "°C",
    "℃": "°C",
    "gn": "gₙ",
    "g_n": "gₙ",
    "l": "L",
    "uV": "µV",
    "uA": "µA",
    "uF": "µF",
    "uH": "µH",
    "us": "µs",
    "um": "µm",
    "uohm": "µΩ",
    "mohm": "mΩ",
    "kohm": "kΩ",
    "Mohm": "MΩ",
    "Gohm": "GΩ",
}

_POWERS = {"²": 2, "³": 3, "2": 2, "3": 3}
_RAISED = {1: "", 2: "²", 3: "³"}
_FACTOR = re.compile(r"(?P<symbol>1|%|°C|℃|[A-Za-zΩµ]+(?:_n|ₙ)?)(?P<power>[²³23]|\^[123])?\Z")


def dimension_name(unit: Unit) -> str:
    """What a unit measures, in words where there are words, for messages."""
    if unit.kind == "temperature":
        return say("a temperature")
    if unit.kind == "difference":
        return say("a difference of temperatures")
    if unit.dimension not in _WORDS:
        return say("the dimension of {unit}", unit=unit.symbol)
    return say(_WORDS[unit.dimension])


_WORDS: dict[Dimension, str] = {
    _V: declared("a voltage"),
    _d(a=1): declared("a current"),
    _d(2, 1, -3, -2): declared("a resistance"),
    _d(-2, -1, 3, 2): declared("a conductance"),
    _d(0, 0, 0, -1): declared("a resistance per voltage"),
    _d(-2, -1, 4, 2): declared("a capacitance"),
    _d(2, 1, -2, -2): declared("an inductance"),
    _W: declared("a power"),
    _J: declared("an energy or a torque"),
    _d(s=1, a=1): declared("a charge"),
    _d(s=1): declared("a time"),
    _d(s=-1): declared("a frequency"),
    _d(1): declared("a length"),
    _d(2): declared("an area"),
    _d(3): declared("a volume"),
    _d(kg=1): declared("a mass"),
    _N: declared("a force"),
    _PA: declared("a pressure"),
    _d(1, 0, -1): declared("a speed"),
    _d(1, 0, -2): declared("an acceleration"),
    DIMENSIONLESS: declared("a plain number"),
}


def _symbol(text: str, whole: str) -> tuple[str, Dimension, Fraction]:
    text = _SPELLED.get(text, text)
    if text in _TABLE:
        dimension, scale, _ = _TABLE[text]
        return text, dimension, scale
    if len(text) > 1 and text[0] in _PREFIX:
        base = _SPELLED.get(text[1:], text[1:])
        found = _TABLE.get(base)
        if found is not None and text[0] in found[2]:
            return text[0] + base, found[0], found[1] * _PREFIX[text[0]]
    raise UnitFault(
        say("{whole} is no unit that is known here ({part} is not)", whole=repr(whole), part=repr(text))
        if text != whole
        else say("{whole} is no unit that is known here", whole=repr(whole)),
        say("write it as V, mV, kΩ, Ω/V, A, mΩ, s, ms, °C, K, mm, N·m, % or another of the listed units"),
    )


def _normal(text: str) -> str:
    """NFC makes the ohm sign U+2126 the letter Omega; the micro sign is one of two letters and is folded here."""
    text = unicodedata.normalize("NFC", text).replace("μ", "µ")
    return re.sub(r"\s*([·⋅*/])\s*", r"\1", text.strip()).replace("⋅", "·").replace("*", "·")


@lru_cache(maxsize=512)
def _parse(text: str) -> Unit:
    whole, written = _normal(text), text.strip()
    if not whole:
        raise UnitFault(
            say("the unit is missing"), say("write the unit behind the number, as in {example}", example="203.4 V")
        )
    if len(whole) > _LONGEST:
        raise UnitFault(
            say("a unit of {n} characters is too long", n=len(whole)),
            say("write at most {n} characters", n=_LONGEST),
        )
    if whole in ("°C", "degC", "℃"):
        return Unit("°C", _d(k=1), Fraction(1), Fraction(27315, 100), "temperature")
    pieces = re.split(r"([·/])", whole)
    if len(pieces) > 2 * _MOST_FACTORS - 1:
        raise UnitFault(
            say("{written} has too many factors", written=repr(written)),
            say("write at most {n}, as in N·m or Ω/V", n=_MOST_FACTORS),
        )
    dimension = list(DIMENSIONLESS)
    scale = Fraction(1)
    shown: list[str] = []
    sign = 1
    for index, piece in enumerate(pieces):
        if index % 2:
            sign = -1 if piece == "/" else 1
            shown.append(piece)
            continue
        match = _FACTOR.match(piece)
        if match is None:
            raise UnitFault(
                say("{written} is no unit that is known here", written=repr(written)),
                say("write factors with · and /, powers as ² or ³, as in m/s² or N·m"),
            )
        name = match["symbol"]
        if name in ("°C", "degC", "℃"):
            raise UnitFault(
                say("{written} has °C in a product", written=repr(written)),
                say("write K, the unit of a difference of temperatures"),
            )
        power_text = match["power"] or ""
        power = _POWERS.get(power_text) or (int(power_text[1:]) if power_text else 1)
        symbol, factor_dimension, factor_scale = _symbol(name, written)
        shown.append(symbol + _RAISED[power])
        dimension = [a + sign * power * b for a, b in zip(dimension, factor_dimension, strict=True)]
        scale *= factor_scale ** (sign * power)
    kind = "difference" if len(pieces) == 1 and tuple(dimension) == _d(k=1) else ""
    m, kg, s, a, k = dimension
    return Unit("".join(shown), (m, kg, s, a, k), scale, kind=kind)


def parse_unit(text: str) -> Unit:
    """The unit that `text` writes: symbols with prefixes p n µ m c k M G, `·` or `*` and `/`, powers up to 3.

    Raises `UnitFault` with message and remedy. Nothing is evaluated, and the length is bounded.
    Source: SI Brochure, 9th edition (2019), 5.2 to 5.4.
    """
    if len(text) > 4 * _LONGEST:
        raise UnitFault(
            say("a unit of {n} characters is too long", n=len(text)),
            say("write at most {n} characters", n=_LONGEST),
        )
    return _parse(text)


ONE = parse_unit("1")


@lru_cache(maxsize=128)
def prefixed(unit: Unit) -> tuple[Unit, ...]:
    """The units that show the same quantity with another prefix, smallest scale first; only itself for a product.

    Centi is left out: nobody writes cV, and lengths read well in mm and m.
    """
    for base, (dimension, scale, prefixes) in _TABLE.items():
        own = [(base, scale)] + [(p + base, scale * _PREFIX[p]) for p in prefixes if p != "c"]
        if unit.symbol in {symbol for symbol, _ in own}:
            if base == "g":  # the base unit is the kilogram; t is a unit of its own
                own = [(s, x) for s, x in own if s != "Mg"]
            return tuple(
                Unit(symbol, dimension, x, kind=unit.kind) for symbol, x in sorted(own, key=lambda pair: pair[1])
            )
    return (unit,)
