"""CAN logs as candump text: `(instant) bus ID#DATA`, or the form for the screen with its instant in front.

Every line is a frame or the log is refused at that line. A line without instant shows
nothing about time, and is refused.

Source of the form: the manual page of candump in can-utils (from memory); FD flags follow `##`.
"""

from __future__ import annotations

import re

from witnessmark.logs.frames import FD_LENGTHS, Frames, Gathering
from witnessmark.logs.source import fault, text_of

__all__ = ["frames"]

_TIME = r"[ \t]*\((?P<time>[0-9]+\.[0-9]+)\)[ \t]+(?P<bus>[^\s#]{1,16})[ \t]+"
_TAIL = r"(?:[ \t]+[RT])?[ \t]*"
_COMPACT = re.compile(
    _TIME + r"(?P<id>[0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})#(?:#(?P<flags>[0-9A-Fa-f]))?"
    r"(?:(?P<remote>R[0-9A-Fa-f]?)|(?P<data>(?:[0-9A-Fa-f]{2}\.?)*))" + _TAIL
)
_SCREEN = re.compile(
    _TIME + r"(?:(?:RX|TX)[ \t]+[-BE \t]*[ \t])?(?P<id>[0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})[ \t]+\[(?P<size>[0-9]{1,2})\]"
    r"(?:[ \t]+(?P<remote>remote request)|(?P<data>(?:[ \t]+[0-9A-Fa-f]{2})*))(?:[ \t]+'.*')?[ \t]*"
)
_TIMELESS = re.compile(r"[ \t]*\S{1,16}[ \t]+(?:[0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})(?:[ \t]+\[[0-9]+\]|#).*")
_ERROR = 0x20000000
"""An error frame, in an identifier of eight digits. Source: linux/can.h, CAN_ERR_FLAG (from memory)."""


def frames(data: bytes, shown: str) -> Frames:
    """The data frames of one log; time counts from the first. Raises `Fault` at the first line not understood."""
    text, _ = text_of(data, shown)
    lines = text.splitlines()
    gathered = Gathering(shown)
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            gathered.other("empty lines")
            continue
        match = _COMPACT.fullmatch(line) or _SCREEN.fullmatch(line)
        if match is None:
            if _TIMELESS.fullmatch(line):
                raise fault(
                    "log.time", "the frame has no instant", "log with candump -L, which writes it", shown, number
                )
            message = f"'{line.strip()[:60]}' is no line of a candump log"
            raise fault("log.line", message, "log with candump -L, or cut the log before it", shown, number)
        if match["remote"]:
            gathered.other("remote frames")
            continue
        payload = bytes.fromhex(re.sub(r"[ \t.]", "", match["data"] or ""))
        groups = match.groupdict()
        size = len(payload) if groups.get("size") is None else int(groups["size"])
        limit = 64 if groups.get("flags") or size > 8 else 8
        if size != len(payload) or size > limit or size not in FD_LENGTHS:
            said = f"says {size}" if size != len(payload) else "no frame of its kind can have that"
            message = f"the frame has {len(payload)} bytes, and {said}"
            raise fault("log.frame", message, "log it again", shown, number)
        identifier = int(match["id"], 16)
        if len(match["id"]) == 8 and identifier & _ERROR:
            gathered.other("error frames")
            continue
        gathered.frame(float(match["time"]), identifier, len(match["id"]) == 8, match["bus"], payload, number)
    return gathered.finish(len(lines), "lines", from_first=True)
