"""Channels that bring their own instants: from signals of frames and groups to columns with one time.

Signals that come at the same instants are columns as they are. Others have no common rows: nothing is interpolated in
silence. The record may say `join: hold`: then there is a row at every instant at which any of them came, each keeps its
last value in between, and rows before all have come once are left out; the longest hold is part of what was found.
A channel that stops coming is not held: the log is refused.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING, Any

from witnessmark.logs.columns import Columns, Found, choose, keyed, without_unit
from witnessmark.logs.source import Fault, fault
from witnessmark.problems import Place, Problem

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

__all__ = ["TIME", "Joined", "columns_of", "full_names", "join"]

TIME = "time"
"""The name under which the instants of a log without a time column are taken, in s."""

_GAP = 10
"""More typical steps of a channel than this without a sample are a gap (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Joined:
    """Columns of one length. `dropped` counts rows before every channel had come; `longest_hold` is in s (0: none)."""

    time: Floats
    values: Mapping[str, Floats]
    dropped: int = 0
    longest_hold: float = 0.0


def full_names(
    known: Sequence[str], channels: Mapping[str, str | Sequence[str]], shown: str, separator: str
) -> tuple[dict[str, str | list[str]], tuple[Problem, ...]]:
    """The wishes with each short name made full: `CellMax` becomes `Battery.CellMax` where one message has it.

    A short name that several groups have is a problem that names them. What fits nothing is left for `choose`.
    """
    short: dict[str, list[str]] = {}
    for name in known:
        short.setdefault(without_unit(name).partition(separator)[2] or without_unit(name), []).append(name)
    wishes: dict[str, str | list[str]] = {}
    problems: list[Problem] = []
    for channel, wish in channels.items():
        full: list[str] = []
        for pattern in (wish,) if isinstance(wish, str) else wish:
            if any(sign in pattern for sign in "*?") and separator not in pattern:
                safe = pattern.replace("[", "[[]")
                hits = [name for key, names in short.items() if fnmatchcase(key, safe) for name in names]
                full += hits or [pattern]
                continue
            hits = short.get(pattern, []) if pattern not in known else []
            if len(hits) > 1:
                message = f"'{pattern}' for the channel '{channel}' is in several places: {', '.join(hits)}"
                problems.append(Problem("log.column", message, "write the full name of one", Place(shown)))
            full += hits[:1] or [pattern]
        wishes[channel] = full[0] if isinstance(wish, str) and not any(sign in wish for sign in "*?") else full
    return wishes, tuple(problems)


def join(series: Mapping[str, tuple[Floats, Floats]], how: str, shown: str) -> Joined:
    """Columns with one time from `name: (instants in s, values)`; `how` is "" or "hold". Raises `Fault`."""
    import numpy as np

    for name, (time, values) in series.items():
        if len(time) == 0:
            raise fault("log.no-rows", f"'{name}' never comes in this log", "log the right bus, or name another", shown)
        bad = np.flatnonzero(~(np.isfinite(values) & np.isfinite(time)))
        if bad.size:
            message = f"'{name}' is not a finite number {bad.size} times, first at {float(time[bad[0]]):.6f} s"
            raise fault("log.cell", message, "cut the log to where the signal is valid", shown)
        back = np.flatnonzero(np.diff(time) < 0)
        if back.size:
            message = f"time goes back at '{name}', first after {float(time[back[0]]):.6f} s"
            raise fault("log.time", message, "split a log that was started twice", shown)
    first = next(iter(series.values()))[0]
    if all(len(time) == len(first) and bool(np.array_equal(time, first)) for time, _ in series.values()):
        return Joined(first, {name: values for name, (_, values) in series.items()})
    if how != "hold":
        raise fault(
            "log.join",
            f"the channels come at different instants: {_counts(series)}",
            "name channels of one message or group, or say in the record that the last value holds in between: "
            "`log: {join: hold}`",
            shown,
        )
    instants = np.unique(np.concatenate([time for time, _ in series.values()]))
    begin = max(float(time[0]) for time, _ in series.values())
    kept = instants[instants >= begin]
    held = {name: values[np.searchsorted(time, kept, side="right") - 1] for name, (time, values) in series.items()}
    end = float(instants[-1])
    longest = 0.0
    for name, (time, _) in series.items():
        steps = np.diff(np.append(time[np.searchsorted(time, begin, "right") - 1 :], end))
        gap = float(np.max(steps))
        if len(time) < 2 or gap > _GAP * float(np.median(np.diff(time))):
            at = float(end if len(time) < 2 else end - np.sum(steps[int(np.argmax(steps)) :]))
            message = f"'{name}' does not come for {gap:.6g} s after {at:.6f} s, and cannot be held so long"
            raise fault("log.gap", message, "log again, or cut the log to where it comes regularly", shown)
        longest = max(longest, gap)
    return Joined(kept, held, len(instants) - len(kept), longest)


def columns_of(
    shown: str,
    joined: Joined,
    channels: Mapping[str, str | Sequence[str]],
    units: Mapping[str, str],
    **found: Any,
) -> Columns:
    """What a log gives, from joined columns: each name of `joined.values` is one of the file's, `time` is the time."""
    import numpy as np

    given: dict[str, Any] = {TIME: joined.time, **joined.values}
    chosen, problems = choose(tuple(given), channels, shown, 0)
    if problems:
        raise Fault(*problems)
    notes = list(found.pop("notes", ()))
    if joined.longest_hold:
        notes.append(f"joined by holding the last value, for {joined.longest_hold:g} s at the longest")
    if joined.dropped:
        notes.append(f"{joined.dropped} rows left out before every channel had come once")
    arrays = {name: np.ascontiguousarray(values, dtype=np.float64) for name, values in given.items()}
    said = Found(
        units={TIME: "s", **{name: units.get(name, "") for name in joined.values}},
        rows_in=len(joined.time) + joined.dropped,
        rows_out=len(joined.time),
        longest_hold=joined.longest_hold,
        notes=tuple(notes),
        **found,
    )
    return Columns(keyed(arrays, chosen, channels), chosen, said)


def _counts(series: Mapping[str, tuple[Floats, Floats]]) -> str:
    listed = [f"'{name}' {len(time)} times" for name, (time, _) in series.items()]
    return ", ".join(listed[:6]) + (" …" if len(listed) > 6 else "")
