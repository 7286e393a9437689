"""One chapter for each area of each chosen set: every requirement of it, shown or not."""

from __future__ import annotations

import re
from collections.abc import Iterable

from witnessmark.assessment.model import State
from witnessmark.document.blocks import Block, Cautions, Note
from witnessmark.language import Words, declared, say, say_n
from witnessmark.records.sets import LeafKind

from .book import Book, Chapter, Counter, Page, Use, View, area_page
from .charts import interval_charts
from .requirement import requirement
from .words import capital, tally

__all__ = ["AUTHORITY", "VIEW", "cautions", "each_once"]

AUTHORITY = declared("Local codes and a qualified person decide, not this document. Who is not qualified keeps away.")

_LOCAL_CODES = Words(
    dict(
        enumerate(
            (
                declared("Local codes and a qualified person decide."),
                declared("Local codes and qualified persons decide."),
                declared("Local codes and the qualified person decide."),
                declared("Local codes decide."),
                declared("Qualified persons only; local codes decide."),
                declared("Qualified persons; local codes decide."),
            )
        )
    )
)
"""What cautions end with, each in its words: the last line of the band says it for all of them."""


def chapters(book: Book) -> tuple[Chapter, ...]:
    several = len({set_id for set_id, _ in book.areas()}) > 1
    out = []
    for set_id, area in book.areas():
        states = book.area(set_id, area)
        title = book.area_title(set_id, area)
        out.append(
            Chapter(
                area_page(set_id, area),
                f"{title} ({book.set_short(set_id)})" if several else title,
                title,
                subject=(set_id, area),
                gaps=sum(1 for s in states if s.state.is_gap),
                concessions=sum(1 for s in states if s.state is State.UNDER_CONCESSION),
                flows=True,
            )
        )
    return tuple(out)


def page(book: Book, chapter: Chapter) -> Page:
    set_id, area = chapter.subject
    states = book.area(set_id, area)
    made: dict[str, Block] = {"lead": Note(_lead(chapter, [s.state for s in states]), style="lead")}
    made["cautions"] = cautions(book, chapter)
    uses = [Use(s, p, leaf, leaf.result) for s in states for p in s.parts for leaf in p.leaves if leaf.result]
    charts = interval_charts(book, uses, chapter.number, "b.chart")
    for n, chart in enumerate(charts, 1):
        made[f"chart-{n}"] = chart
    counter = Counter(chapter.number, figures=len(charts))
    sections = []
    for state in states:
        shown = requirement(book, state, counter)
        made.update(shown.blocks)
        sections.append(shown.context)
    context = {
        "title": chapter.heading,
        "charts": [f"chart-{n + 1}" for n in range(len(charts))],
        "requirements": sections,
    }
    return Page(context, made)


def _lead(chapter: Chapter, states: list[State]) -> str:
    if not chapter.gaps:
        return say("Nothing stands in the way here: {tally}.", tally=tally(states))
    begin = say_n(
        "{count} of {total} requirements stands in the way.",
        "{count} of {total} requirements stand in the way.",
        chapter.gaps,
        total=len(states),
    )
    return f"{capital(begin)} {say('In all, {tally}.', tally=tally(states))}"


def cautions(book: Book, chapter: Chapter) -> Cautions:
    """The hazard band of the chapter: this vehicle's voltage, then every caution of its requirements and methods."""
    lines: dict[str, None] = {}
    for state in book.area(*chapter.subject):
        for leaf in state.requirement.leaves.values():
            if leaf.kind is LeafKind.MEASURE:
                for name in leaf.methods:
                    method = book.method(name)
                    lines.update({say(c.text): None for c in method.cautions} if method else {})
        for part in state.parts:
            for part_leaf in part.leaves:
                for result in part_leaf.records:
                    method = book.method(result.record.method)
                    lines.update({say(c.text): None for c in method.cautions} if method else {})
        lines.update(dict.fromkeys(state.requirement.cautions))
    told = each_once(lines)
    voltage = book.fact_words("working_voltage")
    return Cautions(
        voltage=say("{voltage} DC", voltage=voltage) if voltage else say("Voltage not stated: take it as high"),
        lines=told
        or (say("High voltage can kill. Work on the vehicle only when it is safely switched off and tested dead."),),
        authority=say(AUTHORITY),
        title=book.vehicle.title,
        id="b.cautions",
    )


def each_once(lines: Iterable[str]) -> tuple[str, ...]:
    """The cautions with every sentence said once, the one about local codes left to the last line of the band."""
    said = {_plain(sentence) for sentence in _LOCAL_CODES.values()}
    out = []
    for line in lines:
        kept = []
        for part in re.split(r"(?<=[.])\s+", line.strip()):
            if _plain(part) in said:
                continue
            said.add(_plain(part))
            kept.append(part)
        if kept:
            out.append(" ".join(kept))
    return tuple(out)


def _plain(sentence: str) -> str:
    return " ".join(sentence.casefold().split())


VIEW = View("area.rst.j2", chapters, page)
