"""After the build: does every item of every form stand there once, by its number, and each empty one as a gap?

As with the requirements in `counts`, what a template made is not believed: the rows of each form's table are read back
from the pages, from the tree that the PDF is set from, and from the printed pages.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html.parser import HTMLParser
from typing import Any

from witnessmark.problems import Place, Problem

from .count_pdf import Printed, letters
from .counts import odd
from .text import clean, covered

__all__ = ["ExpectedField", "SeenRow", "compare_fields", "compare_printed", "rows_in_html", "rows_in_tree"]

FORM, ASKED = "b.form.", "b.fields."
"""Ids of the tables: of a form in its chapter, and of its empty fields in the gap register."""


@dataclass(frozen=True, slots=True)
class ExpectedField:
    """One item of one form: `table` is the end of the id of its tables, `gap` whether it is empty."""

    table: str
    number: str
    title: str
    gap: bool
    page: str


@dataclass(frozen=True, slots=True)
class SeenRow:
    """One row of such a table: id of the table, the text of its first cell, whether it is marked as a gap."""

    table: str
    first: str
    gap: bool
    hidden: bool = False


def compare_fields(expected: Sequence[ExpectedField], seen: Iterable[SeenRow], output: str) -> tuple[Problem, ...]:
    """What differs, as problems (`count.*`); `output` is "HTML" or "PDF"."""
    rows = [row for row in seen if not row.hidden]
    problems: list[Problem] = []
    in_forms = Counter((row.table, row.first) for row in rows if row.table.startswith(FORM))
    marked = {(row.table, row.first) for row in rows if row.gap}
    known: set[tuple[str, str]] = set()
    for want in expected:
        key = (f"{FORM}{want.table}", want.number)
        known.add(key)
        name = f"item {want.number} of {want.table}"
        if in_forms[key] != 1:
            how = "is missing from" if not in_forms[key] else f"stands {in_forms[key]} times in"
            problems.append(_problem("count.field", f"{name} {how} its form in the {output}", want.page))
        elif (key in marked) is not want.gap:
            said = "is empty, but not marked as a gap" if want.gap else "is no gap, but marked as one"
            problems.append(_problem("count.field-gap", f"{name} {said} in the {output}", want.page))
        asked = f"{ASKED}{want.table}"
        if want.gap and not any(r.table == asked and _begins(r.first, want.number) for r in rows):
            message = f"{name} is empty, but the gap register in the {output} does not ask it"
            problems.append(_problem("count.field-asked", message, "gap-register"))
    for table, first in sorted(in_forms):
        if (table, first) not in known:
            message = f"the {output} shows “{first}” in {table.removeprefix(FORM)}, which is no item of that form"
            problems.append(_problem("count.field-unknown", message, table))
    return tuple(problems)


def compare_printed(expected: Sequence[ExpectedField], found: Printed, file: str) -> tuple[Problem, ...]:
    """A problem for each item whose number and title do not stand beside each other on the printed pages."""
    text, problems = letters(found.upright), []
    wanted = [(letters(covered(clean(_printed(want)), lambda _: None)), want) for want in expected]
    # Longest first: what one item prints may stand within what another does, such as “1 Make” in “1.1 Make”.
    for words, want in sorted(wanted, key=lambda pair: (-len(pair[0]), pair[1].table, pair[1].number)):
        before, there, after = text.partition(words)
        text = f"{before}\0{after}"
        if not there:
            message = f"item {want.number} of {want.table}, “{want.title}”, is not printed"
            problems.append(_problem("count.printed", message, file))
    return tuple(problems)


def _printed(want: ExpectedField) -> str:
    return f"{want.number} {want.title[:1].upper()}{want.title[1:]}"


def _begins(first: str, number: str) -> bool:
    return first.partition(" ")[0] == number


def _problem(code: str, message: str, page: str) -> Problem:
    remedy = "leave the tables of the forms and of their empty fields as the shipped templates have them"
    return Problem(code, message, remedy, Place(page if page.endswith(".pdf") else f"{page.partition('#')[0]}.rst"))


# ---------------------------------------------------------------- screen


class _Reader(HTMLParser):
    """Finds the rows of the tables of forms in one page."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.seen: list[SeenRow] = []
        self.table = ""
        self.row: tuple[bool, list[str]] | None = None
        self.cells = 0
        self.depth: list[tuple[str, bool]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        classes = tuple(given.get("class", "").split())
        above = bool(self.depth) and self.depth[-1][1]
        if tag not in ("br", "img", "input", "meta", "link", "hr", "col", "wbr"):
            self.depth.append((tag, above or odd(tag, classes, given)))
        if "tablebox" in classes:
            ident = given.get("id", "")
            self.table = ident if ident.startswith((FORM, ASKED)) else ""
        elif tag == "tr" and self.table:
            self.row, self.cells = ("gap" in classes, []), 0
        elif tag == "td":
            self.cells += 1

    def handle_endtag(self, tag: str) -> None:
        if tag == "tr" and self.row is not None and self.cells:
            words = " ".join("".join(self.row[1]).split())
            if words:
                self.seen.append(SeenRow(self.table, words, self.row[0], self.depth[-1][1] if self.depth else False))
            self.row = None
        while self.depth:
            if self.depth.pop()[0] == tag:
                break

    def handle_data(self, data: str) -> None:
        if self.row is not None and self.cells == 1:
            self.row[1].append(data)


def rows_in_html(pages: Mapping[str, str]) -> tuple[SeenRow, ...]:
    """The rows that the pages (name without ending, to text) show."""
    out: list[SeenRow] = []
    for page in sorted(pages):
        if FORM in pages[page] or ASKED in pages[page]:
            reader = _Reader()
            reader.feed(pages[page])
            reader.close()
            out += reader.seen
    return tuple(out)


# ---------------------------------------------------------------- print


def rows_in_tree(tree: Mapping[str, Any]) -> tuple[SeenRow, ...]:
    """The rows of the tree of the PDF. A table that stands there a second time has no label, and its rows are lost."""
    return tuple(_rows(tree.get("body", [])))


def _rows(value: Any) -> Iterator[SeenRow]:
    if isinstance(value, list) and len(value) == 3 and value[0] == "block" and isinstance(value[1], dict):
        data = value[1]
        ident = str(data.get("id") or "").partition("#")[2]
        if data.get("kind") == "table" and ident.startswith((FORM, ASKED)):
            for n, row in enumerate(data["rows"]):
                first = " ".join(_text(row[0]).split())
                if first:
                    yield SeenRow(ident, first, n in data["gaps"])
    elif isinstance(value, list):
        for item in value:
            yield from _rows(item)
    elif isinstance(value, dict):
        for item in value.values():
            yield from _rows(item)


def _text(value: Any) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, list):
        return "".join(_text(item) for item in value)
    if isinstance(value, dict):
        return _text(value.get("text", value.get("strong", "")))
    return ""
