"""`calculate --meter` and `sheet --meters`: whether a meter can decide a limit, and what would just pass."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from witnessmark.cli.main import main
from witnessmark.shipped import shipped

DEMO = ["--folder", str(shipped("evidence").parent)]
BONDING = ["calculate", "bonding-four-wire/1", "current=1 A", "resistance=30 mΩ"]
LIMIT = ["--limit", "less than 0.1 Ω"]


def said(capsys: pytest.CaptureFixture[str], *given: str) -> str:
    assert main([*given]) == 0
    return " ".join(capsys.readouterr().out.split())


def test_a_meter_that_is_good_enough(capsys: pytest.CaptureFixture[str]) -> None:
    """± (0.25 % + 3 digits of 0.1 mΩ): (100 − 0.3464)/(1.0028868) = 99.367 mΩ, rounded to the safe side."""
    out = said(capsys, *BONDING, *LIMIT, *DEMO, "--meter", "mo-01")
    assert "A pass needs at most 99.36 mΩ (less than 0.1 Ω is asked): resistance at 99.36 mΩ or less" in out
    assert "It can decide this limit." in out and "CAUTION" in out


def test_a_meter_that_is_not(capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, *BONDING, *LIMIT, *DEMO, "--meter", "dmm-04")
    assert "It cannot decide this limit: at the limit the uncertainty of resistance is not known" in out
    out = said(capsys, *BONDING[:-1], "resistance=1 mΩ", "--limit", "less than 0.03 mΩ", *DEMO, "--meter", "mo-01")
    assert "It cannot decide this limit: the uncertainty at the limit is so large that no reading passes" in out


def test_one_that_is_overdue_does_not_count(capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, *BONDING, *LIMIT, *DEMO, "--meter", "mo-01", "--as-of", "2030-01-01")
    assert "Not today: The calibration of mo-01 was due" in out
    assert "It would be good enough, but it does not count today" in out
    assert "It can decide" not in out


def test_without_readings_those_of_the_last_record_count(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calculate", "bonding-four-wire/1", "--limit", "less than 0.1 Ω", "--meter", "mo-01", *DEMO]) == 0
    both = capsys.readouterr()
    assert "Readings like those of the record" in both.err and "It can decide this limit." in both.out


def test_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*BONDING, *LIMIT, *DEMO, "--meter", "mo-01", "--format", "json"]) == 0
    meter = json.loads(capsys.readouterr().out)["meter"]
    assert meter["decides"] is True and meter["cannot"] == "" and meter["faults"] == []
    assert float(meter["just_passes"]["value"]) == pytest.approx(99.367, abs=5e-4)
    assert meter["just_passes"]["reading"] == "resistance"


@pytest.mark.parametrize(
    ("meter", "words"),
    [("nothing", "there is no instrument 'nothing'"), ("bms-p2", "fills no role"), ("shunt=mo-01", "fills no role")],
)
def test_what_is_no_meter_for_it(meter: str, words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*BONDING, *LIMIT, *DEMO, "--meter", meter]) == 2
    assert words in capsys.readouterr().err


def test_no_folder_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*BONDING, *LIMIT, "--folder", str(tmp_path), "--meter", "mo-01"]) == 2
    assert "Do this:" in capsys.readouterr().err


def test_every_limit_of_a_vehicle(capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, "sheet", "van-07", "--meters", *DEMO)
    assert "bonding resistance: less than 0.1 Ω; bonding-four-wire/1 with mo-01" in out
    assert "A pass needs at least 506.2 Ω/V (at least 500 Ω/V is asked)" in out, "as on the printed sheet"
    assert main(["sheet", "van-07", "--meters", "--format", "json", *DEMO]) == 0
    rows = json.loads(capsys.readouterr().out)["meters"]
    assert rows and all(row["can_decide"] for row in rows)
    assert main(["sheet", "van-07", "--meters", "--as-of", "2030-01-01", *DEMO]) in (0, 2)
    assert "It can decide this limit" not in capsys.readouterr().out
