"""What methods that read a log have in common: checked columns, coverage, and curves small enough to draw."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["as_floats", "checked_time", "coverage", "stuck", "thinned"]

Fault = dict[str, str]


def as_floats(
    columns: Mapping[str, Any], name: str, length: int | None = None
) -> tuple[NDArray[np.float64], list[Fault]]:
    """A column as floats, units as they are, and what is wrong: missing, not finite (first row), not `length` rows."""
    import numpy as np

    given = columns.get(name)
    if given is None:
        return np.empty(0), [_fault("log.channel", f"the log has no channel {name}", "name its column in the record")]
    values = np.asarray(given, dtype=np.float64)
    if values.ndim != 1 or values.size < 2:
        return values, [_fault("log.short", f"the channel {name} has fewer than two rows", "log for longer")]
    if length is not None and len(values) != length:
        return values, [
            _fault(
                "log.length", f"the channel {name} has {len(values)} rows, time has {length}", "export them together"
            )
        ]
    bad = np.flatnonzero(~np.isfinite(values))
    if bad.size:
        return values, [
            _fault(
                "log.not-finite",
                f"the channel {name} is not a finite number in {bad.size} rows, first in data row {int(bad[0]) + 1}",
                "take these rows out at the source and say so in the record, or log again",
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
                _fault(
                    "log.time",
                    f"time does not rise in {back.size} places, first in data row {row} "
                    f"({float(time[row - 1]):g} s after {float(time[row - 2]):g} s)",
                    "sort the log by time, take doubled rows out, or split a log that was started twice",
                )
            ]
    return time, faults


def _fault(code: str, message: str, remedy: str) -> Fault:
    return {"code": code, "message": message, "remedy": remedy}


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
