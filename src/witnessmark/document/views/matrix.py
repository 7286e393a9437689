"""The compliance matrix: one row for each requirement, in the order of the sets."""

from __future__ import annotations

from collections import Counter

from witnessmark.assessment.model import LeafState, RequirementState, State
from witnessmark.document.blocks import Block, Link, Matrix, MatrixRow, Text
from witnessmark.records.sets import LeafKind

from . import results
from .book import MATRIX, Book, Chapter, Page, View
from .requirement import gap_words, met_words
from .words import asked, first_sentence, joined, opening, plural, shortened, sign, state_word, tally

__all__ = ["VIEW"]

_NOUNS = {
    LeafKind.INSPECT: ("inspection", "inspections"),
    LeafKind.PHOTOGRAPH: ("photograph", "photographs"),
    LeafKind.TRIAL: ("trial", "trials"),
    LeafKind.REPORT: ("report", "reports"),
    LeafKind.DOCUMENT: ("document", "documents"),
    LeafKind.MEASURE: ("measurement", "measurements"),
}


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(MATRIX, "Compliance matrix", "Matrix"),)


def page(book: Book, chapter: Chapter) -> Page:
    made: dict[str, Block] = {}
    for n, (set_id, area) in enumerate(book.areas(), 1):
        states = book.area(set_id, area)
        made[f"matrix-{n}"] = Matrix(
            rows=tuple(_row(book, state) for state in states),
            title=f"{book.set_short(set_id)}: {book.area_title(set_id, area)}",
            summary=f"{plural(len(states), 'requirement')}: {tally([s.state for s in states])}",
            after="The line at the left runs where something is shown, and breaks where nothing is." if n == 1 else "",
            id=f"b.matrix-{n}",
        )
    return Page({"title": chapter.heading, "matrices": list(made)}, made)


def _row(book: Book, state: RequirementState) -> MatrixRow:
    leaves = [leaf for part in state.parts for leaf in part.leaves]
    value, u, result = _result(state, leaves)
    missing = ""
    if state.state.is_gap:
        gap = next((g for g in state.gaps if g.state is state.state), state.gaps[0] if state.gaps else None)
        missing = opening(gap_words(gap)[0]) if gap else "nobody recorded why"
        if value and missing.startswith(value):
            missing = missing.partition(": ")[2] or missing  # the value stands beside it already
        if len(leaves) == 1 and result in (state_word(leaves[0].state), "meets"):
            result = ""
        if result:
            result += ";"
    elif state.state is State.UNDER_CONCESSION:
        notes = joined(f"{c.issuer}, to {c.last_day}" for c in state.concessions if not c.idle)
        result = f"{state_word(state.beneath)} beneath; {notes}"
    elif state.state is State.NOT_APPLICABLE:
        result = shortened(first_sentence(state.why)) or "why is not recorded"
    return MatrixRow(
        state=state.state.value,
        word=state_word(state.state),
        clause=str(state.requirement.clause),
        title=state.requirement.title,
        how=_how(state, leaves),
        asked=_asked(state),
        record=_records(book, leaves),
        value=value,
        u=u,
        result=result,
        missing=missing,
        link=book.link(state, page=True),
        id=f"m.{state.set_id}.{state.id}",
    )


def _how(state: RequirementState, leaves: list[LeafState]) -> str:
    if not leaves:
        return "does not apply" if state.state is State.NOT_APPLICABLE else "nothing assessed"
    methods = {leaf.result.record.method for leaf in leaves if leaf.result and leaf.result.record.method}
    kinds = Counter(leaf.leaf.kind for leaf in leaves)
    words = []
    for kind, n in kinds.items():
        if kind is LeafKind.MEASURE and methods:
            words.append(joined(sorted(m for m in methods if m)) + (f" ({n})" if n > 1 else ""))
        else:
            one, many = _NOUNS[kind]
            words.append(one if n == 1 else f"{n} {many}")
    return ", ".join(words)


def _result(state: RequirementState, leaves: list[LeafState]) -> tuple[str, str, str]:
    """Value, ± U with the unit, and words: one value as a number, several as how many are met."""
    measured = [leaf for leaf in leaves if leaf.result and leaf.result.output]
    if len(measured) == 1 and (found := results.shown(measured[0].result)):  # type: ignore[arg-type]  # filtered above
        unit = "" if found.unit == "1" else f" {found.unit}"
        bound = f"{found.bound} " if found.bound else ""
        if found.U:
            return f"{bound}{found.value}", f"{found.U}{unit}", ""
        return f"{bound}{found.value}{unit}", "", ""
    return "", "", met_words(state) or ("none" if not leaves else "")


def _asked(state: RequirementState) -> str:
    """Every limit once: as it was decided on where it comes from a fact, else as the requirement writes it."""
    decided = {
        (leaf.name, c.criterion): sign(str(c.decision.limit))
        for part in state.parts
        for leaf in part.leaves
        for record in leaf.records
        for c in record.criteria
        if c.decision is not None
    }
    limits = [
        decided.get((name, at), asked(criterion))
        for name, leaf in state.requirement.leaves.items()
        for at, criterion in leaf.criteria.items()
    ]
    return ", ".join(dict.fromkeys(limits)) or "yes"


def _records(book: Book, leaves: list[LeafState]) -> Text:
    codes = list(dict.fromkeys(code for leaf in leaves for code in leaf.governs))
    if not codes:
        return "none"
    more = f" and {len(codes) - 1} more" if len(codes) > 1 else ""
    first = book.record_link(codes[0])
    pieces = tuple(p for p in first if isinstance(p, str | Link)) if not isinstance(first, str) else (first,)
    return (*pieces, more) if more else pieces


VIEW = View("compliance-matrix.rst.j2", chapters, page)
