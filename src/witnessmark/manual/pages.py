"""Which pages the manual has, and in which order they are listed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

__all__ = ["INDEX", "WRITTEN", "Group", "Listed", "grouped", "title_of"]

INDEX = "README"
"""The page that greets a reader of the folder, and the first page of the manual."""

BEGIN, HOW, WHY, REFERENCE = "Begin", "How to", "Why", "Reference"
WRITTEN: tuple[tuple[str, tuple[str, ...]], ...] = (
    (BEGIN, ("safety", "first-vehicle")),
    (
        HOW,
        (
            "by-hand",
            "logs",
            "sets",
            "requirements",
            "templates",
            "language",
            "plug-in-method",
            "releases",
            "beside",
            "figures",
            "forms",
        ),
    ),
    (WHY, ("rules",)),
)
"""Written pages in order. One that is missing is passed over; one that is not named here stands last under `How to`."""

_TITLE = re.compile(r"^# (.+)$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Listed:
    """One page: its file without ending, and its title."""

    name: str
    title: str


@dataclass(frozen=True, slots=True)
class Group:
    """Pages of one sort."""

    title: str
    pages: tuple[Listed, ...]


def title_of(text: str) -> str:
    """The first heading of a page in Markdown; "" when it has none."""
    found = _TITLE.search(text)
    return found[1].strip() if found else ""


def grouped(docs: Path, reference: tuple[Listed, ...]) -> tuple[Group, ...]:
    """All pages in groups: those of the folder `docs`, then the reference."""
    titles = {path.stem: title_of(path.read_text(encoding="utf-8")) for path in sorted(docs.glob("*.md"))}
    titles.pop(INDEX, None)
    named = {name for _, names in WRITTEN for name in names}
    others = tuple(name for name in titles if name not in named)
    groups = []
    for title, names in WRITTEN:
        wanted = (*names, *others) if title == HOW else names
        groups.append(Group(title, tuple(Listed(name, titles[name]) for name in wanted if name in titles)))
    return (*groups, Group(REFERENCE, reference))
