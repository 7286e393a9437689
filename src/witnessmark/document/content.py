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
from witnessmark.document.views.cover import open_words
from witnessmark.document.views.letterhead import mark_file
from witnessmark.document.views.words import capital, day, plural, state_word
from witnessmark.language import Language, speaking, spoken
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
        return Note("Nothing is attached.", id="b.attached")
    rows = tuple(
        (p.name if p.why_not else (Link(f"attachment:{p.name}", p.name),), p.description, p.why_not or "attached")
        for p in planned
    )
    return Table(
        (Column("File", width=1.2), Column("What it is", width=4), Column("In this file", width=1)),
        rows,
        f"{plural(len(planned), 'attachment')}".capitalize(),
        f"{chapter.number}-3",
        id="b.attached",
    )


def _settings(book: Book) -> Settings:
    assessment, vehicle, history = book.assessment, book.vehicle, book.workshop.history
    total, gaps = len(assessment.requirements), len(book.gaps)
    demonstration = book.workshop.file.demonstration
    if book.ready:
        verdict, detail, short = f"All {total} requirements are shown or do not apply.", "", "ready"
    else:
        stand = "stands" if gaps == 1 else "stand"
        verdict = "Not ready to submit."
        fields = open_words(book)
        detail = f"{gaps} of {total} requirements {stand} in the way" if gaps else "The files have problems"
        short = f"{gaps} gap{'' if gaps == 1 else 's'}" if gaps else "problems in the files"
        if fields and not gaps:
            empty = len(assessment.empty_fields)
            detail, short = capital(fields), f"{empty} empty field{'' if empty == 1 else 's'}" if empty else "in doubt"
    if history.consulted:
        files_ = plural(history.uncommitted, "file")
        origin = f"commit {(history.commit or 'none')[:12]}, {files_} not committed"
        if not history.complete:
            origin += ", history incomplete"
    else:
        origin = "pinned demonstration, history not consulted" if demonstration else "history not consulted"
    if book.draft:
        origin = f"DRAFT, {origin}"
    elif book.issued is not None:
        origin = f"frozen from commit {book.issued.commit[:12]}"
    return Settings(
        title=f"{vehicle.title}: technical file {vehicle.file_number}, issue {book.issue}",
        vehicle=vehicle.title.partition(",")[0],
        vin=book.fact_words("vin") or "not stated",
        file_number=vehicle.file_number,
        issue=book.issue,
        status="draft" if book.draft else "released",
        as_of=day(assessment.as_of),
        epoch=int(assessment.as_of.timestamp()),
        verdict=verdict,
        ready=book.ready,
        origin=origin,
        verdict_detail=detail,
        verdict_link=None if book.ready else Link(REGISTER, "gap register", True),
        verdict_short=short,
        stamps=("Demonstration: all data invented",) if demonstration else (),
        chapters=tuple(_listed(chapter) for chapter in book.chapters if chapter.number),
        states=tuple(
            Listed(state_page(s), s.value, state_word(s), assessment.summary[s]) for s in states.occurring(book)
        ),
        author=book.workshop.file.name,
        language=spoken().tag,
    )


def _listed(chapter: Chapter) -> ListedChapter:
    note = ""
    if chapter.gaps:
        note = f"{chapter.gaps} gap{'' if chapter.gaps == 1 else 's'}"
    elif chapter.fields:
        note = f"{chapter.fields} empty field{'' if chapter.fields == 1 else 's'}"
    elif chapter.concessions:
        note = f"{chapter.concessions} concession{'' if chapter.concessions == 1 else 's'}"
    return ListedChapter(chapter.name, chapter.short or chapter.title, chapter.number, note, chapter.flows)
