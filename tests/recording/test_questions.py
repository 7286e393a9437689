"""What people type, and what it means: the table of answers. Common practice at the meter, no source."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from witnessmark.problems import Problem
from witnessmark.recording.questions import Question, Understood, understood

NOW = datetime(2026, 10, 15, 16, 30, tzinfo=ZoneInfo("Europe/Stockholm"))
VOLTS = Question("u", "Voltage", "quantity", unit="V", low=0, high=1500)
MEGOHM = Question("r", "Resistance", "quantity", unit="MΩ", bound=True, over="20 GΩ")
WORD = Question("c", "Colour", "choice", choices={"orange": "", "black": "", "blue": ""})
WHEN = Question("t", "When", "instant")
DAY = Question("d", "Day", "day")


@pytest.mark.parametrize(
    ("question", "typed", "meant"),
    [
        (VOLTS, "203.4", "203.4 V"),
        (VOLTS, "203,4", "203.4 V"),
        (VOLTS, " 203.4 V ", "203.4 V"),
        (VOLTS, "203,4 mV", "203.4 mV"),
        (VOLTS, "203.4 V ± 0.6 V (k=2)", "203.4 V ± 0.6 V (k=2)"),
        (MEGOHM, "> 999 MΩ", "> 999 MΩ"),
        (MEGOHM, ">999", "> 999 MΩ"),
        (MEGOHM, "OL", "> 20 GΩ"),
        (MEGOHM, "o.l.", "> 20 GΩ"),
        (Question("n", "Cells", "quantity", unit="1"), "96", "96"),
        (Question("p", "Percent", "number"), "0,25 %", "0.25"),
        (WORD, "orange", "orange"),
        (WORD, "2", "black"),
        (WORD, "o", "orange"),
        (WHEN, "14:20", "2026-10-15T14:20+02:00"),
        (WHEN, "9:05", "2026-10-15T09:05+02:00"),
        (WHEN, "2026-10-14 14:20", "2026-10-14T14:20+02:00"),
        (WHEN, "2026-10-14T14:20Z", "2026-10-14T14:20+00:00"),
        (WHEN, "now", "2026-10-15T16:30+02:00"),
        (DAY, "today", "2026-10-15"),
        (DAY, "14.10.2026", "2026-10-14"),
        (Question("k", "Contactors", must="open"), "yes", "open"),
        (Question("k", "Contactors", must="open"), "closed", "closed"),
        (Question("x", "Place", preset="bay 2", required=False), "", "bay 2"),
        (Question("x", "Place", required=False), "", ""),
    ],
)
def test_understood(question: Question, typed: str, meant: str) -> None:
    found = understood(question, typed, NOW)
    assert isinstance(found, Understood), found
    assert found.value == meant


@pytest.mark.parametrize(
    ("question", "typed", "code"),
    [
        (VOLTS, "", "answer.missing"),
        (VOLTS, "abc", "quantity"),
        (VOLTS, "5 A", "quantity"),
        (VOLTS, "1.203,4", "answer.separators"),
        (VOLTS, "1,203.4", "answer.separators"),
        (VOLTS, "OL", "answer.overload"),
        (VOLTS, "> 600", "answer.bound"),
        (VOLTS, "1e400 V", "quantity"),
        (VOLTS, "nan", "quantity"),
        (Question("r", "R", "quantity", unit="MΩ", bound=True), "OL", "answer.overload"),
        (WORD, "b", "answer.choice"),
        (WORD, "9", "answer.choice"),
        (WORD, "green", "answer.choice"),
        (WHEN, "25:00", "answer.instant"),
        (WHEN, "2026-10-14", "answer.instant"),
        (WHEN, "17:00", "answer.ahead"),
        (DAY, "31.02.2026", "answer.day"),
        (Question("n", "Digits", "count"), "2.5", "answer.count"),
        (Question("i", "Id", "id"), "Pack 1", "answer.id"),
        (Question("i", "Code", "code"), "7k4qx0", "answer.code"),
        (Question("p", "Percent", "number"), "a few", "answer.number"),
    ],
)
def test_what_makes_no_sense_is_refused_with_what_to_type(question: Question, typed: str, code: str) -> None:
    found = understood(question, typed, NOW)
    assert isinstance(found, Problem), found
    assert found.code.startswith(code)
    assert found.remedy


def test_what_is_not_plausible_raises_an_alarm_and_is_still_a_reading() -> None:
    found = understood(VOLTS, "4029", NOW)
    assert isinstance(found, Understood)
    assert found.value == "4029 V"
    assert "more than is plausible" in found.alarms[0]
    assert not understood(VOLTS, "402.9", NOW).alarms  # type: ignore[union-attr]  # understood, as above


def test_several_readings_and_several_choices() -> None:
    several = Question("r", "R", "quantity", unit="mΩ", several=True)
    assert understood(several, ("3,21", "3.24 mΩ"), NOW) == Understood(("3.21 mΩ", "3.24 mΩ"))
    assert understood(several, "3,21; 3.24", NOW) == Understood(("3.21 mΩ", "3.24 mΩ"))
    parts = Question("p", "Parts", "choice", choices={"dcdc": "", "inverter": ""}, several=True)
    assert understood(parts, "inverter, dcdc", NOW) == Understood(("inverter", "dcdc"))
    assert understood(parts, "all", NOW) == Understood(("dcdc", "inverter"))
    twice = understood(parts, "dcdc, dcdc", NOW)
    assert isinstance(twice, Problem)
    assert twice.code == "answer.twice"
