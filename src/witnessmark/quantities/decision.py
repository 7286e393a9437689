"""From a result with its uncertainty to a statement of conformity.

Source: JCGM 106:2012 (8.2, 8.3: guarded acceptance and rejection); ILAC-G8:09/2019, 4.2 (non-binary statements with
guard band w = U; simple acceptance).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from statistics import NormalDist
from typing import Literal

from witnessmark.quantities.quantity import Quantity, decimal_text
from witnessmark.quantities.units import Unit

__all__ = [
    "Decision",
    "DecisionRule",
    "Limit",
    "LimitKind",
    "Statement",
    "acceptance_limit",
    "begins_with",
    "conformance_probability",
    "decide",
    "guard_band",
    "just_passes",
]

LimitKind = Literal["at_least", "more_than", "at_most", "less_than"]
_WORDS = {"at_least": "at least", "more_than": "more than", "at_most": "at most", "less_than": "less than"}

NOISE = Fraction(1, 10**9)
"""A computed value nearer to a limit than this part of it is not told apart from the limit."""


class Statement(StrEnum):
    """What is said about one result. It has no truth value: compare it by name.

    `UNDECIDED` means that no statement can be made: no uncertainty, not finite, on the limit, or a bound that does
    not reach. It is never a pass.
    """

    PASS = "pass"
    CONDITIONAL_PASS = "conditional pass"
    CONDITIONAL_FAIL = "conditional fail"
    FAIL = "fail"
    UNDECIDED = "undecided"

    def __bool__(self) -> bool:
        raise TypeError("a statement of conformity has no truth value: compare it with Statement.PASS")


@dataclass(frozen=True, slots=True)
class Limit:
    """A tolerance limit: the measurand is to be at least, more than, at most or less than `value` in `unit`."""

    kind: LimitKind
    value: Decimal
    unit: Unit

    def __post_init__(self) -> None:
        if self.kind not in _WORDS:
            raise ValueError(f"no limit is called {self.kind!r}")
        if not self.value.is_finite():
            raise ValueError("a limit is a finite number")

    @classmethod
    def of(cls, kind: LimitKind, quantity: Quantity) -> Limit:
        """The limit that a quantity writes; it has neither uncertainty nor bound."""
        if quantity.bound or quantity.U is not None:
            raise ValueError("a limit has neither bound nor uncertainty")
        return cls(kind, quantity.value, quantity.unit)

    @property
    def si(self) -> Fraction:
        """The limit in the coherent SI unit, exact."""
        return Fraction(self.value) * self.unit.scale + self.unit.offset

    @property
    def lower(self) -> bool:
        """Whether large values pass."""
        return self.kind in ("at_least", "more_than")

    @property
    def strict(self) -> bool:
        """Whether the limit itself does not pass."""
        return self.kind in ("more_than", "less_than")

    def __str__(self) -> str:
        unit = "" if self.unit.symbol == "1" else f" {self.unit.symbol}"
        return f"{_WORDS[self.kind]} {decimal_text(self.value)}{unit}"


@dataclass(frozen=True, slots=True)
class DecisionRule:
    """`guarded`: guard band w = U on both sides. `simple`: the value alone decides, but only where U is at most
    `cap` times the limit (`cap` is a ratio, 0.1 for 10 %)."""

    kind: Literal["guarded", "simple"] = "guarded"
    cap: Decimal | None = None

    def __post_init__(self) -> None:
        if self.kind not in ("guarded", "simple"):
            raise ValueError(f"no decision rule is called {self.kind!r}")
        if self.kind == "simple" and (self.cap is None or not (self.cap.is_finite() and self.cap > 0)):
            raise ValueError("the simple rule needs a cap on U, relative to the limit")

    @classmethod
    def guarded(cls) -> DecisionRule:
        """Guard band w = U (ILAC-G8:09/2019, 4.2.2)."""
        return cls("guarded")

    @classmethod
    def simple(cls, cap: Decimal) -> DecisionRule:
        """Simple acceptance with U no more than `cap` times the limit (ILAC-G8:09/2019, 4.2.1)."""
        return cls("simple", cap)

    def __str__(self) -> str:
        if self.kind == "guarded":
            return "guard band w = U"
        return f"simple acceptance, U at most {decimal_text((self.cap or Decimal(0)) * 100)} % of the limit"


@dataclass(frozen=True, slots=True)
class Decision:
    """The statement with its grounds; numbers in the coherent SI unit.

    `acceptance_limit` is where a pass begins (None if it cannot be said), `rejection_limit` where a fail begins;
    `probability` is the conformance probability (normal distribution), None when u is not known; `reason` is words.
    """

    statement: Statement
    limit: Limit
    rule: DecisionRule
    reason: str
    acceptance_limit: float | None = None
    rejection_limit: float | None = None
    probability: float | None = None

    @property
    def passes(self) -> bool:
        """Whether the statement is a pass, and nothing less."""
        return self.statement is Statement.PASS

    @property
    def fails(self) -> bool:
        """Whether the statement is a fail; a conditional fail is not."""
        return self.statement is Statement.FAIL

    @property
    def specific_risk(self) -> float | None:
        """The probability that this very statement is wrong: of the consumer for a pass, of the producer for a fail.

        None for any other statement, and where the conformance probability is not known. Dimension 1.
        Source: JCGM 106:2012, 9.3.2 (clause from memory).
        """
        if self.probability is None or not (self.passes or self.fails):
            return None
        return 1.0 - self.probability if self.passes else self.probability


def _exactly(number: float | Decimal) -> Fraction | None:
    finite = number.is_finite() if isinstance(number, Decimal) else math.isfinite(number)
    return Fraction(number) if finite else None


def decide(
    value: float | Decimal,
    U: float | Decimal | None,
    bound: str,
    limit: Limit,
    rule: DecisionRule,
    *,
    u: float | None = None,
) -> Decision:
    """The statement for a result `value` with expanded uncertainty `U`, both in the coherent SI unit of the limit.

    `bound` is "", ">" or "<". A `Decimal` value is taken as exact digits: a count or bare number (limit without unit)
    needs no U and compares exactly. A `float` within 1e-9 of the limit is not told apart from it. `u` gives the
    conformance probability. A lower bound passes at-least and more-than criteria and nothing else, an upper bound
    the mirror; a bound fails only a criterion that it lies beyond altogether.
    Never raises for numbers: what cannot be decided is `Statement.UNDECIDED`.
    Source: JCGM 106:2012, 8.3; ILAC-G8:09/2019, 4.2.
    """

    def undecided(reason: str) -> Decision:
        return Decision(Statement.UNDECIDED, limit, rule, reason)

    y = _exactly(value)
    if y is None:
        return undecided("the result is not a finite number")
    spread = None if U is None else _exactly(U)
    if U is not None and (spread is None or spread < 0):
        return undecided("the uncertainty is not a number from zero up")
    if bound not in ("", ">", "<"):
        return undecided(f"{bound!r} is no bound")
    limit_si = limit.si
    noise = Fraction(0) if isinstance(value, Decimal) else NOISE * max(abs(limit_si), spread or Fraction(0))
    # A lower limit is judged as it stands, an upper one in the mirror: from here on, larger is better.
    sign = 1 if limit.lower else -1
    y, edge = sign * y, sign * limit_si
    if bound:
        return _decide_bound(y, spread or Fraction(0), (bound == ">") == limit.lower, edge, noise, limit, rule)
    if spread is None:
        if isinstance(value, Decimal) and limit.unit.symbol == "1":
            met = y > edge if limit.strict else y >= edge
            return Decision(
                Statement.PASS if met else Statement.FAIL,
                limit,
                rule,
                "an exact number, compared digit by digit",
                float(limit_si),
                float(limit_si),
            )
        return undecided("the uncertainty is not stated")
    probability = None if u is None else _probability(sign * float(y), u, limit)
    if rule.kind == "simple":
        # Of the limit as written: 5 % of 45 °C is 2.25 K, not 5 % of 318 K.
        cap = Fraction(rule.cap or Decimal(0)) * abs(Fraction(limit.value)) * limit.unit.scale
        if spread > cap:
            return Decision(
                Statement.UNDECIDED,
                limit,
                rule,
                "the uncertainty is larger than the simple rule allows",
                probability=probability,
            )
        if abs(y - edge) <= noise and noise:
            statement, reason = Statement.UNDECIDED, "the result lies on the limit"
        elif y > edge or (y == edge and not limit.strict):
            statement, reason = Statement.PASS, "the result lies on the side that passes"
        else:
            statement, reason = Statement.FAIL, "the result lies on the side that fails"
        return Decision(statement, limit, rule, reason, float(limit_si), float(limit_si), probability)
    if spread == 0 and noise and abs(y - edge) <= noise:
        return undecided("the result lies on the limit")
    low, high = y - spread, y + spread
    if low > edge + noise or (low == edge and not noise and not limit.strict):
        statement, reason = Statement.PASS, "the whole interval lies on the side that passes"
    elif high < edge - noise or (high == edge and not noise):
        statement, reason = Statement.FAIL, "the whole interval lies on the side that fails"
    elif y > edge + noise or (y == edge and not noise and not limit.strict):
        statement, reason = Statement.CONDITIONAL_PASS, "the limit lies inside the interval, the value itself passes"
    else:
        statement, reason = (
            Statement.CONDITIONAL_FAIL,
            "the limit lies inside the interval, the value itself does not pass",
        )
    return Decision(
        statement, limit, rule, reason, float(sign * (edge + spread)), float(sign * (edge - spread)), probability
    )


def _decide_bound(
    y: Fraction, spread: Fraction, favourable: bool, edge: Fraction, noise: Fraction, limit: Limit, rule: DecisionRule
) -> Decision:
    """`favourable`: the true value lies on the better side of y, and never on y itself."""
    if favourable and y - spread >= edge + noise:
        return Decision(Statement.PASS, limit, rule, "the bound lies on the side that passes")
    if not favourable and y + spread <= edge - noise:
        return Decision(Statement.FAIL, limit, rule, "the bound lies wholly on the side that fails")
    return Decision(Statement.UNDECIDED, limit, rule, "the bound does not reach the limit")


def acceptance_limit(limit: Limit, U: float) -> float:
    """Where a pass begins under guard band w = `U`, both in the coherent SI unit.

    Source: JCGM 106:2012, 8.3.2, equation 21.
    """
    edge = float(limit.si)
    return edge + U if limit.lower else edge - U


def just_passes(limit: Limit, U_at: Callable[[float], float], *, steps: int = 60) -> float | None:
    """The reading that would just pass when U depends on it: y = limit ± U(y), in SI; None if there is none.

    `U_at` gives the expanded uncertainty at a value, both in SI; `steps` is the largest number of rounds.
    """
    sign = 1.0 if limit.lower else -1.0
    edge = float(limit.si)
    y = edge
    for _ in range(steps):
        following = edge + sign * U_at(y)
        if not math.isfinite(following):
            return None
        if abs(following - y) <= 1e-12 * max(abs(following), abs(edge)):
            return following
        y = following
    return None


def _probability(value: float, u: float, limit: Limit) -> float | None:
    if not (math.isfinite(u) and u > 0):
        return None
    edge = float(limit.si)
    return conformance_probability(value, u, lower=edge if limit.lower else None, upper=None if limit.lower else edge)


def begins_with(limit: Limit, u: float, probability: float) -> float:
    """Where results begin that conform with one-sided `probability`, in the coherent SI unit, as `u` is.

    For planning: the statement itself is by the decision rule. Raises ValueError as `guard_band` does, and for `u` that
    is not a number from zero up. Source: JCGM 106:2012, 8.3.2; normal distribution with standard uncertainty `u`.
    """
    if not (math.isfinite(u) and u >= 0):
        raise ValueError("a standard uncertainty is a number from zero up")
    return acceptance_limit(limit, guard_band(u, probability))


def conformance_probability(value: float, u: float, *, lower: float | None = None, upper: float | None = None) -> float:
    """The probability that the measurand lies within the tolerance, for a normal distribution; all in one unit.

    `value` with standard uncertainty `u`; `lower` and `upper` are the tolerance limits, one of them may be missing.
    Raises ValueError without a limit, or for `u` not above zero.
    Source: JCGM 106:2012, 7.2 to 7.4 (equations 6 to 10).
    """
    if lower is None and upper is None:
        raise ValueError("a conformance probability needs a limit")
    if not (math.isfinite(value) and math.isfinite(u) and u > 0):
        raise ValueError("value and standard uncertainty have to be finite, the latter above zero")
    # Each tail by the complementary error function: exact far out, where 1 - p would lose its digits.
    below = 0.0 if lower is None else 0.5 * math.erfc((value - lower) / (u * math.sqrt(2)))
    above = 0.0 if upper is None else 0.5 * math.erfc((upper - value) / (u * math.sqrt(2)))
    return max(0.0, 1.0 - below - above)


def guard_band(u: float, probability: float) -> float:
    """The guard band w that gives a one-sided conformance probability at the acceptance limit; unit of `u`.

    `u` is the standard uncertainty, `probability` lies between 0 and 1.
    Source: JCGM 106:2012, 8.3.2; normal quantiles.
    """
    if not 0.5 <= probability < 1:
        raise ValueError("the conformance probability lies from 0.5 to below 1")
    return NormalDist().inv_cdf(probability) * u
