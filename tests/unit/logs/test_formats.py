"""MDF 4, Parquet and battery-cycler text. Files are written by asammdf 8.8 and Polars; the cycler export is real."""

from __future__ import annotations

import gc
import hashlib
import io
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest

from witnessmark.logs import Columns, read_log
from witnessmark.problems import Problem

CYCLER = Path(__file__).parent / "data" / "cycler-discharge-1c.csv"
TIME = np.arange(0.0, 5.0, 0.5)


def good(data: bytes, name: str, channels: Any = None, options: Any = None) -> Columns:
    found = read_log(data, name, channels, options)
    assert isinstance(found, Columns), found
    return found


def bad(data: bytes, name: str, channels: Any = None, options: Any = None) -> Problem:
    found = read_log(data, name, channels, options)
    assert isinstance(found, tuple), found
    assert all(problem.message and problem.remedy for problem in found)
    return found[0]


def mdf(path: Path, groups: list[list[Any]]) -> bytes:
    from asammdf import MDF

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the library's own, about what it is built on
        with MDF(version="4.10") as file:
            for signals in groups:
                file.append(signals)
            file.save(path, overwrite=True)
    return path.read_bytes()


def signal(name: str, values: Any, time: Any = TIME, unit: str = "V", **more: Any) -> Any:
    from asammdf import Signal

    return Signal(np.asarray(values), np.asarray(time), name=name, unit=unit, **more)


def test_an_mdf_file(tmp_path: Path) -> None:
    data = mdf(
        tmp_path / "a.mf4", [[signal("U_pack", 400.0 - TIME), signal("I_pack", np.arange(10, dtype="i2"), unit="A")]]
    )
    log = good(data, "a.mf4", {"time": "time", "u": "U_pack", "i": "I_pack"})
    assert log.arrays["time"].tolist() == TIME.tolist()
    assert log.arrays["u"].tolist() == (400.0 - TIME).tolist()
    assert log.arrays["i"].tolist() == list(range(10))
    assert dict(log.found.units) == {"time": "s", "U_pack": "V", "I_pack": "A"}
    assert log.found.form == "ASAM MDF 4.10" and (log.found.rows_in, log.found.rows_out) == (10, 10)
    assert log.found.sha256 == hashlib.sha256(data).hexdigest()


def test_a_scaled_channel_of_an_mdf_file_is_physical(tmp_path: Path) -> None:
    """ASAM MDF 4.1, linear conversion: physical = 0.1 raw - 40."""
    raw = signal("T", np.arange(10, dtype="u1"), unit="°C", conversion={"a": 0.1, "b": -40.0})
    log = good(mdf(tmp_path / "a.mf4", [[raw]]), "a.mf4", {"time": "time", "t": "T"})
    assert log.arrays["t"].tolist() == pytest.approx([0.1 * n - 40.0 for n in range(10)])


def test_groups_of_an_mdf_file(tmp_path: Path) -> None:
    groups = [[signal("u", TIME)], [signal("u", TIME, TIME + 0.1), signal("t", TIME, TIME + 0.1)]]
    data = mdf(tmp_path / "a.mf4", groups)
    assert bad(data, "a.mf4", {"time": "time", "u": "u"}).code == "log.column"
    log = good(data, "a.mf4", {"time": "time", "u": "1/u", "t": "t"})
    assert log.arrays["time"].tolist() == (TIME + 0.1).tolist()
    both = {"time": "time", "u": "0/u", "t": "t"}
    assert bad(data, "a.mf4", both).code == "log.join"
    log = good(data, "a.mf4", both, {"join": "hold"})
    assert log.found.longest_hold == pytest.approx(0.5)
    # At 0.1 s the first group was last seen at 0 s, at 0.5 s the second at 0.1 s.
    assert log.arrays["time"][:3].tolist() == pytest.approx([0.1, 0.5, 0.6])
    assert log.arrays["u"][:3].tolist() == [0.0, 0.5, 0.5] and log.arrays["t"][:3].tolist() == [0.0, 0.0, 0.5]


def test_invalid_samples_of_an_mdf_file_are_not_passed_over(tmp_path: Path) -> None:
    marks = np.zeros(10, dtype=bool)
    marks[4] = True
    data = mdf(tmp_path / "a.mf4", [[signal("u", TIME, invalidation_bits=marks)]])
    assert bad(data, "a.mf4", {"time": "time", "u": "u"}).code == "log.invalid"


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # the library's, of a file half read
def test_an_mdf_file_that_is_damaged_or_none(tmp_path: Path) -> None:
    data = mdf(tmp_path / "a.mf4", [[signal("u", TIME)]])
    want = {"time": "time", "u": "u"}
    assert bad(b"hello", "a.mf4", want).code == "log.format"
    assert bad(b"UnFinMF " + data[8:], "a.mf4", want).code == "log.unfinished"
    assert bad(data[:8] + b"3.30    " + data[16:], "a.mf4", want).code == "log.version"
    assert bad(data[:200], "a.mf4", want).code == "log.format"
    gc.collect()
    assert bad(data, "a.mf4", {"time": "time", "u": "v"}).code == "log.column"
    assert bad(data, "a.mf4", {"time": "time"}).code == "log.column"
    assert bad(data, "a.mf4", want, {"decimal": ","}).code == "log.option"


def parquet(frame: dict[str, Any]) -> bytes:
    stream = io.BytesIO()
    pl.DataFrame(frame).write_parquet(stream)
    return stream.getvalue()


def test_a_parquet_file() -> None:
    data = parquet(
        {
            "time": [0.0, 1.0],
            "u [V]": [400, 399],
            "word": ["a", "b"],
            "on": [True, False],
            "for": pl.Series([1500, 2500]).cast(pl.Duration("ms")),
        }
    )
    log = good(data, "a.parquet", {"time": "time", "u": "u", "on": "on", "d": "for"})
    assert log.arrays["u"].tolist() == [400.0, 399.0] and log.arrays["on"].tolist() == [1.0, 0.0]
    assert log.arrays["d"].tolist() == [1.5, 2.5]
    assert (log.found.units["u [V]"], log.found.units["for"]) == ("V", "s")
    assert log.found.unused == ("word",) and (log.found.rows_in, log.found.rows_out) == (2, 2)


@pytest.mark.parametrize(
    ("frame", "said"),
    [
        ({"u": [1.0, None]}, "row 2 of 'u' is empty"),
        ({"u": [1.0, float("nan")]}, "not a finite number"),
        ({"u": [float("inf"), 1.0]}, "row 1 of 'u'"),
        ({"u": ["1", "2"]}, "not numbers"),
        ({"u": pl.Series([0, 1]).cast(pl.Datetime)}, "date or time of day"),
        ({"u": pl.Series([], dtype=pl.Float64)}, "no rows"),
        ({"v": [1.0]}, "no column 'u'"),
    ],
)
def test_a_parquet_file_that_cannot_be_used(frame: dict[str, Any], said: str) -> None:
    assert said in bad(parquet(frame), "a.parquet", {"u": "u"}).message


def test_a_damaged_parquet_file() -> None:
    data = parquet({"u": [1.0, 2.0]})
    assert bad(data[:-3], "a.parquet").code == "log.format"
    assert bad(b"PAR1", "a.parquet").code == "log.format"
    assert bad(data, "a.parquet", None, {"decimal": ","}).code == "log.option"


def test_a_real_cycler_export() -> None:
    """Charge and energy of the first discharge against the cycler's own counters: -30.33 Ah, -113.84 Wh, and against
    trapezoids with numpy: -30.3263 Ah, -114.0104 Wh. Source: Oak Ridge National Laboratory, doi:10.5281/zenodo.2580327.
    """
    data = CYCLER.read_bytes()
    assert hashlib.sha256(data).hexdigest() == "a82c1ab866871d9ce7f7f2d77c3cd9f6df327186de97bcd4dad64dba38d30ab6"
    wish = {"time": "Time", "i": "Current", "u": "Voltage", "charge": "Capacity(Ah)", "energy": "Energy"}
    log = good(data, "cycler.csv", wish)
    assert (log.found.rows_in, log.found.rows_out) == (2287, 2287)
    assert log.found.units["Current(A)"] == "A" and "Mode" in log.found.unused
    text = data.decode().splitlines()[1:]
    modes = [line.split(",")[13] for line in text]
    first = modes.index("DCHG")
    end = next(n for n in range(first, len(modes)) if modes[n] != "DCHG")
    part = {name: values[first:end] for name, values in log.arrays.items()}
    assert (part["charge"][-1], part["energy"][-1], part["u"][-1]) == (-30.33, -113.84, 3.0)
    assert np.mean(part["i"]) == pytest.approx(-30.6, abs=0.01)
    step = np.diff(part["time"])
    current, power = part["i"], part["i"] * part["u"]
    assert np.sum(step * (current[1:] + current[:-1]) / 2) / 3600 == pytest.approx(-30.3263, rel=1e-4)
    assert np.sum(step * (power[1:] + power[:-1]) / 2) / 3600 == pytest.approx(-114.0104, rel=1e-4)
    # The header says `Loop` three times: no such column can be asked for.
    assert "given twice" in bad(data, "cycler.csv", {"loop": "Loop"}).message


CYCLED = """Test: invented cell 7
Channel: 3
Started: 2026-11-25

Rec\tCycle\tTest Time\tAmps\tVolts
1\t1\t  0d 00:00:00.00\t0.0\t4.10
2\t1\t  0d 00:00:01.50\t-2.0\t4.05
3\t1\t  1d 01:00:00.00\t-2.0\t3.95
"""


def test_a_cycler_export_with_lines_above_and_clock_times() -> None:
    log = good(CYCLED.encode(), "a.txt", {"time": "Test Time", "i": "Amps"}, {"header": "5"})
    assert log.arrays["time"].tolist() == [0.0, 1.5, 90000.0]
    assert log.found.units["Test Time"] == "s" and "hours, minutes" in log.found.notes[0]
    assert (log.found.header_line, log.found.delimiter) == (5, "tab")
    # Without the line being stated nothing is guessed: the remedy says what to write.
    problem = bad(CYCLED.encode(), "a.txt", {"time": "Test Time"})
    assert problem.code in ("log.delimiter", "log.row", "log.header") and "header" in problem.remedy


@pytest.mark.parametrize(
    ("cells", "seconds"),
    [
        (("0:00:01", "0:00:02", "100:00:00"), [1.0, 2.0, 360000.0]),
        (("00:00:01,5", "00:00:02,5", "00:10:00,0"), [1.5, 2.5, 600.0]),
        (("0 00:00:01", "0 00:00:02", "2 00:00:00"), [1.0, 2.0, 172800.0]),
    ],
)
def test_durations(cells: tuple[str, ...], seconds: list[float]) -> None:
    text = "t;u\n" + "".join(f"{cell};1{',' if ',' in cell else '.'}5\n" for cell in cells)
    assert good(text.encode(), "a.csv").arrays["t"].tolist() == seconds


@pytest.mark.parametrize("cell", ["0:61:00", "0:00:60", "2026-11-25 10:00:00", "10:00", "-0:00:01", "0:00:01 pm"])
def test_what_is_no_duration(cell: str) -> None:
    text = f"t;u\n0:00:01;1\n{cell};1\n"
    assert bad(text.encode(), "a.csv").code == "log.cell"


@pytest.mark.parametrize("name", ["a.xlsx", "a", "a.mat"])
def test_an_unknown_format_says_which_are_known(name: str) -> None:
    problem = bad(b"x", name)
    assert problem.code == "log.format" and ".mf4" in problem.remedy and ".blf" in problem.remedy
