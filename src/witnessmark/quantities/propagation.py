"""The one engine: uncertainties through a calculation, by forward differentiation.

A calculation is ordinary Python arithmetic on `Uncertain` numbers. Each carries its value and the derivative of it
with respect to every input, by the name of the input: an input that is used twice is one input, so what two results
share is correlated without anybody saying so. `propagate` then gives standard uncertainty, effective degrees of
freedom and the budget. First order, as JCGM 100:2008, 5.1.2 (equation 10) and 5.2.2 (equation 13); a method that
declares it adds the terms of second order of the note to 5.1.2 (`second_order`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from statistics import NormalDist

from witnessmark.language import Words, declared, say

__all__ = [
    "SHAPES",
    "BudgetRow",
    "Input",
    "NoResult",
    "Propagated",
    "Shifts",
    "Uncertain",
    "being_drawn",
    "cos",
    "coverage_factor",
    "deviation",
    "effective_degrees_of_freedom",
    "exp",
    "expand",
    "log",
    "propagate",
    "shifted",
    "sin",
    "sqrt",
    "tan",
    "uncertain",
]

INFINITE = math.inf


class NoResult(ValueError):
    """There is no finite number: of an input, of a result, or of its uncertainty."""


SHAPES: Mapping[str, str] = Words(
    {
        "arcsine": declared("arcsine"),
        "combined": declared("combined"),
        "normal": declared("normal"),
        "rectangular": declared("rectangular"),
        "t": declared("t"),
        "trapezoidal": declared("trapezoidal"),
        "triangular": declared("triangular"),
    }
)
"""Distributions of inputs, in words."""


@dataclass(frozen=True, slots=True)
class Input:
    """One input of a calculation: value and standard uncertainty in the coherent SI unit.

    `dof` are the degrees of freedom of `u`; `shape` names the distribution (normal, rectangular, triangular, arcsine,
    trapezoidal, t, combined); `basis` says in words where `u` comes from.
    """

    name: str
    value: float
    u: float
    dof: float = INFINITE
    shape: str = "normal"
    basis: str = ""

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise NoResult(say("the value of {name} is not finite", name=self.name))
        if not (math.isfinite(self.u) and self.u >= 0):
            raise NoResult(say("the standard uncertainty of {name} is not a number from zero up", name=self.name))
        if not self.dof > 0:
            raise ValueError(f"the degrees of freedom of {self.name} are not more than zero")


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """One line of the uncertainty budget. `sensitivity` is ∂y/∂x in SI, `contribution` |∂y/∂x|·u, `share` the part of
    the variance that belongs to this input (0 to 1; they add to 1; correlations are split between the two inputs)."""

    name: str
    value: float
    u: float
    dof: float
    shape: str
    basis: str
    sensitivity: float
    contribution: float
    share: float


@dataclass(frozen=True, slots=True)
class Propagated:
    """A result: value, standard uncertainty `u`, effective degrees of freedom `dof`, budget (largest share first)."""

    value: float
    u: float
    dof: float
    budget: tuple[BudgetRow, ...]
    notes: tuple[str, ...] = ()


class Uncertain:
    """A value with its derivatives with respect to named inputs. Made by `uncertain`, changed by arithmetic."""

    __slots__ = ("inputs", "slopes", "value")

    def __init__(self, value: float, slopes: dict[str, float], inputs: dict[str, Input]) -> None:
        self.value = value
        self.slopes = slopes
        self.inputs = inputs

    def _unary(self, value: float, slope: float) -> Uncertain:
        return Uncertain(value, {name: slope * d for name, d in self.slopes.items()}, self.inputs)

    def _binary(self, other: Uncertain | float, value: float, own: float, theirs: float) -> Uncertain:
        if not isinstance(other, Uncertain):
            return self._unary(value, own)
        slopes = {name: own * d for name, d in self.slopes.items()}
        for name, d in other.slopes.items():
            slopes[name] = slopes.get(name, 0.0) + theirs * d
        if self.inputs is other.inputs:
            return Uncertain(value, slopes, self.inputs)
        inputs = dict(self.inputs)
        for name, given in other.inputs.items():
            known = inputs.setdefault(name, given)
            if known is not given and known != given:
                raise ValueError(f"two different inputs are both called {name}")
        return Uncertain(value, slopes, inputs)

    def __add__(self, other: Uncertain | float) -> Uncertain:
        return self._binary(other, self.value + _value(other), 1.0, 1.0)

    __radd__ = __add__

    def __sub__(self, other: Uncertain | float) -> Uncertain:
        return self._binary(other, self.value - _value(other), 1.0, -1.0)

    def __rsub__(self, other: float) -> Uncertain:
        return self._unary(other - self.value, -1.0)

    def __mul__(self, other: Uncertain | float) -> Uncertain:
        v = _value(other)
        return self._binary(other, self.value * v, v, self.value)

    __rmul__ = __mul__

    def __truediv__(self, other: Uncertain | float) -> Uncertain:
        v = _value(other)
        quotient = self.value / v
        return self._binary(other, quotient, 1.0 / v, -quotient / v)

    def __rtruediv__(self, other: float) -> Uncertain:
        quotient = other / self.value
        return self._unary(quotient, -quotient / self.value)

    def __pow__(self, other: Uncertain | float) -> Uncertain:
        v = _value(other)
        power = _power(self.value, v)
        own = v * _power(self.value, v - 1) if v else 0.0
        theirs = power * math.log(self.value) if isinstance(other, Uncertain) and self.value > 0 else 0.0
        if isinstance(other, Uncertain) and self.value <= 0:
            raise ValueError("a power with an uncertain exponent needs a base above zero")
        return self._binary(other, power, own, theirs)

    def __rpow__(self, other: float) -> Uncertain:
        power = _power(other, self.value)
        return self._unary(power, power * math.log(other))

    def __neg__(self) -> Uncertain:
        return self._unary(-self.value, -1.0)

    def __pos__(self) -> Uncertain:
        return self

    def __abs__(self) -> Uncertain:
        return self if self.value >= 0 else -self

    def __repr__(self) -> str:
        return f"Uncertain({self.value!r}, inputs={sorted(self.inputs)})"


def _power(base: float, exponent: float) -> float:
    if base < 0 and exponent != int(exponent):
        raise ValueError("a broken power of a negative number has no value")
    return float(base**exponent)


def _value(x: Uncertain | float) -> float:
    return x.value if isinstance(x, Uncertain) else x


class Shifts:
    """What `shifted` does to inputs: `by` moves each by so many of its own standard uncertainties, `seen` collects
    those that were used. Two results may give one name to inputs of different spread: each moves by its own."""

    def __init__(self, by: Mapping[str, float] | None = None) -> None:
        self.by = by or {}
        self.seen: dict[str, Input] = {}


_SHIFTS: ContextVar[Shifts | None] = ContextVar("shifts", default=None)


@contextmanager
def shifted(shifts: Shifts) -> Iterator[Shifts]:
    """While it lasts, inputs are moved by `shifts`: for draws, and to see which inputs a calculation has."""
    token = _SHIFTS.set(shifts)
    try:
        yield shifts
    finally:
        _SHIFTS.reset(token)


def being_drawn() -> bool:
    """Whether inputs are moved at present, so that only results count."""
    shifts = _SHIFTS.get()
    return shifts is not None and bool(shifts.by)


def uncertain(given: Input) -> Uncertain:
    """The input as a number to calculate with."""
    shifts = _SHIFTS.get()
    if shifts is None:
        return Uncertain(given.value, {given.name: 1.0}, {given.name: given})
    if shifts.seen.setdefault(given.name, given).u == 0:
        shifts.seen[given.name] = given
    return Uncertain(given.value + shifts.by.get(given.name, 0.0) * given.u, {given.name: 1.0}, {given.name: given})


def deviation(x: Uncertain) -> Uncertain:
    """What the input `x` may be off its stated value, in its unit: zero with its uncertainty, moved when it is moved.

    Raises ValueError for what is not one input as it was given.
    """
    if len(x.inputs) != 1 or list(x.slopes.values()) != [1.0]:
        raise ValueError("a deviation is that of one input")
    (given,) = x.inputs.values()
    return x - given.value


def exp(x: Uncertain) -> Uncertain:
    """e to the power of `x`; `x` has dimension 1."""
    value = math.exp(x.value)
    return x._unary(value, value)


def log(x: Uncertain) -> Uncertain:
    """The natural logarithm of `x`; `x` has dimension 1 and is positive."""
    return x._unary(math.log(x.value), 1.0 / x.value)


def sqrt(x: Uncertain) -> Uncertain:
    """The square root of `x`; `x` is positive, in any unit."""
    root = math.sqrt(x.value)
    return x._unary(root, 0.5 / root)


def sin(x: Uncertain) -> Uncertain:
    """The sine of `x` in radians."""
    return x._unary(math.sin(x.value), math.cos(x.value))


def cos(x: Uncertain) -> Uncertain:
    """The cosine of `x` in radians."""
    return x._unary(math.cos(x.value), -math.sin(x.value))


def tan(x: Uncertain) -> Uncertain:
    """The tangent of `x` in radians."""
    value = math.tan(x.value)
    return x._unary(value, 1.0 + value * value)


def effective_degrees_of_freedom(contributions: Iterable[tuple[float, float]]) -> float:
    """Welch-Satterthwaite: from pairs (|c|·u, degrees of freedom), independent inputs; infinite if none is finite.

    Source: JCGM 100:2008, G.4.1, equation G.2b.
    """
    pairs = list(contributions)
    largest = max((abs(c) for c, _ in pairs), default=0.0)
    if largest == 0.0:
        return INFINITE
    # Scaled by the largest contribution, so that tiny SI values do not vanish in the fourth power.
    total = math.fsum((c / largest) ** 2 for c, _ in pairs)
    below = math.fsum((c / largest) ** 4 / dof for c, dof in pairs if math.isfinite(dof))
    return total * total / below if below > 0 else INFINITE


def propagate(result: Uncertain, *, covariance: Mapping[tuple[str, str], float] | None = None) -> Propagated:
    """Standard uncertainty, degrees of freedom and budget of a calculated `result`.

    `covariance` gives u(x, y) in SI for pairs of inputs that are correlated; pairs not named are independent.
    Raises ValueError for a covariance that no two quantities can have, and for a result that is not finite.
    Source: JCGM 100:2008, equations 10, 13, 16 and G.2b.
    """
    if not math.isfinite(result.value):
        raise NoResult(say("the result is not finite"))
    names = [name for name in result.inputs if name in result.slopes]
    parts = {name: result.slopes[name] * result.inputs[name].u for name in names}
    variance_of = {name: parts[name] * parts[name] for name in names}
    notes: list[str] = []
    linked: set[str] = set()
    for (one, other), cov in (covariance or {}).items():
        if one not in result.inputs or other not in result.inputs:
            raise ValueError(f"the covariance names {one} and {other}, which are not both inputs")
        if one == other:
            continue
        limit = result.inputs[one].u * result.inputs[other].u
        if not math.isfinite(cov) or abs(cov) > limit * (1 + 1e-9):
            raise ValueError(f"the covariance of {one} and {other} is larger than the product of their uncertainties")
        if cov and one in parts and other in parts:
            cross = result.slopes[one] * result.slopes[other] * cov
            variance_of[one] += cross
            variance_of[other] += cross
            linked |= {one, other}
    variance = math.fsum(variance_of.values())
    if variance < 0:
        if variance < -1e-9 * math.fsum(p * p for p in parts.values()):
            raise ValueError("the covariances contradict each other: the variance comes out negative")
        variance = 0.0
    u = math.sqrt(variance)
    if not math.isfinite(u):
        raise NoResult(say("the uncertainty of the result is not finite"))
    if any(math.isfinite(result.inputs[name].dof) for name in linked):
        # JCGM 100:2008, G.4.1 holds for independent inputs only.
        dof = INFINITE
        notes.append(
            say(
                "Inputs are correlated, where the Welch-Satterthwaite formula does not hold: "
                "infinite degrees of freedom are stated."
            )
        )
    else:
        dof = effective_degrees_of_freedom((parts[name], result.inputs[name].dof) for name in names)
    flat = sorted(name for name in names if result.slopes[name] == 0.0 and result.inputs[name].u > 0)
    if flat:
        notes.append(say("First order sees nothing of {names} here: the slope is zero.", names=", ".join(flat)))
    rows = [
        BudgetRow(
            name,
            given.value,
            given.u,
            given.dof,
            given.shape,
            given.basis,
            result.slopes[name],
            abs(parts[name]),
            variance_of[name] / variance if variance > 0 else 0.0,
        )
        for name, given in ((name, result.inputs[name]) for name in names)
    ]
    rows.sort(key=lambda row: (-row.share, row.name))
    return Propagated(result.value, u, dof, tuple(rows), tuple(notes))


def coverage_factor(dof: float, p: float = 0.95) -> float:
    """The factor k for a symmetric interval with coverage probability `p`: Student's t, degrees of freedom `dof` cut
    down to a whole number; the normal quantile when they are infinite.

    Source: JCGM 100:2008, G.3.4 and G.4.1, table G.2.
    """
    if not 0 < p < 1:
        raise ValueError("the coverage probability lies between 0 and 1")
    if not dof >= 1 - 1e-9:
        raise ValueError("a coverage factor needs at least one degree of freedom")
    if math.isinf(dof) or dof > 1e9:
        return NormalDist().inv_cdf((1 + p) / 2)
    from scipy.special import stdtrit

    # A sum that should be 9 may come out as 8.999…: that is nine.
    return float(stdtrit(math.floor(dof * (1 + 1e-12) + 1e-9), (1 + p) / 2))


def expand(u: float, dof: float, p: float = 0.95) -> tuple[float, float]:
    """Coverage factor k and expanded uncertainty U = k·`u`, in the unit of `u`, for coverage probability `p` and
    degrees of freedom `dof`.

    Source: JCGM 100:2008, 6.2.1 and G.6.4.
    """
    k = coverage_factor(dof, p)
    return k, k * u
