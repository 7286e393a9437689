"""Every record of a requirement that does not govern, with the reason: nothing that was ever read is left out."""

from __future__ import annotations

from witnessmark.assessment.model import CriterionResult, LeafState, PartState, RecordResult, RequirementState, Verdict
from witnessmark.document.blocks import Cell, Column, Link, Piece, Table, Text
from witnessmark.language import Words, declared, say
from witnessmark.records.acts import CarryOver, Check, Record, Withdrawal

from . import results
from .book import Book, Counter
from .words import FINDING, VERDICT, capital, instant, plain_name, sentence, short_day, woven

__all__ = ["history", "why_not"]

_BECAUSE = Words({"mistaken": declared("mistaken"), "set-aside": declared("set aside")})


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
            Column(say("Record"), width=0.9),
            Column(say("Read"), width=1.3),
            Column(say("Part and leaf"), width=1.7),
            Column(say("Result"), width=1.6),
            Column(say("Why it does not govern"), width=3),
        ),
        rows=tuple(rows),
        caption=say("Earlier records, all of them"),
        number=counter.table(),
        gaps=tuple(gaps),
        id=f"b.earlier.{state.id}",
    )


def _failed(result: RecordResult) -> bool:
    return result.verdict is Verdict.FAIL


def _earlier(book: Book, part: PartState, leaf: LeafState, result: RecordResult) -> tuple[Text | Cell, ...]:
    value = results.as_text(result)
    said = [_criterion(c) for c in result.criteria] or [FINDING.get(result.claim.finding or "", say("no finding"))]
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
    sentences: list[tuple[Piece, ...]] = []
    for act in book.answers_to(result.act.code):
        body = act.body
        link = Link(f"attachment:{act.code}.yaml", act.code)
        if isinstance(body, Withdrawal):
            sentences.append(_withdrawn(book, body, link))
        elif body.corrects == result.act.code:
            reason = sentence(body.proof or body.reason or say("no proof given"))
            if body.second:
                second = book.person(body.second)
                sentences.append(
                    woven("Corrected by {act} with {second}: {reason}", act=link, second=second, reason=reason)
                )
            else:
                sentences.append(woven("Corrected by {act}: {reason}", act=link, reason=reason))
        elif isinstance(body, Record):
            was = capital(VERDICT[result.verdict] if result.verdict is not None else say("record"))
            if result.ended:
                sentences.append(woven("{verdict}, ended by the retest {act}.", verdict=was, act=link))
            else:
                sentences.append(woven("{verdict}, named by the retest {act}.", verdict=was, act=link))
            cause, correction = (sentence(text or say("not said")) for text in (body.cause, body.correction))
            sentences.append((say("Cause: {cause} Correction: {correction}", cause=cause, correction=correction),))
    for act in book.workshop.acts:
        link = Link(f"attachment:{act.code}.yaml", act.code)
        if isinstance(act.body, CarryOver) and act.body.carries_over == result.act.code:
            sentences.append(woven("Carried over by {act}.", act=link))
        if isinstance(act.body, Check) and act.body.checks == result.act.code:
            who = book.person(act.body.by)
            if act.body.agrees == "yes":
                sentences.append(woven("Checked and agreed to by {who} in {act}.", who=who, act=link))
            else:
                sentences.append(woven("Checked and disputed by {who} in {act}.", who=who, act=link))
    if _failed(result) and not result.ended and not result.withdrawn:
        sentences.append((say("A fail stands until a later record that names it passes."),))
    sentences += [(sentence(cause.message),) for cause in result.causes]
    if not sentences:
        return say("A newer record governs.") if leaf.governs else say("It shows nothing.")
    return tuple(piece for one in sentences for piece in (*one, " "))


def _withdrawn(book: Book, body: Withdrawal, link: Link) -> tuple[Piece, ...]:
    reason = sentence(body.reason or body.note or say("no reason given"))
    because = say("moved to {place}", place=body.moved_to) if body.because == "moved" else _BECAUSE[body.because]
    day, who = short_day(body.withdrawn_at), book.person(body.by)
    if not body.second:
        return woven(
            "Withdrawn on {day} by {who}, {because}: {reason} ({act})",
            day=day,
            who=who,
            because=because,
            reason=reason,
            act=link,
        )
    return woven(
        "Withdrawn on {day} by {who} with {second}, {because}: {reason} ({act})",
        day=day,
        who=who,
        second=book.person(body.second),
        because=because,
        reason=reason,
        act=link,
    )
