"""Frames of a CAN log, whatever file they came from: instants, identifiers, buses and bytes as arrays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from witnessmark.logs.source import fault

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

__all__ = ["EXTENDED", "FD_LENGTHS", "Frames", "Gathering"]

EXTENDED = 1 << 31
"""Set in an identifier of 29 bits, so that 0x123 and 0x123x are two."""

FD_LENGTHS = (*range(9), 12, 16, 20, 24, 32, 48, 64)
"""Bytes of a frame by its data length code. Source: ISO 11898-1:2015, 8.4.2.4, table 5 (from memory)."""


@dataclass(frozen=True, slots=True)
class Frames:
    """The data frames of one log, n of them.

    `time`: s, float64 (n,); `ids`: uint32 (n,), with `EXTENDED`; `bus`: index into `buses`, (n,); `start` and `length`:
    where the bytes of each lie in `data`, uint8 in one row. `lines`: frame's line in a text log, (n,), 0 without lines.
    `counts`: what each line or object of the file was, the data frames under `frames`.
    """

    time: npt.NDArray[np.float64]
    ids: npt.NDArray[np.uint32]
    bus: npt.NDArray[np.int64]
    buses: tuple[str, ...]
    start: npt.NDArray[np.int64]
    length: npt.NDArray[np.int64]
    data: npt.NDArray[np.uint8]
    lines: npt.NDArray[np.int64]
    counts: Mapping[str, int]
    notes: tuple[str, ...] = ()


@dataclass
class Gathering:
    """Frames in the making; `finish` counts what came in against what goes out."""

    shown: str
    time: list[float] = field(default_factory=list)
    ids: list[int] = field(default_factory=list)
    bus: list[str] = field(default_factory=list)
    length: list[int] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    data: bytearray = field(default_factory=bytearray)
    others: dict[str, int] = field(default_factory=dict)

    def frame(self, time: float, identifier: int, extended: bool, bus: str, data: bytes, line: int = 0) -> None:
        """One data frame; `time` in s. Raises `Fault` for an identifier that its kind cannot have."""
        if identifier >> (29 if extended else 11):
            bits = "29 bits" if extended else "11 bits without an x behind it"
            message = f"the identifier {identifier:X} has more than {bits}"
            raise fault("log.frame", message, "export the log again", self.shown, line)
        self.time.append(time)
        self.ids.append(identifier | EXTENDED if extended else identifier)
        self.bus.append(bus)
        self.length.append(len(data))
        self.lines.append(line)
        self.data += data

    def other(self, kind: str) -> None:
        """A line or object that is no data frame."""
        self.others[kind] = self.others.get(kind, 0) + 1

    def finish(self, came_in: int, what: str, *, from_first: bool = False) -> Frames:
        """The frames. `came_in` lines or objects were read; every one of them is a frame or counted as something else.

        `from_first`: the file gives instants of the calendar; time counts from the first frame, and the notes say so.
        """
        import numpy as np

        counted = len(self.time) + sum(self.others.values())
        if counted != came_in:
            message = f"{came_in} {what} came in, and {counted} are accounted for"
            raise fault("log.rows", message, "export it again, and tell us of it", self.shown)
        if not self.time:
            raise fault("log.no-rows", "the log has no data frames", "log the right bus", self.shown)
        buses = tuple(sorted(set(self.bus)))
        number = {name: index for index, name in enumerate(buses)}
        length = np.array(self.length, dtype=np.int64)
        time = np.array(self.time, dtype=np.float64)
        notes: tuple[str, ...] = ()
        if from_first:
            notes = (f"time counts from the first frame, at {self.time[0]:.6f} s since 1970-01-01 by the logger",)
            time = time - time[0]
        return Frames(
            time,
            np.array(self.ids, dtype=np.uint32),
            np.array([number[name] for name in self.bus], dtype=np.int64),
            buses,
            np.cumsum(length) - length,
            length,
            np.frombuffer(bytes(self.data), dtype=np.uint8),
            np.array(self.lines, dtype=np.int64),
            {what: came_in, "frames": len(self.time), **dict(sorted(self.others.items()))},
            notes,
        )
