"""How long to wait after switching off: the slowest measured discharge of all buses, or that nobody has shown it."""

from __future__ import annotations

import math

from witnessmark.assessment.model import RecordResult, State
from witnessmark.document.blocks import Link, Text
from witnessmark.language import say, say_n

from . import results
from .book import Book, walk
from .words import joined, woven

__all__ = ["waiting"]

_MEASURAND = "time-to-safe-voltage"


def waiting(book: Book) -> tuple[str, Text]:
    """The words for the hazard band, and the whole answer.

    Only a discharge by itself counts, measured on the bus: after a crash nobody knows whether the active discharge
    still works. Each bus has to be shown; the slowest one with its U gives the time, rounded up to whole minutes.
    """
    buses = {line.id: line.title for line in book.parts if line.kind == "hv-bus" and not line.out}
    shown: dict[str, tuple[float, str, Link]] = {}
    active: list[str] = []
    for state, part, leaf in walk(book.assessment):
        if part.part not in buses or leaf.leaf.measure != _MEASURAND:
            continue
        for result in leaf.records:
            if result.act.code not in leaf.governs or not _counts(result):
                continue
            if result.record.conditions.get("discharge") != "passive":
                active.append(
                    say("{bus}: active discharge {value}", bus=buses[part.part], value=results.as_text(result))
                )
                continue
            if leaf.state is not State.CONFORMS or result.output is None or result.output.bound:
                continue
            longest = result.output.value + (result.output.U or 0.0)
            known = shown.get(part.part)
            if known is None or longest > known[0]:
                shown[part.part] = (longest, results.as_text(result), book.link(state, page=True))
    missing = [title for ident, title in buses.items() if ident not in shown]
    if not buses or missing:
        words = [
            _not_shown(buses=bool(buses), some=joined(missing) if shown else ""),
            say("Take it as live until the absence of voltage is measured."),
            *([f"{'; '.join(active)}."] if active else []),
        ]
        return say("not shown: take it as live"), " ".join(words)
    seconds, value, link = max(shown.values(), key=lambda found: found[0])
    minutes = max(1, math.ceil(seconds / 60))
    whole = woven(
        "{time} at least: the slowest bus needed {value} by itself, {place}. Then measure.",
        time=say_n("Wait {count} minute", "Wait {count} minutes", minutes),
        value=value,
        place=link,
    )
    return say_n("wait {count} minute", "wait {count} minutes", minutes), whole


def _not_shown(*, buses: bool, some: str) -> str:
    """`some`: the buses that lack it, where others have it."""
    if not buses:
        return say("Not shown: no high-voltage bus is stated: the discharge by itself has not been measured.")
    if some:
        return say("Not shown for {buses}: the discharge by itself has not been measured.", buses=some)
    return say("Not shown: the discharge by itself has not been measured.")


def _counts(result: RecordResult) -> bool:
    return result.valid and not result.withdrawn and not result.ended
