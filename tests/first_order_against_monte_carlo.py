"""Every method by first order and by draws, over its range, as a table.

    python -m tests.first_order_against_monte_carlo [--draws N] [METHOD …]

Each method's example, and the same with one reading at a time at half and at twice its value; of these the one that is
most bent (by a step of two standard uncertainties of each input) is drawn beside the example.
Columns: value and U by first order, U and its difference in percent of U by draws, and two verdicts: within 5 % of U,
and within two digits of u (JCGM 101:2008, clause 8), which only more draws can tell apart from scatter. "narrower" lies
within the first order since the inputs are evenly spread or the like: k = 2 is then more than it takes.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from tests.unit.methods import helpers, wider_examples
from witnessmark.methods.base import Method, Reading, Refused, Result
from witnessmark.methods.registry import METHODS, method
from witnessmark.methods.simulating import Compared, simulate
from witnessmark.methods.written import facts_as_written, readings_as_written
from witnessmark.quantities.format import show
from witnessmark.quantities.propagation import Shifts, shifted

__all__ = ["Case", "cases_of", "main", "most_bent", "rows_of"]

EXAMPLES: Mapping[str, Mapping[str, Any]] = {**helpers.EXAMPLES, **wider_examples.EXAMPLES}


@dataclass(frozen=True)
class Case:
    """One set of readings of a method; `what` says how it differs from the example."""

    method: Method
    what: str
    readings: Mapping[str, tuple[Reading, ...]]
    facts: Mapping[str, Any]
    figures: Mapping[str, object] | None

    def evaluate(self) -> Result | Refused:
        return self.method.evaluate(self.readings, self.facts, self.figures)


def cases_of(id: str) -> Iterator[Case]:
    """The example of a method, then each reading at half and at twice its value where the method takes it."""
    found, example = method(id), EXAMPLES[id]
    assert found is not None
    texts = {n: v for n, v in example.get("readings", {}).items() if v is not None}
    made, faults = readings_as_written(found, texts)
    facts, more = facts_as_written(found, example.get("facts", {}))
    assert not faults and not more, (id, faults, more)
    figures = found.reduce(example["columns"], example.get("options", {})) if "columns" in example else None
    case = Case(found, "example", made, facts, figures)
    yield case
    for spec in found.inputs:
        series = made.get(spec.name, ())
        if spec.choices or not series or any(r.quantity is None for r in series):
            continue
        for factor in (Decimal("0.5"), Decimal(2)):
            scaled = tuple(_scaled(reading, factor) for reading in series)
            other = replace(case, what=f"{spec.name} × {factor}", readings={**made, spec.name: scaled})
            result = other.evaluate()
            if isinstance(result, Result) and result.believable:
                yield other


def _scaled(reading: Reading, factor: Decimal) -> Reading:
    """The reading at so many times its value, with the uncertainty that it had."""
    assert reading.quantity is not None
    made = replace(reading.quantity, value=reading.quantity.value * factor)
    return replace(reading, quantity=made, input=reading.input and replace(reading.input, value=made.si))


def bent(case: Case) -> float:
    """The largest part of U by which a step of two standard uncertainties misses the straight line."""
    with shifted(Shifts()) as seen:
        plain = case.evaluate()
    assert isinstance(plain, Result)
    worst = 0.0
    for name, one in seen.seen.items():
        if not one.u:
            continue
        ends = []
        for step in (-2.0, 2.0):
            with shifted(Shifts({name: step})):
                ends.append(case.evaluate())
        low, high = ends
        if not isinstance(low, Result) or not isinstance(high, Result):
            continue
        for at, below, above in zip(plain.outputs, low.outputs, high.outputs, strict=False):
            if at.U and not at.bound and at.measurand == below.measurand == above.measurand:
                worst = max(worst, abs(below.value + above.value - 2 * at.value) / 2 / at.U)
    return worst


def most_bent(id: str) -> tuple[Case, ...]:
    """The example of a method, and the case over its range that is most bent, where that is another."""
    example, *others = cases_of(id)
    if not others:
        return (example,)
    worst = max(others, key=bent)
    return (example, worst) if bent(worst) > bent(example) else (example,)


def rows_of(case: Case, draws: int) -> Iterator[tuple[str, ...]]:
    """Method, case, result, value and U, U by draws, difference, verdicts: as words."""
    compared = simulate(case.method, case.readings, case.facts, case.figures, draws=draws)
    assert not isinstance(compared, Refused)
    for one in compared:
        yield (case.method.id, case.what, one.output.measurand, *_words(one))


def _words(one: Compared) -> tuple[str, ...]:
    output = one.output
    value = str(show(output.value, output.U, output.unit, bound=output.bound))
    if one.low is None or one.high is None or one.difference is None:
        return value, "", "", one.why, ""
    half = (one.high - one.low) / 2 / float(output.unit.scale)
    verdict = "narrower" if one.narrower else "within 5 %" if one.valid else "DIFFERS"
    return value, f"{half:.3g}", f"{100 * one.difference:.1f}", verdict, "yes" if one.tolerance else "no"


def main(given: list[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.first_order_against_monte_carlo")
    parser.add_argument("methods", nargs="*", default=sorted(METHODS))
    parser.add_argument("--draws", type=int, default=20_000)
    options = parser.parse_args(given)
    head = ("method", "case", "result", "value ± U, first order", "U, draws", "% of U", "verdict", "two digits")
    widths = (30, 24, 28, 34, 10, 7, 28, 10)
    _line(head, widths)
    counted = {"within": 0, "narrower": 0, "differs": 0, "not compared": 0}
    for id in options.methods:
        for case in most_bent(id):
            for row in rows_of(case, options.draws):
                _line(row, widths)
                kind = {"within 5 %": "within", "narrower": "narrower", "DIFFERS": "differs"}.get(
                    row[6], "not compared"
                )
                counted[kind] += 1
    summary = (
        f"{counted['within']} within 5 % of U, {counted['narrower']} narrower by the shape of their inputs, "
        f"{counted['differs']} differ, {counted['not compared']} without U"
    )
    _line((summary,), (0,))


def _line(cells: tuple[str, ...], widths: tuple[int, ...]) -> None:
    print("  ".join(f"{cell:{width}}" for cell, width in zip(cells, widths, strict=False)).rstrip(), flush=True)  # noqa: T201 # what this command is for


if __name__ == "__main__":
    main()
