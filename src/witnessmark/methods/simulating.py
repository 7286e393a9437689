"""The check on the first order of a method: its inputs drawn, its whole calculation repeated, its intervals compared.

A check, never the decider: where it differs by more than `LIMIT` of U, the result is undecided; but not where the draws
lie within the first order, and the straight model with the same draws (inputs that are evenly spread, say) accounts for
it: then k = 2 is more than it takes, which is the safe side. Every input with an
uncertainty is drawn by its distribution and independently, by its name: what is used twice is drawn once. A choice that
the calculation makes among its readings (the smaller of two) is made anew at every draw.
Source: JCGM 101:2008, 5.9 to 5.11 (by draws) and 8 (validation of the first order).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from witnessmark.language import say
from witnessmark.methods.base import Method, Output, Reading, Refused, Result
from witnessmark.methods.checking import Quantities
from witnessmark.quantities.decision import Decision, Statement
from witnessmark.quantities.evaluation import DIVISORS
from witnessmark.quantities.propagation import Input, Shifts, coverage_factor, shifted

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["DRAWS", "LIMIT", "Compared", "as_checked", "simulate"]

DRAWS = 20_000
"""Enough to see a difference of 5 % of U: the ends of the interval scatter by about 1 % of U."""

LIMIT = 0.05
"""The part of U by which the ends of the two intervals may differ."""


@dataclass(frozen=True, slots=True)
class Compared:
    """One output by first order and by draws, in the coherent SI unit.

    `difference` is the larger distance of the ends of the two 95 % intervals as a part of U; None where nothing can be
    compared, and `why` says so. `valid`: whether it is within `LIMIT`. `narrower`: whether the draws of one that
    differs lie within the first order, by the shapes of the inputs: U is larger than it takes. `tolerance`:
    whether the ends agree to two significant digits of u, as JCGM 101:2008, 8.1 asks of a result that is stated so; it
    needs more draws to be told apart from their scatter.
    """

    output: Output
    value: float | None
    u: float | None
    low: float | None
    high: float | None
    difference: float | None
    valid: bool
    tolerance: bool
    why: str = ""
    narrower: bool = False


def simulate(
    method: Method,
    readings: Mapping[str, tuple[Reading, ...]],
    facts: Quantities,
    figures: Mapping[str, object] | None = None,
    *,
    draws: int = DRAWS,
    seed: int = 1,
) -> tuple[Compared, ...] | Refused:
    """Every output of the method compared, in their order; the refusal when the method refuses the readings as given.

    `draws`: from 1000 up; the same `seed` gives the same comparison everywhere. Raises ValueError for fewer.
    """
    import numpy as np

    if draws < 1000:
        raise ValueError("at least 1000 draws")
    with shifted(Shifts()) as plain:
        first = method.evaluate(readings, facts, figures)
    if isinstance(first, Refused):
        return first
    inputs = [plain.seen[name] for name in sorted(plain.seen) if plain.seen[name].u > 0]
    sequences = np.random.SeedSequence(seed).spawn(len(inputs))
    moved = [_draw(one, np.random.PCG64(own), draws) for one, own in zip(inputs, sequences, strict=True)]
    found = np.full((len(first.outputs), draws), np.nan)
    for number in range(draws):
        by = {one.name: float(values[number]) for one, values in zip(inputs, moved, strict=True)}
        with shifted(Shifts(by)):
            again = method.evaluate(readings, facts, figures)
        if isinstance(again, Result) and _names(again) == _names(first):
            found[:, number] = [output.value for output in again.outputs]
    still = _unmoved(lambda by: _evaluated(method, readings, facts, figures, by), first, plain.seen)
    return tuple(
        Compared(
            output,
            None,
            None,
            None,
            None,
            None,
            True,
            True,
            say("{name} is a part of U that no draw can move", name=still[row]),
        )
        if row in still
        else _compare(output, found[row], _straight(output, {i.name: z for i, z in zip(inputs, moved, strict=True)}))
        for row, output in enumerate(first.outputs)
    )


def _evaluated(
    method: Method,
    readings: Mapping[str, tuple[Reading, ...]],
    facts: Quantities,
    figures: Mapping[str, object] | None,
    by: Mapping[str, float],
) -> Result | None:
    with shifted(Shifts(by)):
        again = method.evaluate(readings, facts, figures)
    return again if isinstance(again, Result) else None


def _unmoved(
    again: Callable[[Mapping[str, float]], Result | None], first: Result, seen: Mapping[str, Input]
) -> dict[int, str]:
    """Outputs, by number, of which a part of U is added by its sensitivity alone: a check of a logger, for instance.

    The calculation does not see such an input, so that drawing it would only seem to show a smaller U.
    """
    found: dict[int, str] = {}
    moved: dict[str, Result | None] = {}
    for number, output in enumerate(first.outputs):
        for part in output.budget:
            one = seen.get(part.name)
            if one is None or part.share < 0.01 or one.u <= 0:
                continue
            if part.name not in moved:
                moved[part.name] = again({part.name: 1.0})
            result = moved[part.name]
            if result is None or _names(result) != _names(first):
                continue
            if abs(result.outputs[number].value - output.value) < 0.01 * abs(part.contribution):
                found[number] = part.name
                break
    return found


def _names(result: Result) -> tuple[tuple[str, str], ...]:
    return tuple((output.measurand, output.bound) for output in result.outputs)


def _draw(one: Input, bits: np.random.BitGenerator, n: int) -> NDArray[np.float64]:
    """Deviations of an input in standard uncertainties. With degrees of freedom it is t whatever it was combined of."""
    from witnessmark.quantities.draws import standard_draws

    if math.isfinite(one.dof):
        return standard_draws(bits, n, "t", dof=one.dof)
    shape = one.shape if one.shape in DIVISORS else "normal"
    return DIVISORS[shape] * standard_draws(bits, n, shape)


def _straight(output: Output, moved: Mapping[str, NDArray[np.float64]]) -> NDArray[np.float64] | None:
    """The same draws through the straight model of the first order; None where the budget is not all of it.

    That is so for inputs that are correlated otherwise than by being used twice.
    """
    if output.u is None or not output.budget:
        return None
    drawn = [(row, moved[row.name]) for row in output.budget if row.name in moved]
    variance = math.fsum((row.sensitivity * row.u) ** 2 for row, _ in drawn)
    if not drawn or not math.isclose(variance, output.u * output.u, rel_tol=1e-6):
        return None
    straight: NDArray[np.float64] = sum(
        (row.sensitivity * row.u * z for row, z in drawn), start=0.0 * drawn[0][1] + output.value
    )
    return straight


def _compare(output: Output, values: NDArray[np.float64], straight: NDArray[np.float64] | None = None) -> Compared:
    import numpy as np

    from witnessmark.quantities.montecarlo import numerical_tolerance, summed_up, validated

    def nothing(why: str, *, valid: bool) -> Compared:
        return Compared(output, None, None, None, None, None, valid, valid, why)

    if output.bound:
        return nothing(say("a bound"), valid=True)
    if output.U is None or output.u is None:
        return nothing(say("no uncertainty"), valid=True)
    lost = int(np.count_nonzero(~np.isfinite(values)))
    if lost:
        return nothing(say("{lost} of {values} draws gave no such result", lost=lost, values=len(values)), valid=False)
    done = summed_up(values)
    if output.U == 0 or output.u == 0:
        same = done.low == done.high == output.value
        return Compared(output, done.value, done.u, done.low, done.high, 0.0 if same else math.inf, same, same)
    # The printed U has k = 2 at least; what is compared covers 95 % on both sides.
    U = coverage_factor(output.dof) * output.u
    difference = max(abs(output.value - U - done.low), abs(output.value + U - done.high)) / U
    close = validated(output.value, U, done, numerical_tolerance(output.u))
    narrower = False
    if difference > LIMIT and straight is not None:
        plain = summed_up(straight)
        outside = max(output.value - U - done.low, done.high - output.value - U) / U
        bent = max(abs(plain.low - done.low), abs(plain.high - done.high)) / U
        narrower = outside <= 0 and bent <= LIMIT
    valid = difference <= LIMIT
    return Compared(output, done.value, done.u, done.low, done.high, difference, valid, close, narrower=narrower)


def as_checked(decision: Decision, compared: Compared) -> Decision:
    """The decision, or undecided with the reason where the check failed. It never turns anything into a pass.

    What rests on the first order alone goes then: where a pass would begin, and the conformance probability.
    """
    if compared.valid:
        return decision
    reason = compared.why or (
        say(
            "first order and Monte Carlo differ by {found} % of U; {most} % is the most",
            found=f"{100 * (compared.difference or 0.0):.0f}",
            most=f"{100 * LIMIT:.0f}",
        )
    )
    return replace(decision, statement=Statement.UNDECIDED, reason=reason, acceptance_limit=None, probability=None)
