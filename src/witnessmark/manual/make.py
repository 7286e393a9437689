"""Puts the manual together and has it built. Nothing in it comes from a workshop's folder."""

from __future__ import annotations

import importlib.util
import json
import re
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from witnessmark import __version__
from witnessmark.document.blockdata import as_json
from witnessmark.document.engine import build
from witnessmark.document.settings import Chapter, Settings
from witnessmark.problems import Misuse, Problem
from witnessmark.shipped import shipped

from .codes import codes_page, states_page
from .commands import Command, commands_page
from .files import files_page
from .methods import methods_pages
from .pages import INDEX, Group, Listed, grouped
from .written import Written

__all__ = ["Made", "make"]

_COMMENT = re.compile(r"<!--.*?-->\n?", re.DOTALL)
_FENCE = re.compile(r"^(\s*```)[\w-]+$", re.MULTILINE)
CAUTION = "Local codes and qualified persons decide what may be done, how and by whom"


@dataclass(frozen=True, slots=True)
class Made:
    """What was made: the first page, how many pages, and what is wrong with them."""

    index: Path
    pages: int
    problems: tuple[Problem, ...]


def make(out: Path, commands: Sequence[Command]) -> Made:
    """Write the manual's HTML into `out`. Raises `Misuse` where the reader of Markdown is not installed."""
    if importlib.util.find_spec("myst_parser") is None:
        raise Misuse(
            Problem(
                "manual.reader",
                "the manual is written in Markdown, and its reader is not installed",
                "run: python -m pip install 'witnessmark[manual]', or read the pages in docs as they are",
            )
        )
    docs = shipped("docs")
    reference = [
        commands_page(commands),
        files_page(),
        *methods_pages(),
        states_page(),
        codes_page(),
    ]
    groups = grouped(docs, tuple(Listed(page.name, page.title) for page in reference if page.listed))
    with tempfile.TemporaryDirectory(prefix="witnessmark-manual-") as folder:
        sources = Path(folder)
        (sources / "data").mkdir()
        for path in sorted(docs.glob("*.md")):
            if path.stem != INDEX:
                (sources / path.name).write_text(as_read(path.read_text(encoding="utf-8")), encoding="utf-8")
        (sources / "index.md").write_text(_index(docs, groups, reference), encoding="utf-8")
        for page in reference:
            (sources / f"{page.name}.rst").write_text(page.text, encoding="utf-8")
            data = {key: as_json(block) for key, block in page.blocks.items()}
            (sources / "data" / f"{page.name}.json").write_text(json.dumps(data), encoding="utf-8")
        report = build(sources, out, settings=_settings(groups), formats=("html",), markdown=True)
    return Made(out / "html" / "index.html", sum(f.endswith(".html") for f in report.files), report.problems)


def as_read(text: str) -> str:
    """A page of `docs` without what is said to tests only, its boxes plain."""
    return _FENCE.sub(r"\1text", _COMMENT.sub("", text))


def _index(docs: Path, groups: Sequence[Group], reference: Sequence[Written]) -> str:
    lines = [as_read((docs / f"{INDEX}.md").read_text(encoding="utf-8")).rstrip(), "", f"## {groups[-1].title}", ""]
    lines += [f"- [{page.title}]({page.name}.rst): {page.about}" for page in reference if page.listed]
    names = [page.name for group in groups for page in group.pages]
    names += [page.name for page in reference if not page.listed]
    return "\n".join([*lines, "", "```{toctree}", ":hidden:", "", *names, "```", ""])


def _settings(groups: Sequence[Group]) -> Settings:
    chapters = [Chapter("index", "The manual")]
    for group in groups:
        chapters.append(Chapter("", group.title))
        chapters += [Chapter(page.name, page.title) for page in group.pages]
    return Settings(
        title="Witnessmark, the manual",
        vehicle="Witnessmark",
        vin="",
        file_number="",
        issue="",
        status="",
        as_of="",
        epoch=0,
        verdict="High voltage can kill.",
        verdict_detail=CAUTION,
        ready=True,
        head=f"The manual, version {__version__}",
        list_name="Pages",
        list_title="Pages",
        search_title="Search the manual",
        chapters=tuple(chapters),
    )
