"""What methods say in the made-up language: every word of ours is translated, and not a digit of a result differs."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.language.pseudo import MARK, pseudo
from tests.language.texts import SOURCE
from tests.unit.methods.helpers import EXAMPLES as FIRST
from tests.unit.methods.helpers import evaluate as evaluate_first
from tests.unit.methods.wider_examples import EXAMPLES as WIDER
from tests.unit.methods.wider_examples import evaluate as evaluate_wider
from witnessmark.language import speaking
from witnessmark.methods.base import Refused, Result
from witnessmark.methods.contributions import contribution
from witnessmark.methods.registry import METHODS, method, method_ids

IDS = sorted({*FIRST, *WIDER})

NAMES = {
    *re.findall(r"[A-Za-z][\w]*", " ".join(method_ids())),
    *("Re", "Ro", "Ri", "Th", "Uw"),
}
"""Identifiers: they stand as they are in every language."""


def _evaluate(id: str, *arguments: Any, **named: Any) -> Result | Refused:
    return (evaluate_first if id in FIRST else evaluate_wider)(id, *arguments, **named)


def _own(id: str) -> set[str]:
    """Names and units that a method has: what it prints of them is no word of ours."""
    found = method(id)
    assert found is not None
    names: set[str] = set()
    units: set[str] = set()
    for specs in (found.inputs, found.facts, found.channels, found.options, found.measurands):
        names.update(spec.name for spec in specs)
        units.update(spec.unit for spec in specs)
    names.update(role.name for role in found.roles)
    choices = {choice for spec in found.inputs for choice in spec.choices}
    return {id, *names, *units, *choices}


def _words(done: Result | Refused) -> Iterator[tuple[str, str]]:
    """Every text that a reader sees, with what it is."""
    if isinstance(done, Refused):
        for fault in done.faults:
            yield f"{fault.code} message", fault.message
            yield f"{fault.code} remedy", fault.remedy
        return
    for step in done.steps:
        yield "step", step.words
        yield "spoken", step.spoken
    for alarm in done.alarms:
        yield f"{alarm.code} message", alarm.message
        yield f"{alarm.code} remedy", alarm.remedy
    for output in done.outputs:
        yield "where", output.where
        for note in output.notes:
            yield "note", note
        for row in output.budget:
            yield f"basis of {row.name}", row.basis
    for figure in done.figures:
        for text in (figure.title, figure.x_label, figure.y_label):
            yield "figure", text
        for key, text in figure.words.items():
            if key not in ("up", "between", "bound", "highest", "lowest"):
                yield f"figure {key}", text


_TOKEN = re.compile(rf"{MARK}?[^\W\d_][\w']*(?:[-:/.][\w']+)*")
_SYMBOLS = {
    *("A", "V", "W", "J", "K", "C", "F", "N", "g", "m", "s", "h", "d", "L", "min", "ms", "mA", "mV", "kV", "kW", "kJ"),
    *("kg", "mm", "cm", "km", "kPa", "MPa", "Pa", "bar", "mg", "Wh", "kWh", "Ah", "Hz", "kHz", "rad", "ppm", "mol"),
    *("Ω", "mΩ", "kΩ", "MΩ", "GΩ", "µΩ", "µs", "µF", "nF", "µJ", "mJ", "gₙ", "µA", "mW", "MW", "hPa", "MJ", "ns", "nJ"),
    *(
        "t",
        "U",
        "R",
        "I",
        "k",
        "q",
        "x",
        "e",
        "E",
        "Q",
        "P",
        "T",
        "M",
        "G",
        "p",
        "f",
        "v",
        "r",
        "c",
        "S",
        "l",
        "n",
        "i",
    ),
}


def strange(text: str, own: set[str]) -> list[str]:
    """Words in a text that are no word of ours and no name."""
    for name in sorted(own, key=len, reverse=True):
        if name:
            text = re.sub(rf"(?<![\w{MARK}]){re.escape(name)}(?:\.\d+)?(?![\w])", " ", text)
    found = []
    for token in _TOKEN.findall(text):
        if token.startswith(MARK) or token in _SYMBOLS or token in NAMES:
            continue
        parts = re.split(r"[/·.:-]", token)
        if not all(part in _SYMBOLS or len(part) == 1 or part.startswith(MARK) for part in parts):
            found.append(token)
    return found


def _check(id: str, done: Result | Refused, spare: tuple[str, ...] = ()) -> list[str]:
    own = _own(id) | set(spare)
    # Read aloud, a formula has its symbols and their indices; only lower-case words of some length are looked at.
    return [
        f"{id}: {what}: {words} in {text!r}"
        for what, text in _words(done)
        if (words := [w for w in strange(text, own) if what != "spoken" or w in _FORMULA])
    ]


_FORMULA = {
    *("times", "plus", "minus", "over", "open", "close", "bracket", "is", "the", "of", "square", "root", "squared"),
    *("cubed", "power", "largest", "smallest", "sum", "integral", "logarithm", "to", "from", "size", "less", "more"),
    *("about", "than", "most", "least", "at", "prime", "percent", "degrees", "parallel", "between", "and", "mean"),
}


def _numbers(done: Result | Refused) -> object:
    if isinstance(done, Refused):
        return [fault.code for fault in done.faults]
    outputs = [
        (replace(o, notes=(), where="", budget=()), [replace(row, basis="") for row in o.budget]) for o in done.outputs
    ]
    alarms = [(alarm.code, alarm.fatal) for alarm in done.alarms]
    return outputs, alarms, [s.formula.replace(",", ".") for s in done.steps], [f.numbers for f in done.figures]


@pytest.mark.parametrize("id", IDS)
def test_a_method_speaks_the_language_and_computes_the_same(id: str) -> None:
    english = _evaluate(id)
    with speaking(pseudo()):
        done = _evaluate(id)
    assert isinstance(done, Result)
    assert not (found := _check(id, done, _columns(id))), "\n".join(found)
    assert _plain(_numbers(done)) == _plain(_numbers(english))


@pytest.mark.parametrize("id", IDS)
def test_every_line_of_a_budget_has_a_name_in_the_language(id: str) -> None:
    done, found = _evaluate(id), method(id)
    assert isinstance(done, Result) and found is not None
    names = {row.name for output in done.outputs for row in output.budget if row.u > 0}
    with speaking(pseudo()):
        said = {name: contribution(found, name) for name in names}
    assert all(MARK in words for words in said.values()), said


def test_repeats_facts_and_unknown_lines_of_a_budget() -> None:
    found = method("insulation-tester/1")
    assert contribution(found, "resistance.2") == contribution(found, "resistance")
    assert contribution(found, "working_voltage") == "highest voltage of the bus in use"
    assert contribution(found, "something-else") == contribution(None, "something_else") == "something else"


def _plain(value: object) -> str:
    """Formulas aside from how the language writes a decimal mark."""
    return repr(value).replace("{.}", ".").replace("{,}", ".")


def _columns(id: str) -> tuple[str, ...]:
    columns: Mapping[str, Any] = (FIRST.get(id) or WIDER[id]).get("columns") or {}
    return tuple(name.partition(":")[2] or name for name in columns)


@pytest.mark.parametrize("id", IDS)
def test_what_is_missing_is_said_in_the_language(id: str) -> None:
    found = method(id)
    assert found is not None
    with speaking(pseudo()):
        empty = found.evaluate({}, {}, None)
        wrong = found.evaluate(
            *_wrong(id), {"faults": [{"code": "log.x", "message": "øa", "remedy": "øb"}]} if found.channels else None
        )
    for done in (empty, wrong):
        if isinstance(done, Refused):
            assert not (strangers := _check(id, done, ("nonsense", "first", "second"))), "\n".join(strangers)
    assert isinstance(wrong, Refused)


def _wrong(id: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """Readings of a wrong dimension, twice, and one that is not known; facts that are words where numbers are due."""
    from witnessmark.methods.base import Reading
    from witnessmark.quantities.quantity import parse_quantity

    found = method(id)
    assert found is not None
    wrong = Reading(parse_quantity("3 rad"))
    readings: dict[str, Any] = {"nonsense": (wrong,)}
    for spec in found.inputs:
        readings[spec.name] = (Reading(None, word="nonsense"),) if spec.choices else (wrong, wrong)
    facts: dict[str, Any] = {f.name: "nonsense" if f.unit else parse_quantity("3 V") for f in found.facts}
    return readings, facts


@pytest.mark.parametrize("id", [id for id in METHODS if (m := method(id)) is not None and m.channels])
def test_faults_of_a_log_are_said_in_the_language_of_those_who_ask(id: str) -> None:
    """The log is read once, in no language; what is wrong in it is said when the method refuses."""
    found = method(id)
    assert found is not None
    bad = np.array([0.0, 1.0, 0.5, 2.0])
    logs: list[dict[str, Any]] = [
        {},
        {spec.name + (":a" if spec.many else ""): bad for spec in found.channels},
        {spec.name + (":a" if spec.many else ""): np.array([0.0]) for spec in found.channels},
        {spec.name + (":a" if spec.many else ""): np.array([0.0, np.nan, 1.0]) for spec in found.channels},
    ]
    for log in logs:
        figures = found.reduce(log)
        assert figures["faults"]
        english = found.evaluate({}, {}, figures)
        with speaking(pseudo()):
            done = found.evaluate({}, {}, figures)
        assert isinstance(done, Refused) and isinstance(english, Refused)
        assert not (strangers := _check(id, done, ("a", "time"))), "\n".join(strangers)
        assert MARK not in "".join(fault.message + fault.remedy for fault in english.faults)


# ---------------------------------------------------------------- what no example reaches

READ: Mapping[str, tuple[int | str, ...]] = {
    "step": (0,),
    "Step": (0, 2),
    "alarm": (1, 2),
    "Alarm": (1, 2),
    "fault": (1, 2),
    "Problem": (1, 2),
    "valid": (4, "remedy"),
    "Input": (5, "basis"),
    "rectangular": (3, "basis"),
    "FigureData": (1, 2, 3),
    "output": ("note", "where"),
    "output_of": ("where",),
    "unstated": (),
    "log_fault": (1, 2),
    "Plan": (5,),
    "nothing": (0,),
}
"""Which arguments of what methods call are read by people."""

_LETTERS = re.compile(r"[A-Za-z]{2}")


def _literal_words(node: ast.expr) -> Iterator[ast.expr]:
    """Text with words in it that is not said: a literal, also one half of a choice, a sum or a formatted string."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str) and _LETTERS.search(node.value):
        yield node
    elif isinstance(node, ast.JoinedStr):
        if any(isinstance(part, ast.Constant) and _LETTERS.search(str(part.value)) for part in node.values):
            yield node
    elif isinstance(node, ast.IfExp):
        yield from _literal_words(node.body)
        yield from _literal_words(node.orelse)
    elif isinstance(node, ast.BinOp):
        yield from _literal_words(node.left)
        yield from _literal_words(node.right)


def unsaid(tree: ast.AST) -> list[tuple[int, str]]:
    """Line and text of words that a method prints without saying them."""
    found = []
    for call in ast.walk(tree):
        if isinstance(call, ast.Call):
            name = call.func.id if isinstance(call.func, ast.Name) else getattr(call.func, "attr", "")
            given = [*enumerate(call.args), *((keyword.arg, keyword.value) for keyword in call.keywords)]
            for at, argument in given:
                if at in READ.get(name, ()):
                    found += [(one.lineno, ast.unparse(one)) for one in _literal_words(argument)]
    return found


PLAIN = {"plugins.py", "registry.py"}
"""Problems of the workshop's policy: told in the terminal, before any method runs."""


def test_no_method_prints_words_that_are_not_said() -> None:
    looked = 0
    found = []
    for path in sorted((SOURCE / "methods").glob("*.py")):
        if path.name in PLAIN:
            continue
        tree = ast.parse(path.read_text("utf-8"))
        looked += sum(
            isinstance(call, ast.Call) and getattr(call.func, "attr", getattr(call.func, "id", "")) in READ
            for call in ast.walk(tree)
        )
        found += [f"{path.name}:{line}: {text}" for line, text in unsaid(tree)]
    assert looked > 500
    assert not found, "\n".join(found)


@pytest.mark.parametrize(
    "source",
    [
        "w.step('Total before.', 'x')",
        "w.step(f'Group {n} is', 'x')",
        "w.step('with' + more, 'x')",
        "w.alarm('a.b', say('x'), 'Look again.')",
        "Alarm('a.b', say('x') if y else 'no', say('z'))",
        "w.output('x', y, note='A fit.')",
        "Input('x', 1.0, 0.0, basis='sum of the log')",
    ],
)
def test_words_that_are_not_said_are_found(source: str) -> None:
    assert unsaid(ast.parse(source))
    assert not unsaid(ast.parse("w.step(say('Total.'), 'm_0 = x'); w.output('x', y, where=name)"))
