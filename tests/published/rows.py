"""The collected check values (table.yaml) and where each of them is carried (rows.yaml)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from tests.published.values import quantity
from witnessmark.quantities import QuantityError, UnitFault

__all__ = ["Expected", "Line", "carries", "expectations", "leaves", "load_rows", "load_table", "printed"]

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Expected:
    """One printed quantity of a line: its value, or values, as text, with one unit."""

    quantity: str
    values: tuple[str, ...]
    unit: str
    tolerance: str


@dataclass(frozen=True)
class Line:
    id: str
    subject: str
    confidence: str
    source: str
    expected: tuple[Expected, ...]

    def printed(self, quantity: str) -> list[str]:
        """The values of one quantity, as text."""
        return next(list(e.values) for e in self.expected if e.quantity == quantity)


def _mapping(path: Path) -> dict[str, Any]:
    """Text only, so that no digit is lost; a name that is given twice is refused."""
    text = path.read_text(encoding="utf-8")
    node = yaml.compose(text, Loader=yaml.BaseLoader)
    assert isinstance(node, yaml.MappingNode)
    names = [key.value for key, _ in node.value]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueError(f"{path.name}: given twice: {', '.join(twice)}")
    tree = yaml.load(text, Loader=yaml.BaseLoader)
    assert isinstance(tree, dict)
    return tree


@cache
def load_table(path: Path = HERE / "table.yaml") -> dict[str, Line]:
    lines = {}
    for id, row in _mapping(path).items():
        expected = tuple(
            Expected(name, tuple(v) if isinstance(v, list) else (v,), unit, tolerance)
            for name, v, unit, tolerance in row["expected"]
        )
        lines[id] = Line(id, row["subject"], row["confidence"], row["source"], expected)
    return lines


def load_rows(path: Path = HERE / "rows.yaml") -> dict[str, dict[str, Any]]:
    return _mapping(path)


def printed(id: str, name: str) -> list[str]:
    """For tests that cannot be case files: the values of a quantity of the table, as text."""
    return load_table()[id].printed(name)


def expectations(expect: Mapping[str, Any]) -> Iterator[tuple[str, str, Any]]:
    """Every value of an `expect`, over all its outputs."""
    for wanted in expect.values():
        yield from leaves(wanted)


def leaves(tree: Any, unit: str = "", tolerance: Any = None) -> Iterator[tuple[str, str, Any]]:
    """Every value of one output with its unit and what it may differ by."""
    if isinstance(tree, list):
        for item in tree:
            yield from leaves(item, unit, tolerance)
    elif isinstance(tree, Mapping) and "value" in tree:
        yield from leaves(tree["value"], str(tree.get("unit", unit)), tree.get("within", tree.get("tolerance")))
    else:
        yield str(tree), unit, tolerance


def _si(text: str, unit: str) -> tuple[Fraction, Fraction] | None:
    """The number in SI, exact, and half a unit of its last digit; None for a word."""
    if unit == "1e-6":
        text, unit = f"{text}e-6", ""
    try:
        found = quantity(f"{text} {unit}".strip())
    except (QuantityError, UnitFault):
        return None
    exponent = Decimal(found.value).as_tuple().exponent
    assert isinstance(exponent, int)
    return found.si_exact, Fraction(10) ** exponent / 2 * Fraction(found.unit.scale)


def carries(text: str, unit: str, value: str, value_unit: str) -> bool:
    """Whether a case expects what is printed: the same word, or a number that rounds to the printed one."""
    wanted, found = _si(text, unit), _si(value, value_unit)
    if wanted is None or found is None:
        return wanted is found is None and text.strip() == value.strip()
    return abs(wanted[0] - found[0]) <= min(wanted[1], abs(wanted[0]) / 500)
