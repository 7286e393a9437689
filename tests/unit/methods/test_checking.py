"""Numbers in formulas, and what all methods check alike."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from docutils.utils.math.latex2mathml import tex2mathml

from witnessmark.methods.base import InputSpec, Method, Reading, Refused
from witnessmark.methods.checking import latex, plausibility, spoken
from witnessmark.methods.registry import method
from witnessmark.quantities import Quantity, parse_quantity, parse_unit
from witnessmark.quantities.propagation import Input


@pytest.mark.parametrize(
    ("text", "formula", "aloud"),
    [
        ("203.4 V", r"203.4\,\mathrm{V}", "203.4 V"),
        ("200.0 kΩ", r"200.0\,\mathrm{k\Omega}", "200.0 kΩ"),
        ("12345 V", r"12\,345\,\mathrm{V}", "12345 V"),
        ("-5.4 µA", r"-5.4\,\mathrm{\mu A}", "minus 5.4 µA"),
        ("25 °C", r"25\,^{\circ}\mathrm{C}", "25 °C"),
        ("5 %", r"5\,\mathrm{\%}", "5 %"),
        ("9.81 m/s²", r"9.81\,\mathrm{m/s^{2}}", "9.81 m/s²"),
        ("28 gₙ", r"28\,\mathrm{g_{n}}", "28 gₙ"),
        ("12 N·m", r"12\,\mathrm{N\cdot m}", "12 N·m"),
    ],
)
def test_quantities_in_formulas(text: str, formula: str, aloud: str) -> None:
    quantity = parse_quantity(text)
    assert latex(quantity) == formula and spoken(quantity) == aloud
    ET.fromstring(tex2mathml(latex(quantity)))


def test_computed_numbers_are_rounded_in_their_best_prefix() -> None:
    assert latex(442336.3691, parse_unit("Ω")) == r"442.34\,\mathrm{k\Omega}"
    assert spoken(0.00122, parse_unit("Ω")) == "1.22 mΩ"
    assert latex(311.14, parse_unit("°C")) == r"37.99\,^{\circ}\mathrm{C}"
    assert latex(8.0) == "8"


def _with(spec: InputSpec) -> Method:
    found = method("insulation-tester/1")
    assert found is not None
    return replace(found, inputs=(spec,), facts=(), roles=())


@pytest.mark.parametrize(
    ("low", "high", "text", "words"),
    [
        (1.0, 10.0, "11 V", "1 to 10 V"),
        (1.0, None, "0.5 V", "1 V or more"),
        (None, 10.0, "11 V", "10 V or less"),
        (1.0, 10.0, "11 mV", "1 to 10 V"),
    ],
)
def test_implausible_readings_are_said_with_what_is_usual(low: float, high: float, text: str, words: str) -> None:
    spec = InputSpec("x", "x", "level", "V", low, high)
    (alarm,) = plausibility(_with(spec), {"x": (Reading(parse_quantity(text)),)})
    assert alarm.code == "reading.implausible" and words in alarm.message and not alarm.fatal
    assert plausibility(_with(spec), {"x": (Reading(parse_quantity("5 V")),)}) == []


def test_an_input_has_to_be_of_its_reading() -> None:
    found = _with(InputSpec("x", "x", "level", "V"))
    refused = found.evaluate({"x": (Reading(parse_quantity("5 V"), Input("x", 6.0, 0.1)),)})
    assert isinstance(refused, Refused) and refused.faults[0].code == "reading.input"


def test_kinds_of_facts_and_readings() -> None:
    found = method("insulation-tester/1")
    assert found is not None
    volt: Quantity = parse_quantity("400 V")
    readings = {"resistance": (Reading(parse_quantity("5 MΩ")),), "test_voltage": (Reading(volt),)}
    for fact, code in (
        ("four hundred", "fact.kind"),
        (parse_quantity("400 A"), "quantity.dimension"),
        (parse_quantity("> 400 V"), "fact.bound"),
    ):
        refused = found.evaluate(readings, {"working_voltage": fact})
        assert isinstance(refused, Refused) and [p.code for p in refused.faults] == [code]
    refused = found.evaluate(readings | {"resistance": (Reading(None),)}, {"working_voltage": volt})
    assert isinstance(refused, Refused) and refused.faults[0].code == "reading.kind"


def test_a_method_that_declares_nonsense_is_refused() -> None:
    found = method("insulation-tester/1")
    assert found is not None
    twice = (found.inputs[0], found.inputs[0])
    for changes in ({"cautions": ()}, {"measurands": ()}, {"inputs": twice}, {"roles": ()}):
        with pytest.raises(ValueError, match="insulation-tester/1"):
            replace(found, **changes)
    with pytest.raises(ValueError, match="reads no log"):
        found.reduce({})
