"""Logs and pictures of records: what the child gives, where faults are shown, and what is remembered.

Expected figures are the extremes of columns written here by hand; units are converted by definition (1 V = 1000 mV).
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest

from tests.workshops import make, seal_by_hand
from witnessmark.reading.figures import reduce_in_child
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.world import Workshop

BASE = "evidence/vehicles/van-07/"
PATH = BASE + "records/window.yaml"
PINNED = "format: 1\nname: A\nplace: B\nzone: Europe/Stockholm\ndemonstration: {as_of: 2026-11-24, notice: Invented.}\n"
RECORD = """\
format: 1
shows:
  isolation/value: {}
part: traction-bus
performed: 2026-10-14T16:20+02:00
by: {tester: jm}
method: cell-window/1
log:
  file: logs/cells.csv
  channels: {time: time, cell_voltage: cell_*}
"""
ROWS = ["0,3.71,3.72", "10,3.70,4.18", "20,3.21,3.69", "30,3.70,3.71"]
LOG = "time,cell_1,cell_2\n" + "\n".join(ROWS) + "\n"


def _read(root: Path, log: str | bytes, record: str = RECORD, *, use_cache: bool = False) -> Workshop:
    data = log.encode() if isinstance(log, str) else log
    sealed = seal_by_hand(record, "7k4qxm", files=[("logs/cells.csv", data)])
    make(root, {"evidence/workshop.yaml": PINNED, PATH: sealed, BASE + "logs/cells.csv": data})
    return read_workshop(root, use_cache=use_cache)


def _extremes(workshop: Workshop) -> tuple[float, float]:
    kinds = workshop.figures["7k4qxm"]["kinds"]
    cell = kinds["cell_voltage"]
    return cell["highest"]["value"], cell["lowest"]["value"]


def test_the_extremes_of_the_log(tmp_path: Path) -> None:
    workshop = _read(tmp_path, LOG)
    assert workshop.problems == ()
    assert _extremes(workshop) == (4.18, 3.21)
    said = workshop.figures["7k4qxm"]["log"]
    assert (said["rows_in"], said["rows_out"], said["delimiter"]) == (4, 4, "comma")


def test_a_column_in_another_unit_is_converted(tmp_path: Path) -> None:
    millivolts = "time,cell_1,cell_2\ns,mV,mV\n0,3710,3720\n10,3700,4180\n20,3210,3690\n30,3700,3710\n"
    workshop = _read(tmp_path, millivolts)
    assert workshop.problems == ()
    assert _extremes(workshop) == pytest.approx((4.18, 3.21), rel=1e-12)


def test_one_column_for_a_channel_of_many(tmp_path: Path) -> None:
    workshop = _read(tmp_path, LOG, RECORD.replace("cell_*", "cell_2"))
    assert _extremes(workshop) == (4.18, 3.69)


@pytest.mark.parametrize(
    ("what", "log", "record", "code", "place"),
    [
        ("a cell that is no number", LOG.replace("3.21", "abc"), RECORD, "log.cell", BASE + "logs/cells.csv:4"),
        ("a unit of something else", "time,cell_1\ns,A\n0,1\n1,2\n", RECORD, "log.unit", PATH + ":10"),
        (
            "a column that there is not",
            LOG,
            RECORD.replace("cell_*", "zelle_*"),
            "log.column",
            BASE + "logs/cells.csv:1",
        ),
        ("time that goes back", LOG.replace("20,3", "5,3"), RECORD, "log.time", PATH + ":10"),
        ("a units row that is not there", LOG, RECORD + "  units_row: yes\n", "log.units-row", PATH + ":10"),
    ],
)
def test_faults_are_shown_and_nothing_is_computed(
    tmp_path: Path, what: str, log: str, record: str, code: str, place: str
) -> None:
    workshop = _read(tmp_path, log, record)
    assert [p.code for p in workshop.problems] == [code], what
    assert str(workshop.problems[0].place).startswith(place)
    assert workshop.figures["7k4qxm"]["faults"]


def test_a_log_that_changed_gives_no_figures(tmp_path: Path) -> None:
    _read(tmp_path, LOG)
    (tmp_path / BASE / "logs/cells.csv").write_text(LOG.replace("4.18", "4.10"), encoding="utf-8")
    workshop = read_workshop(tmp_path, use_cache=False)
    assert [fault["code"] for fault in workshop.figures["7k4qxm"]["faults"]] == ["file.changed"]


def test_the_second_reading_starts_no_child(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from witnessmark.confined import Session

    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    first = _read(tmp_path / "shop", LOG, use_cache=True)

    def refuse(self: Session, target: str, argument: object, *, seconds: float = 0) -> object:
        raise AssertionError(f"{target} was asked again")

    monkeypatch.setattr(Session, "call", refuse)
    again = read_workshop(tmp_path / "shop")
    assert again.figures == first.figures
    # Without the cache the child is needed.
    with pytest.raises(AssertionError):
        read_workshop(tmp_path / "shop", use_cache=False)


def test_a_damaged_cache_is_as_if_it_were_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    _read(tmp_path / "shop", LOG, use_cache=True)
    kept = list((tmp_path / "cache").rglob("*.json"))
    assert kept
    for file in kept:
        file.write_text('{"key": "another", "value": {}}', encoding="utf-8")
    assert _extremes(read_workshop(tmp_path / "shop")) == (4.18, 3.21)


def test_pictures_are_looked_at(tmp_path: Path) -> None:
    from PIL import Image

    stream = io.BytesIO()
    exif = Image.Exif()
    exif[0x0112] = 6  # Exif 2.32, 4.6.4: turned by 90 degrees; as it is seen, width and height change places.
    exif[0x0132] = "2026:10:14 16:21:05"
    Image.new("RGB", (40, 30), "white").save(stream, "JPEG", exif=exif)
    draft = RECORD[: RECORD.index("method:")].replace(
        "isolation/value: {}", "isolation/picture: {photo: photos/meter.jpg, finding: meets}"
    )
    sealed = seal_by_hand(draft, "7k4qxm", files=[("photos/meter.jpg", stream.getvalue())])
    make(tmp_path, {"evidence/workshop.yaml": PINNED, PATH: sealed, BASE + "photos/meter.jpg": stream.getvalue()})
    workshop = read_workshop(tmp_path, use_cache=False)
    assert workshop.problems == ()
    (picture,) = workshop.pictures.values()
    assert picture.path == BASE + "photos/meter.jpg"
    assert (picture.width, picture.height) == (30, 40)
    assert picture.taken == "2026-10-14 16:21:05"
    assert not picture.has_position
    assert [state.intact for state in workshop.acts[0].files] == [True]


MAPPED = """\
format: 1
design: pack-p2
revision: B
kind: traction-pack
title: Invented pack
channels:
  clock: {column: time, unit: s}
  cells: {column: cell_*, unit: V, low: 2.5 V, high: 4.2 V, sampling: 10 s}
issued: 2026-10-01
by: ao
"""
BY_MAP = RECORD.replace(
    "  channels: {time: time, cell_voltage: cell_*}",
    "  design: pack-p2/B\n  channels: {time: clock, cell_voltage: cells}",
)


def _mapped(root: Path, log: str, design: str = MAPPED, record: str = BY_MAP) -> Workshop:
    make(root, {"evidence/designs/pack-p2/B.yaml": seal_by_hand(design, "2wxyz3")})
    return _read(root, log, record)


def test_the_channel_map_of_a_design_names_the_columns(tmp_path: Path) -> None:
    workshop = _mapped(tmp_path, LOG)
    assert workshop.problems == ()
    assert _extremes(workshop) == (4.18, 3.21)


@pytest.mark.parametrize(
    ("what", "log", "map_", "code", "said"),
    [
        ("another unit", LOG.replace("\n0,", "\ns,mV,mV\n0,"), {}, "log.unit", "in 'mV'"),
        ("too high", LOG.replace("4.18", "4.21"), {}, "log.range", "'cell_2' is 4.21 V in row 2"),
        ("too low", LOG.replace("3.21", "0.00"), {}, "log.range", "outside the 2.5 to 4.2 V"),
        ("too slow", LOG.replace("\n30,", "\n31,"), {}, "log.sampling", "11 s pass"),
        ("too slow by little", LOG.replace("\n30,", "\n30.001,"), {}, "log.sampling", "10 s at most"),
        ("no lower bound", LOG.replace("4.18", "4.21"), {"low": None}, "log.range", "the … to 4.2 V"),
    ],
)
def test_a_log_unlike_the_channel_map_is_refused(
    tmp_path: Path, what: str, log: str, map_: dict[str, object], code: str, said: str
) -> None:
    """What the child does, here without one."""
    (tmp_path / "a.csv").write_text(log)
    entry = {"channel": "cells", "unit": "V", "low": 2.5, "high": 4.2, "sampling": 10.0} | map_
    argument = {
        "path": str(tmp_path / "a.csv"),
        "shown": "a.csv",
        "method": "cell-window/1",
        "channels": {"time": "time", "cell_voltage": "cell_*"},
        "map": {"cell_*": entry},
        "options": {},
        "dbc": None,
        "units_row": None,
        "start": None,
        "reduce": {},
        "bench": False,
        "plugins": (),
    }
    answer = reduce_in_child(argument)
    assert "figures" not in answer, what
    assert {row["code"] for row in answer["problems"]} == {code}
    assert said in answer["problems"][0]["message"]


def test_a_log_outside_the_map_gives_no_figures(tmp_path: Path) -> None:
    workshop = _mapped(tmp_path, LOG.replace("4.18", "4.21"))
    assert [p.code for p in workshop.problems] == ["log.range"]
    assert [fault["code"] for fault in workshop.figures["7k4qxm"]["faults"]] == ["log.range"]


@pytest.mark.parametrize(
    ("design", "record", "code", "said"),
    [
        (MAPPED, BY_MAP.replace(": cells", ": zellen"), "design.channel", "clock, cells"),
        (MAPPED.replace("n: B", "n: C"), BY_MAP, "design.unknown", "pack-p2/B"),
    ],
)
def test_what_the_map_does_not_have(tmp_path: Path, design: str, record: str, code: str, said: str) -> None:
    workshop = _mapped(tmp_path, LOG, design, record)
    [problem] = [p for p in workshop.problems if p.code == code]
    assert said in f"{problem.message} {problem.remedy}"
    assert [fault["code"] for fault in workshop.figures["7k4qxm"]["faults"]] == [code]


def test_a_map_of_two_files_is_no_map(tmp_path: Path) -> None:
    make(tmp_path, {"evidence/designs/pack-p2/B2.yaml": seal_by_hand(MAPPED, "3wxyz4")})
    workshop = _mapped(tmp_path, LOG)
    assert [fault["code"] for fault in workshop.figures["7k4qxm"]["faults"]] == ["design.unknown"]


@pytest.mark.parametrize(
    ("wrong", "said"), [("unit: furlong", "unit"), ("low: 2.5 A", "a voltage is asked for"), ("sampling: fast", "fast")]
)
def test_a_channel_map_is_checked_when_it_is_read(tmp_path: Path, wrong: str, said: str) -> None:
    key = wrong.partition(":")[0]
    lines = ["unit: V", "low: 2.5 V", "high: 4.2 V", "sampling: 10 s"]
    entry = ", ".join(wrong if line.startswith(key) else line for line in lines)
    design = MAPPED.replace("unit: V, low: 2.5 V, high: 4.2 V, sampling: 10 s", entry)
    workshop = _mapped(tmp_path, LOG, design)
    assert any(said in p.message and p.place and p.place.file.endswith("B.yaml") for p in workshop.problems)


BUS = """\
base hex timestamps absolute
0.000 1 1F4 Rx d 2 7E 0E
0.100 1 1F4 Rx d 2 54 10
0.200 1 1F4 Rx d 2 8A 0C
0.300 1 1F4 Rx d 2 7E 0E
"""
DBC = 'VERSION ""\nNS_ :\nBS_:\nBU_: B\nBO_ 500 Cell: 2 B\n SG_ Cell1 : 0|16@1+ (0.001,0) [0|5] "V" B\n'


def test_a_can_log_with_its_dbc(tmp_path: Path) -> None:
    """Bytes by hand: 0x1054 = 4180 mV, 0x0C8A = 3210 mV. A DBC that is not sealed as it lies there is refused."""
    record = RECORD.replace("cells.csv", "bus.asc").replace("cell_*}", "Cell*}\n  dbc: logs/bus.dbc")
    files = [("logs/bus.asc", BUS.encode()), ("logs/bus.dbc", DBC.encode())]
    sealed = seal_by_hand(record, "7k4qxm", files=files)
    make(tmp_path, {"evidence/workshop.yaml": PINNED, PATH: sealed, **{BASE + name: data for name, data in files}})
    workshop = read_workshop(tmp_path, use_cache=False)
    assert workshop.problems == () and workshop.unused_files == ()
    assert _extremes(workshop) == pytest.approx((4.18, 3.21), rel=1e-12)
    assert workshop.figures["7k4qxm"]["log"]["counts"] == {"lines": 5, "frames": 4, "lines of the header": 1}
    make(tmp_path, {BASE + "logs/bus.dbc": DBC.replace("0.001", "0.002").encode()})
    figures = read_workshop(tmp_path, use_cache=False).figures["7k4qxm"]
    assert [fault["code"] for fault in figures["faults"]] == ["file.changed"]


def test_held_channels_only_where_the_method_allows_for_them(tmp_path: Path) -> None:
    """Two signals of two messages: the cell window takes them held, the contactor sequence does not."""
    second = "BO_ 501 Bus: 2 B\n" + "".join(
        f' SG_ {name} : {bit}|1@1+ (1,0) [0|1] "" B\n' for bit, name in enumerate(("K1", "K2", "K3"))
    )
    dbc = DBC + second + ' SG_ U : 3|9@1+ (1,0) [0|0] "V" B\n'
    lines = "".join(f"{0.1 * n + 0.05:.3f} 1 1F5 Rx d 2 0{n} 00\n0.{n + 1}00 1 1F4 Rx d 2 7E 0E\n" for n in range(4))
    (tmp_path / "bus.asc").write_text("base hex timestamps absolute\n" + lines)
    (tmp_path / "bus.dbc").write_text(dbc)

    def reduced(method: str, channels: dict[str, object], reduce: dict[str, str]) -> dict[str, Any]:
        return reduce_in_child(
            {
                "path": str(tmp_path / "bus.asc"),
                "shown": "bus.asc",
                "method": method,
                "channels": {"time": "time", **channels},
                "map": {},
                "options": {"join": "hold"},
                "dbc": [str(tmp_path / "bus.dbc"), "bus.dbc"],
                "units_row": None,
                "start": None,
                "reduce": reduce,
                "bench": False,
                "plugins": (),
            }
        )

    answer = reduced("cell-window/1", {"cell_voltage": ["Cell1", "U"]}, {})
    assert answer["figures"]["log"]["longest_hold"] == pytest.approx(0.1)
    states: dict[str, object] = {"first": "K1", "precharge": "K2", "second": "K3"}
    answer = reduced("contactor-sequence/1", {**states, "bus_voltage": "U", "pack_voltage": "Cell1"}, {})
    assert [row["code"] for row in answer["problems"]] == ["log.join"]
    # The event was seen between 0.1 s and 0.15 s; held values may be 0.1 s old: the step begins as much earlier.
    levels = {"event_level": "0.5", "response_level": "3"}
    figures = reduced("reaction-time/1", {"event": "K1", "response": "Cell1"}, levels)["figures"]
    assert figures["event_after"] == pytest.approx(0.15)
    assert figures["event_before"] == pytest.approx(0.1 - 0.1)
