"""Reads finished pages as a browser finds them: links, ids and words."""

from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path

__all__ = ["Reader", "dead_links"]


class Reader(HTMLParser):
    """Where the links of a page lead, its ids, and its words."""

    def __init__(self, page: Path) -> None:
        super().__init__()
        self.links: list[str] = []
        self.ids: set[str] = set()
        self.tags: set[str] = set()
        self.words = ""
        self.feed(page.read_text(encoding="utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.tags.add(tag)
        if tag == "a":
            self.links.append(given.get("href") or "")
        if given.get("id"):
            self.ids.add(str(given["id"]))

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th", "dt", "dd", "p", "li", "h1", "h2", "h3", "caption"):
            self.words += " "

    def handle_data(self, data: str) -> None:
        self.words += data


def dead_links(folder: Path, pages: dict[str, Reader]) -> list[tuple[str, str]]:
    """(page, link) for every link that leads to no file, or to no place on its page. Addresses are left out."""
    dead = []
    for name, page in pages.items():
        for link in page.links:
            file, _, anchor = link.partition("#")
            if file.startswith(("http:", "https:", "mailto:")):
                continue
            if file and not (folder / file).is_file():
                dead.append((name, link))
            elif not anchor or (file and not file.endswith(".html")):
                continue
            elif anchor not in pages[file.removesuffix(".html") or name].ids:
                dead.append((name, link))
    return dead
