"""What methods that read a log have in common: checked columns, coverage, and curves small enough to draw."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from witnessmark.language import declared, marked, say

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Fault", "as_floats", "checked_time", "coverage", "fault_words", "log_fault", "stuck", "thinned"]

Fault = dict[str, Any]
"""JSON-able: code, message and remedy in English, and under `said` what another language makes them of."""


def as_floats(
    columns: Mapping[str, Any], name: str, length: int | None = None
) -> tuple[NDArray[np.float64], list[Fault]]:
    """A column as floats, units as they are, and what is wrong: missing, not finite (first row), not `length` rows."""
    import numpy as np

    given = columns.get(name)
    if given is None:
        return np.empty(0), [
            log_fault(
                "log.channel",
                declared("the log has no channel {name}"),
                declared("name its column in the record"),
                name=name,
            )
        ]
    values = np.asarray(given, dtype=np.float64)
    if values.ndim != 1 or values.size < 2:
        return values, [
            log_fault(
                "log.short",
                declared("the channel {name} has fewer than two rows"),
                declared("log for longer"),
                name=name,
            )
        ]
    if length is not None and len(values) != length:
        return values, [
            log_fault(
                "log.length",
                declared("the channel {name} has {rows} rows, time has {wanted}"),
                declared("export them together"),
                name=name,
                rows=len(values),
                wanted=length,
            )
        ]
    bad = np.flatnonzero(~np.isfinite(values))
    if bad.size:
        return values, [
            log_fault(
                "log.not-finite",
                declared("the channel {name} is not a finite number in {rows} rows, first in data row {first}"),
                declared("take these rows out at the source and say so in the record, or log again"),
                name=name,
                rows=int(bad.size),
                first=int(bad[0]) + 1,
            )
        ]
    return values, []


def checked_time(columns: Mapping[str, Any]) -> tuple[NDArray[np.float64], list[Fault]]:
    """The time column in s, and a fault unless it rises from row to row."""
    import numpy as np

    time, faults = as_floats(columns, "time")
    if not faults:
        back = np.flatnonzero(np.diff(time) <= 0)
        if back.size:
            row = int(back[0]) + 2
            faults = [
                log_fault(
                    "log.time",
                    declared(
                        "time does not rise in {places} places, first in data row {row} ({time} s after {before} s)"
                    ),
                    declared("sort the log by time, take doubled rows out, or split a log that was started twice"),
                    places=int(back.size),
                    row=row,
                    time=float(time[row - 1]),
                    before=float(time[row - 2]),
                )
            ]
    return time, faults


def log_fault(code: str, message: str, remedy: str, **values: object) -> Fault:
    """A fault in a log. Both texts are declared, with `values` by name in braces: a log is read once, whatever the
    language of those who ask, so they are said where the method refuses."""
    told = {name: f"{value:g}" if isinstance(value, float) else str(value) for name, value in values.items()}
    return {
        "code": code,
        "message": message.format_map(told),
        "remedy": remedy.format_map(told),
        "said": {"message": message, "remedy": remedy, "values": values},
    }


def fault_words(row: Mapping[str, Any]) -> tuple[str, str]:
    """Message and remedy of a fault in a log, in the language of the run; as they are where a plug-in made them."""
    said = row.get("said")
    if said is None:
        return str(row["message"]), str(row["remedy"])
    values = {
        name: marked(f"{value:g}") if isinstance(value, float) else value for name, value in said["values"].items()
    }
    return say(said["message"], **values), say(said["remedy"], **values)


def coverage(time: NDArray[np.float64]) -> dict[str, float]:
    """How well a log covers its `time`, in s: span, typical and longest step, gaps, share of the span outside gaps.

    A gap is a step of more than ten typical ones (common practice, no source).
    """
    import numpy as np

    steps = np.diff(time)
    typical = float(np.median(steps))
    gaps = steps > 10 * typical
    span = float(time[-1] - time[0])
    return {
        "samples": float(len(time)),
        "span": span,
        "typical_step": typical,
        "longest_step": float(np.max(steps)),
        "longest_step_at": float(time[int(np.argmax(steps))]),
        "gaps": float(np.count_nonzero(gaps)),
        "covered": 1.0 - float(np.sum(steps[gaps])) / span,
    }


def thinned(
    time: NDArray[np.float64], values: NDArray[np.float64], bins: int, values_high: NDArray[np.float64] | None = None
) -> dict[str, list[float]]:
    """A curve in at most `bins` bins of equal time: middle of the bin, smallest and largest value; empty bins are left
    out. Nothing that was extreme is lost. `time` in s, `values` in any unit.
    `values_high` gives the largest from another row of values."""
    import numpy as np

    high = values if values_high is None else values_high
    if len(time) <= bins:
        return {"time": time.tolist(), "low": values.tolist(), "high": high.tolist()}
    edges = np.linspace(time[0], time[-1], bins + 1)
    index = np.clip(np.searchsorted(edges, time, side="right") - 1, 0, bins - 1)
    starts = np.flatnonzero(np.r_[True, np.diff(index) > 0])
    middle = (edges[:-1] + edges[1:]) / 2
    return {
        "time": middle[index[starts]].tolist(),
        "low": np.minimum.reduceat(values, starts).tolist(),
        "high": np.maximum.reduceat(high, starts).tolist(),
    }


def stuck(values: NDArray[np.float64]) -> bool:
    """Whether a channel with `values` in any unit never moves over the whole log."""
    import numpy as np

    return bool(np.all(values == values[0]))
