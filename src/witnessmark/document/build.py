"""Builds one vehicle's technical file: pages, the confined child, the count, and the move to its place.

Nothing half-written is ever left: the output is made beside its place and moved there at once, or not at all.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from witnessmark.assessment.model import Assessment, FieldState
from witnessmark.document.attachments import LIMIT, Planned
from witnessmark.document.content import Published, Sources, sources
from witnessmark.document.count_fields import ExpectedField
from witnessmark.document.counts import CAUTIONS, COVER, Expected, Wanted
from witnessmark.document.issued import Issued
from witnessmark.document.views.book import INFORMATION, MATRIX, REGISTER, anchor, area_page, listed, state_page
from witnessmark.document.views.own import is_own
from witnessmark.document.views.words import state_word
from witnessmark.language import marked, say, speaking
from witnessmark.problems import Place, Problem, Severity, in_order
from witnessmark.records.world import Workshop
from witnessmark.shipped import shipped

__all__ = [
    "BuildReport",
    "attached",
    "build",
    "expected",
    "expected_fields",
    "job_of",
    "own_templates",
    "swap",
    "wanted",
]

HTML_INDEX = "html/index.html"
PDF = "technical-file.pdf"


@dataclass(frozen=True, slots=True)
class BuildReport:
    """What was built. `written` is False when a problem stopped it: then the place holds what it held before.

    `files` are relative to `out`, sorted; `left_out` are attachments that did not fit, each with the reason.
    """

    written: bool
    out: Path
    files: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    left_out: tuple[tuple[str, str], ...] = ()

    @property
    def pdf(self) -> Path:
        return self.out / PDF

    @property
    def html(self) -> Path:
        return self.out / HTML_INDEX


def expected(assessment: Assessment, numbers: Mapping[tuple[str, str], str] | None = None) -> tuple[Expected, ...]:
    """What the finished file has to show: every requirement with its state and word, and its number if it is known."""
    known = numbers or {}
    return tuple(
        Expected(
            name=f"{state.set_id}:{state.id}",
            target=f"{area_page(state.set_id, state.area)}#{anchor(state)}",
            row=f"{MATRIX}#m.{state.set_id}.{state.id}",
            register=REGISTER,
            listed=f"{state_page(state.state)}#{listed(state)}",
            state=state.state.value,
            word=state_word(state.state),
            gap=state.state.is_gap,
            clause=state.requirement.clause,
            title=state.requirement.title,
            number=known.get((state.set_id, state.id), ""),
        )
        for state in assessment.requirements
    )


def expected_fields(assessment: Assessment) -> tuple[ExpectedField, ...]:
    """What the finished file has to show of the authority's forms: every item of each one that is to be filled."""
    return tuple(
        ExpectedField(
            table=f"{form.set_id}.{form.file.id}",
            number=field.item.number,
            title=field.item.title,
            gap=field.state is FieldState.EMPTY,
            page=INFORMATION,
        )
        for form in assessment.forms
        for field in form.fields
    )


def wanted(made: Sources) -> tuple[Wanted, ...]:
    """The blocks that no template may leave out, with the words that they carry."""
    found: list[Wanted] = []
    for file, text in made.data.items():
        page = file.removeprefix("data/").removesuffix(".json")
        for block in json.loads(text).values():
            if block["kind"] == "cover":
                found.append(Wanted(COVER, f"{page}#", block["answer"]))
            elif block["kind"] == "cautions":
                found.append(Wanted(CAUTIONS, f"{page}#{block['id']}", block["voltage"]))
    return tuple(found)


def build(
    root: Path,
    workshop: Workshop,
    assessment: Assessment,
    out: Path | None = None,
    *,
    draft: bool = True,
    issued: Issued | None = None,
    seconds: float = 300.0,
) -> BuildReport:
    """Write the technical file of the assessed vehicle into `out` (default: builds/VEHICLE/draft below `root`).

    `root` is the workshop's folder: templates of its own, sealed files and photographs are read from it. `issued`
    is what a frozen issue says of itself; a file with it is no draft. `seconds` bounds the child. Problems:
    `template.*`, `document.*`, `picture.*`, `count.*`, `build.*`; any that is no note, and nothing is written.
    """
    place = (
        out
        if out is not None
        else root / "builds" / assessment.vehicle / ("draft" if draft else workshop.vehicles[assessment.vehicle].issue)
    )
    made = sources(workshop, assessment, draft=draft, issued=issued, own=own_templates(root))
    place.parent.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory(prefix="witnessmark-") as folder,
        tempfile.TemporaryDirectory(prefix=".building-", dir=place.parent) as beside,
    ):
        work, target = Path(folder), Path(beside) / "out"
        with speaking(made.language):
            files, left_out, problems = attached(root, made, work / "attached")
        if left_out:  # the pages again, with the reason beside what is not attached
            made = sources(
                workshop, assessment, draft=draft, issued=issued, left_out=dict(left_out), own=own_templates(root)
            )
        problems += _outside(root, made)
        if problems:
            return BuildReport(False, place, (), in_order(problems), left_out)
        answer = _confined(job_of(root, made, assessment, files, work, target), work, target, root, seconds)
        problems += answer["problems"]
        stopped = any(problem.severity is Severity.PROBLEM for problem in problems)
        if not stopped:
            swap(target, place)
        return BuildReport(
            not stopped, place, tuple(answer["files"]) if not stopped else (), in_order(problems), left_out
        )


def own_templates(root: Path) -> tuple[str, ...]:
    """The templates in the team's folder that make chapters of their own. A link is not one of them."""
    folder = root / "templates"
    found = sorted(folder.glob("chapter-*.rst.j2")) if folder.is_dir() and not folder.is_symlink() else []
    return tuple(path.name for path in found if path.is_file() and not path.is_symlink() and is_own(path.name))


def attached(
    root: Path, made: Sources, folder: Path
) -> tuple[list[dict[str, str]], tuple[tuple[str, str], ...], list[Problem]]:
    """The attachments as files, in order of name, as long as they fit together; the rest with the reason."""
    folder.mkdir(parents=True)
    rows: list[dict[str, str]] = []
    left_out: list[tuple[str, str]] = []
    problems: list[Problem] = []
    total = 0
    for planned in made.attachments:
        data = _bytes(root, planned, problems)
        if data is None:
            left_out.append((planned.name, say("the file could not be read")))
            continue
        if total + len(data) > LIMIT:
            size, most = marked(f"{len(data) / 1e6:.1f}"), LIMIT // 1024 // 1024
            left_out.append(
                (planned.name, say("{size} MB more than the {most} MB that are attached", size=size, most=most))
            )
            continue
        total += len(data)
        (folder / planned.name).write_bytes(data)
        rows.append(
            {
                "name": planned.name,
                "path": str(folder / planned.name),
                "mime": planned.mime,
                "description": planned.description,
                "relationship": planned.relationship,
            }
        )
    return rows, tuple(left_out), problems


def _outside(root: Path, made: Sources) -> list[Problem]:
    """Pictures whose path leaves the folder or goes by a link: they are not read."""
    from witnessmark.reading.files import resolve_inside

    found = [resolve_inside(root, photo.path) for photo in (*made.photos, *_mark(made))]
    return [problem for problem in found if isinstance(problem, Problem)]


def _mark(made: Sources) -> tuple[Published, ...]:
    return (made.mark,) if made.mark is not None else ()


def _bytes(root: Path, planned: Planned, problems: list[Problem]) -> bytes | None:
    if not planned.path:
        return planned.text.encode("utf-8")
    from witnessmark.reading.files import read_file, resolve_inside

    path = resolve_inside(root, planned.path)
    if isinstance(path, Problem):
        problems.append(path)
        return None
    data = read_file(path, planned.path)
    if isinstance(data, Problem):
        problems.append(data)
        return None
    return data


def job_of(
    root: Path, made: Sources, assessment: Assessment, files: list[dict[str, str]], work: Path, target: Path
) -> dict[str, Any]:
    """What the confined child is told; see `produce.run`. `files` are the attachments as `attached` gave them."""
    from witnessmark.document.blockdata import as_json

    with speaking(made.language):
        counted = [as_json(row) for row in expected(assessment, made.numbers)]
    own = root / "templates"
    folders = [*([own] if own.is_dir() else []), shipped("templates")]
    return {
        "work": str(work),
        "out": str(target),
        "template_dirs": [str(folder.resolve()) for folder in dict.fromkeys(folders)],
        "pages": [
            {"template": template, "target": f"{name}.rst", "context": dict(context)}
            for template, name, context in made.pages
        ],
        "data": {name: json.loads(text) for name, text in made.data.items()},
        "photos": [
            {"path": str(root / photo.path), "name": photo.path, "sha256": photo.sha256, "file": photo.file}
            for photo in (*made.photos, *_mark(made))
        ],
        "attachments": files,
        "language": made.language.as_json(),
        "settings": as_json(made.settings),
        "expected": counted,
        "wanted": [as_json(row) for row in wanted(made)],
        "fields": [as_json(row) for row in expected_fields(assessment)],
    }


def _confined(job: Mapping[str, Any], work: Path, target: Path, root: Path, seconds: float) -> dict[str, Any]:
    from witnessmark.confined import ConfinedFault, call
    from witnessmark.document.produce import problem_from_json

    target.mkdir()
    readable = [root, work, target, *(Path(folder) for folder in job["template_dirs"])]
    try:
        answer = call(
            "witnessmark.document.produce:run",
            dict(job),
            seconds=seconds,
            readable=readable,
            writable=(work, target),
            epoch=int(job["settings"]["epoch"]),
        )
    except ConfinedFault as fault:
        said = {
            "time": f"building took longer than {seconds:g} s",
            "memory": "building needed more memory than is allowed",
            "refused": f"a template or picture asked for what is not allowed: {fault.detail}",
        }.get(fault.code, f"building stopped: {fault.detail}")
        remedy = "build again; if it happens again, take the newest change in templates or pictures back"
        return {"files": [], "problems": [Problem(f"build.{fault.code}", said, remedy, Place("templates"))]}
    return {"files": answer["files"], "problems": [problem_from_json(row) for row in answer["problems"]]}


def swap(made: Path, place: Path) -> None:
    """Put the finished folder in its place. The old one goes aside first, so that pages of two builds never mix."""
    old = made.parent / "old"
    if place.exists():
        place.replace(old)
    try:
        made.replace(place)
    except OSError:
        if old.exists():
            old.replace(place)
        raise
    shutil.rmtree(old, ignore_errors=True)
