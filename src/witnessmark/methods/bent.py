"""Terms of second order for a method that declares them: how its slopes change when each input is moved a little.

Source: JCGM 100:2008, 5.1.2, note.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

from witnessmark.language import say
from witnessmark.methods.base import BudgetRow, Output, Refused, Result, Step
from witnessmark.methods.checking import LEAST_COVERAGE_FACTOR, latex, spoken
from witnessmark.quantities.propagation import (
    INFINITE,
    NoResult,
    Shifts,
    coverage_factor,
    effective_degrees_of_freedom,
    shifted,
)
from witnessmark.quantities.second_order import second_order_variance

__all__ = ["NAME", "with_second_order"]

NAME = "second order"
"""Name of the line in the budget."""

_COUNTS = 1e-3
"""A part of the variance below which the terms are left out: u would grow by half a thousandth, which nobody reads."""


def with_second_order(done: Result, again: Callable[[], Result | Refused]) -> Result:
    """The result with the terms of second order in u, U, k and budget of each output that has an uncertainty.

    `again` works the same readings anew, while inputs are moved. Only what enlarges u is added. Raises `NoResult` where
    the method has no result a small step beside these readings: then its slopes cannot be trusted either.
    """
    seen: dict[tuple[tuple[str, float], ...], Result] = {(): done}

    def at(moves: Mapping[str, float]) -> Result:
        key = tuple(moves.items())
        if key not in seen:
            with shifted(Shifts(moves)):
                moved = again()
            same = isinstance(moved, Result) and [o.measurand for o in moved.outputs] == [
                o.measurand for o in done.outputs
            ]
            if not isinstance(moved, Result) or not same:
                raise NoResult(say("a small step beside these readings there is no such result"))
            seen[key] = moved
        return seen[key]

    outputs: list[Output] = []
    steps: list[Step] = []
    for number, output in enumerate(done.outputs):
        if output.u is None or output.bound or output.u <= 0:
            outputs.append(output)
            continue

        def slopes(moves: Mapping[str, float], number: int = number) -> Mapping[str, float]:
            return {row.name: row.sensitivity * row.u for row in at(moves).outputs[number].budget}

        extra = second_order_variance(slopes, [row.name for row in output.budget if row.u > 0])
        if extra <= _COUNTS * output.u * output.u:
            outputs.append(output)
            continue
        outputs.append(_enlarged(output, extra))
        steps.append(_step(output, math.sqrt(extra), outputs[-1]))
    return replace(done, outputs=tuple(outputs), steps=(*done.steps, *steps))


def _enlarged(output: Output, extra: float) -> Output:
    assert output.u is not None  # only such an output is enlarged
    u = math.hypot(output.u, math.sqrt(extra))
    own = math.sqrt(extra)
    dof = effective_degrees_of_freedom([*((row.contribution, row.dof) for row in output.budget), (own, INFINITE)])
    k = max(coverage_factor(dof), LEAST_COVERAGE_FACTOR)
    part = (output.u / u) ** 2
    rows = [replace(row, share=row.share * part) for row in output.budget]
    basis = say("terms of second order, JCGM 100:2008, 5.1.2, note")
    rows.append(BudgetRow(NAME, 0.0, own, INFINITE, "", basis, 1.0, own, 1.0 - part))
    rows.sort(key=lambda row: (-row.share, row.name))
    return replace(output, u=u, dof=dof, k=k, U=k * u, budget=tuple(rows))


def _step(output: Output, own: float, now: Output) -> Step:
    assert output.u is not None and now.u is not None
    unit = output.unit.difference
    return Step(
        say(
            "The model is bent within these uncertainties: terms of second order in u of {measurand}.",
            measurand=output.measurand,
        ),
        rf"u = \sqrt{{ \left( {latex(output.u, unit)} \right)^2 + \left( {latex(own, unit)} \right)^2 }} "
        rf"= {latex(now.u, unit)}",
        say(
            "u is the square root of {first} squared plus {own} squared, which is {now}",
            first=spoken(output.u, unit),
            own=spoken(own, unit),
            now=spoken(now.u, unit),
        ),
    )
