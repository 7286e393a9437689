"""What of a build touches things that others wrote: templates, pictures, pages. One function, for the confined child.

It takes and gives JSON-able values, writes below its own folders only, and believes nothing that a template made.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from witnessmark.document.counts import Expected, compare, seen_in_html, seen_in_tree
from witnessmark.document.engine import PDF_NAME, build
from witnessmark.document.settings import Attachment, settings_from_json
from witnessmark.document.templates import render_templates
from witnessmark.problems import Place, Problem, Severity

__all__ = ["problem_from_json", "problem_to_json", "run"]


def run(job: Mapping[str, Any]) -> dict[str, Any]:
    """Render, build and count. `job`: `work` and `out` (folders), `templates` (folders, first match wins), `pages`,
    `data`, `photos`, `attachments`, `settings`, `expected`. Gives `{"files": […], "problems": […]}`.
    """
    work, out = Path(job["work"]), Path(job["out"])
    sources = work / "sources"
    problems: list[Problem] = []
    for name, text in sorted(job["data"].items()):
        _written(sources / name, text)
    for photo in job["photos"]:
        problems += _photo(photo, sources)
    texts, faults = render_templates([Path(folder) for folder in job["templates"]], job["pages"])
    problems += faults
    if faults:
        return _answer((), problems)
    for name, text in sorted(texts.items()):
        _written(sources / f"{name}.rst", text)
    tree = work / "body.json"
    report = build(
        sources,
        out,
        settings=settings_from_json(job["settings"]),
        attachments=[Attachment(**row) for row in job["attachments"]],
        tree=tree,
    )
    problems += report.problems
    problems += _counted(job, out, tree)
    return _answer(report.files, problems)


def _written(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


def _photo(photo: Mapping[str, Any], sources: Path) -> list[Problem]:
    """The published copy of one photograph. What cannot be printed stops the build: its page counts on it."""
    from witnessmark.reading.pictures import publish

    to = sources / photo["file"]
    to.parent.mkdir(parents=True, exist_ok=True)
    answer = publish({"path": photo["path"], "to": str(to)})
    if "code" in answer:
        return [Problem(answer["code"], answer["message"], answer["remedy"], Place(photo["name"]))]
    if answer["source_sha256"].removeprefix("sha256:") != photo["sha256"]:
        return [
            Problem(
                "document.photograph",
                "the photograph changed while the file was being built",
                "build again",
                Place(photo["name"]),
            )
        ]
    return []


def _counted(job: Mapping[str, Any], out: Path, tree: Path) -> list[Problem]:
    expected = [Expected(**row) for row in job["expected"]]
    pages = {path.stem: path.read_text(encoding="utf-8") for path in sorted((out / "html").glob("*.html"))}
    found = list(compare(expected, seen_in_html(pages), "HTML"))
    if tree.is_file():
        found += compare(expected, seen_in_tree(json.loads(tree.read_text(encoding="utf-8"))), "PDF")
    if not (out / PDF_NAME).is_file():
        found.append(Problem("document.no-pdf", "the PDF was not written", "mend what is listed beside this"))
    return found


def _answer(files: tuple[str, ...], problems: list[Problem]) -> dict[str, Any]:
    return {"files": list(files), "problems": [problem_to_json(p) for p in problems]}


def problem_to_json(problem: Problem) -> dict[str, Any]:
    """A problem on its way through the pipe."""
    place = problem.place
    return {
        "code": problem.code,
        "message": problem.message,
        "remedy": problem.remedy,
        "severity": problem.severity.value,
        "place": None if place is None else [place.file, place.line, place.column, place.width],
    }


def problem_from_json(data: Mapping[str, Any]) -> Problem:
    """And out of it again."""
    place = None if data["place"] is None else Place(*data["place"])
    return Problem(data["code"], data["message"], data["remedy"], place, Severity(data["severity"]))
