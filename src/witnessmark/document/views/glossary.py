"""The words of this file, each with the document that it is from. Prose only: it stands in the template."""

from __future__ import annotations

from witnessmark.language import say_in

from .book import GLOSSARY, Book, Chapter, Page, View

__all__ = ["VIEW"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    title = say_in("glossary", "Words")
    return (Chapter(GLOSSARY, title, title, flows=True),)


def page(book: Book, chapter: Chapter) -> Page:
    return Page({"title": chapter.heading}, {})


VIEW = View("words.rst.j2", chapters, page)
