"""Logs as ASAM MDF 4: channels in groups, each group with its own time.

Values are physical, in the unit that the file gives. A channel that the file turns into words (a state) comes as its
raw numbers, and the notes say so. Samples that the file marks as invalid are not passed over: the log is refused.

Source of the form: ASAM MDF 4, read by the library asammdf.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Mapping, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

from witnessmark.logs.columns import Columns, choose
from witnessmark.logs.series import TIME, columns_of, full_names, join
from witnessmark.logs.source import Fault, bytes_of, extra, fault
from witnessmark.problems import Problem

__all__ = ["read"]

_OPTIONS = ("join",)
_SEPARATOR = "/"


def read(
    source: Path | bytes,
    shown: str,
    channels: Mapping[str, str | Sequence[str]] | None,
    options: Mapping[str, str],
) -> Columns | tuple[Problem, ...]:
    """The channels of one file, or its problems. See `witnessmark.logs.read_log`; option `join`: `hold`.

    A channel whose name several groups have is written `2/name`, with the number of its group, from 0.
    """
    try:
        for key, value in options.items():
            if key not in _OPTIONS or value != "hold":
                raise fault("log.option", f"an MDF file has no setting '{key}: {value[:40]}'", "use join: hold", shown)
        return _read(bytes_of(source, shown), shown, channels, options.get("join", ""))
    except Fault as found:
        return found.problems


def _read(data: bytes, shown: str, channels: Mapping[str, str | Sequence[str]] | None, how: str) -> Columns:
    asammdf = extra("asammdf", "asammdf", "an MDF file", shown)
    if not data.startswith((b"MDF     ", b"UnFinMF ")):
        raise fault("log.format", "this is no MDF file", "export it again", shown)
    if data.startswith(b"UnFinMF "):
        raise fault("log.unfinished", "the logger never finished this file", "finish it with the logger's tool", shown)
    if data[8:9] != b"4":
        version = data[8:16].decode("latin-1").strip()
        raise fault("log.version", f"this is MDF {version}; MDF 4 is read", "convert it to MDF 4", shown)
    try:
        opened = asammdf.MDF(io.BytesIO(data))
    except MemoryError:
        raise
    except Exception as error:  # a damaged file makes the library raise almost anything
        raise _damaged(error, shown) from None
    with closing(opened) as file:
        return _columns(file, data, shown, channels, how)


def _columns(
    file: Any, data: bytes, shown: str, channels: Mapping[str, str | Sequence[str]] | None, how: str
) -> Columns:
    where = _index(file)
    if channels is None:
        channels = {name: name for name in (TIME, *where)}
    wishes, problems = full_names(tuple(where), channels, shown, _SEPARATOR)
    chosen, more = choose((*where, TIME), wishes, shown, 0)
    if problems or more:
        raise Fault(*problems, *more)
    names = sorted({name for taken in chosen.values() for name in taken} - {TIME})
    if not names:
        raise fault("log.column", "only the time is asked for", "name a channel of the file", shown)
    series: dict[str, Any] = {}
    units: dict[str, str] = {}
    notes: list[str] = []
    for name in names:
        group, index = where[name]
        series[name], units[name], note = _signal(file, name, group, index, shown)
        notes += note
    return columns_of(
        shown,
        join(series, how, shown),
        wishes,
        units,
        form=f"ASAM MDF {file.version}",
        notes=notes,
        unused=tuple(name for name in where if name not in names),
        sha256=hashlib.sha256(data).hexdigest(),
        size=len(data),
    )


def _index(file: Any) -> dict[str, tuple[int, int]]:
    """Every channel but the times, by its name, or `group/name` where several have the name."""
    seen: dict[str, list[tuple[int, int]]] = {}
    for number, group in enumerate(file.groups):
        master = file.masters_db.get(number)
        for index, channel in enumerate(group.channels):
            if index != master:
                seen.setdefault(channel.name, []).append((number, index))
    where: dict[str, tuple[int, int]] = {}
    for name, places in seen.items():
        if len(places) == 1 and name != TIME:
            where[name] = places[0]
        else:
            where |= {f"{group}{_SEPARATOR}{name}": (group, index) for group, index in places}
    return where


def _signal(file: Any, name: str, group: int, index: int, shown: str) -> tuple[Any, str, list[str]]:
    import numpy as np

    notes: list[str] = []
    try:
        signal = file.get(group=group, index=index, ignore_invalidation_bits=True)
        if signal.samples.dtype.kind not in "biuf":
            signal = file.get(group=group, index=index, ignore_invalidation_bits=True, raw=True)
            notes.append(f"'{name}' stands as words in the file, and is taken as its raw numbers")
    except MemoryError:
        raise
    except Exception as error:  # a damaged file makes the library raise almost anything
        raise _damaged(error, shown) from None
    if signal.samples.dtype.kind not in "biuf" or signal.samples.ndim != 1:
        raise fault("log.cell", f"'{name}' is not one number at a time", "name a channel of numbers", shown)
    if len(signal.samples) != len(signal.timestamps):
        message = f"'{name}' has {len(signal.samples)} values at {len(signal.timestamps)} instants"
        raise fault("log.rows", message, "export it again", shown)
    invalid = signal.invalidation_bits
    if invalid is not None and bool(np.any(invalid)):
        count = int(np.count_nonzero(invalid))
        message = f"{count} values of '{name}' are marked as invalid in the file"
        raise fault("log.invalid", message, "cut the log to where the channel is valid", shown)
    time = np.asarray(signal.timestamps, dtype=np.float64)
    return (time, np.asarray(signal.samples, dtype=np.float64)), "" if notes else str(signal.unit or ""), notes


def _damaged(error: Exception, shown: str) -> Fault:
    return fault("log.format", f"the file is damaged: {type(error).__name__}: {error}"[:240], "export it again", shown)
