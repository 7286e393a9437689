"""CAN logs with their DBC: frames become signals, signals become columns.

A signal is named `Message.Signal`, or `Signal` where one message has it. Values are physical, by the DBC's factor and
offset, in the DBC's unit; a value outside the range that the DBC states, or a frame too short for its signal, makes the
log refused. Signals of different messages come at different instants: see `witnessmark.logs.series`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from witnessmark.logs.columns import Columns, choose
from witnessmark.logs.frames import Frames
from witnessmark.logs.series import TIME, columns_of, full_names, join
from witnessmark.logs.source import Fault, bytes_of, fault
from witnessmark.problems import Problem

__all__ = ["read"]

_OPTIONS = ("bus", "join")
_SEPARATOR = "."


def read(
    source: Path | bytes,
    shown: str,
    channels: Mapping[str, str | Sequence[str]] | None,
    options: Mapping[str, str],
    frames: Callable[[bytes, str], Frames],
    dbc: tuple[Path | bytes, str] | None,
) -> Columns | tuple[Problem, ...]:
    """The signals of one log, or its problems. `frames` reads the format; `dbc` is the DBC and its path for a person.

    Options: `bus`, the one whose frames count, as the log names it; `join: hold`.
    """
    try:
        for key, value in options.items():
            if key not in _OPTIONS or (key == "join" and value != "hold"):
                remedy = "a CAN log takes bus: …, join: hold"
                raise fault("log.option", f"a CAN log has no setting '{key}: {value[:40]}'", remedy, shown)
        if dbc is None:
            remedy = "name the DBC of that bus in the record: `log: {dbc: logs/bus.dbc}`"
            raise fault("log.dbc", "the frames of a CAN log mean nothing without their DBC", remedy, shown)
        return _read(bytes_of(source, shown), shown, channels, options, frames, dbc)
    except Fault as found:
        return found.problems


def _read(
    data: bytes,
    shown: str,
    channels: Mapping[str, str | Sequence[str]] | None,
    options: Mapping[str, str],
    frames: Callable[[bytes, str], Frames],
    dbc: tuple[Path | bytes, str],
) -> Columns:
    from witnessmark.logs.dbc import load, values_of

    base = load(bytes_of(*dbc), dbc[1])
    logged = frames(data, shown)
    where = {f"{message.name}{_SEPARATOR}{signal.name}": (message, signal) for message, signal in base}
    if channels is None:
        channels = {name: name for name in (TIME, *where)}
    wishes, problems = full_names(tuple(where), channels, dbc[1], _SEPARATOR)
    chosen, more = choose((*where, TIME), wishes, dbc[1], 0)
    if problems or more:
        raise Fault(*problems, *more)
    names = sorted({name for taken in chosen.values() for name in taken} - {TIME})
    if not names:
        raise fault("log.column", "only the time is asked for", "name a signal of the DBC", shown)
    series: dict[str, Any] = {}
    faults: list[Problem] = []
    for name in names:
        try:
            series[name] = values_of(logged, *where[name], options.get("bus"), shown)
        except Fault as found:
            faults += found.problems
    if faults:
        raise Fault(*faults)
    return columns_of(
        shown,
        join(series, options.get("join", ""), shown),
        wishes,
        {name: str(where[name][1].unit or "") for name in names},
        form="CAN frames with DBC",
        notes=(*logged.notes, f"buses in the log: {', '.join(logged.buses)}"),
        counts=logged.counts,
        unused=(),
        sha256=hashlib.sha256(data).hexdigest(),
        size=len(data),
    )
