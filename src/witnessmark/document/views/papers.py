"""The papers that records rest on, as the index of the package lists them: each once, with a number that stays.

Numbers go by the time of sealing over every paper that was ever recorded, so that a later paper changes no number, and
one that no longer counts keeps its line.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC
from pathlib import PurePosixPath

from witnessmark.language import Words, declared, say, say_in
from witnessmark.records.sets import LeafKind

from .book import Book, Use

__all__ = ["PAPER_KINDS", "Paper", "papers"]

_LEVEL = Words({"design": declared("type"), "vehicle": declared("vehicle"), "workshop": declared("workshop")})
PAPER_KINDS = (LeafKind.DOCUMENT, LeafKind.REPORT)


@dataclass(frozen=True, slots=True)
class Paper:
    """One file of one record. `standing` is "" while it counts, else what became of it."""

    row: int
    code: str
    name: str
    items: tuple[str, ...]
    """Items of the authority's forms that it fills."""
    kind: str
    number: str
    """Number and revision as printed on it."""
    pages: str
    origin: str
    level: str
    uses: tuple[Use, ...]
    sha256: str
    standing: str = ""

    @property
    def format(self) -> str:
        ending = PurePosixPath(self.name).suffix.removeprefix(".").upper()
        return ending or say_in("format of a paper whose name has no ending", "file")

    @property
    def title(self) -> str:
        return self.uses[0].requirement.requirement.title


def papers(book: Book) -> tuple[Paper, ...]:
    """Every paper that a record of this file names, in the order of sealing."""
    found: dict[tuple[str, str], list[Use]] = {}
    for code, uses in book.uses.items():
        for use in uses:
            name = use.result.claim.file
            if name and use.leaf.leaf.kind in PAPER_KINDS:
                found.setdefault((code, name), []).append(use)
    items: dict[tuple[str, str], list[str]] = {}
    for form in book.assessment.forms:
        for field in form.fields:
            for value in field.values:
                if value.file:
                    items.setdefault((value.code, value.file), []).append(field.item.number)
    ordered = sorted(found, key=lambda key: (_sealed(found[key][0]), *key))
    return tuple(
        _paper(row, code, name, tuple(found[code, name]), tuple(dict.fromkeys(items.get((code, name), ()))))
        for row, (code, name) in enumerate(ordered, 1)
    )


def _sealed(use: Use) -> tuple[bool, str]:
    seal = use.result.act.body.seal
    return (seal is None, "" if seal is None else seal.on.astimezone(UTC).isoformat())


def _paper(row: int, code: str, name: str, uses: tuple[Use, ...], items: tuple[str, ...]) -> Paper:
    claims = [use.result.claim for use in uses]
    state = next((f for f in uses[0].result.act.files if f.name == name), None)
    report = any(use.leaf.leaf.kind is LeafKind.REPORT for use in uses)
    return Paper(
        row,
        code,
        name,
        items,
        say("test report") if report else say("document"),
        "; ".join(dict.fromkeys(c.number for c in claims if c.number)),
        "; ".join(dict.fromkeys(c.pages for c in claims if c.pages)),
        say("laboratory or service") if report else say("applicant or supplier"),
        _LEVEL[uses[0].requirement.requirement.about],
        uses,
        state.sha256.removeprefix("sha256:") if state is not None and state.intact else "",
        _standing(uses),
    )


def _standing(uses: tuple[Use, ...]) -> str:
    if any(use.result.act.code in use.leaf.governs for use in uses):
        return ""
    return say("withdrawn") if any(use.result.withdrawn for use in uses) else say("replaced by a later one")
