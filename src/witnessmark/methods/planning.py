"""Before anyone goes to the car: which reading would just pass, and can this meter decide this limit at all.

The method itself is asked: one of the readings that are expected is moved, the others stay, and the meter's accuracy
counts anew at every step. Nothing here decides anything; the decision rule does, on what was read.
Source: JCGM 106:2012, 8.3.2 (acceptance limit); ILAC-G8:09/2019, 4.2 (guard band).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from witnessmark.language import say
from witnessmark.methods.base import InputSpec, Method, Output, Reading, Result
from witnessmark.methods.checking import Quantities
from witnessmark.quantities.decision import Decision, DecisionRule, Limit, decide
from witnessmark.quantities.propagation import Input
from witnessmark.quantities.quantity import Quantity

__all__ = ["Meter", "Plan", "Point", "plan"]

Meter = Callable[[InputSpec, str, Quantity], Input | None]
"""The uncertainty of one reading by spec, own name and quantity; None where the meter reads no such thing."""

_DECADES = 3
_SPAN = 60
_HALVINGS = 40


@dataclass(frozen=True, slots=True)
class Point:
    """One possible outcome: the reading `name` at `reading`, the result that the method makes of it, the decision.

    `several`: the reading was repeated, and all of it was moved together; `reading` is the first.
    """

    name: str
    reading: Quantity
    result: Result
    output: Output
    decision: Decision
    several: bool = False


@dataclass(frozen=True, slots=True)
class Plan:
    """What can be said beforehand for one limit.

    `passing` is the outcome nearest to the limit that still passes, None if none does; `failing` the nearest that still
    fails; `at_limit` an outcome on the limit itself. `cannot` says why the meter cannot show a pass, "" if it can.
    """

    limit: Limit
    rule: DecisionRule
    passing: Point | None
    failing: Point | None
    at_limit: Point | None
    cannot: str = ""

    @property
    def decides(self) -> bool:
        """Whether both a pass and a fail can be shown with this meter."""
        return self.passing is not None and self.failing is not None


Try = Callable[[float], Point | None]


def plan(
    method: Method,
    readings: Mapping[str, tuple[Reading, ...]],
    facts: Quantities,
    measurand: str,
    limit: Limit,
    rule: DecisionRule,
    meter: Meter,
) -> Plan:
    """What has to be read, with readings like these, for a pass and for a fail of `limit` on `measurand`.

    Readings that were written with their own "± U" keep at least that. Of the readings the last that can reach the
    limit is moved, between a thousandth and a thousand times its value.
    """
    best = Plan(limit, rule, None, None, None, say("no reading of this method can be moved to the limit"))
    for moved in reversed([s for s in method.inputs if s.name in readings and not s.choices]):
        if any(r.quantity is None or r.quantity.bound or not r.quantity.value for r in readings[moved.name]):
            continue
        found = _moving(method, readings, facts, measurand, limit, rule, meter, moved)
        if found.passing is not None:
            return found
        if best.at_limit is None and (found.at_limit is not None or found.cannot):
            best = found
    return best


def _moving(
    method: Method,
    readings: Mapping[str, tuple[Reading, ...]],
    facts: Quantities,
    measurand: str,
    limit: Limit,
    rule: DecisionRule,
    meter: Meter,
    moved: InputSpec,
) -> Plan:
    unknown: set[str] = set()

    def at(factor: float, known: bool = True) -> Point | None:
        tried = {
            name: tuple(
                _moved(method, name, n if len(several) > 1 else 0, r, factor if name == moved.name else 1.0, meter)
                for n, r in enumerate(several, 1)
            )
            for name, several in readings.items()
        }
        done = method.evaluate(tried, facts, None)
        output = done.output(measurand) if isinstance(done, Result) else None
        if output is None or not isinstance(done, Result) or output.bound:
            return None
        if known and output.U is None:
            unknown.update(n for n, several in tried.items() if _unknown(method, n, several))
            return None
        said = decide(output.value, output.U, output.bound, limit, rule, u=output.u, dof=output.dof)
        quantity = tried[moved.name][0].quantity
        assert quantity is not None  # a reading that is moved is a number
        return Point(moved.name, quantity, done, output, said, len(tried[moved.name]) > 1)

    edge = float(limit.si)
    passing = _crossing(at, lambda p: p.decision.passes)
    failing = _crossing(at, lambda p: p.decision.fails)
    on = _crossing(lambda f: at(f, known=False), lambda p: p.output.value >= edge)
    cannot = "" if passing is not None else _why(limit, rule, on, unknown)
    return Plan(limit, rule, passing, failing, on, cannot)


def _why(limit: Limit, rule: DecisionRule, on: Point | None, unknown: set[str]) -> str:
    """Why no reading passes."""
    if on is None:
        return say("with readings like these the result does not come to the limit")
    if on.output.U is None:
        names = ", ".join(sorted(unknown)) or on.name
        return say(
            "at the limit the uncertainty of {names} is not known: it lies outside what the meter was calibrated for",
            names=names,
        )
    if rule.kind == "simple":
        return say("the uncertainty at the limit is larger than the simple rule allows")
    return say("the uncertainty at the limit is so large that no reading passes")


def _unknown(method: Method, name: str, several: tuple[Reading, ...]) -> bool:
    spec = method.input(name)
    return spec is not None and bool(spec.role) and any(r.input is None and r.quantity is not None for r in several)


def _moved(method: Method, name: str, n: int, reading: Reading, factor: float, meter: Meter) -> Reading:
    spec = method.input(name)
    if reading.quantity is None or spec is None:
        return reading
    value = Decimal(repr(float(reading.quantity.value) * factor))
    quantity = replace(reading.quantity, value=value, text="")
    return Reading(quantity, meter(spec, name if n == 0 else f"{name}.{n}", quantity))


def _crossing(at: Try, holds: Callable[[Point], bool]) -> Point | None:
    """The outcome where `holds` begins, from a thousandth to a thousand times the reading; None if it never changes."""
    steps = [10.0 ** (2.0 * _DECADES * n / _SPAN - _DECADES) for n in range(_SPAN + 1)]
    seen = [at(step) for step in steps]
    for n in range(_SPAN):
        here, there = seen[n], seen[n + 1]
        if here is None or there is None or holds(here) == holds(there):
            continue
        low, high = steps[n], steps[n + 1]
        best = here if holds(here) else there
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            tried = at(middle)
            if tried is None:
                break
            if holds(tried):
                best = tried
            if holds(tried) == holds(here):
                low = middle
            else:
                high = middle
        return best
    return None
