"""Logs and pictures of records: what the child gives, where faults are shown, and what is remembered.

Expected figures are the extremes of columns written here by hand; units are converted by definition (1 V = 1000 mV).
"""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from tests.workshops import make, seal_by_hand
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
