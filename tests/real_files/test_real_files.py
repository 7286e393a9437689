"""Files that other tools wrote, read as a user would give them: rows and frames counted in against out.

README.md says where each comes from, with its licence. The figures are those of the collected check values
(tests/published/table.yaml), which reference libraries or the files' own counters gave.
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.published.rows import printed
from witnessmark.logs import Columns, read_log
from witnessmark.logs.dbc import load
from witnessmark.methods.base import Result
from witnessmark.methods.registry import method
from witnessmark.methods.written import readings_as_written
from witnessmark.problems import Problem
from witnessmark.reading.pictures import Picture, look, picture_of, publish

HERE = Path(__file__).parent
KEPT = {
    "FIL-14": "vehicle.dbc", "FIL-16": "motohawk.dbc", "FIL-19": "camera.jpg", "FIL-21": "plain.jpg",
    "FIL-26": "camera.heic", "FIL-27": "broken.heic",
}  # fmt: skip
WHOLE = {
    "discharge-1c-voltage.txt": "8fc19de45172215d65c56522c224e6fc700ee443db236b814238a829b7a14c3a",
    "discharge-1c-temperature.txt": "97308dfd7f7dd6c434e30f6c00fb6707c43c963855bb0800e0336809d5cc3756",
}


def good(data: bytes, name: str, channels: dict[str, str], dbc: bytes | None = None, options: Any = None) -> Columns:
    found = read_log(data, name, channels, options, (dbc, "bus.dbc") if dbc is not None else None)
    assert isinstance(found, Columns), found
    return found


def picture(name: str) -> Picture | Problem:
    return picture_of(look({"path": str(HERE / name)}), name)


@pytest.mark.parametrize("line", sorted(KEPT))
def test_a_kept_file_is_the_one_of_its_source(line: str) -> None:
    data = (HERE / KEPT[line]).read_bytes()
    assert [str(len(data))] == printed(line, "file size")
    assert [hashlib.sha256(data).hexdigest()] == printed(line, "sha256")


def test_the_other_files_are_whole_and_every_file_is_explained() -> None:
    for name, sha256 in WHOLE.items():
        assert hashlib.sha256((HERE / name).read_bytes()).hexdigest() == sha256
    text = (HERE / "README.md").read_text(encoding="utf-8")
    data = [path for path in HERE.iterdir() if path.suffix not in (".py", ".md") and path.is_file()]
    assert data and all(f"`{path.name}`" in text and path.stat().st_size < 200_000 for path in data)


def _candump(frames: list[tuple[int, bytes]]) -> bytes:
    """candump's compact form: time, bus, identifier (29 bits when eight digits are written), bytes."""
    rows = []
    for number, (identifier, data) in enumerate(frames):
        written = f"{identifier & 0x1FFFFFFF:08X}" if identifier >> 31 else f"{identifier:03X}"
        rows.append(f"({1700000000 + number / 10:.6f}) can0 {written}#{data.hex().upper()}\n")
    return "".join(rows).encode()


def test_frames_of_a_small_dbc() -> None:
    """Big-endian, scaled and offset signals; the bytes are those of the reference, read by hand there."""
    dbc = (HERE / "motohawk.dbc").read_bytes()
    known = load(dbc, "motohawk.dbc")
    assert [str(len({m.name for m, _ in known})), str(len(known))] == printed("FIL-16", "messages, signals")
    payload = printed("FIL-16", "encode Enable=1, AverageRadius=3.2 m, Temperature=250.55 degK")[0]
    frames = [(496, bytes.fromhex(payload))] * 3 + [(497, b"\0" * 8)]
    wish = {"time": "time", "on": "Enable", "r": "AverageRadius", "t": "Temperature"}
    log = good(_candump(frames), "bus.log", wish, dbc)
    wanted = [float(v) for v in printed("FIL-16", "decode by own bit arithmetic")]
    for name, value in zip(("on", "r", "t"), wanted, strict=True):
        assert log.arrays[name].tolist() == pytest.approx([value] * 3, abs=1e-9)
    assert (log.found.rows_in, log.found.rows_out, log.found.counts["frames"]) == (3, 3, 4)


def _in_range(message: Any, frame: bytes) -> bool:
    """What lies outside the stated range of a signal is refused, so such frames are of no use here."""
    values = message.decode(frame, decode_choices=False)
    return not any(
        (s.minimum is not None and values[s.name] < s.minimum) or (s.maximum is not None and values[s.name] > s.maximum)
        for s in message.signals
        if (s.minimum, s.maximum) != (0, 0)
    )


def test_frames_of_a_vehicle_dbc() -> None:
    """217 messages, 462 signals: eight random bytes within the stated ranges, against cantools 45.1 frame by frame."""
    import cantools

    dbc = (HERE / "vehicle.dbc").read_bytes()
    known = load(dbc, "vehicle.dbc")
    base: Any = cantools.database.load_string(dbc.decode("cp1252"), "dbc")
    assert [str(len(base.messages)), str(len(known))] == printed("FIL-14", "messages, signals")
    drawn = np.random.default_rng(11)
    tried = 0
    for message in sorted(base.messages, key=lambda m: str(m.name))[::12]:
        if message.is_multiplexed() or message.length != 8:
            continue
        frames = [f for f in (drawn.bytes(8) for _ in range(300)) if _in_range(message, f)][:5]
        if len(frames) < 5:
            continue
        identifier = message.frame_id | (1 << 31 if message.is_extended_frame else 0)
        names = [signal.name for signal in message.signals]
        wish = {"time": "time"} | {f"c{n}": f"{message.name}.{name}" for n, name in enumerate(names)}
        log = good(_candump([(identifier, frame) for frame in frames]), "bus.log", wish, dbc)
        for n, name in enumerate(names):
            wanted = [base.decode_message(message.frame_id, frame, decode_choices=False)[name] for frame in frames]
            assert log.arrays[f"c{n}"].tolist() == pytest.approx(wanted, rel=1e-12, abs=1e-9)
        assert (log.found.rows_in, log.found.rows_out, log.found.counts["frames"]) == (5, 5, 5)
        tried += 1
    assert tried > 8


def test_a_discharge_without_a_row_of_names() -> None:
    """Refused as it is: no name, no unit. With a row of names above, every row is read. Source: pybamm 23.9."""
    volts, kelvins = ((HERE / name).read_bytes() for name in WHOLE)
    refused = read_log(volts, "u.txt", {"time": "time", "u": "u"}, None)
    assert isinstance(refused, tuple) and refused[0].code == "log.header"
    named = b"time [s]\tu [V]\r\n" + volts
    log = good(named, "u.txt", {"time": "time", "u": "u"})
    assert [str(log.found.rows_in)] == printed("PCK-14", "rows") and log.found.rows_out == log.found.rows_in
    t, u = log.arrays["time"], log.arrays["u"]
    assert t[np.argmax(u < 3.0)] == float(printed("PCK-14", "first time below 3.000 V")[0])
    mean = np.sum(np.diff(t) * (u[1:] + u[:-1]) / 2) / (t[-1] - t[0])
    assert mean == pytest.approx(float(printed("PCK-14", "time-mean voltage")[0]), abs=1e-4)
    warm = good(b"time [s]\trise [K]\r\n" + kelvins, "t.txt", {"time": "time", "rise": "rise"})
    wanted = float(printed("PCK-14", "largest temperature rise in 1C_discharge_T.txt")[0])
    assert max(warm.arrays["rise"]) == pytest.approx(wanted, abs=1e-4)
    assert warm.found.rows_in == warm.found.rows_out == kelvins.count(b"\n")


def test_a_pulse_of_a_real_cell() -> None:
    """The resistance of a pulse from the rows of the log, through the method. Source: ORNL 2019, by celljar 0.2.1."""
    data = (HERE / "hppc-pulse.csv").read_bytes()
    log = good(data, "hppc.csv", {"time": "Time", "i": "Current", "u": "Voltage"})
    assert log.found.rows_in == log.found.rows_out == data.count(b"\n") - 1
    pulse = np.flatnonzero(log.arrays["i"] < -29)
    u = log.arrays["u"]
    before, first, last = u[pulse[0] - 1], u[pulse[0]], u[pulse[-1]]
    assert [f"{v:.3f}" for v in (before, first, last)] == printed("PCK-12", "U before, first sample, last sample")
    found = method("pulse-resistance/1")
    assert found is not None
    taken = ((first, "0.5", "R at the first sample (0.5 s)"), (last, "30", "R at the last sample (about 30 s)"))
    for volts, seconds, name in taken:
        texts = {"u_before": f"{before} V", "u_pulse": f"{volts} V", "current": "30 A", "time": f"{seconds} s"}
        readings, faults = readings_as_written(found, texts)
        result = found.evaluate(readings, {})
        assert not faults and isinstance(result, Result)
        output = result.output("cell-resistance")
        assert output is not None and output.value * 1e3 == pytest.approx(float(printed("PCK-12", name)[0]), abs=1e-3)


@pytest.mark.parametrize(("name", "line"), [("camera.jpg", "FIL-19"), ("plain.jpg", "FIL-21")])
def test_a_photo_of_a_real_camera(name: str, line: str, tmp_path: Path) -> None:
    found = picture(name)
    assert isinstance(found, Picture)
    assert [str(found.width), str(found.height)] == printed(line, "size")
    taken = printed(line, "DateTimeOriginal")[0]
    assert found.taken == ("" if taken == "none" else taken.replace(":", "-", 2))
    assert found.format == "JPEG" and not found.position
    copy = publish({"path": str(HERE / name), "to": str(tmp_path / "copy.jpg"), "longest": 1600})
    assert (copy["width"], copy["height"]) == (found.width, found.height)
    maker = printed(line, "Make, Model")[0].encode()
    assert (maker in (HERE / name).read_bytes()) == (maker != b"none")
    assert maker not in (tmp_path / "copy.jpg").read_bytes()


@pytest.mark.parametrize("name", ["camera.heic", "broken.heic"])
def test_a_picture_that_is_not_read_is_named(name: str) -> None:
    """Only JPEG and PNG are read: a good HEIC picture is refused as surely as a broken one, with a way out."""
    found = picture(name)
    assert isinstance(found, Problem) and found.code == "picture.format"
    assert "JPEG" in found.remedy or "JPEG" in found.message
