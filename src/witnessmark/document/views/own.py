"""Chapters of a team's own: one for each template of that kind in its folder, numbered like all others."""

from __future__ import annotations

import re
from collections.abc import Iterable

from .book import Book, Chapter, Page, View
from .letterhead import letterhead, told
from .words import capital, plain_name

__all__ = ["is_own", "own"]

_NAME = re.compile(r"chapter-([a-z0-9]+(?:-[a-z0-9]+)*)\.rst\.j2")


def is_own(name: str) -> bool:
    """Whether a template of that name makes a chapter: `chapter-NAME.rst.j2`."""
    return _NAME.fullmatch(name) is not None


def own(names: Iterable[str]) -> tuple[View, ...]:
    """A view for each of these templates, in order of name. The name of the file is the title of the chapter."""
    return tuple(_view(name, found[1]) for name in sorted(names) if (found := _NAME.fullmatch(name)))


def _view(template: str, name: str) -> View:
    def chapters(book: Book) -> tuple[Chapter, ...]:
        title = capital(plain_name(name))
        return (Chapter(f"chapter-{name}", title, title),)

    def page(book: Book, chapter: Chapter) -> Page:
        said = {"title": chapter.heading, "vehicle": book.vehicle.title, **told(book.workshop.file)}
        return Page(said, {"letterhead": letterhead(book.workshop, "report")})

    return View(template, chapters, page)
