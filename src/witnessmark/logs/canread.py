"""Frames as the library python-can gives them, counted."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from witnessmark.logs.frames import Frames, Gathering
from witnessmark.logs.source import Fault, fault

__all__ = ["gather"]


def gather(
    opened: Callable[[], Any], shown: str, *, numbered: int | None = None, states: int = 0, objects: int = 0
) -> Frames:
    """The data frames of one reader of the library. Raises `Fault` for what the library cannot read.

    `numbered`: lines that the file has for frames; each must have given one. `states`: lines beside them that say a
    state of the bus, which the library was not given. `objects`: how many the file says it
    has, of all kinds; more frames than that are a damaged file, fewer are shown.
    """
    gathered = Gathering(shown)
    came = 0
    try:
        with opened() as reader:
            for message in reader:
                came += 1
                if message.is_error_frame:
                    gathered.other("error frames")
                elif message.is_remote_frame:
                    gathered.other("remote frames")
                else:
                    gathered.frame(
                        float(message.timestamp),
                        int(message.arbitration_id),
                        bool(message.is_extended_id),
                        str(message.channel),
                        bytes(message.data),
                    )
    except (Fault, MemoryError):
        raise
    except Exception as error:  # a damaged file makes the library raise almost anything
        words = f"the file is damaged: {type(error).__name__}: {error}"[:240]
        raise fault("log.format", words, "export it again", shown) from None
    if numbered is not None and numbered != came:
        message = f"{numbered} lines with frames came in, and {came} were understood"
        raise fault("log.rows", message, "export CAN frames only, as version 1.1 or 2.1", shown)
    if objects and came > objects:
        raise fault("log.rows", f"the file says {objects} objects, and gave {came}", "export it again", shown)
    if objects > came:
        gathered.others["objects that are no CAN frames"] = objects - came
    if states:
        gathered.others["states of the bus"] = states
    total = max(came, objects) + states
    return gathered.finish(total, "objects" if numbered is None else "lines", from_first=True)
