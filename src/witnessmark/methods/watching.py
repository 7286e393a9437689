"""What is looked at in every log, whatever the method: sensors that never move, and gaps between samples.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, cast

from witnessmark.language import marked, say
from witnessmark.methods.series import coverage, stuck

if TYPE_CHECKING:
    from witnessmark.methods.base import ChannelSpec, Refused, Result

__all__ = ["WATCHED", "seen", "watched"]

WATCHED = "watched"
"""Under this name the figures of every log keep what was seen here."""

_LEAST = 3
"""With fewer samples than this, standing still says nothing."""


def seen(channels: Iterable[ChannelSpec], columns: Mapping[str, Any]) -> dict[str, Any]:
    """Channels whose sensor should move and never did, and how the samples cover the time in s; JSON-able."""
    import numpy as np

    still = []
    for spec in channels:
        column = columns.get(spec.name)
        if spec.moves and column is not None:
            values = np.asarray(column, dtype=np.float64)
            if values.size >= _LEAST and stuck(values):
                still.append({"channel": spec.name, "title": spec.title, "value": float(values[0]), "unit": spec.unit})
    found: dict[str, Any] = {"still": still}
    time = columns.get("time")
    if time is not None and len(time) > _LEAST:
        found["coverage"] = coverage(np.asarray(time, dtype=np.float64))
    return found


def watched(done: Result | Refused, figures: Mapping[str, object]) -> Result | Refused:
    """The result with an alarm for each sensor that never moved, which is fatal, and one for gaps, which is not.

    A method that tells of gaps or still sensors itself is left to it.
    """
    from witnessmark.methods.base import Alarm, Refused

    noted = cast("Mapping[str, Any] | None", figures.get(WATCHED))
    if not noted or isinstance(done, Refused):
        return done
    alarms = list(done.alarms)
    for one in noted["still"]:
        alarms.append(
            Alarm(
                "log.stuck",
                say(
                    "{channel} ({title}) reads {value} {unit} in every sample.",
                    channel=one["channel"],
                    title=say(one["title"]),
                    value=marked(f"{one['value']:.6g}"),
                    unit=one["unit"],
                ),
                say("Look whether the sensor is connected and the logger reads it: what never moves shows nothing."),
                fatal=True,
            )
        )
    covered = noted.get("coverage")
    if covered and covered["gaps"] and not any(alarm.code.endswith("gaps") for alarm in alarms):
        alarms.append(
            Alarm(
                "log.gaps",
                say(
                    "The log has {gaps} gaps, the longest {longest_step} s from {longest_step_at} s on; "
                    "{covered} % of its time is covered.",
                    gaps=f"{covered['gaps']:.0f}",
                    longest_step=marked(f"{covered['longest_step']:.3g}"),
                    longest_step_at=marked(f"{covered['longest_step_at']:.6g}"),
                    covered=marked(f"{100 * covered['covered']:.1f}"),
                ),
                say("What happened in the gaps is not shown. Log again, or say why it does not matter."),
            )
        )
    return done if len(alarms) == len(done.alarms) else replace(done, alarms=tuple(alarms))
