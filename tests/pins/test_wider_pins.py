"""Results of fixed readings for each version of the wider methods, to twelve digits.

These are our own outputs, kept to notice a change: they show nothing about being right, and cite no source.
`python -m tests.pins.test_wider_pins` prints them anew; a change that alters one makes a new version of the method.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
import yaml

from tests.unit.methods.wider_examples import EXAMPLES, evaluate
from witnessmark.methods.base import Result

PINS = Path(__file__).parent / "wider.yaml"


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


def _kept() -> dict[str, dict[str, dict[str, str]]]:
    kept: dict[str, dict[str, dict[str, str]]] = yaml.load(PINS.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    return kept


def test_every_example_has_a_pin_and_every_pin_an_example() -> None:
    assert set(_kept()) == set(EXAMPLES)


@pytest.mark.parametrize("id", EXAMPLES)
def test_a_pinned_version_keeps_its_digits(id: str) -> None:
    kept, now = _kept()[id], pinned(id)
    assert set(kept) == set(now)
    for measurand, figures in kept.items():
        for name, text in figures.items():
            found = now[measurand][name]
            if text in ("none", "", "<", ">"):
                assert found == text
            else:
                # Sums over logs and fits may differ in the last digits between builds of the numerics.
                assert float(found) == pytest.approx(float(text), rel=2e-11, abs=1e-300), (measurand, name)


if __name__ == "__main__":
    sys.stdout.write(yaml.safe_dump({id: pinned(id) for id in EXAMPLES}, sort_keys=True, allow_unicode=True))
