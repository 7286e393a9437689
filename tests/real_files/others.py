"""The files of the collected list that may not lie here (LGPL), read from their unpacked source distributions.

    python -m tests.real_files.others DIR

DIR holds python_can-4.6.1 and asammdf-8.8.28, unpacked. Shows what the list says beside what our readers find, frame
by frame against python-can and channel by channel against the list; ends with 1 where they differ. No test needs it.
"""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from tests.published.rows import printed
from witnessmark.logs import Columns, read_log

CAN = {
    "FIL-05": "issue_1256.asc",
    "FIL-06": "logfile.asc",
    "FIL-09": "issue_1905.blf",
    "FIL-12": "test_CanMessage_V2_1.trc",
}
MDF = {"FIL-01": "ASAP2_Demo_V171.mf4"}

Line = tuple[str, str, object, object]
"""Line of the list, what is counted, what is wanted, what was found."""


def _whole(line: str, data: bytes) -> Iterator[Line]:
    yield line, "sha256", printed(line, "sha256")[0], hashlib.sha256(data).hexdigest()


def _one_byte(identifier: int, extended: bool) -> bytes:
    """A DBC of our own that reads the first byte of one message."""
    number = identifier | (1 << 31 if extended else 0)
    head = 'VERSION ""\nNS_ :\nBS_:\nBU_: X\n'
    return f'{head}BO_ {number} M: 1 X\n SG_ B : 0|8@1+ (1,0) [0|0] "" X\n'.encode()


def can_file(line: str, path: Path) -> Iterator[Line]:
    """Every frame that the library sees is counted; the first byte of every message is the one that it reads."""
    import can

    data = path.read_bytes()
    yield from _whole(line, data)
    seen: list[Any] = list(can.LogReader(str(path)))
    plain = [m for m in seen if not m.is_error_frame and not m.is_remote_frame and len(m.data)]
    wanted = printed(line, "messages" if line != "FIL-12" else "messages, identifiers")[0]
    for identifier, extended, bus in sorted({(m.arbitration_id, m.is_extended_id, m.channel or 0) for m in plain}):
        mine = [m for m in plain if (m.arbitration_id, m.is_extended_id, m.channel or 0) == (identifier, extended, bus)]
        several = len({m.channel for m in seen}) > 1
        found = read_log(
            data, path.name, {"time": "time", "b": "M.B"}, {"bus": str(bus + 1)} if several else None,
            (_one_byte(identifier, extended), "own.dbc"),
        )  # fmt: skip
        name = f"{identifier:X} on bus {bus}"
        if not isinstance(found, Columns):
            yield line, name, "read", "; ".join(p.message for p in found)
            continue
        yield line, f"{name}: first bytes", [m.data[0] for m in mine], [int(v) for v in found.arrays["b"]]
        yield line, f"{name}: rows in and out", (len(mine), len(mine)), (found.found.rows_in, found.found.rows_out)
        counts = found.found.counts
        all_frames = sum(counts.get(key, 0) for key in ("frames", "remote frames", "error frames"))
        yield line, f"{name}: frames of all kinds", int(wanted), all_frames


def mdf_file(line: str, path: Path) -> Iterator[Line]:
    data = path.read_bytes()
    yield from _whole(line, data)
    for name in ("SBYTE.LINEAR_MUL_2", "UBYTE.FORM_X_PLUS_4"):
        wanted = [float(v) for v in printed(line, f"{name}: count, min, max, mean")]
        found = read_log(data, path.name, {"time": "time", "x": f"ASAM.M.SCALAR.{name}"}, None, None)
        if not isinstance(found, Columns):
            yield line, name, "read", "; ".join(p.message for p in found)
            continue
        x = found.arrays["x"]
        made = [float(len(x)), float(x.min()), float(x.max()), float(np.mean(x))]
        same = bool(np.allclose(made, wanted, rtol=1e-9, atol=0))
        yield line, f"{name}: count, min, max, mean", wanted, wanted if same else made
        yield line, f"{name}: rows in and out", (len(x), len(x)), (found.found.rows_in, found.found.rows_out)
    # A channel of this file converts to minus infinity: never a number.
    found = read_log(data, path.name, {"time": "time", "x": "ASAM.M.SCALAR.UBYTE.HYPERBOLIC"}, None, None)
    yield line, "UBYTE.HYPERBOLIC", ["log.cell"], [] if isinstance(found, Columns) else [p.code for p in found]


def main(folder: Path) -> int:
    rows: list[Line] = []
    for line, name in (CAN | MDF).items():
        paths = sorted(folder.rglob(name))
        if not paths:
            rows.append((line, name, "a file", f"none in {folder}"))
            continue
        rows += (can_file if line in CAN else mdf_file)(line, paths[0])
    wrong = 0
    for line, what, wanted, found in rows:
        same = wanted == found
        wrong += not same
        text = str(wanted) if same else f"{wanted} is wanted, {found} found"
        text = text if len(text) < 200 else text[:200] + " ..."
        sys.stdout.write(f"{'met   ' if same else 'DIFFER'} {line} {what}: {text}\n")
    sys.stdout.write(f"{len(rows) - wrong} of {len(rows)} met\n")
    return 1 if wrong else 0


if __name__ == "__main__":
    if len(sys.argv) != 2 or not Path(sys.argv[1]).is_dir():
        sys.exit("usage: python -m tests.real_files.others DIR (a folder with the unpacked source distributions)")
    sys.exit(main(Path(sys.argv[1])))
