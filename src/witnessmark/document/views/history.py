"""Every record of a requirement that does not govern, with the reason: nothing that was ever read is left out."""

from __future__ import annotations

from witnessmark.assessment.model import CriterionResult, LeafState, PartState, RecordResult, RequirementState
from witnessmark.document.blocks import Cell, Column, Link, Table, Text
from witnessmark.records.acts import CarryOver, Check, Record, Withdrawal

from . import results
from .book import Book, Counter
from .words import FINDING, VERDICT, capital, instant, plain_name, sentence, short_day

__all__ = ["history", "why_not"]


def history(book: Book, state: RequirementState, counter: Counter) -> Table | None:
    """Every record of the requirement that does not govern, and why; nothing that was ever read is left out."""
    rows: list[tuple[Text | Cell, ...]] = []
    gaps: list[int] = []
    for part in state.parts:
        for leaf in part.leaves:
            for result in sorted(leaf.records, key=lambda r: (r.record.performed, r.act.code)):
                if result.act.code in leaf.governs and not result.withdrawn:
                    continue
                if _failed(result) and not result.ended and not result.withdrawn:
                    gaps.append(len(rows))
                rows.append(_earlier(book, part, leaf, result))
    if not rows:
        return None
    return Table(
        columns=(
            Column("Record", width=0.9),
            Column("Read", width=1.3),
            Column("Part and leaf", width=1.7),
            Column("Result", width=1.6),
            Column("Why it does not govern", width=3),
        ),
        rows=tuple(rows),
        caption="Earlier records, all of them",
        number=counter.table(),
        gaps=tuple(gaps),
        id=f"b.earlier.{state.id}",
    )


def _failed(result: RecordResult) -> bool:
    return result.verdict is not None and VERDICT[result.verdict] == "fail"


def _earlier(book: Book, part: PartState, leaf: LeafState, result: RecordResult) -> tuple[Text | Cell, ...]:
    value = results.as_text(result)
    said = [_criterion(c) for c in result.criteria] or [FINDING.get(result.claim.finding or "", "no finding")]
    return (
        book.record_link(result.act.code),
        f"{instant(result.record.performed)}, {book.person(result.record.by.get('tester'))}",
        f"{capital(book.part_title(part.part))}, {plain_name(leaf.name)}",
        Cell(
            ", ".join([*([value] if value else []), *dict.fromkeys(said)]), strong=_failed(result) and not result.ended
        ),
        why_not(book, leaf, result),
    )


def _criterion(criterion: CriterionResult) -> str:
    return FINDING.get(criterion.statement, criterion.statement) if criterion.statement else VERDICT[criterion.verdict]


def why_not(book: Book, leaf: LeafState, result: RecordResult) -> Text:
    """Why a record does not govern: what took it back, corrected or retested it, and what speaks against it."""
    words: list[str | Link] = []
    for act in book.answers_to(result.act.code):
        body = act.body
        link = Link(f"attachment:{act.code}.yaml", act.code)
        if isinstance(body, Withdrawal):
            reason = body.reason or body.note or "no reason given"
            second = f" with {book.person(body.second)}" if body.second else ""
            because = f"moved to {body.moved_to}" if body.because == "moved" else plain_name(body.because)
            words += [f"Withdrawn on {short_day(body.withdrawn_at)} by {book.person(body.by)}{second}, {because}: "]
            words += [sentence(reason) + " (", link, ") "]
        elif body.corrects == result.act.code:
            second = f" with {book.person(body.second)}" if body.second else ""
            words += ["Corrected by ", link, f"{second}: {sentence(body.proof or body.reason or 'no proof given')} "]
        elif isinstance(body, Record):
            ended = "ended by the retest " if result.ended else "named by the retest "
            words += [
                f"{capital(VERDICT[result.verdict] if result.verdict is not None else 'record')}, {ended}",
                link,
                ". ",
            ]
            words += [
                f"Cause: {sentence(body.cause or 'not said')} Correction: {sentence(body.correction or 'not said')} "
            ]
    for act in book.workshop.acts:
        if isinstance(act.body, CarryOver) and act.body.carries_over == result.act.code:
            words += ["Carried over by ", Link(f"attachment:{act.code}.yaml", act.code), ". "]
        if isinstance(act.body, Check) and act.body.checks == result.act.code:
            agrees = "agreed to" if act.body.agrees == "yes" else "disputed"
            words += [f"Checked and {agrees} by {book.person(act.body.by)} in "]
            words += [Link(f"attachment:{act.code}.yaml", act.code), ". "]
    if _failed(result) and not result.ended and not result.withdrawn:
        words.append("A fail stands until a later record that names it passes. ")
    words += [sentence(cause.message) + " " for cause in result.causes]
    if not words and leaf.governs:
        words.append("A newer record governs.")
    return tuple(words) if words else "It shows nothing."
