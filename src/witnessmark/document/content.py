"""What the technical file says: the assessment as pages of structure (templates) and data (blocks).

Nothing here reads a file or decides anything. A page is one module in `views`, its template in the templates' folder,
and one line in `VIEWS`, in the order of the file.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from witnessmark.assessment.model import Assessment
from witnessmark.document.attachments import Planned, plan
from witnessmark.document.blockdata import as_json
from witnessmark.document.blocks import Block, Column, Link, Note, Table
from witnessmark.document.issued import Issued
from witnessmark.document.layout_words import concessions_words, fields_words, gaps_words
from witnessmark.document.settings import Chapter as ListedChapter
from witnessmark.document.settings import Listed, Settings
from witnessmark.document.views import (
    areas,
    authority,
    changes,
    concessions,
    contents,
    conversion,
    cover,
    files,
    glossary,
    information,
    instruments,
    lookup,
    matrix,
    people,
    production,
    records,
    register,
    reports,
    rescue,
    risks,
    rule,
    rules_applied,
    states,
    unused,
    vehicle,
)
from witnessmark.document.views import own as own_chapters
from witnessmark.document.views.book import FILES, REGISTER, Book, Chapter, View, state_page
from witnessmark.document.views.cover import all_shown, open_words
from witnessmark.document.views.letterhead import mark_file
from witnessmark.document.views.words import capital, day, state_word
from witnessmark.language import Language, say, say_n, speaking, spoken
from witnessmark.records.world import Workshop

__all__ = ["VIEWS", "Published", "Sources", "sources"]

VIEWS: tuple[View, ...] = (
    cover.VIEW,
    contents.VIEW,
    changes.VIEW,
    register.VIEW,
    vehicle.VIEW,
    conversion.VIEW,
    information.VIEW,
    rules_applied.VIEW,
    rule.VIEW,
    matrix.VIEW,
    areas.VIEW,
    reports.VIEW,
    risks.VIEW,
    concessions.VIEW,
    authority.VIEW,
    instruments.VIEW,
    people.VIEW,
    production.VIEW,
    rescue.VIEW,
    files.VIEW,
    unused.VIEW,
    lookup.VIEW,
    glossary.VIEW,
    states.VIEW,
    records.VIEW,
)


@dataclass(frozen=True, slots=True)
class Published:
    """A photograph to print: path in the folder, the digest it must have, and where its copy lies below the sources."""

    path: str
    sha256: str
    file: str


@dataclass(frozen=True, slots=True)
class Sources:
    """Everything that the engine needs. `pages` are (template, target, context); `data` the text of each JSON file."""

    pages: tuple[tuple[str, str, Mapping[str, object]], ...]
    data: Mapping[str, str]
    settings: Settings
    photos: tuple[Published, ...]
    attachments: tuple[Planned, ...]
    chapters: tuple[Chapter, ...]
    language: Language = field(default_factory=Language)
    numbers: Mapping[tuple[str, str], str] = field(default_factory=dict)
    """The number of each requirement, by set and id."""
    mark: Published | None = None
    """The workshop's own mark."""


def sources(
    workshop: Workshop,
    assessment: Assessment,
    *,
    draft: bool = True,
    left_out: Mapping[str, str] | None = None,
    issued: Issued | None = None,
    own: Sequence[str] = (),
) -> Sources:
    """The pages of one vehicle's technical file. Pure: the same input gives the same pages.

    `left_out` are attachments that cannot be attached, with the reason; they are listed all the same. `issued` is what
    a frozen issue says of itself. `own`: names of a team's templates that make chapters, which stand before the index.
    """
    with speaking(workshop.language):
        return _sources(workshop, assessment, draft=draft, left_out=left_out, issued=issued, own=own)


def _sources(
    workshop: Workshop,
    assessment: Assessment,
    *,
    draft: bool,
    left_out: Mapping[str, str] | None,
    issued: Issued | None,
    own: Sequence[str],
) -> Sources:
    book = replace(Book.of(workshop, assessment), draft=draft and issued is None, issued=issued)
    at = VIEWS.index(lookup.VIEW)
    views = (*VIEWS[:at], *own_chapters.own(own), *VIEWS[at:])
    chapters = [(view, chapter) for view in views for chapter in view.chapters(book)]
    numbered: list[tuple[View, Chapter]] = []
    for view, chapter in chapters:
        number = str(1 + sum(1 for v, _ in numbered if v.numbered)) if view.numbered else ""
        numbered.append((view, replace(chapter, number=number)))
    book = book.numbered(tuple(chapter for _, chapter in numbered))
    reasons = left_out or {}
    attached = tuple(replace(planned, why_not=reasons.get(planned.name, "")) for planned in plan(book))
    pages: list[tuple[str, str, Mapping[str, object]]] = []
    data: dict[str, str] = {}
    for view, chapter in numbered:
        page = view.page(book, chapter)
        blocks: dict[str, Block] = dict(page.blocks)
        if chapter.name == FILES:
            blocks["attached"] = _attached(attached, chapter)
        file = f"data/{chapter.name}.json"
        data[file] = json.dumps(
            {k: as_json(b) for k, b in blocks.items()}, ensure_ascii=False, sort_keys=True, allow_nan=False
        )
        pages.append((view.template, chapter.name, {**page.context, "data": file}))
    photos = tuple(
        Published(photo.path, photo.sha256.removeprefix("sha256:"), photo.file)
        for photo in sorted(book.photos.values(), key=lambda p: p.number)
        if photo.intact and photo.home is not None
    )
    mark = workshop.mark
    sign = Published(mark.path, mark.sha256, mark_file(mark)) if mark is not None else None
    return Sources(tuple(pages), data, _settings(book), photos, attached, book.chapters, spoken(), book.numbers, sign)


def _attached(planned: tuple[Planned, ...], chapter: Chapter) -> Block:
    if not planned:
        return Note(say("Nothing is attached."), id="b.attached")
    rows = tuple(
        (p.name if p.why_not else (Link(f"attachment:{p.name}", p.name),), p.description, p.why_not or say("attached"))
        for p in planned
    )
    return Table(
        (Column(say("File"), width=1.2), Column(say("What it is"), width=4), Column(say("In this file"), width=1)),
        rows,
        capital(say_n("{count} attachment", "{count} attachments", len(planned))),
        f"{chapter.number}-3",
        id="b.attached",
    )


def _settings(book: Book) -> Settings:
    assessment, vehicle, history = book.assessment, book.vehicle, book.workshop.history
    demonstration = book.workshop.file.demonstration
    verdict, detail, short = _verdict(book)
    if history.consulted:
        origin = say_n(
            "commit {commit}, {count} file not committed",
            "commit {commit}, {count} files not committed",
            history.uncommitted,
            commit=(history.commit or say("none"))[:12],
        )
        if not history.complete:
            origin = say("{commit}, history incomplete", commit=origin)
    else:
        origin = say("pinned demonstration, history not consulted") if demonstration else say("history not consulted")
    if book.draft:
        origin = say("DRAFT, {origin}", origin=origin)
    elif book.issued is not None:
        origin = say("frozen from commit {commit}", commit=book.issued.commit[:12])
    return Settings(
        title=say(
            "{vehicle}: technical file {number}, issue {issue}",
            vehicle=vehicle.title,
            number=vehicle.file_number,
            issue=book.issue,
        ),
        vehicle=vehicle.title.partition(",")[0],
        vin=book.fact_words("vin") or say("not stated"),
        file_number=vehicle.file_number,
        issue=book.issue,
        status="draft" if book.draft else "released",
        as_of=day(assessment.as_of),
        epoch=int(assessment.as_of.timestamp()),
        verdict=verdict,
        ready=book.ready,
        origin=origin,
        verdict_detail=detail,
        verdict_link=None if book.ready else Link(REGISTER, say("gap register"), True),
        verdict_short=short,
        stamps=(say("Demonstration: all data invented"),) if demonstration else (),
        chapters=tuple(_listed(chapter) for chapter in book.chapters if chapter.number),
        states=tuple(
            Listed(state_page(s), s.value, state_word(s), assessment.summary[s]) for s in states.occurring(book)
        ),
        author=book.workshop.file.name,
        language=spoken().tag,
    )


def _verdict(book: Book) -> tuple[str, str, str]:
    """Whether it can be submitted, what stands in the way in a sentence, and that as short as can be."""
    total, gaps, empty = len(book.assessment.requirements), len(book.gaps), len(book.assessment.empty_fields)
    if book.ready:
        return all_shown(total), "", say("ready")
    verdict = say("Not ready to submit.")
    if gaps:
        detail = say_n(
            "{n} of {total} requirements stands in the way",
            "{n} of {total} requirements stand in the way",
            gaps,
            total=total,
        )
        return verdict, detail, gaps_words(gaps)
    if fields := open_words(book):
        return verdict, capital(fields), fields_words(empty) if empty else say("in doubt")
    return verdict, say("The files have problems"), say("problems in the files")


def _listed(chapter: Chapter) -> ListedChapter:
    note = ""
    if chapter.gaps:
        note = gaps_words(chapter.gaps)
    elif chapter.fields:
        note = fields_words(chapter.fields)
    elif chapter.concessions:
        note = concessions_words(chapter.concessions)
    return ListedChapter(chapter.name, chapter.short or chapter.title, chapter.number, note, chapter.flows)
