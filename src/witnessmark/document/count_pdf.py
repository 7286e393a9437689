"""The finished PDF read back: do its pages, as printed, say every requirement with its word?

The tree that the PDF is set from is counted in `counts`. This looks at the pages themselves, after typesetting: those
that lie across hold the matrix, one row a requirement, which begins with the word of its state, clause and title. The
others hold the chapters, where title, word and clause follow one another, and the gap register, where each gap stands
by its number.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from witnessmark.document.layout_words import HITS, REQUIREMENT
from witnessmark.language import say
from witnessmark.problems import Place, Problem

from .counts import Expected
from .text import clean, covered

__all__ = ["Printed", "compare_pdf", "letters", "printed"]


@dataclass(frozen=True, slots=True)
class Printed:
    """The words of a PDF: `across` of the pages that lie across, letters and digits alone; `upright` of the others."""

    across: str
    upright: str


def printed(path: Path) -> Printed:
    """What the pages of a PDF say."""
    from pypdf import PdfReader

    tables: dict[int, dict[int, str]] = {}
    across: list[str] = []
    upright: list[str] = []
    for page in PdfReader(path).pages:
        (across if page.mediabox.width > page.mediabox.height else upright).append(_words(page, tables))
    return Printed(letters(" ".join(across)), "\n".join(upright))


# A string with its key is no text of the page (a language, a title); what is left are fonts, strings, and the end of a
# run of text. A string is passed over whole, so that what looks like an operator in it is none.
# Brackets inside a string that are balanced need no backslash (ISO 32000-1, 7.3.4.2): three deep are enough for a font.
_PLAIN_CHARACTER = rb"\\.|[^\\()]"
_INNER = rb"(?:" + _PLAIN_CHARACTER + rb")*"
for _ in range(3):
    _INNER = rb"(?:" + _PLAIN_CHARACTER + rb"|\(" + _INNER + rb"\))*"
_STRING = rb"\(" + _INNER + rb"\)|<[0-9A-Fa-f]+>"
_TOKEN = re.compile(rb"/[A-Za-z]+\s*(?:" + _STRING + rb")|/(\w+) [\d.]+ Tf|(" + _STRING + rb")|\bET\b", re.DOTALL)
_ESCAPED = re.compile(rb"\\([0-7]{1,3}|.)", re.DOTALL)
_PLAIN = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f"}


def _words(page: Any, tables: dict[int, dict[int, str]]) -> str:
    """The text of one page in the order in which it was set, one run of text a line.

    Read straight from the page's content: pypdf's own way asks where each glyph stands, and takes ten times as long.
    Fonts are of two bytes a glyph with a table to Unicode, as Typst writes them (ISO 32000-1, 9.7.6 and 9.10.3);
    `tables` keeps what the fonts say, by their number in the file.
    """
    from pypdf.generic import ArrayObject

    fonts: dict[bytes, dict[int, str]] = {}
    for name in (found := _fonts(page)):
        number = found.raw_get(name).idnum  # a font is an object of its own, and the same one on many pages
        if number not in tables:
            tables[number] = _table(found[name].get_object())
        fonts[name[1:].encode()] = tables[number]
    content = page["/Contents"].get_object()
    streams = content if isinstance(content, ArrayObject) else [content]
    data = b"\n".join(stream.get_object().get_data() for stream in streams)
    out: list[str] = []
    table: dict[int, str] = {}
    for token in _TOKEN.finditer(data):
        if token.group(1) is not None:
            table = fonts.get(token.group(1), {})
        elif token.group(2) is not None:
            codes = _bytes(token.group(2))
            # A glyph that a place to break follows once is told with it everywhere.
            said = (table.get(codes[n] << 8 | codes[n + 1], "") for n in range(0, len(codes) - 1, 2))
            out += [text.replace("\u200b", "") for text in said]
        elif token.group() == b"ET":
            out.append("\n")
    return "".join(out)


def _fonts(page: Any) -> Any:
    resources = page["/Resources"].get_object()
    return resources["/Font"].get_object() if "/Font" in resources else {}


def _bytes(string: bytes) -> bytes:
    if string.startswith(b"<"):
        return bytes.fromhex(string[1:-1].decode("ascii"))

    def plain(found: re.Match[bytes]) -> bytes:
        said = found.group(1)
        return bytes([int(said, 8) & 255]) if said.isdigit() else _PLAIN.get(said, said)

    return _ESCAPED.sub(plain, string[1:-1])


def _table(font: Any) -> dict[int, str]:
    """Glyph to text, from the font's own table."""
    if "/ToUnicode" not in font:
        return {}
    told = font["/ToUnicode"].get_object().get_data()
    table: dict[int, str] = {}
    for block in re.findall(rb"beginbfchar(.*?)endbfchar", told, re.DOTALL):
        for code, text in re.findall(rb"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>", block):
            said = bytes.fromhex(text.decode()).decode("utf-16-be", "replace")
            # A place to break has no glyph: the letter before it stands for both, in other words too.
            table[int(code, 16)] = said.replace("\u200b", "")
    for block in re.findall(rb"beginbfrange(.*?)endbfrange", told, re.DOTALL):
        for first, last, text in re.findall(rb"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>", block):
            for n, code in enumerate(range(int(first, 16), int(last, 16) + 1)):
                table[code] = chr(int(text, 16) + n)
    return table


def letters(text: str) -> str:
    """Letters and digits alone: where a line or a long word was broken does not matter then."""
    return re.sub(r"[\W_]+", "", unicodedata.normalize("NFKC", text))


def compare_pdf(expected: Sequence[Expected], found: Printed, file: str) -> tuple[Problem, ...]:
    """A problem for each requirement whose row, whose chapter entry or, as a gap, whose job is not printed."""
    problems = []
    rows, heads, jobs = found.across, letters(found.upright), _jobs(found.upright)
    # Longest first: a title may be the beginning of another.
    for one in sorted(expected, key=lambda e: (-len(e.title), e.name)):
        rows, there = _taken(rows, (one.word, one.clause, one.title))
        if not there:
            problems.append(_missing(one, "matrix has no row", f"{one.word} {one.clause} {one.title}", file))
        heads, there = _taken(heads, (one.number, one.title, one.word))
        if not there:
            problems.append(_missing(one, "chapters have no entry", f"{one.title} {one.word}", file))
        if one.gap and one.number and one.number not in jobs:
            named = say(REQUIREMENT, number=one.number)
            problems.append(_missing(one, "gap register does not name", named, file))
    return tuple(problems)


def _taken(left: str, words: Sequence[str]) -> tuple[str, bool]:
    """What is left when the words, one after the other, are taken away once; and whether they were there."""
    wanted = letters(" ".join(covered(clean(text), lambda _: None) for text in words))
    before, found, after = left.partition(wanted)
    return (f"{before}\0{after}", True) if found else (left, False)


def _jobs(text: str) -> frozenset[str]:
    """The numbers of all requirements that the gap register names: "requirement 8.4", or in a list after "Hits"."""
    before, _, after = say(REQUIREMENT, number="\0").partition("\0")
    named = re.findall(rf"{_loose(before)}(\d[\d.]*\d){_loose(after)}", text)
    for listed in re.findall(rf"{_loose(say(HITS))}((?:[\s,]*\d[\d.]*\d(?![\d.]))+)", text):
        named += re.findall(r"\d[\d.]*\d", listed)
    return frozenset(named)


def _loose(words: str) -> str:
    """A pattern of the words, wherever a line was broken between them."""
    return r"\s+".join(re.escape(word) for word in re.split(r"\s+", words))


def _missing(one: Expected, where: str, words: str, file: str) -> Problem:
    return Problem(
        "count.printed",
        f"{one.name} is {one.word}, but the printed {where} “{words.strip()}”",
        "leave matrix, chapters and register as the shipped templates have them",
        Place(file),
    )
