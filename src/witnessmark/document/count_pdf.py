"""The finished PDF read back: do its pages, as printed, say every requirement with its word?

The tree that the PDF is set from is counted in `counts`. This looks at the pages themselves, after typesetting: those
that lie across hold the matrix, one row a requirement, which begins with the word of its state, clause and title. The
others hold the chapters, where title, word and clause follow one another, and the gap register, where each gap stands
by its number.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

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

    across: list[str] = []
    upright: list[str] = []
    for page in PdfReader(path).pages:
        (across if page.mediabox.width > page.mediabox.height else upright).append(page.extract_text())
    return Printed(letters(" ".join(across)), "\n".join(upright))


def letters(text: str) -> str:
    """Latin letters and digits alone: where a line or a long word was broken does not matter then."""
    return re.sub(r"[^A-Za-z0-9]+", "", text)


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
            problems.append(_missing(one, "gap register does not name", f"requirement {one.number}", file))
    return tuple(problems)


def _taken(left: str, words: Sequence[str]) -> tuple[str, bool]:
    """What is left when the words, one after the other, are taken away once; and whether they were there."""
    wanted = letters(" ".join(covered(clean(text), lambda _: None) for text in words))
    before, found, after = left.partition(wanted)
    return (f"{before}\0{after}", True) if found else (left, False)


def _jobs(text: str) -> frozenset[str]:
    """The numbers of all requirements that the gap register names: "requirement 8.4", or in a list after "Hits"."""
    named = re.findall(r"requirement\s+(\d[\d.]*\d)", text)
    for listed in re.findall(r"Hits((?:[\s,]*\d[\d.]*\d(?![\d.]))+)", text):
        named += re.findall(r"\d[\d.]*\d", listed)
    return frozenset(named)


def _missing(one: Expected, where: str, words: str, file: str) -> Problem:
    return Problem(
        "count.printed",
        f"{one.name} is {one.word}, but the printed {where} “{words.strip()}”",
        "leave matrix, chapters and register as the shipped templates have them",
        Place(file),
    )
