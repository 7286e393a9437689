"""CAN logs as ASC text: every line is a frame, or one of the known other lines, or the log is refused at that line.

Read here and not by a library: the ones that are known pass over what they do not understand, and a frame that is lost
in silence may be the one that shows the fail. Times relative to the line before are added up.

Source of the form: as its maker's tools write it; no public standard (common practice, no source).
"""

from __future__ import annotations

import re

from witnessmark.logs.frames import FD_LENGTHS, Frames, Gathering
from witnessmark.logs.source import fault, text_of

__all__ = ["frames"]

_T = r"[ \t]*(?P<time>-?[0-9]+(?:\.[0-9]+)?)[ \t]+"
_NUMBER = r"[0-9A-Fa-f]+"
_CLASSIC = re.compile(
    _T + rf"(?P<bus>[0-9]+)[ \t]+(?P<id>{_NUMBER})(?P<x>[xX]?)[ \t]+(?P<dir>Rx|Tx|TxRq)[ \t]+"
    rf"(?P<kind>[dr])(?:[ \t]+(?P<rest>.*))?"
)
_FD = re.compile(
    _T + rf"CANFD[ \t]+(?P<bus>[0-9]+)[ \t]+(?P<dir>Rx|Tx|TxRq)[ \t]+(?P<id>{_NUMBER})(?P<x>[xX]?)[ \t]+"
    rf"(?:(?P<name>[A-Za-z_]\w*)[ \t]+)?(?P<brs>[01])[ \t]+(?P<esi>[01])[ \t]+(?P<dlc>{_NUMBER})[ \t]+"
    rf"(?P<size>[0-9]+)(?:[ \t]+(?P<rest>.*))?"
)
_BASE = re.compile(r"base[ \t]+(hex|dec)(?:[ \t]+timestamps[ \t]+(absolute|relative))?[ \t]*", re.IGNORECASE)
_HEAD = re.compile(r"date\b.*|(?:no[ \t]+)?internal[ \t]+events[ \t]+logged[ \t]*|//.*", re.IGNORECASE)
_BLOCK = re.compile(r"[ \t]*(?:begin|end)[ \t]+triggerblock\b.*", re.IGNORECASE)
_OTHERS = (
    ("error frames", re.compile(_T + r"(?:CANFD[ \t]+)?[0-9]+[ \t]+(?:(?:Rx|Tx)[ \t]+)?ErrorFrame\b.*", re.IGNORECASE)),
    ("overload frames", re.compile(_T + r"(?:CANFD[ \t]+)?[0-9]+[ \t]+OverloadFrame\b.*", re.IGNORECASE)),
    ("statistics", re.compile(_T + r"(?:CAN[ \t]+)?[0-9]+[ \t]+Statistic:.*", re.IGNORECASE)),
    ("states of the bus", re.compile(_T + r"CAN[ \t]+[0-9]+[ \t]+Status:.*", re.IGNORECASE)),
    ("transport protocol, as their frames say already", re.compile(_T + r"[0-9]+[ \t]+J1939TP\b.*")),
    ("remarks", re.compile(_T + r"(?:Start of measurement|log trigger event\b.*|//.*|comment:.*)", re.IGNORECASE)),
)


def frames(data: bytes, shown: str) -> Frames:
    """The data frames of one log. Raises `Fault` at the first line that is not understood."""
    text, _ = text_of(data, shown)
    lines = text.splitlines()
    gathered = Gathering(shown)
    base, relative, last = 16, False, 0.0
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            gathered.other("empty lines")
        elif found := _BASE.fullmatch(line.strip()):
            base, relative = (16 if found[1].lower() == "hex" else 10), (found[2] or "").lower() == "relative"
            gathered.other("lines of the header")
        elif _HEAD.fullmatch(line.strip()):
            gathered.other("lines of the header")
        elif _BLOCK.fullmatch(line):
            gathered.other("block marks")
        elif match := _CLASSIC.fullmatch(line) or _FD.fullmatch(line):
            last = float(match["time"]) + (last if relative else 0.0)
            _frame(gathered, match, last, base, number)
        else:
            kind, match = next(((k, m) for k, p in _OTHERS if (m := p.fullmatch(line))), ("", None))
            if match is None:
                message = f"'{line.strip()[:60]}' is no line of an ASC log of CAN frames that is known here"
                raise fault("log.line", message, "export CAN frames only, or cut the log before it", shown, number)
            last = float(match["time"]) + (last if relative else 0.0)
            gathered.other(kind)
    return gathered.finish(len(lines), "lines")


def _frame(gathered: Gathering, match: re.Match[str], time: float, base: int, number: int) -> None:
    shown, groups = gathered.shown, match.groupdict()
    fd = "size" in groups
    rest = (match["rest"] or "").split()
    if not fd and groups["kind"] == "r":
        gathered.other("remote frames")
        return
    try:
        if fd:
            size = int(match["size"])
            code = int(match["dlc"], 16)
            if size == 0 and code:
                gathered.other("remote frames")
                return
            if code > 15 or FD_LENGTHS[code] != size:
                message = f"the length code {code} and {size} bytes contradict each other"
                raise fault("log.frame", message, "export it again", shown, number)
        else:
            if not rest:
                raise fault("log.frame", "a frame without its length", "export it again", shown, number)
            # A length code of 9 to 15 is eight bytes on a classic bus. ISO 11898-1 (from memory).
            size = min(int(rest.pop(0), 16), 8)
        if len(rest) < size:
            message = f"the frame says {size} bytes, and the line has {len(rest)}"
            raise fault("log.frame", message, "export it again", shown, number)
        payload = bytes(int(byte, base) for byte in rest[:size])
        identifier = int(match["id"], base)
    except ValueError:
        word = "hexadecimal" if base == 16 else "decimal"
        raise fault("log.frame", f"a number of the frame is not {word}", "export it again", shown, number) from None
    gathered.frame(time, identifier, bool(match["x"]), match["bus"], payload, number)
