"""Formulas as one line for the terminal. Expected texts are typed by hand."""

from __future__ import annotations

import pytest

from witnessmark.cli.plain import plain_formula
from witnessmark.methods.registry import method, method_ids


@pytest.mark.parametrize(
    ("latex", "text"),
    [
        (r"\frac{R_{i}}{U_{w}}", "R_i/U_w"),
        (r"\frac{a+b}{c}", "(a+b)/c"),
        (r"R_o \cdot U_b \cdot \left( \frac{1}{U_1'} - \frac{1}{U_1} \right)", "R_o · U_b · (1/U_1' − 1/U_1)"),
        (r"402.9\,\mathrm{V}", "402.9 V"),
        (r"\sqrt{x^2}", "√(x²)"),
    ],
)
def test_known_formulas(latex: str, text: str) -> None:
    assert plain_formula(latex) == text


@pytest.mark.parametrize("ident", method_ids())
def test_every_equation_becomes_plain(ident: str) -> None:
    found = method(ident)
    assert found is not None
    assert "\\" not in plain_formula(found.equation), plain_formula(found.equation)
