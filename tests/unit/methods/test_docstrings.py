"""Docstrings of public functions against their signatures: every number is named, with its unit, and no name is gone.

Source: none; the rule is this project's own.
"""

from __future__ import annotations

import builtins
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest

import witnessmark.methods
import witnessmark.quantities
from witnessmark.methods.registry import METHODS, method
from witnessmark.quantities.units import UnitFault, parse_unit

_NUMBER = re.compile(r"T|Uncertain|Floats|NDArray\[.*\]|Sequence\[float\]|(float|int)( \| (Decimal|float|None))*")
_NAME = re.compile(r"`([a-z][A-Za-z0-9_]*|[A-Z]\w?|U_\w+)`")
_UNIT = re.compile(r"\b([Uu]nits?|SI)\b")
_STATED = re.compile(r"\bin (\d+ )?(°C|[^\s,;:()]+)")
_PURE = re.compile(
    r"\b(probabilit|ratio|share|part|factor|fraction|degrees of freedom|digits|number|whole|draws|numbers|bins|gauge|"
    r"index|class|seed|alike|quantiles|steps|half-widths|dimension 1|radians)",
)
_SUFFIX = {"_mm2": "mm²", "_mm": "mm", "_celsius": "°C", "kelvin": "K", "milliseconds": "ms", "_si": "SI"}


def _functions() -> Iterator[tuple[str, Callable[..., Any]]]:
    for package in (witnessmark.quantities, witnessmark.methods):
        for found in pkgutil.iter_modules(package.__path__, f"{package.__name__}."):
            module = importlib.import_module(found.name)
            for name in module.__all__:
                one = getattr(module, name)
                if inspect.isfunction(one) and one.__module__ == module.__name__:
                    yield f"{found.name.removeprefix('witnessmark.')}.{name}", one


_ALL = dict(_functions())


def _numbers(one: Callable[..., Any]) -> list[str]:
    return [n for n, p in inspect.signature(one).parameters.items() if _NUMBER.fullmatch(str(p.annotation))]


def _units(text: str) -> set[str]:
    found = set()
    for match in _STATED.finditer(text):
        word = match.group(2).rstrip(".")
        try:
            found.add(parse_unit(word).symbol)
        except UnitFault:
            continue
    return found


def faults(one: Callable[..., Any]) -> list[str]:
    """What the docstring of a function lacks or says wrongly, one sentence each."""
    text = inspect.getdoc(one) or ""
    if not text.partition("\n")[0]:
        return ["it has no docstring"]
    parameters = inspect.signature(one).parameters
    known = set(parameters) | set(vars(inspect.getmodule(one) or builtins)) | set(vars(builtins))
    known |= {spec.name for id in METHODS if (found := method(id)) for spec in found.inputs}
    said = set(_NAME.findall(text))
    out = [f"`{name}` is neither an argument nor a name that it could mean" for name in sorted(said - known)]
    numbers = _numbers(one)
    out += [f"the number `{name}` is not named" for name in numbers if name not in said]
    if numbers and not (_UNIT.search(text) or _units(text) or _PURE.search(text)):
        out.append("no unit is stated, nor that there is none")
    for name in numbers:
        for suffix, unit in _SUFFIX.items():
            if name.endswith(suffix) and not re.search(rf"(?<!\w){re.escape(unit)}(?!\w)", text):
                out.append(f"`{name}` is in {unit}, which is not said")
                break
    return out


@pytest.mark.parametrize("name", sorted(_ALL))
def test_the_docstring_names_the_numbers_and_their_units(name: str) -> None:
    assert not faults(_ALL[name])


def test_the_check_sees_what_is_wrong() -> None:
    def gone(length_mm: float) -> float:
        """The length of `lenght` in m."""
        return length_mm

    def silent(time: float) -> float:
        """Twice `time`."""
        return 2 * time

    assert faults(gone) == [
        "`lenght` is neither an argument nor a name that it could mean",
        "the number `length_mm` is not named",
        "`length_mm` is in mm, which is not said",
    ]
    assert faults(silent) == ["no unit is stated, nor that there is none"]
    assert len(_ALL) > 100
