"""One build as one job: JSON in, JSON out, so that a limited child process can do it.

The job renders a team's templates, writes the sources into a private folder, and builds. Nothing of a workshop's folder
is written to; the output folder is the only place that changes.
"""

from __future__ import annotations

import dataclasses
import json
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from witnessmark.document.settings import Attachment, settings_from_json
from witnessmark.language import Language, speaking
from witnessmark.problems import Problem, in_order

__all__ = ["build_job", "run"]


def run(job: Mapping[str, Any]) -> dict[str, Any]:
    """Render, write and build.

    `job`:
      template_dirs  folders with templates, the team's first
      pages          list of {"template", "target", "context"}; targets end in .rst, one is index.rst
      data           {"data/NAME.json": {key: block as JSON}}: what the pages' `block` directives name
      pictures       {"photos/NAME.jpg": absolute path of a file that is fit for publication}
      settings       `Settings` as JSON
      language       `Language` as JSON; English where it is missing
      attachments    list of `Attachment` as JSON
      out            folder for the output
      formats        ["html", "pdf"] or one of them
      tree           where to keep the tree that the PDF is set from; may be missing

    Returns {"files": paths relative to `out`, "problems": problems as JSON, "written": whether pages were built}.
    A template that fails stops the build before anything is written.
    """
    with speaking(Language.of_json(job.get("language"))):
        return _run(job)


def _run(job: Mapping[str, Any]) -> dict[str, Any]:
    from witnessmark.document.blockdata import BlockFault
    from witnessmark.document.engine import build
    from witnessmark.document.templates import render_templates

    folders = [Path(folder) for folder in job["template_dirs"]]
    texts, problems = render_templates(folders, job["pages"])
    try:
        settings = settings_from_json(job["settings"])
    except BlockFault as fault:
        problems = (*problems, Problem("document.settings", str(fault), "give the build all that stands on each page"))
    if problems:
        return {"files": [], "problems": _as_json(problems), "written": False}
    with tempfile.TemporaryDirectory(prefix="witnessmark-sources-") as folder:
        sources = Path(folder).resolve()
        for name, text in texts.items():
            _below(sources, name).write_text(text, encoding="utf-8")
        for name, content in job.get("data", {}).items():
            text = json.dumps(content, ensure_ascii=True, sort_keys=True)
            _below(sources, name).write_text(text, encoding="utf-8")
        for name, path in job.get("pictures", {}).items():
            _below(sources, name).write_bytes(Path(path).read_bytes())
        report = build(
            sources,
            Path(job["out"]),
            settings=settings,
            attachments=[Attachment(**item) for item in job.get("attachments", [])],
            formats=job.get("formats", ("html", "pdf")),
            tree=Path(job["tree"]) if job.get("tree") else None,
        )
    return {"files": list(report.files), "problems": _as_json(report.problems), "written": True}


build_job = run


def _below(folder: Path, name: str) -> Path:
    """A file of ours below `folder`; its folder is made. A name that leads out is our own mistake."""
    path = (folder / name).resolve()
    if not path.is_relative_to(folder) or path == folder:
        raise ValueError(f"{name!r} lies outside the sources")
    path.parent.mkdir(parents=True, exist_ok=True)
    return path


def _as_json(problems: Sequence[Problem]) -> list[dict[str, Any]]:
    return [
        {
            "code": problem.code,
            "message": problem.message,
            "remedy": problem.remedy,
            "severity": problem.severity.value,
            "place": dataclasses.asdict(problem.place) if problem.place else None,
        }
        for problem in in_order(problems)
    ]
