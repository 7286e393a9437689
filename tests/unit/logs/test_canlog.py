"""CAN logs: four formats of the same frames give the same signals; every line and frame is accounted for.

Expected values come from the reference libraries python-can 4.6 (writes the logs) and cantools 45 (decodes the frames
one by one), or are bytes read by hand.
"""

from __future__ import annotations

import random
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

from tests.unit.logs.can_fixture import DBC, FORMATS, messages, written
from witnessmark.logs import Columns, read_log, source
from witnessmark.logs.asclog import frames as asc_frames
from witnessmark.logs.dbc import by_library, by_masks, load, simple
from witnessmark.logs.frames import Gathering
from witnessmark.problems import Problem

CHANNELS = {"time": "time", "u": "PackVoltage", "i": "Battery.PackCurrent", "cell": "CellMax"}
HEAD = "date Wed Nov 25 10:00:00.000 am 2026\nbase hex  timestamps absolute\nno internal events logged\n"


def good(data: bytes, ending: str, channels: Any = None, options: Any = None, dbc: bytes = DBC) -> Columns:
    found = read_log(data, f"logs/bus{ending}", channels or CHANNELS, options, (dbc, "logs/bus.dbc"))
    assert isinstance(found, Columns), found
    return found


def bad(data: str | bytes, ending: str, channels: Any = None, options: Any = None, dbc: bytes | None = DBC) -> Problem:
    data = data if isinstance(data, bytes) else data.encode()
    pair = None if dbc is None else (dbc, "logs/bus.dbc")
    found = read_log(data, f"logs/bus{ending}", channels or CHANNELS, options, pair)
    assert isinstance(found, tuple), found
    assert all(problem.message and problem.remedy for problem in found)
    return found[0]


@pytest.mark.parametrize("ending", FORMATS)
def test_every_format_gives_what_the_reference_decodes(ending: str, tmp_path: Path) -> None:
    import cantools

    made = messages()
    base: Any = cantools.database.load_string(DBC.decode(), "dbc")
    wanted = [base.decode_message(m.arbitration_id, m.data) for m in made if not m.is_extended_id]
    log = good(written(ending, tmp_path, made), ending)
    assert log.arrays["u"].tolist() == pytest.approx([w["PackVoltage"] for w in wanted], abs=1e-9)
    assert log.arrays["i"].tolist() == pytest.approx([w["PackCurrent"] for w in wanted], abs=1e-9)
    assert log.arrays["cell"].tolist() == pytest.approx([w["CellMax"] for w in wanted], abs=1e-9)
    times = [m.timestamp - made[0].timestamp for m in made if not m.is_extended_id]
    assert log.arrays["time"].tolist() == pytest.approx(times, abs=2e-4)
    assert log.found.counts["frames"] == len(made)
    assert log.found.units["Battery.PackVoltage"] == "V"
    assert (log.found.rows_in, log.found.rows_out) == (54, 54)
    other = good(written(ending, tmp_path, made), ending, {"time": "time", "event": "CrashSwitch", "d": "Delay"})
    crash = [base.decode_message(m.arbitration_id, m.data, decode_choices=False) for m in made if m.is_extended_id]
    assert other.arrays["event"].tolist() == [w["CrashSwitch"] for w in crash]
    assert other.arrays["d"].tolist() == pytest.approx([w["Delay"] for w in crash], abs=1e-9)


def test_masks_equal_the_library_for_any_layout() -> None:
    """Both byte orders, signs, scales and lengths of 1 to 57 bits, against cantools frame by frame."""
    drawn = random.Random(20261125)
    tried = 0
    for _ in range(60):
        length, start = drawn.randint(1, 57), drawn.randint(0, 63)
        order, sign = drawn.choice("01"), drawn.choice("+-")
        text = (
            'VERSION ""\nNS_ :\nBS_:\nBU_: A\nBO_ 291 M: 8 A\n'
            f" SG_ S : {start}|{length}@{order}{sign} "
            f'({drawn.choice((1, 0.25, -0.1))},{drawn.choice((0, -40))}) [0|0] "" A\n'
        )
        try:
            [(message, signal)] = load(text.encode(), "a.dbc")
        except source.Fault:
            continue  # The layout does not fit into eight bytes: the library refuses the DBC.
        gathered = Gathering("a")
        for number in range(50):
            gathered.frame(float(number), 291, False, "1", drawn.randbytes(8))
        frames = gathered.finish(50, "frames")
        import numpy as np

        rows = np.arange(50)
        assert simple(message, signal)
        mine = by_masks(frames, rows, signal, "a", "S")
        _, theirs = by_library(frames, rows, message, signal, "a")
        assert np.allclose(mine, theirs, rtol=1e-15, atol=1e-9)
        tried += 1
    assert tried > 20


def test_the_candump_lines_of_a_published_test() -> None:
    """Source: cantools (MIT), tests/test_logreader.py: identifier 500, payload 01020304 on vcan0, both forms."""
    log = good(
        b"(1594172461.968006) vcan0 1F4#0102030400000000\n"
        b"(1594172462.968006)  vcan0  1F4   [8]  01 02 03 04 00 00 00 00\n",
        ".log",
        {"time": "time", "u": "PackVoltage"},
    )
    # 0x0201 = 513 tenths of a volt.
    assert log.arrays["u"].tolist() == pytest.approx([51.3, 51.3], abs=1e-12)
    assert log.arrays["time"].tolist() == pytest.approx([0.0, 1.0], abs=1e-6)


def test_lines_are_counted_in_against_out() -> None:
    text = (
        HEAD
        + "Begin Triggerblock\n   0.000000 Start of measurement\n"
        + "   0.010000 1  1F4             Rx   d 8 01 02 03 04 05 06 07 00\n"
        + "   0.020000 1  1F4             Rx   r\n   0.030000 1  ErrorFrame\n"
        + "   0.040000 CANFD   1 Rx        1F4         1 0 8  8 01 02 03 04 05 06 07 01 0 0 0\n"
        + "End TriggerBlock\n"
    )
    log = good(text.encode(), ".asc")
    counts = dict(log.found.counts)
    assert counts.pop("lines") == sum(counts.values()) == 10
    assert counts == {
        "frames": 2,
        "lines of the header": 3,
        "block marks": 2,
        "remarks": 1,
        "remote frames": 1,
        "error frames": 1,
    }
    assert log.arrays["u"].tolist() == pytest.approx([51.3, 51.3])


def test_relative_times_and_decimal_bytes() -> None:
    text = "base dec timestamps relative\n0.5 1 500 Rx d 8 1 2 0 0 0 0 0 0\n0.25 1 500 Rx d 8 16 0 0 0 0 0 0 0\n"
    log = good(text.encode(), ".asc")
    assert log.arrays["time"].tolist() == [0.5, 0.75]
    assert log.arrays["u"].tolist() == pytest.approx([51.3, 1.6])


FRAME = "0.1 1 1F4 Rx d 8 01 02 03 04 05 06 07 00\n"


@pytest.mark.parametrize(
    ("what", "data", "ending", "more", "code", "line"),
    [
        ("a line of something else", HEAD + FRAME + "0.2 1 what is this\n", ".asc", {}, "log.line", 5),
        ("a frame cut short", HEAD + "0.2 1 1F4 Rx d 8 01 02\n", ".asc", {}, "log.frame", 4),
        ("a byte that is none", HEAD + FRAME.replace("07", "0G"), ".asc", {}, "log.frame", 4),
        ("an identifier too long", HEAD + FRAME.replace("1F4", "FFF"), ".asc", {}, "log.frame", 4),
        ("no frames", HEAD, ".asc", {}, "log.no-rows", 0),
        ("nothing", "", ".asc", {}, "log.empty", 0),
        ("no DBC", HEAD + FRAME, ".asc", {"dbc": None}, "log.dbc", 0),
        ("a DBC that is none", HEAD + FRAME, ".asc", {"dbc": b"BO_ what"}, "log.dbc", 0),
        ("a frame too short for its signal", HEAD + "0.1 1 1F4 Rx d 2 01 02\n", ".asc", {}, "log.frame", 4),
        ("outside the DBC's range", HEAD + FRAME.replace("01 02", "FF FF"), ".asc", {}, "log.range", 4),
        ("two buses", HEAD + FRAME + FRAME.replace(" 1 1F4", " 2 1F4"), ".asc", {}, "log.bus", 0),
        ("a bus that is not there", HEAD + FRAME, ".asc", {"options": {"bus": "3"}}, "log.bus", 0),
        ("a signal that is not there", HEAD + FRAME, ".asc", {"channels": {"u": "Voltage"}}, "log.column", 0),
        ("a signal that never comes", HEAD + FRAME, ".asc", {"channels": {"u": "CrashSwitch"}}, "log.no-rows", 0),
        ("an unknown setting", HEAD + FRAME, ".asc", {"options": {"decimal": ","}}, "log.option", 0),
        ("time that goes back", HEAD + FRAME + FRAME.replace("0.1", "0.05", 1), ".asc", {}, "log.time", 0),
        ("a candump without instants", "vcan0 1F4#01\n", ".log", {}, "log.time", 1),
        ("a candump of something else", "(1.0) vcan0 hello\n", ".log", {}, "log.line", 1),
        ("a candump frame too long", "(1.0) can0 1F4#010203040506070809\n", ".log", {}, "log.frame", 1),
        ("no BLF", "hello", ".blf", {}, "log.format", 0),
        ("no TRC", ";$FILEVERSION=9.9\n 1 2 3\n", ".trc", {}, "log.rows", 0),
        ("a TRC of remarks", ";$FILEVERSION=1.1\n", ".trc", {}, "log.no-rows", 0),
    ],
)
def test_what_cannot_be_used_is_refused(
    what: str, data: str, ending: str, more: dict[str, Any], code: str, line: int
) -> None:
    problem = bad(data, ending, **more)
    assert (problem.code, problem.place.line if problem.place else 0) == (code, line), problem


def test_one_bus_of_two() -> None:
    text = HEAD + FRAME + FRAME.replace(" 1 1F4 Rx d 8 01", " 2 1F4 Rx d 8 02")
    log = good(text.encode(), ".asc", options={"bus": "2"})
    assert log.arrays["u"].tolist() == pytest.approx([51.4])


def test_a_blf_that_was_cut_off(tmp_path: Path) -> None:
    data = written(".blf", tmp_path, messages())
    for size in (len(data) - 1, len(data) // 2, 150):
        assert bad(data[:size], ".blf").code in ("log.rows", "log.format")


def test_states_of_a_trc_are_counted(tmp_path: Path) -> None:
    """Versions 2.x have lines that are no frames: status, error counters, events."""
    data = written(".trc", tmp_path, messages())
    state = b"     99       600.000 ST  1        - Rx -  4    00 00 00 08\n"
    log = good(data + state, ".trc")
    assert log.found.counts["states of the bus"] == 1
    assert log.found.counts["lines"] == log.found.counts["frames"] + 1
    unknown = state.replace(b"ST", b"XX")
    assert bad(data + unknown, ".trc").code == "log.rows"


def test_channels_of_different_messages_need_a_word(tmp_path: Path) -> None:
    data = written(".asc", tmp_path, messages())
    channels = {"time": "time", "u": "PackVoltage", "event": "CrashSwitch"}
    assert bad(data, ".asc", channels).code == "log.join"
    log = good(data, ".asc", channels, {"join": "hold"})
    # The crash switch comes every 0.1 s; before it came once nothing is known.
    assert log.found.longest_hold == pytest.approx(0.1, abs=1e-6)
    assert log.found.rows_in - log.found.rows_out == 9
    assert any("held" in note or "holding" in note for note in log.found.notes)


def test_a_channel_that_stops_is_not_held() -> None:
    lines = [f"{0.01 * n:.3f} 1 1F4 Rx d 8 01 02 03 04 05 06 07 00" for n in range(200)]
    lines[5:5] = [f"{0.01 * n:.3f} 1 18FF0000x Rx d 3 00 00 00" for n in (4.1, 4.2, 4.3)]
    channels = {"time": "time", "u": "PackVoltage", "event": "CrashSwitch"}
    problem = bad(HEAD + "\n".join(lines) + "\n", ".asc", channels, {"join": "hold"})
    assert problem.code == "log.gap" and "CrashSwitch" in problem.message


def test_without_the_extra_the_line_to_install_it_is_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    def absent(name: str) -> Any:
        if name in ("can", "cantools", "asammdf"):
            raise ImportError(name)
        return import_module(name)

    monkeypatch.setattr(source, "import_module", absent)
    for data, ending in ((HEAD + FRAME, ".asc"), ("LOGG", ".blf"), ("MDF     4.10    ", ".mf4")):
        problem = bad(data, ending) if ending != ".mf4" else read_log(data.encode(), "a.mf4", CHANNELS)
        problem = problem[0] if isinstance(problem, tuple) else problem
        assert isinstance(problem, Problem)
        assert problem.code == "log.extra" and "witnessmark[logs]" in problem.remedy


def test_no_line_is_lost_in_silence() -> None:
    """Any one line of a log, spoilt, is refused or counted; it never shifts what is left."""
    drawn = random.Random(3)
    lines = [f"{0.01 * n:.3f} 1 1F4 Rx d 8 0{n % 10} 02 03 04 05 06 07 00" for n in range(20)]
    for _ in range(200):
        at = drawn.randrange(20)
        cut = drawn.randrange(1, len(lines[at]))
        spoilt = [*lines[:at], lines[at][:cut], *lines[at + 1 :]]
        try:
            frames = asc_frames((HEAD + "\n".join(spoilt) + "\n").encode(), "a.asc")
        except source.Fault:
            continue
        assert frames.counts["frames"] == 20 and frames.length[at] == 8
