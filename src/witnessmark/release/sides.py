"""The two sides of a comparison: a bag as it lies there, or the workshop's folder as it is now."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from witnessmark.assessment.assess import assess
from witnessmark.language import say
from witnessmark.problems import Misuse, Problem
from witnessmark.reading.folder import WORKSHOP
from witnessmark.reading.workshop import find_root, now, read_workshop

from .compare import Difference, differences
from .describe import Description, describe
from .verify import look_into

__all__ = ["Side", "compared"]


@dataclass(frozen=True, slots=True)
class Side:
    """What one side is; `issue` is None for the folder."""

    vehicle: str
    issue: str | None
    as_of: str
    words: str


def compared(
    before: Path, after: Path | None, *, as_of: date | None = None, clock: Callable[[], datetime] = now
) -> tuple[Side, Side, tuple[Difference, ...]]:
    """What differs. `before` is a bag; `after` another, or a workshop's folder (None: the one here or above).

    The bags' own results are compared, not computed again: `verify` does that. Raises Misuse for a bag that is not
    whole, and where there is none.
    """
    first, was = _bag(before)
    if after is None:
        root = find_root(Path())
        if isinstance(root, Problem):
            raise Misuse(root)
        second, found = _folder(root, first.vehicle, as_of, clock)
    elif (after / WORKSHOP).is_file():
        second, found = _folder(after, first.vehicle, as_of, clock)
    else:
        second, found = _bag(after)
    return first, second, differences(was, found)


def _bag(path: Path) -> tuple[Side, Description]:
    opened = look_into(path)
    if opened.release is None or opened.said is None:
        raise Misuse(*opened.intact.problems)
    release = opened.release
    words = say("{title}, issue {issue}, as of {day}", title=release.title, issue=release.issue, day=release.as_of)
    return Side(release.vehicle, release.issue, release.as_of, words), opened.said


def _folder(root: Path, vehicle: str, as_of: date | None, clock: Callable[[], datetime]) -> tuple[Side, Description]:
    workshop = read_workshop(root, as_of=as_of, clock=clock)
    if vehicle not in workshop.vehicles:
        known = ", ".join(sorted(workshop.vehicles)) or "none yet"
        raise Misuse(
            Problem("vehicle.unknown", f"this folder has no vehicle {vehicle!r}", f"its vehicles are: {known}")
        )
    day = workshop.as_of.date().isoformat()
    title = workshop.vehicles[vehicle].title
    side = Side(vehicle, None, day, say("{title}, the workshop's folder, as of {day}", title=title, day=day))
    return side, describe(workshop, assess(workshop, vehicle))
