"""The list of chapters and requirements, with their pages in print."""

from __future__ import annotations

from witnessmark.document.blocks import Contents
from witnessmark.language import say

from .book import CONTENTS, Book, Chapter, Page, View

__all__ = ["VIEW"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(CONTENTS, say("Contents")),)


def page(book: Book, chapter: Chapter) -> Page:
    return Page({"title": chapter.title}, {"contents": Contents(depth=2)})


VIEW = View("contents.rst.j2", chapters, page, numbered=False)
