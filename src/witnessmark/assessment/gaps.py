"""Gaps in words: what stands in the way of a requirement, why, and what to do about it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from witnessmark.assessment.evidence import LeafChain
from witnessmark.assessment.model import (
    Cause,
    CriterionResult,
    Gap,
    JobGroup,
    RecordResult,
    RequirementState,
    State,
    Verdict,
)
from witnessmark.assessment.requirement import worst
from witnessmark.assessment.words import either, moment
from witnessmark.language import Words, declared, say
from witnessmark.quantities import Quantity
from witnessmark.quantities.decision import HOW, Statement
from witnessmark.quantities.format import printed, show
from witnessmark.records.sets import Criterion, Leaf, LeafKind, Requirement

__all__ = ["GROUPS", "closure_gap", "gap_of_cause", "jobs", "leaf_gap", "result_words"]

GROUPS: Mapping[str, str] = Words(
    {
        "dead": declared("Now, bus dead"),
        "desk": declared("Now, at the desk"),
        "live": declared("Next, with the bus live"),
        "away": declared("Waits for somebody else"),
    }
)
_GROUP_OF_KIND: Mapping[LeafKind, str] = {
    LeafKind.MEASURE: "dead",
    LeafKind.INSPECT: "dead",
    LeafKind.PHOTOGRAPH: "dead",
    LeafKind.TRIAL: "live",
    LeafKind.REPORT: "away",
    LeafKind.DOCUMENT: "desk",
}
_DO: Mapping[LeafKind, str] = {
    LeafKind.MEASURE: declared("Measure: {what}"),
    LeafKind.INSPECT: declared("Inspect: {what}"),
    LeafKind.PHOTOGRAPH: declared("Photograph: {what}"),
    LeafKind.TRIAL: declared("Try out: {what}"),
    LeafKind.REPORT: declared("Get the report: {what}"),
    LeafKind.DOCUMENT: declared("Get the document: {what}"),
}
_DO_AT: Mapping[LeafKind, str] = {
    LeafKind.MEASURE: declared("Measure ({part}): {what}"),
    LeafKind.INSPECT: declared("Inspect ({part}): {what}"),
    LeafKind.PHOTOGRAPH: declared("Photograph ({part}): {what}"),
    LeafKind.TRIAL: declared("Try out ({part}): {what}"),
    LeafKind.REPORT: declared("Get the report ({part}): {what}"),
    LeafKind.DOCUMENT: declared("Get the document ({part}): {what}"),
}
_AGAIN = frozenset(
    {
        "act.withdrawn",
        "after.too-early",
        "against.changed",
        "condition.not-met",
        "instrument.found-out-of-tolerance",
        "instrument.function",
        "instrument.not-good-enough",
        "instrument.overdue",
        "instrument.range",
        "person.second",
        "record.nothing",
    }
)
"""Causes, beside every event, that only new work mends: what the leaf asks is said after the remedy."""


def _sentence(text: str) -> str:
    text = text.strip()
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "?", ":")) else text + "."


def _job(leaf: Leaf, group: str = "") -> dict[str, object]:
    job = leaf.job
    natural = job.bus if job else _GROUP_OF_KIND[leaf.kind]
    if group and group != natural:
        return {"group": group}
    return {
        "group": natural,
        "minutes": job.minutes if job else None,
        "take": job.take if job else None,
        "persons": job.persons if job else (2 if leaf.second_person == "yes" else None),
    }


def _make(
    code: str,
    message: str,
    remedy: str,
    state: State,
    part: str | None,
    leaf: str | None,
    key: str,
    job: dict[str, object],
    records: tuple[str, ...] = (),
) -> Gap:
    minutes, persons, take = job.get("minutes"), job.get("persons"), job.get("take")
    return Gap(
        code, _sentence(message), _sentence(remedy), state, part, leaf, key, str(job["group"]),
        minutes if isinstance(minutes, int) else None,
        take if isinstance(take, str) else None,
        persons if isinstance(persons, int) else None,
        records,
    )  # fmt: skip


def what_to_do(leaf: Leaf, title: str | None) -> str:
    """The job of a leaf in the imperative, with its part."""
    words = leaf.words.replace("-", " ") if leaf.kind is LeafKind.MEASURE else leaf.words
    if leaf.kind is LeafKind.MEASURE:
        words = f"{words}, {either(_limit(c) for c in leaf.criteria.values())}"
    return say(_DO_AT[leaf.kind], part=title, what=words) if title else say(_DO[leaf.kind], what=words)


def _limit(criterion: Criterion) -> str:
    """`at least 500 Ω/V`; a limit taken from a fact is named by its key."""
    limit = criterion.limit
    return f"{HOW[criterion.how]} {printed(limit) if isinstance(limit, Quantity) else limit.fact}"


def result_words(result: RecordResult) -> str:
    """The result with its uncertainty, or the finding, as people say it."""
    output = result.output
    if output is not None:
        where = f", {output.where}" if output.where else ""
        return f"{show(output.value, output.U, output.unit, bound=output.bound)}{where}"
    finding = next((c.statement for c in result.criteria), "")
    seen = f": {result.claim.seen}" if result.claim.seen else ""
    return f"{finding}{seen}" if finding else say("no result")


def gap_of_cause(cause: Cause, *, part: str | None = None, leaf: str | None = None) -> Gap:
    """The gap for something that is not about one leaf: a fact, a list, an edition."""
    return _make(
        cause.code, cause.message, cause.remedy, cause.state, part, leaf, cause.key, {"group": cause.group or "desk"}
    )


def leaf_gap(requirement: Requirement, chain: LeafChain, title: str | None) -> Gap:
    """The gap of one leaf and part."""
    state, leaf, name = chain.state, chain.state.leaf, chain.state.name
    part = state.part
    own_key = f"leaf:{requirement.id}/{name}:{part or ''}"
    if chain.open_fails:
        return _fail_gap(requirement, chain, title, own_key)
    if not state.records:
        return _make(
            "leaf.no-record",
            say("There is no record for {part}.", part=title) if title else say("There is no record."),
            what_to_do(leaf, title),
            State.NOT_SHOWN,
            part,
            name,
            # Whoever goes to the part for one leaf shows the others too: one entry.
            f"record:{requirement.id}:{part or ''}",
            _job(leaf),
        )
    codes = state.governs
    if chain.standing.points is None and state.causes:
        causes = sorted(state.causes, key=lambda c: (c.state is not State.LAPSED, c.code.startswith("against.")))
        first = causes[0]
        message = " ".join(_sentence(c.message) for c in dict.fromkeys(causes))
        again = first.code in _AGAIN or first.code.startswith("event.")
        remedy = f"{_sentence(first.remedy)} {what_to_do(leaf, title)}" if again else first.remedy
        return _make(
            first.code, message, remedy, state.state, part, name, first.key or own_key, _job(leaf, first.group), codes
        )
    governing = state.result
    if governing is None:
        return _make(
            "leaf.not-shown",
            say("It is not shown"),
            what_to_do(leaf, title),
            state.state,
            part,
            name,
            own_key,
            _job(leaf),
            codes,
        )
    undecided = next((c for c in governing.criteria if c.verdict is Verdict.UNDECIDED), None)
    closed = next((c for c in governing.criteria if c.verdict is Verdict.FAIL), None)
    if undecided is not None and undecided.decision is not None:
        message, remedy = _undecided_words(governing, undecided, what_to_do(leaf, title))
    elif undecided is not None:
        message = say("{code} says: {result}", code=governing.act.code, result=result_words(governing))
        remedy = what_to_do(leaf, title)
    elif closed is not None:
        message = say(
            "{result}; {limit} is asked on this way ({code})",
            result=result_words(governing),
            limit=closed.asked,
            code=governing.act.code,
        )
        remedy = say("show another way, or mend it and do it again. {job}", job=what_to_do(leaf, title))
    else:
        message = say("{code} does not show it", code=governing.act.code)
        remedy = what_to_do(leaf, title)
    code = "leaf.undecided" if undecided is not None else "leaf.closed"
    return _make(
        code,
        message,
        remedy,
        State.UNDECIDED if undecided is not None else State.NONCONFORMING,
        part,
        name,
        own_key,
        _job(leaf),
        codes,
    )


def _undecided_words(result: RecordResult, criterion: CriterionResult, again: str) -> tuple[str, str]:
    decision, output = criterion.decision, result.output
    if decision is None or output is None:
        return f"{result_words(result)}: {criterion.statement}", again
    limit = str(decision.limit)
    inside = decision.statement in (Statement.CONDITIONAL_PASS, Statement.CONDITIONAL_FAIL)
    if not inside:
        message = say(
            "{result}, {limit} is asked: {reason}", result=result_words(result), limit=limit, reason=decision.reason
        )
        return message, again
    remedy = say("measure again with a smaller uncertainty. {job}", job=again)
    if decision.acceptance_limit is None:
        message = say(
            "{result}: the limit ({limit}) lies inside the interval, so it is neither a pass nor a fail",
            result=result_words(result),
            limit=limit,
        )
        return message, remedy
    message = say(
        "{result}: the limit ({limit}) lies inside the interval, so it is neither a pass nor a fail. "
        "At this uncertainty {value} would pass",
        result=result_words(result),
        limit=limit,
        value=show(decision.acceptance_limit, None, output.unit),
    )
    return message, remedy


def _fail_gap(requirement: Requirement, chain: LeafChain, title: str | None, key: str) -> Gap:
    state = chain.state
    parts: list[str] = []
    for fail in chain.open_fails:
        failed = [c.asked for c in fail.criteria if c.verdict is Verdict.FAIL and c.spec is not None]
        result, day = result_words(fail), moment(fail.record.performed)
        if failed:
            text = say(
                "{result}; {limit} is asked ({code}, {day}).",
                result=result,
                limit=either(failed),
                code=fail.act.code,
                day=day,
            )
        else:
            text = say("{result} ({code}, {day}).", result=result, code=fail.act.code, day=day)
        parts.append(text)
        if fail.record.cause:
            parts.append(_sentence(fail.record.cause))
    codes = tuple(fail.act.code for fail in chain.open_fails)
    # A single letter cannot end a fail: only a record that names it.
    message = " ".join([*parts, say("A fail stays until a later record that names it passes.")])
    remedy = say(
        "Find the cause and write it down, mend it, then do it again as a retest of {codes}. {job}",
        codes=", ".join(codes),
        job=what_to_do(state.leaf, title),
    )
    return _make(
        "leaf.fails", message, remedy, State.NONCONFORMING, state.part, state.name, key, _job(state.leaf), codes
    )


def closure_gap(requirement: Requirement, chains: Iterable[LeafChain], part: str | None) -> Gap:
    """No single record fails, but together they meet no combination: names all of them."""
    closed = [c for c in chains if any(p.value == "closed" for p in (c.standing.points or {}).values())]
    codes = tuple(code for c in closed for code in c.state.governs)
    words = "; ".join(f"{c.state.name} ({', '.join(c.state.governs)})" for c in closed)
    return _make(
        "requirement.joint-closure",
        say("Each of these records leaves a way, but together they meet no combination: {words}", words=words),
        say("mend what one of them shows and do it again, or set one aside; asked is {shown}", shown=requirement.shown),
        State.NONCONFORMING, part, None, f"closure:{requirement.id}:{part or ''}",
        _job(closed[0].state.leaf) if closed else {"group": "desk"}, codes,
    )  # fmt: skip


def jobs(requirements: Iterable[RequirementState]) -> tuple[JobGroup, ...]:
    """All gaps as next jobs, by what can be done when; one cause is one entry, however many requirements it hits."""
    entries: dict[str, dict[str, list[tuple[Gap, RequirementState]]]] = {group: {} for group in GROUPS}
    for state in requirements:
        for gap in state.gaps:
            key = gap.key or f"{gap.code}:{state.set_id}:{state.id}:{gap.leaf}:{gap.part}"
            entries[gap.group].setdefault(key, []).append((gap, state))
    found: list[JobGroup] = []
    for group, by_key in entries.items():
        if by_key:
            jobs_here = tuple(_one_entry(hits) for hits in by_key.values())
            found.append(JobGroup(group, GROUPS[group], jobs_here, sum(gap.minutes or 0 for gap, _ in jobs_here)))
    return tuple(found)


def _one_entry(hits: list[tuple[Gap, RequirementState]]) -> tuple[Gap, tuple[str, ...]]:
    """One cause as one entry: what is said and asked of all that it hits, each sentence once."""
    gaps = [gap for gap, _ in hits]
    first = gaps[0]
    ids = tuple(dict.fromkeys(state.id for _, state in hits))
    if len(gaps) == 1:
        return first, ids
    work = {(state.set_id, state.id, gap.leaf, gap.part): gap.minutes or 0 for gap, state in hits}
    same_part = {gap.part for gap in gaps} == {first.part}
    merged = replace(
        first,
        message=_each_once(gap.message for gap in gaps),
        remedy=_each_once(gap.remedy for gap in gaps),
        state=worst(gap.state for gap in gaps),
        part=first.part if same_part else None,
        leaf=first.leaf if {gap.leaf for gap in gaps} == {first.leaf} else None,
        minutes=sum(work.values()) or None,
        take="; ".join(dict.fromkeys(gap.take for gap in gaps if gap.take)) or None,
        persons=max((gap.persons for gap in gaps if gap.persons), default=None),
        records=tuple(dict.fromkeys(code for gap in gaps for code in gap.records)),
    )
    return merged, ids


def _each_once(texts: Iterable[str]) -> str:
    return " ".join(dict.fromkeys(sentence for text in texts for sentence in _sentences(text)))


def _sentences(text: str) -> Iterator[str]:
    """A new one begins with a large letter, or with one of a script that knows no small ones."""
    start = 0
    for end in re.finditer(r"(?<=[.?]) ", text):
        first = text[end.end() : end.end() + 1]
        if first.isalpha() and not first.islower():
            yield text[start : end.start()]
            start = end.end()
    yield text[start:]
