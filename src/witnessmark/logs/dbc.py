"""Signals out of frames, by a DBC. The common case is shifts and masks over arrays, some forty times faster than one
frame at a time; multiplexed, broken-number and unaligned 64-bit signals are left to the library cantools.

Source of the form: DBC as the library cantools reads it; bits of both byte orders as there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from witnessmark.logs.frames import EXTENDED, Frames
from witnessmark.logs.source import extra, fault, text_of

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

__all__ = ["by_library", "by_masks", "load", "simple", "values_of"]


def load(data: bytes, shown: str) -> list[tuple[Any, Any]]:
    """Message and signal, for every signal of the DBC, in its order. Raises `Fault`."""
    cantools = extra("cantools", "cantools", "a CAN log", shown)
    text, _ = text_of(data, shown)
    try:
        base = cantools.database.load_string(text, "dbc", strict=True)
    except MemoryError:
        raise
    except Exception as error:  # the library's parser raises several kinds of its own
        words = f"the DBC cannot be read: {type(error).__name__}: {error}"[:240]
        raise fault("log.dbc", words, "export the DBC again", shown) from None
    return [(message, signal) for message in base.messages for signal in message.signals]


def values_of(frames: Frames, message: Any, signal: Any, bus: str | None, shown: str) -> tuple[Floats, Floats]:
    """Instants in s and physical values of one signal, one row for each frame that carries it. Raises `Fault`."""
    import numpy as np

    wanted = message.frame_id | EXTENDED if message.is_extended_frame else message.frame_id
    hit = frames.ids == np.uint32(wanted)
    name = f"{message.name}.{signal.name}"
    buses = sorted({frames.buses[int(index)] for index in np.unique(frames.bus[hit])})
    if bus is not None:
        if bus not in frames.buses:
            remedy = f"the log has: {', '.join(frames.buses)}"
            raise fault("log.bus", f"no frame came from the bus '{bus}'", remedy, shown)
        hit &= frames.bus == frames.buses.index(bus)
    elif len(buses) > 1:
        remedy = f"say which in the record: `log: {{bus: {buses[0]}}}`"
        raise fault("log.bus", f"'{message.name}' comes from several buses: {', '.join(buses)}", remedy, shown)
    rows = np.flatnonzero(hit)
    if not rows.size:
        kind = "x" if message.is_extended_frame else ""
        words = f"'{name}' never comes in this log: no frame has the identifier {message.frame_id:X}{kind}"
        raise fault("log.no-rows", words, "log the right bus, or name the right DBC", shown)
    if simple(message, signal):
        values = by_masks(frames, rows, signal, shown, name)
    else:
        rows, values = by_library(frames, rows, message, signal, shown)
        if not rows.size:
            raise fault("log.no-rows", f"'{name}' never comes in this log", "log for longer", shown)
    low, high = signal.minimum, signal.maximum
    # [0|0] in a DBC states no range.
    if low is not None and high is not None and low < high:
        slack = 1e-9 * max(abs(float(low)), abs(float(high)))
        outside = np.flatnonzero((values < float(low) - slack) | (values > float(high) + slack))
        if outside.size:
            first = int(outside[0])
            words = (
                f"'{name}' is {values[first]:.9g} at {frames.time[rows[first]]:.6f} s, outside the {low} to {high} "
                f"that the DBC states ({outside.size} such frames)"
            )
            remedy = "cut the log to where the signal is valid, or correct the DBC"
            raise fault("log.range", words, remedy, shown, int(frames.lines[rows[first]]))
    return frames.time[rows], values


def simple(message: Any, signal: Any) -> bool:
    """Whether shifts and masks do: a whole number, not multiplexed, within eight bytes of the frame."""
    whole = not signal.is_float and not signal.multiplexer_ids and signal.length <= 64
    first, last = _bytes(signal)
    linear = type(signal.conversion).__name__ in (
        "IdentityConversion",
        "LinearConversion",
        "LinearIntegerConversion",
        "NamedSignalConversion",
    )
    return whole and linear and last - first < 8 and not message.is_container


def _bytes(signal: Any) -> tuple[int, int]:
    """First and last byte that the signal touches."""
    if signal.byte_order == "little_endian":
        return signal.start // 8, (signal.start + signal.length - 1) // 8
    sequential = 8 * (signal.start // 8) + 7 - signal.start % 8
    return sequential // 8, (sequential + signal.length - 1) // 8


def by_masks(frames: Frames, rows: npt.NDArray[np.int64], signal: Any, shown: str, name: str) -> Floats:
    """Physical values of a signal that `simple` accepts, float64 (rows,). Raises `Fault` for a frame too short."""
    import numpy as np

    first, last = _bytes(signal)
    _long_enough(frames, rows, last + 1, shown, name)
    count = last - first + 1
    taken = frames.data[frames.start[rows][:, None] + np.arange(first, last + 1)].astype(np.uint64)
    little = signal.byte_order == "little_endian"
    weights = np.arange(count) if little else np.arange(count)[::-1]
    packed = np.bitwise_or.reduce(taken << (8 * weights).astype(np.uint64), axis=1)
    shift = signal.start % 8 if little else 8 * count - (7 - signal.start % 8) - signal.length
    mask = np.uint64((1 << signal.length) - 1)
    raw = (packed >> np.uint64(shift)) & mask
    if signal.is_signed:
        spare = np.uint64(64 - signal.length)
        numbers = ((raw << spare).view(np.int64) >> spare.astype(np.int64)).astype(np.float64)
    else:
        numbers = raw.astype(np.float64)
    values: Floats = numbers * float(signal.scale) + float(signal.offset)
    return values


def by_library(
    frames: Frames, rows: npt.NDArray[np.int64], message: Any, signal: Any, shown: str
) -> tuple[npt.NDArray[np.int64], Floats]:
    """As `by_masks` for any signal; rows are those of the frames that carry it. Raises `Fault`."""
    import numpy as np

    kept: list[int] = []
    values: list[float] = []
    for row in rows.tolist():
        begin = int(frames.start[row])
        payload = bytes(frames.data[begin : begin + int(frames.length[row])])
        try:
            found = message.decode(payload, decode_choices=False, scaling=True)
        except Exception as error:  # the library raises several kinds for a frame that does not fit
            words = f"a frame of '{message.name}' at {frames.time[row]:.6f} s does not fit the DBC: {error}"[:240]
            remedy = "name the DBC of that bus, or cut the log before it"
            raise fault("log.frame", words, remedy, shown, int(frames.lines[row])) from None
        value = found.get(signal.name)
        if value is not None:
            kept.append(row)
            values.append(float(value))
    return np.array(kept, dtype=np.int64), np.array(values, dtype=np.float64)


def _long_enough(frames: Frames, rows: npt.NDArray[np.int64], size: int, shown: str, name: str) -> None:
    import numpy as np

    short = rows[np.flatnonzero(frames.length[rows] < size)]
    if short.size:
        row = int(short[0])
        words = (
            f"a frame at {frames.time[row]:.6f} s has {frames.length[row]} bytes, and '{name}' needs {size} "
            f"({short.size} such frames)"
        )
        raise fault(
            "log.frame", words, "name the DBC of that bus, or cut the log before it", shown, int(frames.lines[row])
        )
