"""The compliance matrix: one row for each requirement, in the order of the sets."""

from __future__ import annotations

from collections import Counter

from witnessmark.assessment.model import LeafState, RequirementState, State
from witnessmark.document.blocks import Block, Matrix, MatrixRow, Text
from witnessmark.language import say, say_n
from witnessmark.records.sets import LeafKind

from . import results
from .book import MATRIX, Book, Chapter, Page, View
from .requirement import gap_words, met_words
from .words import asked, first_sentence, joined, opening, shortened, sign, state_word, tally

__all__ = ["VIEW"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(MATRIX, say("Compliance matrix"), say("Matrix")),)


def page(book: Book, chapter: Chapter) -> Page:
    made: dict[str, Block] = {}
    for n, (set_id, area) in enumerate(book.areas(), 1):
        states = book.area(set_id, area)
        made[f"matrix-{n}"] = Matrix(
            rows=tuple(_row(book, state) for state in states),
            title=f"{book.set_short(set_id)}: {book.area_title(set_id, area)}",
            summary=say_n(
                "{count} requirement: {tally}",
                "{count} requirements: {tally}",
                len(states),
                tally=tally([s.state for s in states]),
            ),
            after=say("The line at the left runs where something is shown, and breaks where nothing is.")
            if n == 1
            else "",
            id=f"b.matrix-{n}",
        )
    return Page({"title": chapter.heading, "matrices": list(made)}, made)


def _row(book: Book, state: RequirementState) -> MatrixRow:
    leaves = [leaf for part in state.parts for leaf in part.leaves]
    value, u, result = _result(state, leaves)
    missing = ""
    if state.state.is_gap:
        gap = next((g for g in state.gaps if g.state is state.state), state.gaps[0] if state.gaps else None)
        missing = opening(gap_words(gap)[0]) if gap else say("nobody recorded why")
        if value and missing.startswith(value):
            missing = missing.partition(": ")[2] or missing  # the value stands beside it already
        if len(leaves) == 1 and result in (state_word(leaves[0].state), say("meets")):
            result = ""
        if result:
            result += ";"
    elif state.state is State.UNDER_CONCESSION:
        notes = joined(
            say("{issuer}, to {last_day}", issuer=c.issuer, last_day=c.last_day)
            for c in state.concessions
            if not c.idle
        )
        result = say("{state} beneath; {permissions}", state=state_word(state.beneath), permissions=notes)
    elif state.state is State.NOT_APPLICABLE:
        result = shortened(first_sentence(state.why)) or say("why is not recorded")
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
        return say("does not apply") if state.state is State.NOT_APPLICABLE else say("nothing assessed")
    methods = {leaf.result.record.method for leaf in leaves if leaf.result and leaf.result.record.method}
    kinds = Counter(leaf.leaf.kind for leaf in leaves)
    words = []
    for kind, n in kinds.items():
        if kind is LeafKind.MEASURE and methods:
            words.append(joined(sorted(m for m in methods if m)) + (f" ({n})" if n > 1 else ""))
        else:
            words.append(_counted(kind, n))
    return ", ".join(words)


def _counted(kind: LeafKind, n: int) -> str:
    match kind:
        case LeafKind.INSPECT:
            return say_n("inspection", "{n} inspections", n)
        case LeafKind.PHOTOGRAPH:
            return say_n("photograph", "{n} photographs", n)
        case LeafKind.TRIAL:
            return say_n("trial", "{n} trials", n)
        case LeafKind.REPORT:
            return say_n("report", "{n} reports", n)
        case LeafKind.DOCUMENT:
            return say_n("document", "{n} documents", n)
        case LeafKind.MEASURE:
            return say_n("measurement", "{n} measurements", n)


def _result(state: RequirementState, leaves: list[LeafState]) -> tuple[str, str, str]:
    """Value, ± U with the unit, and words: one value as a number, several as how many are met."""
    measured = [leaf for leaf in leaves if leaf.result and leaf.result.output]
    if len(measured) == 1 and (found := results.shown(measured[0].result)):  # type: ignore[arg-type]  # filtered above
        unit = "" if found.unit == "1" else f" {found.unit}"
        bound = f"{found.bound} " if found.bound else ""
        if found.U:
            return f"{bound}{found.value}", f"{found.U}{unit}", ""
        return f"{bound}{found.value}{unit}", "", ""
    return "", "", met_words(state) or (say("none") if not leaves else "")


def _asked(state: RequirementState) -> str:
    """Every limit once: as it was decided on where it comes from a fact, else as the requirement writes it."""
    decided = {
        (leaf.name, c.criterion): sign(c.decision.limit)
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
    return ", ".join(dict.fromkeys(limits)) or say("yes")


def _records(book: Book, leaves: list[LeafState]) -> Text:
    codes = list(dict.fromkeys(code for leaf in leaves for code in leaf.governs))
    if not codes:
        return say("none")
    first, more = book.record_link(codes[0]), len(codes) - 1
    pieces = (first,) if isinstance(first, str) else first
    return (*pieces, " ", say_n("and {n} more", "and {n} more", more)) if more else pieces


VIEW = View("compliance-matrix.rst.j2", chapters, page)
