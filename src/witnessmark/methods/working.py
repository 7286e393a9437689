"""A calculation in the making: numbers, faults, alarms and worked steps, gathered for methods that are one formula.

Three kinds of numbers go in. A reading is taken on the instrument of its role and needs an uncertainty. A declared
value (an input without a role: a data sheet, a drawing, a certificate) and a fact are exact as they stand, unless they
were written with an uncertainty. What was computed keeps the derivatives, so that correlation looks after itself.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import replace

from witnessmark.language import Words, declared, marked, say
from witnessmark.methods.base import Alarm, InputSpec, Method, Output, Reading, Refused, Result, Step
from witnessmark.methods.checking import Quantities, latex, output_of, plausibility, spoken, unstated
from witnessmark.problems import Problem
from witnessmark.quantities.propagation import Input, Uncertain, being_drawn, propagate, uncertain
from witnessmark.quantities.quantity import Quantity
from witnessmark.quantities.units import Unit, parse_unit

__all__ = ["EXACT", "HOW_SURE", "Working", "larger", "ordered", "smaller", "speak", "total", "worked"]

EXACT = declared("A value of a table or of a choice: it has no uncertainty, and is decided exactly.")
"""The note of an output in whose calculation an uncertainty has no meaning."""

HOW_SURE = Words(
    {
        "seen": declared("seen"),
        "from memory": declared("from memory"),
        "stated": declared("stated"),
        "as declared": declared("as declared"),
    }
)
"""How sure a number of a table is, and where else it can come from."""

_NAME = re.compile(r"<([a-z0-9_.-]+)>")


def ordered(*specs: InputSpec) -> tuple[InputSpec, ...]:
    """The inputs in the order of taking, numbered from 1."""
    return tuple(replace(spec, order=number) for number, spec in enumerate(specs, start=1))


def total(values: Iterable[Uncertain]) -> Uncertain:
    """The sum of one or more numbers of one dimension."""
    first, *others = values
    for other in others:
        first = first + other
    return first


def smaller(values: Iterable[Uncertain]) -> Uncertain:
    """The one of several numbers that may be smallest: by its value less two standard uncertainties.

    A criterion that it meets is met by the others too.
    """
    return min(values, key=lambda x: x.value - 2 * propagate(x).u)


def larger(values: Iterable[Uncertain]) -> Uncertain:
    """The one of several numbers that may be largest: by its value and two standard uncertainties.

    A criterion that it meets is met by the others too.
    """
    return max(values, key=lambda x: x.value + 2 * propagate(x).u)


class Working:
    """What one evaluation of a method knows so far. `x` are numbers in SI by name, `many` those of repeated readings,
    `words` the choices; `faults` make it refuse."""

    def __init__(self, method: Method, readings: Mapping[str, tuple[Reading, ...]], facts: Quantities) -> None:
        self.method = method
        self.readings = readings
        self.faults: list[Problem] = []
        self.alarms: list[Alarm] = []
        self.steps: list[Step] = []
        self.outputs: list[Output] = []
        self.x: dict[str, Uncertain] = {}
        self.many: dict[str, tuple[Uncertain, ...]] = {}
        self.words: dict[str, str] = {}
        self.bounds: dict[str, str] = {}
        self._unknown: set[str] = set()
        self._missed: set[str] = set()
        self._shown: dict[str, tuple[str, str]] = {}
        self._drawn = being_drawn()
        """Of a draw nobody reads the steps: leaving them out makes thousands of draws bearable."""
        for spec in method.inputs:
            given = readings.get(spec.name, ())
            if not given:
                continue
            if spec.choices:
                self.words[spec.name] = given[0].word
                continue
            series = []
            for number, reading in enumerate(given, start=1):
                assert reading.quantity is not None  # the shared checks have seen to it
                name = spec.name if len(given) == 1 else f"{spec.name}.{number}"
                series.append(self._take(name, reading.quantity, reading.input, bool(spec.role)))
            self.many[spec.name] = tuple(series)
            self.x[spec.name] = series[0]
        for fact in method.facts:
            value = facts.get(fact.name)
            if isinstance(value, Quantity):
                self._take(fact.name, value, None, False)
            elif isinstance(value, str):
                self.words[fact.name] = value

    def _take(self, name: str, quantity: Quantity, stated: Input | None, measured: bool) -> Uncertain:
        u = quantity.u_si
        if stated is not None:
            entry = Input(name, stated.value, stated.u, stated.dof, stated.shape, stated.basis)
        elif u is not None:
            entry = Input(name, quantity.si, u, basis=say("as stated, k = {k}", k=quantity.k))
        elif measured:
            entry = Input(
                name, quantity.si, 0.0, shape="", basis=say("a bound") if quantity.bound else say("not stated")
            )
            if not quantity.bound:
                self._unknown.add(name)
        else:
            entry = Input(name, quantity.si, 0.0, shape="", basis=say("declared, taken as exact"))
        self.x[name] = uncertain(entry)
        self.bounds[name] = quantity.bound
        if not self._drawn:
            self._shown[name] = (latex(quantity), spoken(quantity))
        return self.x[name]

    def has(self, *names: str) -> bool:
        """Whether all of these were given."""
        return all(name in self.x or name in self.words for name in names)

    def chosen(self, name: str) -> str:
        """The choice of that name in words."""
        return say(self.words[name])

    def value(self, name: str) -> float:
        """The number of that name in SI."""
        return self.x[name].value

    def fault(self, code: str, message: str, remedy: str) -> None:
        """A fault in the input: the method will refuse."""
        self.faults.append(Problem(code, message, remedy))

    def alarm(self, code: str, message: str, remedy: str, *, fatal: bool = False) -> None:
        """Something that a person at the vehicle wants to know now."""
        self.alarms.append(Alarm(code, message, remedy, fatal))

    def _each(self, name: str) -> tuple[tuple[str, Uncertain], ...]:
        series = self.many.get(name)
        if series is None:
            return ((name, self.x[name]),) if name in self.x else ()
        return tuple((name if len(series) == 1 else f"{name}.{n}", x) for n, x in enumerate(series, start=1))

    def _told(self, name: str) -> str:
        """A number as it is read aloud; of a draw only the bare number, which nobody reads."""
        return self._shown[name][1] if name in self._shown else marked(f"{self.x[name].value:.6g}")

    def above_zero(self, *names: str) -> None:
        """A fault for each of these that was given and is not above zero."""
        for name in names:
            for own, x in self._each(name):
                if not x.value > 0:
                    self.fault(
                        "reading.range",
                        say("{name} is {read}; it has to be more than zero", name=own, read=self._told(own)),
                        say("read or state it again"),
                    )

    def not_negative(self, *names: str) -> None:
        """A fault for each of these that was given and is below zero."""
        for name in names:
            for own, x in self._each(name):
                if x.value < 0:
                    self.fault(
                        "reading.range",
                        say("{name} is {read}; it has to be zero or more", name=own, read=self._told(own)),
                        say("read or state it again, without a sign"),
                    )

    def whole(self, *names: str) -> None:
        """A fault for each of these that is no whole number from one up."""
        for name in names:
            for own, x in self._each(name):
                if x.value < 1 or x.value != math.floor(x.value):
                    self.fault(
                        "reading.range",
                        say(
                            "{name} is {read}; it has to be a whole number from one up", name=own, read=self._told(own)
                        ),
                        say("count again"),
                    )

    def valid(self, name: str, low: float | None, high: float | None, unit: str, remedy: str) -> None:
        """A fault that names the bound for a number outside the range in which the method holds, bounds in `unit`."""
        found = parse_unit(unit)
        for own, x in self._each(name):
            value = (x.value - float(found.offset)) / float(found.scale)
            spread = 1e-12 * max(abs(low or 0.0), abs(high or 0.0))
            if low is not None and value < low - spread:
                message = say(
                    "{name} is {read}: below {bound}, where the method begins",
                    name=own,
                    read=self._read(own, value, unit),
                    bound=_with_unit(f"{low:g}", unit),
                )
            elif high is not None and value > high + spread:
                message = say(
                    "{name} is {read}: above {bound}, where the method ends",
                    name=own,
                    read=self._read(own, value, unit),
                    bound=_with_unit(f"{high:g}", unit),
                )
            else:
                continue
            self.fault("validity.range", message, remedy)

    def _read(self, name: str, value: float, unit: str) -> str:
        return self._shown[name][1] if name in self._shown else _with_unit(f"{value:.6g}", unit)

    def let(self, name: str, value: Uncertain | float, unit: str | Unit) -> Uncertain:
        """Keeps a computed number under a name, for steps and outputs; plain numbers are exact."""
        if not isinstance(value, Uncertain):
            value = uncertain(Input(name, value, 0.0, shape="", basis=say("exact")))
        found = parse_unit(unit) if isinstance(unit, str) else unit
        self.x[name] = value
        if not self._drawn:
            self._shown[name] = (latex(value.value, found), spoken(value.value, found))
        return value

    def show(self, name: str, text: str) -> None:
        """What stands for a name in formulas and aloud, where it is no quantity (a k value, a count)."""
        self._shown[name] = (text, marked(text))

    def step(self, words: str, formula: str) -> None:
        """A worked step: `formula` is LaTeX in which `<name>` stands for a number; read aloud from the same text."""
        if self._drawn:
            return
        written = _NAME.sub(lambda m: self._shown[m[1]][0], formula)
        negative = frozenset(name for name, shown in self._shown.items() if shown[0].startswith("-"))
        values = {name: shown[1] for name, shown in self._shown.items()}
        self.steps.append(Step(words, written, speak(formula, values, negative)))

    def joined(self, name: str, pattern: str, glue: str) -> str:
        """The placeholders of a repeated reading, each in `pattern` at `*`, as in 1/R1 + 1/R2."""
        return glue.join(pattern.replace("*", f"<{own}>") for own, _ in self._each(name))

    def unstated(self, name: str) -> Uncertain:
        """A zero of unknown uncertainty, for an error that exists and that nobody stated: what it enters has no U."""
        self._unknown.add(name)
        return uncertain(Input(name, 0.0, 0.0, shape="", basis=say("not stated")))

    def unknown_in(self, value: Uncertain) -> list[str]:
        """Which readings without stated uncertainty the value depends on."""
        return [name for name in self._unknown if value.slopes.get(name)]

    def output(
        self,
        measurand: str,
        value: Uncertain | float,
        *,
        bound: str = "",
        where: str = "",
        note: str = "",
        among: tuple[str, ...] = (),
    ) -> None:
        """Adds a result. Its uncertainty is left out when a reading that it depends on has none.

        A bound is moved by two standard uncertainties of what was measured to its safe side; where the uncertainty of
        something measured is not known, it is no bound, and the result stays without uncertainty. `among` names
        readings that decide which value this is, or whether it counts: their uncertainty has to be known too.
        """
        spec = self.method.measurand(measurand)
        assert spec is not None
        if not isinstance(value, Uncertain):
            value = uncertain(Input(measurand, value, 0.0, shape="", basis=say("exact")))
        if not math.isfinite(value.value):
            raise OverflowError(say("{measurand} is not finite", measurand=measurand))
        unknown = self.unknown_in(value)
        deciding = {name for reading in among for name, _ in self._each(reading)}
        unknown += sorted((deciding & self._unknown) - set(unknown))
        self._missed.update(unknown)
        known = not unknown
        if bound and known:
            moved = 2 * propagate(value).u
            value = value - moved if bound == ">" else value + moved
        output = output_of(spec, value, known=known and not bound, bound=bound if known else "", where=where)
        self.outputs.append(replace(output, notes=(*output.notes, note)) if note else output)

    def result(self, *figures: object) -> Result | Refused:
        """What was gathered: the result, or the refusal with every fault."""
        from witnessmark.methods.base import FigureData

        if self.faults:
            return Refused(tuple(self.faults))
        alarms = [*self.alarms, *unstated(self._missed), *plausibility(self.method, self.readings)]
        kept = tuple(figure for figure in figures if isinstance(figure, FigureData))
        return Result(self.method.id, tuple(self.outputs), tuple(self.steps), tuple(alarms), kept)


def _with_unit(digits: str, unit: str) -> str:
    return marked(digits) if unit == "1" else f"{marked(digits)} {unit}"


def worked(
    method: Method,
    work: Callable[[Working], Result | Refused],
    readings: Mapping[str, tuple[Reading, ...]],
    facts: Quantities,
) -> Result | Refused:
    """Runs one calculation. Numbers so large or so near to each other that no result is left make it refuse."""
    working = Working(method, readings, facts)
    try:
        done = work(working)
        if method.second_order and isinstance(done, Result) and not being_drawn():
            from witnessmark.methods.bent import with_second_order

            return with_second_order(done, lambda: work(Working(method, readings, facts)))
        return done
    except (ZeroDivisionError, OverflowError) as fault:
        working.fault(
            "calculation.range",
            say("these numbers leave no finite result ({fault})", fault=fault),
            say("look at the prefixes of the readings"),
        )
        return Refused(tuple(working.faults))


_SPOKEN = Words(
    {
        r"\cdot": declared("times"),
        r"\times": declared("times"),
        r"\leq": declared("is at most"),
        r"\geq": declared("is at least"),
        r"\approx": declared("is about"),
        r"\max": declared("the largest of"),
        r"\min": declared("the smallest of"),
        r"\sum": declared("the sum of"),
        r"\int": declared("the integral of"),
        r"\prime": declared("prime"),
        r"\parallel": declared("parallel to"),
        r"\%": declared("percent"),
        "=": declared("is"),
        "+": declared("plus"),
        "-": declared("minus"),
        "(": declared("open bracket"),
        ")": declared("close bracket"),
        "|": declared("the size of"),
        "/": declared("over"),
        "<": declared("is less than"),
        ">": declared("is more than"),
    }
)
_JOINING = {r"\cdot", r"\times", "+", "-", "/"}
_SILENT = {r"\quad": ",", r"\,": ""}
_FUNCTIONS = Words({"ln": declared("the logarithm of"), "exp": declared("e to the power of")})
"""Written upright by \\mathrm: as commands of their own they bring an entity that XML does not know."""
_TOKEN = re.compile(r"<[a-z0-9_.-]+>|\\[A-Za-z]+|\\[,%]|[A-Za-z]|\d+(?:\.\d+)?|\S")


def speak(formula: str, values: Mapping[str, str], negative: Collection[str] = ()) -> str:
    """A formula as it is read aloud: `values` are the numbers behind `<name>`, those in `negative` below zero; a
    compound part stands in brackets."""
    (words, _), _ = _sequence(_TOKEN.findall(formula), 0, {n: (said, n in negative) for n, said in values.items()})
    return " ".join(words.split()).replace(" ,", ",")


Part = tuple[str, bool]
"""Words, and whether they are compound, so that they need brackets within a fraction or under a root."""


def _sequence(tokens: list[str], at: int, values: Mapping[str, Part]) -> tuple[Part, int]:
    parts: list[Part] = []
    while at < len(tokens) and tokens[at] != "}":
        part, at = _element(tokens, at, values)
        parts.append(part)
    return (" ".join(words for words, _ in parts), any(compound for _, compound in parts)), at + 1


def _element(tokens: list[str], at: int, values: Mapping[str, Part]) -> tuple[Part, int]:
    token = tokens[at]
    if token == "{":
        return _sequence(tokens, at + 1, values)
    if token == r"\frac":
        above, at = _element(tokens, at + 1, values)
        below, at = _element(tokens, at, values)
        return (say("{above} over {below}", above=_whole(above), below=_whole(below)), True), at
    if token == r"\int" and tokens[at + 1 : at + 2] == ["_"]:
        low, at = _element(tokens, at + 2, values)
        high, at = _element(tokens, at + 1, values)
        return (say("the integral from {low} to {high} of", low=low[0], high=high[0]), low[1] or high[1]), at
    if token == r"\sqrt":
        inside, at = _element(tokens, at + 1, values)
        return (say("the square root of {inside}", inside=_whole(inside)), inside[1]), at
    if token in (r"\mathrm", "_") and tokens[at + 1 : at + 2] == ["{"]:
        end = tokens.index("}", at)
        letters = tokens[at + 2 : end]
        if all(letter.isalnum() or letter == "/" for letter in letters):  # a word, and not a product
            word = "".join(letters)
            return (_FUNCTIONS.get(word, word), False), end + 1
    if token == r"\mathrm":
        return _element(tokens, at + 1, values)
    if token == r"\right" and tokens[at + 1 : at + 2] == ["|"]:
        return ("", False), at + 2
    if token in (r"\left", r"\right"):
        return _element(tokens, at + 1, values)
    if token == "_":
        return _element(tokens, at + 1, values)
    if token == "^":
        (power, compound), at = _element(tokens, at + 1, values)
        return (_power(power), compound), at
    if len(token) > 2 and token[0] == "<" and token[-1] == ">":
        return values[token[1:-1]], at + 1
    if token in _SILENT:
        return (_SILENT[token], False), at + 1
    return (_SPOKEN.get(token, marked(token).removeprefix("\\")), token in _JOINING), at + 1


def _power(power: str) -> str:
    match power:
        case "2":
            return say("squared")
        case "3":
            return say("cubed")
        case "circ":
            return say("degrees")
        case _ if power == _SPOKEN[r"\prime"]:
            return power
    return say("to the power of {power}", power=power)


def _whole(part: Part) -> str:
    words, compound = part
    return say("open bracket {words} close bracket", words=words) if compound else words
