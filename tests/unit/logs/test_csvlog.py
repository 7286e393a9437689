"""Logs as text. Expected numbers are those written in the test's own text: read back by Python's `float`."""

from __future__ import annotations

import csv
import io
import random
from pathlib import Path

import pytest

from witnessmark.confined import Session
from witnessmark.logs import Columns, read_log
from witnessmark.problems import Problem


def good(text: str | bytes, **more: object) -> Columns:
    data = text if isinstance(text, bytes) else text.encode()
    result = read_log(data, "logs/a.csv", **more)  # type: ignore[arg-type] # keyword arguments of several types
    assert isinstance(result, Columns), result
    return result


def bad(text: str | bytes, **more: object) -> tuple[Problem, ...]:
    data = text if isinstance(text, bytes) else text.encode()
    result = read_log(data, "logs/a.csv", **more)  # type: ignore[arg-type] # keyword arguments of several types
    assert isinstance(result, tuple), result
    assert all(problem.message and problem.remedy for problem in result)
    return result


def codes(problems: tuple[Problem, ...]) -> list[tuple[str, str]]:
    return [(problem.code, str(problem.place)) for problem in problems]


def test_plain() -> None:
    log = good("t,u\n0,400.5\n1,399\n2,-1e-3\n")
    assert log.arrays["t"].tolist() == [0, 1, 2]
    assert log.arrays["u"].tolist() == [400.5, 399, -0.001]
    found = log.found
    assert (found.delimiter, found.decimal, found.encoding, found.rows_in, found.rows_out) == (
        "comma",
        ".",
        "utf-8",
        3,
        3,
    )
    assert found.header_line == 1
    assert found.units_line == 0


@pytest.mark.parametrize(
    ("text", "delimiter", "decimal"),
    [
        ("t;u\n0;1,5\n1;2,25\n", "semicolon", ","),
        ("t;u\n0;1.5\n1;2.25\n", "semicolon", "."),
        ("t\tu\n0\t1,5\n1\t2,25\n", "tab", ","),
        ('t,u\n0,"1,5"\n1,"2,25"\n', "comma", ","),
        ("t;u\r\n0;1,5\r\n1;2,25\r\n\r\n\r\n", "semicolon", ","),
        (" t ; u \n 0 ; 1,5 \n 1 ; 2,25 ", "semicolon", ","),
    ],
)
def test_separators_and_marks(text: str, delimiter: str, decimal: str) -> None:
    log = good(text)
    assert log.arrays["u"].tolist() == [1.5, 2.25]
    assert (log.found.delimiter, log.found.decimal) == (delimiter, decimal)


def test_units_row_and_units_in_brackets() -> None:
    log = good("t;u\ns;V\n0;1,5\n")
    assert dict(log.found.units) == {"t": "s", "u": "V"}
    assert log.found.units_line == 2
    log = good("t [s];cell temp (°C)\n0;21,5\n", channels={"time": "t", "temperature": "cell temp"})
    assert dict(log.found.units) == {"t [s]": "s", "cell temp (°C)": "°C"}
    assert log.arrays["temperature"].tolist() == [21.5]


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        ("t;θ [°C]\n0;1,5\n".encode("utf-8-sig"), "utf-8-sig"),
        ("t;T [°C]\n0;1,5\n".encode("cp1252"), "cp1252"),
        ("t;T [°C]\n0;1,5\n".encode(), "utf-8"),
    ],
)
def test_encodings(data: bytes, encoding: str) -> None:
    log = good(data)
    assert log.found.encoding == encoding
    assert "°C" in log.found.units.values()


def test_channels_by_pattern_in_the_order_of_their_numbers() -> None:
    head = "t," + ",".join(f"cell_{i}" for i in range(12)) + ",text"
    log = good(head + "\n0," + ",".join(str(i) for i in range(12)) + ",abc\n", channels={"time": "t", "u": "cell_*"})
    assert log.names["u"] == tuple(f"cell_{i}" for i in range(12))
    assert list(log.arrays) == ["time", *(f"u:cell_{i}" for i in range(12))]
    assert log.arrays["u:cell_10"].tolist() == [10]
    assert log.found.unused == ("text",)
    log = good("t,cell_1\n0,3.7\n", channels={"u": "cell_*"})
    assert list(log.arrays) == ["u:cell_1"]


def test_preamble_by_its_line() -> None:
    text = "Logger 7\nSerial;0421\n\nt;u\n0;1,5\n"
    assert good(text, options={"header": "4", "delimiter": ";"}).arrays["u"].tolist() == [1.5]
    assert bad(text)


REFUSED: dict[str, tuple[str | bytes, list[tuple[str, str]] | None]] = {
    "ambiguous separator": ("a;b,c\n1;2,5\n", [("log.delimiter", "logs/a.csv:1:1")]),
    "ambiguous thousands": ("t;u\n1;1,234\n2;2,345\n", [("log.decimal", "logs/a.csv:2:1")]),
    "both marks": ("t;u\n1,5;2.5\n", [("log.decimal", "logs/a.csv:2:1")]),
    "thousands and mark": ("t;u\n1;1.234,5\n", [("log.decimal", "logs/a.csv:2:1")]),
    "word": ("t,u\n0,1\n1,abc\n", [("log.cell", "logs/a.csv:3:3")]),
    "empty cell": ("t,u\n0,1\n1,\n", [("log.cell", "logs/a.csv:3:3")]),
    "nan": ("t,u\n0,NaN\n1,1\n", [("log.cell", "logs/a.csv:2:3")]),
    "inf": ("t,u\n0,1\n1,-inf\n", [("log.cell", "logs/a.csv:3:3")]),
    "overflow": ("t,u\n0,1\n1,1e400\n", [("log.cell", "logs/a.csv:3:3")]),
    "hex": ("t,u\n0,1\n1,0x10\n", [("log.cell", "logs/a.csv:3:3")]),
    "underscore": ("t,u\n0,1\n1,1_000\n", [("log.cell", "logs/a.csv:3:3")]),
    "other digits": ("t,u\n0,1\n1,١٢\n", [("log.cell", "logs/a.csv:3:3")]),
    "unit in the cell": ("t,u\n0,1\n1,3 V\n", [("log.cell", "logs/a.csv:3:3")]),
    "date": (
        "t,u\n2026-10-14 16:20:01,1\n2026-10-14 16:20:02,1\n",
        [("log.cell", "logs/a.csv:2:1"), ("log.cell", "logs/a.csv:3:1")],
    ),
    "short row": ("t,u,v\n0,1,2\n1,2\n", [("log.row", "logs/a.csv:3:1")]),
    "long row": ("t,u\n0,1\n1,2,3\n", [("log.row", "logs/a.csv:3:1")]),
    "empty row": ("t,u\n0,1\n\n1,2\n", [("log.row", "logs/a.csv:3:1")]),
    "decimal commas between commas": ("t,u\n0,5,1,5\n", [("log.row", "logs/a.csv:2:1")]),
    "header twice": ("t,u,u\n0,1,2\n", [("log.header", "logs/a.csv:1:1")]),
    "header again in the rows": (
        "t,u\n0,1\nt,u\n1,2\n",
        [("log.cell", "logs/a.csv:3:1"), ("log.cell", "logs/a.csv:3:3")],
    ),
    "no header": ("0,1\n1,2\n", [("log.header", "logs/a.csv:1:1")]),
    "no name": ("t,,u\n0,1,2\n", [("log.header", "logs/a.csv:1:1")]),
    "no rows": ("t,u\n", [("log.no-rows", "logs/a.csv")]),
    "units and no rows": ("t,u\ns,V\n", [("log.no-rows", "logs/a.csv")]),
    "empty": ("", [("log.empty", "logs/a.csv")]),
    "blank": ("\n\n", [("log.empty", "logs/a.csv")]),
    "utf-16": ("t,u\n0,1\n".encode("utf-16"), [("log.encoding", "logs/a.csv")]),
    "zero bytes": (b"t,u\n0,1\0\n", [("log.encoding", "logs/a.csv")]),
    "old line ends": (b"t,u\r0,1\r", [("log.line-ends", "logs/a.csv")]),
    "not in cp1252 either": (b"t,\x81\n0,1\n", [("log.encoding", "logs/a.csv")]),
    "quote never closed": ('t,u\n0,"1\n1,2\n', None),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused(name: str) -> None:
    text, wanted = REFUSED[name]
    problems = bad(text)
    if wanted is not None:
        assert codes(problems) == wanted


def test_what_the_record_says_settles_it() -> None:
    assert good("t;u\n1;1,234\n", options={"decimal": ","}).arrays["u"].tolist() == [1.234]
    assert codes(bad("t;u\n1;1,234\n", options={"decimal": "."})) == [("log.cell", "logs/a.csv:2:3")]
    assert good("a;b,c\n1;2,5\n", options={"delimiter": ";", "decimal": ","}).arrays["b,c"].tolist() == [2.5]


@pytest.mark.parametrize(
    "options",
    [
        {"delimiter": "|"},
        {"decimal": "'"},
        {"encoding": "utf-7"},
        {"header": "0"},
        {"x": "y"},
        {"delimiter": ",", "decimal": ","},
    ],
)
def test_wrong_options(options: dict[str, str]) -> None:
    assert [problem.code for problem in bad("t,u\n0,1\n", options=options)] == ["log.option"]


def test_wrong_channels() -> None:
    assert codes(bad("t,u\n0,1\n", channels={"time": "x"})) == [("log.column", "logs/a.csv:1:1")]
    assert codes(bad("t,u\n0,1\n", channels={"time": "cell_*"})) == [("log.column", "logs/a.csv:1:1")]
    assert codes(bad("t,u\n0,1\n", channels={"time": "t", "x": "t"})) == [("log.column", "logs/a.csv:1:1")]
    assert codes(bad("u [V],u [mV]\n0,1\n", channels={"u": "u"})) == [("log.column", "logs/a.csv:1:1")]


def test_unwanted_columns_may_hold_anything() -> None:
    assert good("t,u,state\n0,1,NaN\n1,2,off\n", channels={"u": "u"}).arrays["u"].tolist() == [1, 2]


def test_many_faults_are_cut_to_ten() -> None:
    assert len(bad("t,u\n" + "0,x\n" * 5000)) == 10


def test_format_by_ending() -> None:
    result = read_log(b"", "logs/a.xyz")
    assert isinstance(result, tuple)
    assert result[0].code == "log.format"


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_against_pythons_csv_and_float(delimiter: str) -> None:
    """Reference: the standard library's `csv` and `float`."""
    chance = random.Random(7)
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\n")
    writer.writerow(["t", "a", "b"])
    rows = [[repr(i * 0.01), repr(chance.uniform(-1e6, 1e6)), f"{chance.gauss(0, 1):.3e}"] for i in range(3000)]
    writer.writerows(rows)
    log = good(out.getvalue())
    for index, name in enumerate(("t", "a", "b")):
        assert log.arrays[name].tolist() == [float(row[index]) for row in rows]


def child(argument: dict[str, str]) -> dict[str, object]:
    """Runs in the confined child."""
    path = Path(argument["path"])
    result = read_log(path, path.name)
    assert isinstance(result, Columns)
    return {"sum": float(result.arrays["u"].sum()), **result.as_json()}


def test_in_the_confined_child(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    file.write_text("t,u\n0,1.5\n1,2.5\n")
    with Session(readable=[tmp_path], code=[Path(__file__).parents[3]]) as session:
        answer = session.call("tests.unit.logs.test_csvlog:child", {"path": str(file)}, seconds=60)
    assert answer["sum"] == 4.0
    assert answer["rows_out"] == 2
