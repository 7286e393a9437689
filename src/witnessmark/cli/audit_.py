"""`audit`: the state of every requirement, worst first, the gaps by cause, and the next jobs."""

from __future__ import annotations

import argparse

from witnessmark.assessment.model import Applies, Assessment, FieldGap, RequirementState, State
from witnessmark.language import Words, day, declared, say, say_n
from witnessmark.problems import Severity
from witnessmark.records.world import Workshop

from .exits import Exit
from .folder import add_folder_arguments, chosen_vehicle, read
from .show import harmless, jobs_in_words, put, show_problems, table, wrapped

__all__ = ["arguments", "call"]

_ANSWERS = Words(
    {"accepted": declared("accepted"), "question": declared("question"), "refused": declared("refused")},
)
GROUP_ORDER = ("dead", "desk", "live", "away")


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("vehicle", nargs="?", metavar="VEHICLE", help="one vehicle (default: all of them, in short)")
    add_folder_arguments(parser)


def call(options: argparse.Namespace) -> int:
    """Exit 0 all shown and every field filled, 1 gaps, 2 problems in the files."""
    from witnessmark.assessment.assess import assess

    root, workshop = read(options)
    vehicles = [chosen_vehicle(workshop, options.vehicle)] if options.vehicle else sorted(workshop.vehicles)
    assessments = [assess(workshop, vehicle) for vehicle in vehicles]
    problems = workshop.problems + tuple(p for a in assessments for p in a.problems)
    hard = any(p.severity is Severity.PROBLEM for p in problems)
    if options.format == "json":
        from witnessmark.exports.audit import audit_envelope, fleet_envelope

        put(audit_envelope(workshop, assessments[0]) if options.vehicle else fleet_envelope(workshop, assessments))
    else:
        show_problems(problems, root)
        if options.vehicle:
            _one(workshop, assessments[0])
        else:
            _all(workshop, assessments)
    if hard:
        return Exit.BAD_INPUT
    return Exit.GAPS if any(a.gap_count or a.open_in_forms for a in assessments) else Exit.DONE


def _head(workshop: Workshop, assessment: Assessment) -> None:
    title = f"{harmless(workshop.vehicles[assessment.vehicle].title)} ({assessment.vehicle})"
    put(say("{title}, as of {day}", title=title, day=day(workshop.as_of)))
    if workshop.file.demonstration:
        put(harmless(workshop.file.demonstration.notice))


def _answer(assessment: Assessment) -> str:
    total = len(assessment.requirements)
    if not total:
        return say("Not yet: no requirement set is chosen, so nothing is asked and nothing is shown.")
    if not assessment.gap_count:
        return say("All {n} requirements are shown, stand by permission or do not apply.", n=total)
    return say_n(
        "Not yet. {n} of {total} requirements stands in the way.",
        "Not yet. {n} of {total} requirements stand in the way.",
        assessment.gap_count,
        total=total,
    )


def _one(workshop: Workshop, assessment: Assessment) -> None:
    _head(workshop, assessment)
    put()
    put(_answer(assessment))
    put()
    for line in table([(s.words, str(n)) for s, n in assessment.summary.items() if n]):
        put(line)
    _jobs(assessment)
    _forms(assessment)
    put()
    put(say("Every requirement, worst first"))
    ordered = sorted(assessment.requirements, key=lambda r: list(State).index(r.state))
    for line in table([_row(workshop, r) for r in ordered]):
        put(line)
    if (risks := assessment.risks) is not None and risks.open_rows:
        put()
        put(
            say_n(
                "Risk analysis {code}: {n} row of {total} open",
                "Risk analysis {code}: {n} rows of {total} open",
                len(risks.open_rows),
                code=risks.code,
                total=len(risks.rows),
            )
        )
        for row in risks.open_rows:
            open_ = [ref for c in row.controls for ref, state in c.shown_by if state is not State.CONFORMS]
            words = risks.unsound or say("does not conform today: {names}", names=", ".join(dict.fromkeys(open_)))
            for line in wrapped(harmless(f"{row.risk.item}, {row.risk.failure}: {words}"), indent=2):
                put(line)
    if answered := [r for r in assessment.requirements if r.authority is not None and not r.authority.is_settled]:
        put()
        put(say("Not accepted by the authority, or with a question"))
        for found in answered:
            note = found.authority
            assert note is not None
            words = say(
                "{title}: {answer}, {number} on issue {issue}: {words}",
                title=found.requirement.title,
                answer=_ANSWERS.get(note.answer, note.answer),
                number=note.number,
                issue=note.issue,
                words=note.words,
            )
            for line in wrapped(harmless(words), indent=2):
                put(line)
    if assessment.unused:
        put()
        put(say("Evidence and facts that nothing uses"))
        for unused in assessment.unused:
            for line in wrapped(f"{harmless(unused.message)} {harmless(unused.remedy)}", indent=2):
                put(line)
    put()
    for line in wrapped(
        say(
            "“Conforms” is the word of this workshop; the technical service decides. High "
            "voltage can kill: local codes "
            "and qualified persons decide what may be done."
        ),
        width=109,
    ):
        put(line)


def _row(workshop: Workshop, requirement: RequirementState) -> tuple[str, ...]:
    words = requirement.state.words
    if requirement.state is State.UNDER_CONCESSION:
        words = say("{state} ({beneath} beneath)", state=words, beneath=requirement.beneath.words)
    short = workshop.sets[requirement.set_id].file.short if requirement.set_id in workshop.sets else requirement.set_id
    return (words, f"{short} {requirement.requirement.clause}", requirement.requirement.title)


def _jobs(assessment: Assessment) -> None:
    titles = {r.id: r.requirement.title for r in assessment.requirements}
    for group in sorted(assessment.jobs, key=lambda g: GROUP_ORDER.index(g.group)):
        put()
        put(jobs_in_words(group.title, len(group.entries), group.minutes))
        for gap, requirements in group.entries:
            named = harmless(", ".join(titles.get(r, r) for r in requirements[:3]))
            if len(requirements) > 3:
                named = say("{names} and {n} more", names=named, n=len(requirements) - 3)
            put(f"  {gap.state.words.upper()}  {named}")
            for line in wrapped(harmless(gap.message), indent=6):
                put(line)
            for line in wrapped(say("Do this: {remedy}", remedy=harmless(gap.remedy)), indent=6):
                put(line)


def _forms(assessment: Assessment) -> None:
    """The authority's forms: how far each is filled, and each empty field with its question."""
    if not assessment.forms:
        return
    put()
    put(_empty_fields(assessment))
    for form in assessment.forms:
        if form.applies is Applies.NO:
            put("  " + say("{form}: not applicable", form=harmless(form.file.title)))
            for line in wrapped(harmless(form.why), indent=6):
                put(line)
            continue
        filled = say(
            "{form}: {filled} of {asked} fields filled",
            form=harmless(form.file.title),
            filled=form.filled,
            asked=form.asked,
        )
        put(f"  {filled}")
        for gap in form.doubts:
            for line in wrapped(say("Is it to be filled? {question}", question=_asked(gap)), indent=6):
                put(line)
        for field in form.empty:
            asked = " ".join(_asked(gap) for gap in field.gaps)
            for line in wrapped(f"{field.item.number} {harmless(field.item.title)}: {asked}", indent=6):
                put(line)
    if any(gap.command for form in assessment.forms for field in form.empty for gap in field.gaps):
        command = f"witnessmark record {assessment.vehicle} form"
        put("  " + say("All of these are asked by: {command}", command=command))


def _asked(gap: FieldGap) -> str:
    """The question; what else is in the way where it is no missing fact."""
    if gap.code == "fact.not-stated":
        return harmless(gap.question)
    return say(
        "{question} {why} Do this: {remedy}.",
        question=harmless(gap.question),
        why=harmless(gap.why),
        remedy=harmless(gap.command or gap.remedy),
    )


def _empty_fields(assessment: Assessment) -> str:
    return say_n(
        "Information document: {n} empty field",
        "Information document: {n} empty fields",
        len(assessment.empty_fields),
    )


def _all(workshop: Workshop, assessments: list[Assessment]) -> None:
    put(say("{title}, as of {day}", title=harmless(workshop.file.name), day=day(workshop.as_of)))
    if workshop.file.demonstration:
        put(harmless(workshop.file.demonstration.notice))
    if not assessments:
        put()
        put(
            say(
                "There is no vehicle yet. Make {file}, then run {command}.",
                file="evidence/vehicles/ID/vehicle.yaml",
                command="witnessmark audit ID",
            )
        )
        return
    for assessment in assessments:
        put()
        put(f"{harmless(workshop.vehicles[assessment.vehicle].title)} ({assessment.vehicle})")
        put(f"  {_answer(assessment)}")
        counts = ", ".join(f"{n} {s.words}" for s, n in assessment.summary.items() if n)
        put("  " + (counts or say("no requirements")))
        for group in sorted(assessment.jobs, key=lambda g: GROUP_ORDER.index(g.group)):
            put("  " + jobs_in_words(group.title, len(group.entries), group.minutes))
        if assessment.empty_fields:
            put("  " + _empty_fields(assessment))
        if assessment.gap_count or assessment.open_in_forms:
            put("  " + say("All of it: {command}", command=f"witnessmark audit {assessment.vehicle}"))
