"""What a log gives, whatever its format: arrays by channel, and what was found in the file."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING, Any

from witnessmark.problems import Place, Problem

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

__all__ = ["Columns", "Found", "choose", "keyed"]


@dataclass(frozen=True, slots=True)
class Found:
    """How the file was understood, to be shown with every figure that comes from it.

    `units`: column to unit as the file gives it, "" where it gives none. `rows_in` counts the lines after header and
    units row; `rows_out` the rows of the arrays: they are equal, or the log is refused. `unused`: the others.

    `encoding` to `units_line` are for separated text, `form` names any other format. `counts` says where each line or
    frame of a CAN log went, `notes` what else a person has to know, and `longest_hold` for how long, in s, a value was
    taken to last where channels come at different instants.
    """

    units: Mapping[str, str]
    rows_in: int
    rows_out: int
    unused: tuple[str, ...]
    sha256: str
    size: int
    encoding: str = ""
    delimiter: str = ""
    decimal: str = ""
    header_line: int = 0
    units_line: int = 0
    form: str = ""
    counts: Mapping[str, int] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    longest_hold: float = 0.0


@dataclass(frozen=True, slots=True)
class Columns:
    """The columns that were asked for.

    `arrays`: finite float64 arrays of shape (rows,), by channel; a channel given by a
    pattern or a list has its columns as `channel:column`.
    `names`: the file's column names of each channel, in the order of its numbers (`cell_2` before `cell_10`).
    The numbers are in the file's own units: see `found.units`.
    """

    arrays: Mapping[str, npt.NDArray[np.float64]]
    names: Mapping[str, tuple[str, ...]]
    found: Found

    def as_json(self) -> dict[str, Any]:
        """What was found, JSON-able, for a cache or a child's answer; the arrays stay out."""
        found = self.found
        more: dict[str, Any] = {
            "form": found.form,
            "counts": dict(found.counts),
            "notes": list(found.notes),
            "longest_hold": found.longest_hold,
        }
        return {
            "encoding": found.encoding,
            "delimiter": found.delimiter,
            "decimal": found.decimal,
            "header_line": found.header_line,
            "units_line": found.units_line,
            "units": dict(found.units),
            "rows_in": found.rows_in,
            "rows_out": found.rows_out,
            "unused": list(found.unused),
            "sha256": found.sha256,
            "size": found.size,
            "names": {channel: list(names) for channel, names in self.names.items()},
            **{key: value for key, value in more.items() if value},
        }


def choose(
    columns: Sequence[str], channels: Mapping[str, str | Sequence[str]] | None, shown: str, line: int
) -> tuple[dict[str, tuple[str, ...]], tuple[Problem, ...]]:
    """Which columns each channel takes. A wish that names no column, or a column wished for twice, is a problem.

    A column is named as the header has it, or without the unit behind it (`u` for `u [V]`).
    """
    if channels is None:
        return {name: (name,) for name in columns}, ()
    bare: dict[str, list[str]] = {}
    for name in columns:
        bare.setdefault(without_unit(name), []).append(name)
    chosen: dict[str, tuple[str, ...]] = {}
    problems: list[Problem] = []
    taken: dict[str, str] = {}
    for channel, wish in channels.items():
        names: list[str] = []
        for pattern in (wish,) if isinstance(wish, str) else wish:
            if pattern in columns:
                hits = [pattern]
            elif any(sign in pattern for sign in "*?"):
                hits = [name for name in columns if fnmatchcase(without_unit(name), pattern.replace("[", "[[]"))]
            else:
                hits = bare.get(pattern, [])
            if not hits:
                listed = ", ".join(columns[:12]) + (" …" if len(columns) > 12 else "")
                problems.append(
                    Problem(
                        "log.column",
                        f"no column '{pattern}' for the channel '{channel}'",
                        f"name one of the file's columns: {listed}",
                        Place(shown, line, 1),
                    )
                )
            elif len(hits) > 1 and not any(sign in pattern for sign in "*?"):
                message = f"the name '{pattern}' fits several columns: {', '.join(hits)}"
                problems.append(Problem("log.column", message, "write it as in the header", Place(shown, line, 1)))
            names.extend(name for name in hits if name not in names)
        for name in names:
            if name in taken:
                message = f"the column '{name}' is given to two channels, '{taken[name]}' and '{channel}'"
                problems.append(Problem("log.column", message, "give it to one of them", Place(shown, line, 1)))
            taken[name] = channel
        chosen[channel] = tuple(sorted(names, key=_by_number))
    return chosen, tuple(problems)


def keyed(
    arrays: Mapping[str, Any],
    chosen: Mapping[str, tuple[str, ...]],
    channels: Mapping[str, str | Sequence[str]] | None,
) -> dict[str, Any]:
    """The arrays of columns by channel; `channel:column` for a channel that was wished by a pattern or a list."""
    by_channel: dict[str, Any] = {}
    for channel, names in chosen.items():
        wish = channels[channel] if channels is not None else channel
        several = channels is not None and (not isinstance(wish, str) or (wish not in names and len(names) > 1))
        several = several or (isinstance(wish, str) and wish not in names and ("*" in wish or "?" in wish))
        for name in names:
            by_channel[f"{channel}:{name}" if several else channel] = arrays[name]
    return by_channel


def without_unit(name: str) -> str:
    """`u [V]` and `u (V)` without what is in brackets at the end."""
    return re.sub(r"\s*[\[(][^\[\]()]{0,20}[\])]\s*$", "", name) or name


def unit_of(name: str) -> str:
    """What stands in brackets at the end of a column's name, else ""."""
    match = re.search(r"[\[(]([^\[\]()]{1,20})[\])]\s*$", name)
    return match[1].strip() if match else ""


def _by_number(name: str) -> tuple[tuple[str, int], ...]:
    """Sort key that takes digits as numbers."""
    parts = re.split(r"([0-9]+)", name)
    return tuple((parts[i], int(parts[i + 1][:18]) if i + 1 < len(parts) else -1) for i in range(0, len(parts), 2))
