"""The finished PDF read back: does the matrix, as printed, say every requirement with its word?

The tree that the PDF is set from is counted in `counts`. This looks at the pages themselves, after typesetting: those
that lie across hold the matrix, one row a requirement, which begins with the word of its state, clause and title.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from witnessmark.problems import Place, Problem

from .counts import Expected
from .text import clean, covered

__all__ = ["compare_pdf", "letters", "printed_matrix"]


def printed_matrix(path: Path) -> str:
    """The letters and digits of all pages that lie across."""
    from pypdf import PdfReader

    pages = [page for page in PdfReader(path).pages if page.mediabox.width > page.mediabox.height]
    return letters(" ".join(page.extract_text() for page in pages))


def letters(text: str) -> str:
    """Latin letters and digits alone: where a line or a long word was broken does not matter then."""
    return re.sub(r"[^A-Za-z0-9]+", "", text)


def compare_pdf(expected: Sequence[Expected], printed: str, file: str) -> tuple[Problem, ...]:
    """A problem for each requirement whose row is not printed. `printed`: what `printed_matrix` gave."""
    problems = []
    left = printed
    # Longest first: a title may be the beginning of another.
    for one in sorted(expected, key=lambda e: (-len(e.title), e.name)):
        row = " ".join(covered(clean(text), lambda _: None) for text in (one.word, one.clause, one.title))
        before, found, after = left.partition(letters(row))
        if not found:
            problems.append(
                Problem(
                    "count.printed",
                    f"{one.name} is {one.word}, but the printed matrix has no row “{row}”",
                    "leave the matrix as the shipped template has it",
                    Place(file),
                )
            )
            continue
        left = f"{before}\0{after}"
    return tuple(problems)
