"""Checks of the input that all methods share, and what their results have in common."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction

from witnessmark.language import marked, say, say_n
from witnessmark.methods.base import Alarm, InputSpec, MeasurandSpec, Method, Output, Reading
from witnessmark.methods.series import fault_words
from witnessmark.problems import Problem
from witnessmark.quantities.format import MINUS, THIN, best_unit, printed
from witnessmark.quantities.format import digits as plain_digits
from witnessmark.quantities.propagation import Input, Uncertain, coverage_factor, propagate, uncertain
from witnessmark.quantities.quantity import Quantity
from witnessmark.quantities.units import ONE, Unit, dimension_name, parse_unit

__all__ = [
    "Quantities",
    "fact_number",
    "faults_of",
    "latex",
    "numbers",
    "output_of",
    "plausibility",
    "spoken",
    "the",
    "unstated",
]

Quantities = Mapping[str, Quantity | str]

LEAST_COVERAGE_FACTOR = 2.0
"""Results carry k for 95 %, and never less than 2 (JCGM 100:2008, 6.3.3): a reading with its certificate's k = 2 that
goes through unchanged keeps its U."""


def faults_of(
    method: Method,
    readings: Mapping[str, tuple[Reading, ...]],
    facts: Quantities,
    figures: Mapping[str, object] | None,
) -> tuple[Problem, ...]:
    """Every fault in what a method is given: missing, unknown, of the wrong kind, repeated, not finite."""
    faults: list[Problem] = []
    known = {spec.name for spec in method.inputs}
    for name in sorted(set(readings) - known):
        faults.append(
            Problem(
                "reading.unknown",
                say("{method} has no reading called {name}", method=method.id, name=name),
                say("take it out, or write one of: {names}", names=", ".join(sorted(known))),
            )
        )
    for spec in method.inputs:
        faults += _reading_faults(method, spec, readings.get(spec.name, ()))
    for fact in method.facts:
        given = facts.get(fact.name)
        if given is None:
            if fact.required:
                faults.append(
                    Problem(
                        "fact.missing",
                        say(
                            "{method} needs the fact {name} ({title})",
                            method=method.id,
                            name=fact.name,
                            title=say(fact.title),
                        ),
                        say("state it, as in {example}", example=f"{fact.name}: … {fact.unit}".rstrip()),
                    )
                )
        elif fact.unit:
            wanted = parse_unit(fact.unit)
            if isinstance(given, str):
                faults.append(
                    Problem(
                        "fact.kind",
                        say("the fact {name} is no quantity", name=fact.name),
                        say("write it in {unit}", unit=fact.unit),
                    )
                )
            elif not given.unit.compatible(wanted):
                faults.append(_dimension(say("the fact {name}", name=fact.name), given.unit, wanted))
            elif given.bound:
                faults.append(
                    Problem(
                        "fact.bound",
                        say("the fact {name} is only a bound", name=fact.name),
                        say("state the value itself"),
                    )
                )
        elif not isinstance(given, str):
            faults.append(
                Problem(
                    "fact.kind",
                    say("the fact {name} is a number, but a word is asked for", name=fact.name),
                    say(fact.title),
                )
            )
    if method.channels and figures is None:
        faults.append(
            Problem(
                "log.missing",
                say("{method} is computed from a log, and there is none", method=method.id),
                say("name the log in the record"),
            )
        )
    given_faults = (figures or {}).get("faults")
    if isinstance(given_faults, list | tuple):
        for row in given_faults:
            faults.append(Problem(str(row["code"]), *fault_words(row)))
    return tuple(faults)


def _dimension(what: str, found: Unit, wanted: Unit) -> Problem:
    return Problem(
        "quantity.dimension",
        say(
            "{what} is in {unit}, the unit of {dimension}; {wanted} is asked for",
            what=what,
            unit=found,
            dimension=dimension_name(found),
            wanted=dimension_name(wanted),
        ),
        say("write it in {unit}", unit=wanted),
    )


def _reading_faults(method: Method, spec: InputSpec, given: tuple[Reading, ...]) -> Iterable[Problem]:
    if not given:
        if spec.required:
            yield Problem(
                "reading.missing",
                say(
                    "{method} needs the reading {name} ({title})",
                    method=method.id,
                    name=spec.name,
                    title=say(spec.title),
                ),
                say("write {name} in {unit}", name=spec.name, unit=spec.unit)
                if spec.unit
                else say("write {name}: {choices}", name=spec.name, choices=_one_of(spec.choices)),
            )
        return
    if len(given) > 1 and not spec.repeats:
        yield Problem(
            "reading.repeated",
            say_n(
                "{name} has {n} reading, and {method} takes one",
                "{name} has {n} readings, and {method} takes one",
                len(given),
                name=spec.name,
                method=method.id,
            ),
            say("keep the one that was read, or make a record for each series"),
        )
    for reading in given:
        if spec.choices:
            if reading.word not in spec.choices:
                yield Problem(
                    "reading.choice",
                    say(
                        "{name} is {word}, which is none of its choices",
                        name=spec.name,
                        word=reading.word or (printed(reading.quantity) if reading.quantity else ""),
                    ),
                    say("write {choices}", choices=_one_of(spec.choices)),
                )
            continue
        quantity = reading.quantity
        if quantity is None:
            yield Problem(
                "reading.kind", say("{name} is no quantity", name=spec.name), say("write it in {unit}", unit=spec.unit)
            )
            continue
        wanted = parse_unit(spec.unit)
        if not quantity.unit.compatible(wanted):
            yield _dimension(spec.name, quantity.unit, wanted)
        elif quantity.bound and not spec.bound_allowed:
            yield Problem(
                "reading.bound",
                say(
                    "{name} is only a bound ({quantity}), and nothing can be computed from it",
                    name=spec.name,
                    quantity=printed(quantity),
                ),
                say("choose a range of the instrument that shows a number"),
            )
        elif reading.input is not None and not math.isclose(
            reading.input.value, quantity.si, rel_tol=1e-12, abs_tol=1e-300
        ):
            yield Problem(
                "reading.input",
                say("the input of {name} has not the value that was read", name=spec.name),
                say("make the input from this reading"),
            )


def _one_of(choices: Iterable[str]) -> str:
    """Choices as they are typed, with "or" between them."""
    return f" {say('or')} ".join(choices)


def the(readings: Mapping[str, tuple[Reading, ...]], name: str) -> Quantity | None:
    """The quantity of a reading that is given once, None if it is not given."""
    given = readings.get(name, ())
    return given[0].quantity if given else None


def numbers(
    readings: Mapping[str, tuple[Reading, ...]], names: Iterable[str]
) -> tuple[dict[str, Uncertain], list[str]]:
    """The readings as numbers for the engine, and the names of those whose uncertainty is not known (u = 0 there)."""
    found: dict[str, Uncertain] = {}
    unknown: list[str] = []
    for name in names:
        given = readings.get(name, ())
        if not given or given[0].quantity is None:
            continue
        quantity, stated = given[0].quantity, given[0].input
        if stated is None:
            own = quantity.u_si
            if own is None:
                unknown.append(name)
                stated = Input(name, quantity.si, 0.0, shape="", basis=say("not stated"))
            else:
                stated = Input(name, quantity.si, own, basis=say("as stated with the reading, k = {k}", k=quantity.k))
        found[name] = uncertain(Input(name, stated.value, stated.u, stated.dof, stated.shape, stated.basis))
    return found, unknown


def fact_number(facts: Quantities, name: str) -> Uncertain:
    """A fact as a number: exact, unless it was stated with an uncertainty."""
    quantity = facts[name]
    assert isinstance(quantity, Quantity)  # faults_of has seen to it
    u = quantity.u_si
    return uncertain(Input(name, quantity.si, u or 0.0, shape="normal" if u else "", basis=say("stated fact")))


def output_of(
    spec: MeasurandSpec, result: Uncertain, *, known: bool = True, bound: str = "", where: str = ""
) -> Output:
    """The output for a calculated `result` in the coherent SI unit; with `known` False the uncertainty is left out,
    and the budget too."""
    unit = parse_unit(spec.unit)
    if not known:
        return Output(spec.name, result.value, unit, None, math.inf, None, None, bound, where=where)
    done = propagate(result)
    k = max(coverage_factor(done.dof), LEAST_COVERAGE_FACTOR)
    U = k * done.u
    return Output(spec.name, done.value, unit, done.u, done.dof, k, U, bound, done.budget, done.notes, where=where)


def unstated(names: Iterable[str]) -> tuple[Alarm, ...]:
    """The alarm for readings whose uncertainty is not known, if there are any."""
    names = sorted(names)
    if not names:
        return ()
    return (
        Alarm(
            "uncertainty.not-stated",
            say(
                "The uncertainty of {names} is not stated, so none can be given for the result.", names=", ".join(names)
            ),
            say("Name the instrument with its calibration, or write the reading as 203.4 V ± 0.6 V (k=2)."),
        ),
    )


def _implausible(spec: InputSpec, quantity: Quantity) -> str:
    read = printed(quantity)
    low, high = (None if edge is None else marked(f"{edge:g}") for edge in (spec.low, spec.high))
    if high is None:
        return say(
            "{name} is {read}; {low} {unit} or more is usual.",
            name=spec.name,
            read=read,
            low=low,
            unit=spec.unit,
        )
    if low is None:
        return say(
            "{name} is {read}; {high} {unit} or less is usual.",
            name=spec.name,
            read=read,
            high=high,
            unit=spec.unit,
        )
    return say(
        "{name} is {read}; {low} to {high} {unit} is usual.",
        name=spec.name,
        read=read,
        low=low,
        high=high,
        unit=spec.unit,
    )


def plausibility(method: Method, readings: Mapping[str, tuple[Reading, ...]]) -> list[Alarm]:
    """Alarms for readings outside what the method takes for plausible: mostly a wrong prefix or range."""
    alarms = []
    for spec in method.inputs:
        if not spec.unit:
            continue
        unit = parse_unit(spec.unit)
        for reading in readings.get(spec.name, ()):
            if reading.quantity is None or reading.quantity.bound:
                continue
            value = (reading.quantity.si - float(unit.offset)) / float(unit.scale)
            if (spec.low is not None and value < spec.low) or (spec.high is not None and value > spec.high):
                alarms.append(
                    Alarm(
                        "reading.implausible",
                        _implausible(spec, reading.quantity),
                        say("Look at the prefix and the range of the instrument, and read again."),
                    )
                )
    return alarms


def _rounded(value_si: float, unit: Unit, significant: int) -> tuple[str, str]:
    """Digits and symbol in the best prefix, without zeros at the end."""
    shown_in = best_unit(value_si, unit)
    plain = shown_in.scale == 1 and not shown_in.offset
    value = Decimal(repr(value_si if plain else float((Fraction(value_si) - shown_in.offset) / shown_in.scale)))
    if value:
        exponent = min(value.adjusted() - significant + 1, 0)
        value = value.quantize(Decimal(1).scaleb(exponent), ROUND_HALF_EVEN, Context(prec=40))
    digits = plain_digits(value)
    return digits.rstrip("0").rstrip(".") if "." in digits else digits, shown_in.symbol


_TEX = {"Ω": r"\Omega ", "µ": r"\mu ", "·": r"\cdot ", "%": r"\%", "²": "^{2}", "³": "^{3}", "ₙ": "_{n}"}


def _digits(quantity: Quantity | float, unit: Unit | None, significant: int) -> tuple[str, str]:
    if isinstance(quantity, Quantity):
        return plain_digits(quantity.value), quantity.unit.symbol
    return _rounded(quantity, unit or ONE, significant)


def latex(quantity: Quantity | float, unit: Unit | None = None, significant: int = 5) -> str:
    r"""A number with unit as LaTeX, `203.4\,\mathrm{V}`: a quantity as written, a float rounded in its best prefix
    to `significant` digits."""
    digits, symbol = _digits(quantity, unit, significant)
    digits = digits.replace(THIN, r"\,").replace(MINUS, "-")
    if symbol == "1":
        return digits
    if symbol == "°C":
        return digits + r"\,^{\circ}\mathrm{C}"
    return digits + r"\,\mathrm{" + "".join(_TEX.get(c, c) for c in symbol).strip() + "}"


def spoken(quantity: Quantity | float, unit: Unit | None = None, significant: int = 5) -> str:
    """A number with unit as it is read aloud; the same digits as `latex`, `significant` likewise."""
    digits, symbol = _digits(quantity, unit, significant)
    digits = marked(digits.replace(THIN, ""))
    if digits.startswith(MINUS):
        digits = say("minus {number}", number=digits.removeprefix(MINUS))
    return digits if symbol == "1" else f"{digits} {symbol}"
