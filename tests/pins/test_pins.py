"""Results of fixed readings for each version of a method, to twelve digits.

These are our own outputs, kept to notice a change: they show nothing about being right, and cite no source. A change
that alters one of them makes a new version of the method; the old version keeps its pin.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from tests.unit.methods.helpers import EXAMPLES, evaluate
from witnessmark.methods.base import Result

PINS = Path(__file__).parent / "methods.yaml"


def _twelve(x: float | None) -> str:
    return "none" if x is None else f"{x:.11e}"


def pinned(id: str) -> dict[str, dict[str, str]]:
    """What the method makes of its example."""
    result = evaluate(id)
    assert isinstance(result, Result)
    return {
        o.measurand: {
            "value": _twelve(o.value),
            "u": _twelve(o.u),
            "k": _twelve(o.k),
            "U": _twelve(o.U),
            "bound": o.bound,
        }
        for o in result.outputs
    }


def test_every_example_has_a_pin_and_every_pin_an_example() -> None:
    assert set(yaml.load(PINS.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)) == set(EXAMPLES)


@pytest.mark.parametrize("id", EXAMPLES)
def test_a_pinned_version_keeps_its_digits(id: str) -> None:
    assert pinned(id) == yaml.load(PINS.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)[id]
