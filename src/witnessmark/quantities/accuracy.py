"""What an instrument is good for: its accuracy as maker or certificate state it, made the input of a calculation."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from witnessmark.language import say
from witnessmark.quantities.propagation import INFINITE, Input
from witnessmark.quantities.quantity import Quantity

__all__ = ["Accuracy", "maximum_permissible_error", "reading_input", "standard_uncertainty_of_reading"]


@dataclass(frozen=True, slots=True)
class Accuracy:
    """One line of an instrument's accuracy: ± (`percent_of_reading` + `digits` × `resolution` + `fixed`).

    `function` is dc-voltage, resistance, dc-current, …; the line holds from `low` to `high`. `certificate_U` with
    `certificate_k` is what the calibration certificate adds, of the value at which it was calibrated.
    """

    function: str
    low: Quantity
    high: Quantity
    percent_of_reading: Decimal = Decimal(0)
    digits: Decimal = Decimal(0)
    resolution: Quantity | None = None
    fixed: Quantity | None = None
    certificate_U: Quantity | None = None
    certificate_k: Decimal | None = None

    def __post_init__(self) -> None:
        if self.percent_of_reading < 0 or self.digits < 0:
            raise ValueError("percent of reading and digits are numbers from zero up")
        if self.digits and self.resolution is None:
            raise ValueError("digits mean nothing without the resolution of the range")
        if (self.certificate_U is None) != (self.certificate_k is None):
            raise ValueError("a certificate's U needs its k, and k its U")
        if self.certificate_k is not None and not self.certificate_k >= 1:
            raise ValueError("a coverage factor is 1 or more")
        for other in (self.high, self.resolution, self.fixed, self.certificate_U):
            if other is not None and other.unit.dimension != self.low.unit.dimension:
                raise ValueError(f"{other.unit} and {self.low.unit} stand in one line of accuracy")
        if self.high.si_exact < self.low.si_exact:
            raise ValueError("the range ends below its beginning")

    def covers(self, quantity: Quantity) -> bool:
        """Whether the reading lies in the range of this line, by its size: a negative voltage as the positive one."""
        if not quantity.unit.compatible(self.low.unit):
            return False
        value = quantity.si_exact
        if self.low.si_exact >= 0 and quantity.unit.kind != "temperature":
            value = abs(value)
        return self.low.si_exact <= value <= self.high.si_exact


def _difference_si(quantity: Quantity | None) -> Fraction:
    """A span in SI: the offset of a temperature scale does not count."""
    return Fraction(0) if quantity is None else Fraction(quantity.value) * quantity.unit.scale


def maximum_permissible_error(quantity: Quantity, accuracy: Accuracy) -> float:
    """The half-width ± (% of reading + digits × resolution + fixed) at this reading, in SI.

    A percentage of a temperature is one of its value in °C.
    """
    reading = abs(_difference_si(quantity))
    half_width = (
        reading * Fraction(accuracy.percent_of_reading) / 100
        + Fraction(accuracy.digits) * _difference_si(accuracy.resolution)
        + _difference_si(accuracy.fixed)
    )
    return float(half_width)


def standard_uncertainty_of_reading(quantity: Quantity, accuracy: Accuracy) -> float:
    """The half-width as a rectangle (a/√3), the certificate's U/k in quadrature; SI.

    Source: JCGM 100:2008, 4.3.7 and 4.3.3.
    """
    u = maximum_permissible_error(quantity, accuracy) / math.sqrt(3)
    if accuracy.certificate_U is not None and accuracy.certificate_k is not None:
        u = math.hypot(u, float(_difference_si(accuracy.certificate_U) / Fraction(accuracy.certificate_k)))
    return u


def reading_input(name: str, quantity: Quantity, accuracy: Accuracy | None, instrument: str = "") -> Input | None:
    """The input for one reading of an instrument, in SI; None for a bound or when no uncertainty is known.

    A reading's own "± U (k=…)" may only enlarge what the accuracy gives. Two readings of one instrument are
    independent of each other here: its gain error is counted in each and never cancels. That is the cautious side for
    sums and quotients of unlike readings, and a method that wants the correlation has to model the gain as an input.
    """
    if quantity.bound:
        return None
    own = quantity.u_si
    if accuracy is None:
        if own is None:
            return None
        basis = say("as stated with the reading, k = {k}", k=quantity.k)
        return Input(name, quantity.si, own, INFINITE, "normal", _with(basis, instrument))
    if not quantity.unit.compatible(accuracy.low.unit):
        raise ValueError(f"{quantity.unit} is read, but the accuracy is given in {accuracy.low.unit}")
    u = standard_uncertainty_of_reading(quantity, accuracy)
    if own is not None and own > u:
        basis = say("as stated with the reading, larger than the accuracy")
        return Input(name, quantity.si, own, INFINITE, "normal", _with(basis, instrument))
    shape = "rectangular" if accuracy.certificate_U is None else "combined"
    return Input(name, quantity.si, u, INFINITE, shape, _with(basis_words(accuracy), instrument))


def _with(basis: str, instrument: str) -> str:
    return f"{basis}, {instrument}" if instrument else basis


def basis_words(accuracy: Accuracy) -> str:
    """The accuracy as people write it: ± (0.5 % of reading + 2 digits of 0.1 V)."""
    terms = []
    if accuracy.percent_of_reading:
        terms.append(say("{percent} % of reading", percent=accuracy.percent_of_reading))
    if accuracy.digits:
        terms.append(say("{n} digits of {resolution}", n=accuracy.digits, resolution=accuracy.resolution))
    if accuracy.fixed is not None:
        terms.append(str(accuracy.fixed))
    words = "± (" + " + ".join(terms) + ")" if terms else say("no error stated")
    if accuracy.certificate_U is None:
        return words
    return say(
        "{accuracy}, certificate U = {U} (k = {k})",
        accuracy=words,
        U=accuracy.certificate_U,
        k=accuracy.certificate_k,
    )
