"""What of a build touches things that others wrote: pictures and templates, and the count of what came out.

One function, for the confined child. It takes and gives JSON-able values, writes below its own folders only, and does
not believe what a template made.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from witnessmark.document.count_fields import ExpectedField, compare_fields, compare_printed, rows_in_html, rows_in_tree
from witnessmark.document.count_pdf import compare_pdf, printed
from witnessmark.document.counts import Expected, Wanted, compare, seen_in_html, seen_in_tree
from witnessmark.language import Language, speaking
from witnessmark.problems import Place, Problem, Severity

__all__ = ["problem_from_json", "problem_to_json", "publish", "run"]


def run(job: Mapping[str, Any]) -> dict[str, Any]:
    """Publish the photographs, build the pages, count them.

    `job`: as `document.child.run` takes it, without `pictures`; besides `work` (a private folder), `photos` (`path`,
    `name` as people know it, `sha256`, `file` below the sources), `expected` and `wanted` (what the count has to find).
    Gives `{"files": […], "problems": […]}`.
    """
    from witnessmark.document.child import run as make

    work, out = Path(job["work"]), Path(job["out"])
    tree = work / "body.json"
    pictures: dict[str, str] = {}
    problems: list[Problem] = []
    for photo in job["photos"]:
        problems += publish(photo, work, pictures)
    made = make({**job, "pictures": pictures, "tree": str(tree)})
    problems += [problem_from_json(row) for row in made["problems"]]
    if made["written"]:
        with speaking(Language.of_json(job.get("language"))):
            problems += _counted(job, out, tree)
    return {"files": made["files"], "problems": [problem_to_json(p) for p in problems]}


def publish(photo: Mapping[str, Any], work: Path, pictures: dict[str, str]) -> list[Problem]:
    """The published copy of one photograph. What cannot be printed stops the build: its page counts on it."""
    from witnessmark.reading import pictures as reader

    to = work / photo["file"]
    to.parent.mkdir(parents=True, exist_ok=True)
    answer = reader.publish({"path": photo["path"], "to": str(to)})
    if "code" in answer:
        return [Problem(answer["code"], answer["message"], answer["remedy"], Place(photo["name"]))]
    if answer["source_sha256"].removeprefix("sha256:") != photo["sha256"]:
        message = "the photograph changed while the file was being built"
        return [Problem("document.photograph", message, "build again", Place(photo["name"]))]
    pictures[photo["file"]] = str(to)
    return []


def _counted(job: Mapping[str, Any], out: Path, tree: Path) -> list[Problem]:
    from witnessmark.document.engine import PDF_NAME

    expected = [Expected(**row) for row in job["expected"]]
    wanted = [Wanted(**row) for row in job["wanted"]]
    pages = {path.stem: path.read_text(encoding="utf-8") for path in sorted((out / "html").glob("*.html"))}
    fields = [ExpectedField(**row) for row in job.get("fields", ())]
    empty = sum(field.gap for field in fields)
    found = list(compare(expected, seen_in_html(pages), "HTML", wanted, empty))
    found += compare_fields(fields, rows_in_html(pages), "HTML")
    if tree.is_file():
        body = json.loads(tree.read_text(encoding="utf-8"))
        found += compare(expected, seen_in_tree(body), "PDF", wanted, empty)
        found += compare_fields(fields, rows_in_tree(body), "PDF")
    if (out / PDF_NAME).is_file():
        pages_printed = printed(out / PDF_NAME)
        found += compare_pdf(expected, pages_printed, PDF_NAME)
        found += compare_printed(fields, pages_printed, PDF_NAME)
    if not tree.is_file() or not (out / PDF_NAME).is_file():
        found.append(Problem("document.no-pdf", "the PDF was not written", "mend what is listed beside this"))
    return found


def problem_to_json(problem: Problem) -> dict[str, Any]:
    """A problem on its way through the pipe."""
    place = problem.place
    return {
        "code": problem.code,
        "message": problem.message,
        "remedy": problem.remedy,
        "severity": problem.severity.value,
        "place": None if place is None else {"file": place.file, "line": place.line, "column": place.column},
    }


def problem_from_json(data: Mapping[str, Any]) -> Problem:
    """And out of it again."""
    place = data["place"]
    where = None if place is None else Place(place["file"], place["line"], place["column"])
    return Problem(data["code"], data["message"], data["remedy"], where, Severity(data["severity"]))
