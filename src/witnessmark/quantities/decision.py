"""From a result with its uncertainty to a statement of conformity.

Source: JCGM 106:2012 (8.2, 8.3: guarded acceptance and rejection; a guard band for a stated conformance probability);
ILAC-G8:09/2019, 4.2 (non-binary statements with guard band w = U; simple acceptance).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Literal

from witnessmark.language import Words, declared, marked, say
from witnessmark.quantities.propagation import INFINITE, coverage_factor
from witnessmark.quantities.quantity import Quantity, decimal_text
from witnessmark.quantities.units import Unit

__all__ = [
    "HOW",
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
    "probability_words",
]

LimitKind = Literal["at_least", "more_than", "at_most", "less_than"]
HOW: Mapping[str, str] = Words(
    {
        "at_least": declared("at least"),
        "at_most": declared("at most"),
        "less_than": declared("less than"),
        "more_than": declared("more than"),
    }
)
"""How a limit is set, in words."""

NOISE = Fraction(1, 10**9)
"""A computed value nearer to a limit than this part of it is not told apart from the limit."""


class Statement(StrEnum):
    """What is said about one result. It has no truth value: compare it by name.

    `UNDECIDED` means that no statement can be made: no uncertainty, not finite, on the limit, or a bound that does
    not reach. It is never a pass.
    """

    PASS = declared("pass")
    CONDITIONAL_PASS = declared("conditional pass")
    CONDITIONAL_FAIL = declared("conditional fail")
    FAIL = declared("fail")
    UNDECIDED = declared("undecided")

    def __bool__(self) -> bool:
        raise TypeError("a statement of conformity has no truth value: compare it with Statement.PASS")

    @property
    def words(self) -> str:
        """As a person reads it; the value is the token."""
        return say(self.value)


@dataclass(frozen=True, slots=True)
class Limit:
    """A tolerance limit: the measurand is to be at least, more than, at most or less than `value` in `unit`."""

    kind: LimitKind
    value: Decimal
    unit: Unit

    def __post_init__(self) -> None:
        if self.kind not in HOW:
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
        return f"{HOW[self.kind]} {marked(decimal_text(self.value))}{unit}"


LEAST_PROBABILITY = Decimal("0.95")
"""The smallest conformance probability that a guard band may be made for; less is what `simple` with its cap is for."""


@dataclass(frozen=True, slots=True)
class DecisionRule:
    """`guarded`: guard band w = U on both sides; with `probability` (a part of 1), w is what gives a result on the
    acceptance limit that conformance probability. `simple`: the value alone decides, but only where U is at most `cap`
    times the limit (`cap` is a ratio, 0.1 for 10 %)."""

    kind: Literal["guarded", "simple"] = "guarded"
    cap: Decimal | None = None
    probability: Decimal | None = None

    def __post_init__(self) -> None:
        if self.kind not in ("guarded", "simple"):
            raise ValueError(f"no decision rule is called {self.kind!r}")
        if self.kind == "simple" and (self.cap is None or not (self.cap.is_finite() and self.cap > 0)):
            raise ValueError("the simple rule needs a cap on U, relative to the limit")
        if self.probability is not None:
            if self.kind != "guarded":
                raise ValueError("a conformance probability belongs to the guarded rule")
            if not (self.probability.is_finite() and LEAST_PROBABILITY <= self.probability < 1):
                raise ValueError("the conformance probability of a decision rule lies from 95 % to below 100 %")

    @classmethod
    def guarded(cls, probability: Decimal | None = None) -> DecisionRule:
        """Guard band w = U (ILAC-G8:09/2019, 4.2.2), or for a conformance probability (JCGM 106:2012, 8.3.2)."""
        return cls("guarded", None, probability)

    @classmethod
    def simple(cls, cap: Decimal) -> DecisionRule:
        """Simple acceptance with U no more than `cap` times the limit (ILAC-G8:09/2019, 4.2.1)."""
        return cls("simple", cap)

    def __str__(self) -> str:
        if self.probability is not None:
            percent = marked(decimal_text((self.probability * 100).normalize()))
            return say("guard band w for a conformance probability of {percent} %", percent=percent)
        if self.kind == "guarded":
            return say("guard band w = U")
        percent = marked(decimal_text((self.cap or Decimal(0)) * 100))
        return say("simple acceptance, U at most {percent} % of the limit", percent=percent)


@dataclass(frozen=True, slots=True)
class Decision:
    """The statement with its grounds; numbers in the coherent SI unit.

    `acceptance_limit` is where a pass begins (None if it cannot be said), `rejection_limit` where a fail begins;
    `probability` is the conformance probability, None when u is not known: by the normal distribution, by Student's t
    where `dof` is finite; `reason` is words.
    """

    statement: Statement
    limit: Limit
    rule: DecisionRule
    reason: str
    acceptance_limit: float | None = None
    rejection_limit: float | None = None
    probability: float | None = None
    dof: float = INFINITE

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


_BY_INTERVAL: Mapping[Statement, str] = Words(
    {
        Statement.PASS: declared("the whole interval lies on the side that passes"),
        Statement.FAIL: declared("the whole interval lies on the side that fails"),
        Statement.CONDITIONAL_PASS: declared("the limit lies inside the interval, the value itself passes"),
        Statement.CONDITIONAL_FAIL: declared("the limit lies inside the interval, the value itself does not pass"),
    }
)
_BY_GUARD_BAND: Mapping[Statement, str] = Words(
    {
        Statement.PASS: declared("the result lies, with the guard band of the rule, on the side that passes"),
        Statement.FAIL: declared("the result lies, with the guard band of the rule, on the side that fails"),
        Statement.CONDITIONAL_PASS: declared("the limit lies within the guard band, the value itself passes"),
        Statement.CONDITIONAL_FAIL: declared("the limit lies within the guard band, the value itself does not pass"),
    }
)


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
    dof: float = INFINITE,
) -> Decision:
    """The statement for a result `value` with expanded uncertainty `U`, both in the coherent SI unit of the limit.

    `bound` is "", ">" or "<". A `Decimal` value is taken as exact digits: a count or bare number (limit without unit)
    needs no U and compares exactly. A `float` within 1e-9 of the limit is not told apart from it. `u`, with its degrees
    of freedom `dof`, gives the conformance probability, and the guard band where the rule states one: a pass then has
    that probability or more, and a fail begins no later than it would with w = U. A lower bound passes at-least and
    more-than criteria and nothing else, an upper bound the mirror; a bound fails only a criterion that it lies beyond
    altogether.
    Never raises for numbers: what cannot be decided is `Statement.UNDECIDED`.
    Source: JCGM 106:2012, 8.3; ILAC-G8:09/2019, 4.2.
    """

    def undecided(reason: str) -> Decision:
        return Decision(Statement.UNDECIDED, limit, rule, reason, dof=dof)

    y = _exactly(value)
    if y is None:
        return undecided(say("the result is not a finite number"))
    spread = None if U is None else _exactly(U)
    if U is not None and (spread is None or spread < 0):
        return undecided(say("the uncertainty is not a number from zero up"))
    if bound not in ("", ">", "<"):
        return undecided(say("{bound} is no bound", bound=repr(bound)))
    limit_si = limit.si
    noise = Fraction(0) if isinstance(value, Decimal) else NOISE * max(abs(limit_si), spread or Fraction(0))
    # A lower limit is judged as it stands, an upper one in the mirror: from here on, larger is better.
    sign = 1 if limit.lower else -1
    y, edge = sign * y, sign * limit_si
    band = _band(rule, spread or Fraction(0), u, dof)
    if bound:
        if band is None:
            return undecided(say("the rule asks for a standard uncertainty, which is not known"))
        return _decide_bound(y, band, (bound == ">") == limit.lower, edge, noise, limit, rule)
    if spread is None:
        if isinstance(value, Decimal) and limit.unit.symbol == "1":
            met = y > edge if limit.strict else y >= edge
            return Decision(
                Statement.PASS if met else Statement.FAIL,
                limit,
                rule,
                say("an exact number, compared digit by digit"),
                float(limit_si),
                float(limit_si),
            )
        return undecided(say("the uncertainty is not stated"))
    probability = None if u is None else _probability(sign * float(y), u, limit, dof)
    if rule.kind == "simple":
        # Of the limit as written: 5 % of 45 °C is 2.25 K, not 5 % of 318 K.
        cap = Fraction(rule.cap or Decimal(0)) * abs(Fraction(limit.value)) * limit.unit.scale
        if spread > cap:
            return Decision(
                Statement.UNDECIDED,
                limit,
                rule,
                say("the uncertainty is larger than the simple rule allows"),
                probability=probability,
                dof=dof,
            )
        if abs(y - edge) <= noise and noise:
            statement, reason = Statement.UNDECIDED, say("the result lies on the limit")
        elif y > edge or (y == edge and not limit.strict):
            statement, reason = Statement.PASS, say("the result lies on the side that passes")
        else:
            statement, reason = Statement.FAIL, say("the result lies on the side that fails")
        return Decision(statement, limit, rule, reason, float(limit_si), float(limit_si), probability, dof)
    if band is None:
        return undecided(say("the rule asks for a standard uncertainty, which is not known"))
    if spread == 0 and noise and abs(y - edge) <= noise:
        return undecided(say("the result lies on the limit"))
    to_pass, to_fail = band
    reasons = _BY_INTERVAL if rule.probability is None else _BY_GUARD_BAND
    low, high = y - to_pass, y + to_fail
    if low > edge + noise or (low == edge and not noise and not limit.strict):
        statement, reason = Statement.PASS, reasons[Statement.PASS]
    elif high < edge - noise or (high == edge and not noise):
        statement, reason = Statement.FAIL, reasons[Statement.FAIL]
    elif y > edge + noise or (y == edge and not noise and not limit.strict):
        statement, reason = Statement.CONDITIONAL_PASS, reasons[Statement.CONDITIONAL_PASS]
    else:
        statement, reason = Statement.CONDITIONAL_FAIL, reasons[Statement.CONDITIONAL_FAIL]
    begin, end = float(sign * (edge + to_pass)), float(sign * (edge - to_fail))
    return Decision(statement, limit, rule, reason, begin, end, probability, dof)


def _band(rule: DecisionRule, spread: Fraction, u: float | None, dof: float) -> tuple[Fraction, Fraction] | None:
    """The guard bands before a pass and before a fail, in SI; None where the rule asks for u and there is none.

    A rule that makes passing harder never makes failing harder: a fail begins where it does with w = U, or sooner.
    Source: JCGM 106:2012, 8.3.2 and 8.3.3.
    """
    if rule.probability is None or spread == 0:
        return spread, spread
    try:
        w = None if u is None else _exactly(guard_band(u, float(rule.probability), dof))
    except ValueError:
        return None
    return None if w is None else (w, min(w, spread))


def _decide_bound(
    y: Fraction,
    band: tuple[Fraction, Fraction],
    favourable: bool,
    edge: Fraction,
    noise: Fraction,
    limit: Limit,
    rule: DecisionRule,
) -> Decision:
    """`favourable`: the true value lies on the better side of y, and never on y itself."""
    to_pass, to_fail = band
    if favourable and y - to_pass >= edge + noise:
        return Decision(Statement.PASS, limit, rule, say("the bound lies on the side that passes"))
    if not favourable and y + to_fail <= edge - noise:
        return Decision(Statement.FAIL, limit, rule, say("the bound lies wholly on the side that fails"))
    return Decision(Statement.UNDECIDED, limit, rule, say("the bound does not reach the limit"))


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


def _probability(value: float, u: float, limit: Limit, dof: float) -> float | None:
    if not (math.isfinite(u) and u > 0 and dof >= 1):
        return None
    edge = float(limit.si)
    lower, upper = (edge, None) if limit.lower else (None, edge)
    return conformance_probability(value, u, lower=lower, upper=upper, dof=dof)


def begins_with(limit: Limit, u: float, probability: float, dof: float = INFINITE) -> float:
    """Where results begin that conform with one-sided `probability`, in the coherent SI unit, as `u` is.

    For planning: the statement itself is by the decision rule. `dof` are the degrees of freedom of `u`. Raises
    ValueError as `guard_band` does, and for `u` that is not a number from zero up. Source: JCGM 106:2012, 8.3.2.
    """
    if not (math.isfinite(u) and u >= 0):
        raise ValueError("a standard uncertainty is a number from zero up")
    return acceptance_limit(limit, guard_band(u, probability, dof))


def conformance_probability(
    value: float, u: float, *, lower: float | None = None, upper: float | None = None, dof: float = INFINITE
) -> float:
    """The probability that the measurand lies within the tolerance; all in one unit.

    `value` with standard uncertainty `u`; `lower` and `upper` are the tolerance limits, one of them may be missing. By
    the normal distribution; by Student's t, scaled by `u`, where the degrees of freedom `dof` are finite (cut down to a
    whole number, as for a coverage factor).
    Raises ValueError without a limit, for `u` not above zero, and for less than one degree of freedom.
    Source: JCGM 106:2012, 7.2 to 7.4 (equations 6 to 10); JCGM 100:2008, G.3 and G.4.1.
    """
    if lower is None and upper is None:
        raise ValueError("a conformance probability needs a limit")
    if not (math.isfinite(value) and math.isfinite(u) and u > 0):
        raise ValueError("value and standard uncertainty have to be finite, the latter above zero")
    if not dof >= 1:
        raise ValueError("a conformance probability needs at least one degree of freedom")
    below = 0.0 if lower is None else _tail((value - lower) / u, dof)
    above = 0.0 if upper is None else _tail((upper - value) / u, dof)
    return max(0.0, 1.0 - below - above)


def probability_words(decision: Decision) -> str:
    """`conformance probability 97.8 % (normal distribution), risk of a wrong statement 2.2 %`, or "" if not known."""
    if decision.probability is None:
        return ""
    whole = math.isinf(decision.dof) or decision.dof > 1e9
    by = say("normal distribution")
    if not whole:
        by = say("t distribution, {n} degrees of freedom", n=math.floor(decision.dof))
    probability, risk = _percent(decision.probability), decision.specific_risk
    if risk is None:
        return say("conformance probability {probability} ({by})", probability=probability, by=by)
    return say(
        "conformance probability {probability} ({by}), risk of a wrong statement {risk}",
        probability=probability,
        by=by,
        risk=_percent(risk),
    )


def _percent(part: float) -> str:
    """A probability that is never rounded to certainty."""
    if part > 0.999:
        return say("above {percent} %", percent=marked("99.9"))
    return say("below {percent} %", percent=marked("0.1")) if part < 0.001 else marked(f"{100 * part:.1f} %")


def _tail(distance: float, dof: float) -> float:
    """The probability that lies further off than `distance` standard uncertainties, on one side."""
    if math.isinf(dof) or dof > 1e9:
        # By the complementary error function: exact far out, where 1 - p would lose its digits.
        return 0.5 * math.erfc(distance / math.sqrt(2))
    from scipy.special import stdtr

    return float(stdtr(math.floor(dof * (1 + 1e-12) + 1e-9), -distance))


def guard_band(u: float, probability: float, dof: float = INFINITE) -> float:
    """The guard band w that gives a one-sided conformance probability at the acceptance limit; unit of `u`.

    `u` is the standard uncertainty with `dof` degrees of freedom, `probability` lies between 0 and 1.
    Source: JCGM 106:2012, 8.3.2; quantiles of the normal distribution, or of Student's t where `dof` is finite.
    """
    if not 0.5 <= probability < 1:
        raise ValueError("the conformance probability lies from 0.5 to below 1")
    if probability == 0.5:
        return 0.0
    return coverage_factor(dof, 2 * probability - 1) * u
