"""The channel map of a design: what its loggers write, named once, and checked against unit, range and sampling.

A record's log that names a design takes its columns from the map; the check is made where the columns are, in the
confined child. Whether the revision counts (sealed, committed, not withdrawn) is for assessment.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fnmatch import fnmatchcase
from typing import Any

from witnessmark.problems import Problem
from witnessmark.quantities import UnitFault, parse_quantity, parse_unit
from witnessmark.records.acts import DesignRevision, Log, LoggedChannel

from .acts import ActText

__all__ = ["mapped", "outside_map", "with_units"]

_SLACK = 1e-9


def mapped(log: Log, texts: Sequence[ActText]) -> tuple[dict[str, Any], dict[str, Any]] | Problem:
    """Columns of each channel of the method, and what the map says of each column; or why there is none.

    Without `design` the record's own names are the columns, and nothing is said of them.
    """
    if log.design is None:
        return {name: _plain(value) for name, value in log.channels.items()}, {}
    name, _, revision = log.design.partition("/")
    found = [
        text.body
        for text in texts
        if isinstance(text.body, DesignRevision) and (text.body.design, text.body.revision) == (name, revision)
    ]
    if len(found) != 1:
        words = f"there is no revision {log.design}" if not found else f"{len(found)} files say what {log.design} is"
        return Problem("design.unknown", words, "name the revision whose channels were logged, and keep one file of it")
    columns: dict[str, Any] = {}
    said: dict[str, Any] = {}
    for channel, wish in log.channels.items():
        listed: list[str] = []
        for key in (wish,) if isinstance(wish, str) else wish:
            one = found[0].channels.get(key)
            if one is None:
                known = ", ".join(found[0].channels) or "none"
                remedy = f"write one of its channels: {known}"
                return Problem("design.channel", f"{log.design} has no channel '{key}' for '{channel}'", remedy)
            own = [one.column] if isinstance(one.column, str) else list(one.column)
            listed += own
            said |= {column: _as_json(key, one) for column in own}
        columns[channel] = listed[0] if len(listed) == 1 else listed
    return columns, said


def _plain(value: str | tuple[str, ...]) -> str | list[str]:
    return value if isinstance(value, str) else list(value)


def _as_json(key: str, one: LoggedChannel) -> dict[str, Any]:
    unit = parse_unit(one.unit)
    scale, offset = float(unit.scale), float(unit.offset)

    def bound(text: str | None) -> float | None:
        return None if text is None else (parse_quantity(text, like=unit).si - offset) / scale

    return {
        "channel": key,
        "unit": one.unit,
        "low": bound(one.low),
        "high": bound(one.high),
        "sampling": None if one.sampling is None else parse_quantity(one.sampling, like=parse_unit("s")).si,
    }


def with_units(
    units: Mapping[str, str], names: Mapping[str, Sequence[str]], said: Mapping[str, Any]
) -> tuple[dict[str, str], dict[str, Any], list[tuple[str, str]]]:
    """The unit of each column, what the map says of it by its full name, and faults as message and remedy.

    A column takes the map's unit where the file states none; where both state one they must be the same.
    """
    from witnessmark.logs.columns import without_unit

    full: dict[str, Any] = {}
    found = dict(units)
    faults: list[tuple[str, str]] = []
    for columns in names.values():
        for column in columns:
            bare = without_unit(column)
            hits = [one for wish, one in said.items() if wish in (column, bare) or _fits(bare, wish)]
            if not hits:
                continue
            full[column] = hits[0]
            wanted, own = hits[0]["unit"], units.get(column, "")
            if not own:
                found[column] = wanted
            elif not _same(own, wanted):
                message = f"the column '{column}' is in '{own}', and the design's map says {wanted}"
                faults.append((message, "mend the map or the export"))
    return found, full, faults


def _fits(bare: str, wish: str) -> bool:
    """A wish may be a pattern, or a name without the message or group before it."""
    pattern = wish.replace("[", "[[]")
    return any(fnmatchcase(name, pattern) for name in (bare, bare.partition(".")[2], bare.partition("/")[2]) if name)


def _same(own: str, wanted: str) -> bool:
    if own == wanted:
        return True
    try:
        one, other = parse_unit(own), parse_unit(wanted)
    except UnitFault:
        return False
    return one.compatible(other) and one.scale == other.scale and one.offset == other.offset


def outside_map(
    arrays: Mapping[str, Any], time: Any, longest_hold: float, said: Mapping[str, Any]
) -> list[tuple[str, str, str]]:
    """Code, message and remedy for each column that is not what the map says. `arrays`: by column, in the map's unit.

    `time`: s, of the same length, None where no time is known.
    """
    import numpy as np

    faults: list[tuple[str, str, str]] = []
    for column, values in arrays.items():
        one = said.get(column)
        if one is None:
            continue
        low, high, unit = one["low"], one["high"], one["unit"]
        slack = _SLACK * max(abs(low or 0.0), abs(high or 0.0))
        bad = np.zeros(len(values), dtype=bool)
        if low is not None:
            bad |= values < low - slack
        if high is not None:
            bad |= values > high + slack
        if bad.any():
            row = int(np.flatnonzero(bad)[0])
            limits = f"{'…' if low is None else f'{low:g}'} to {'…' if high is None else f'{high:g}'} {unit}"
            message = (
                f"'{column}' is {values[row]:.9g} {unit} in row {row + 1} ({int(bad.sum())} such rows), outside the "
                f"{limits} of the design's channel '{one['channel']}'"
            )
            faults.append(("log.range", message, "find out what the logger wrote there, and log again"))
        if one["sampling"] is None:
            continue
        if time is None or len(time) < 2:
            message = f"the sampling of '{column}' cannot be checked without a time column"
            faults.append(("log.sampling", message, "name the channel time"))
            continue
        step = max(float(np.max(np.diff(time))), longest_hold)
        if step > one["sampling"] * (1 + _SLACK):
            message = (
                f"{step:.6g} s pass between two samples of '{column}'; the design's channel '{one['channel']}' has "
                f"{one['sampling']:g} s at most"
            )
            faults.append(("log.sampling", message, "log again at the design's sampling"))
    return faults
