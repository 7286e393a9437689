"""Readings of instruments with their accuracy. Worked by hand with a/√3 (JCGM 100:2008, 4.3.7)."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Any

import pytest

from witnessmark.quantities import parse_quantity as q
from witnessmark.quantities.accuracy import Accuracy, maximum_permissible_error, reading_input

DMM = Accuracy("dc-voltage", q("0 V"), q("1000 V"), Decimal("0.5"), Decimal(2), q("0.1 V"))


def test_percent_and_digits() -> None:
    """0.5 % of 200 V + 2 × 0.1 V = 1.2 V; /√3 = 0.692 82 V."""
    assert maximum_permissible_error(q("200 V"), DMM) == pytest.approx(1.2)
    made = reading_input("u1", q("200 V"), DMM, "dmm-02")
    assert made is not None
    assert made.u == pytest.approx(0.692820323)
    assert made.shape == "rectangular" and made.basis == "± (0.5 % of reading + 2 digits of 0.1 V), dmm-02"


def test_fixed_part_and_certificate_in_quadrature() -> None:
    meter = Accuracy(
        "resistance",
        q("0 Ω"),
        q("1 MΩ"),
        Decimal("0.1"),
        fixed=q("10 mΩ"),
        certificate_U=q("20 mΩ"),
        certificate_k=Decimal(2),
    )
    made = reading_input("r", q("10 Ω"), meter)
    assert made is not None
    assert made.u == pytest.approx(math.hypot(0.02 / math.sqrt(3), 0.01))
    assert made.shape == "combined" and "certificate" in made.basis


def test_a_reading_may_only_enlarge_what_the_calibration_gives() -> None:
    larger = reading_input("u1", q("200 V ± 4 V (k=2)"), DMM)
    smaller = reading_input("u1", q("200 V ± 0.1 V (k=2)"), DMM)
    assert larger is not None and smaller is not None
    assert larger.u == 2.0 and "larger" in larger.basis
    assert smaller.u == pytest.approx(0.692820323)


def test_without_accuracy_only_what_is_stated() -> None:
    assert reading_input("u1", q("200 V"), None) is None
    stated = reading_input("u1", q("200 V ± 1 V (k=2)"), None)
    assert stated is not None and stated.u == 0.5
    assert reading_input("r", q("> 999 MΩ"), None) is None


def test_range_and_kind() -> None:
    assert DMM.covers(q("-400 V")) and DMM.covers(q("1000 V"))
    assert not DMM.covers(q("1000.1 V")) and not DMM.covers(q("5 A"))
    probe = Accuracy("temperature", q("-20 °C"), q("80 °C"), fixed=q("0.5 K"))
    assert probe.covers(q("-20 °C")) and not probe.covers(q("-21 °C"))
    made = reading_input("t", q("40 °C"), probe)
    assert made is not None and made.u == pytest.approx(0.5 / math.sqrt(3)) and made.value == 313.15
    with pytest.raises(ValueError, match="accuracy is given in V"):
        reading_input("u1", q("5 A"), DMM)


@pytest.mark.parametrize(
    "changes",
    [
        {"percent_of_reading": Decimal(-1)},
        {"digits": Decimal(2), "resolution": None},
        {"certificate_U": q("1 V")},
        {"certificate_U": q("1 V"), "certificate_k": Decimal("0.5")},
        {"high": q("-1 V")},
        {"fixed": q("1 A")},
    ],
)
def test_accuracy_that_makes_no_sense_is_refused(changes: dict[str, Any]) -> None:
    fields: dict[str, Any] = {"function": "dc-voltage", "low": q("0 V"), "high": q("10 V")}
    with pytest.raises(ValueError, match=r"."):
        Accuracy(**(fields | changes))
