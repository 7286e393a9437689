"""CAN logs as TRC text. Read by the library python-can; lines without a semicolon in front are counted against it.

The library passes over lines of other types in silence. Those that say the state of the bus or an error are known here
and counted as such; any other line that gives no frame makes the log refused.

Source of the form: PEAK CAN TRC file format, versions 1.0 to 2.1 (from memory).
"""

from __future__ import annotations

import io
import re

from witnessmark.logs.canread import gather
from witnessmark.logs.frames import Frames
from witnessmark.logs.source import extra, fault, text_of

__all__ = ["frames"]

_STATES = re.compile(r"\s*[0-9]+\)?\s+[0-9.]+\s+(?:(?P<two>ST|EC|ER|EV)|(?:[0-9]+\s+)?(?P<one>Warng|Error))\s.*")
"""Versions 2.x: status, error counter, error frame, event; versions 1.1 and 1.3: warning, error."""


def frames(data: bytes, shown: str) -> Frames:
    """The data frames of one log; time counts from the first. Raises `Fault` when a line gives no frame."""
    can = extra("can", "python-can", "a TRC file", shown)
    text, _ = text_of(data, shown)
    kept: list[str] = []
    numbered = states = 0
    for line in text.splitlines():
        if not line.strip() or line.lstrip().startswith(";"):
            kept.append(line)
        elif _STATES.fullmatch(line):
            states += 1
        else:
            numbered += 1
            kept.append(line)
    if not numbered:
        raise fault("log.no-rows", "the log has no data frames", "log the right bus", shown)
    text = "\n".join(kept) + "\n"
    return gather(lambda: can.TRCReader(io.StringIO(text)), shown, numbered=numbered, states=states)
