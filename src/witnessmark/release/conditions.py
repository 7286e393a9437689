"""May this vehicle be frozen as this issue? Every reason against it, gathered; nothing is written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import Assessment, RequirementState
from witnessmark.problems import Misuse, Place, Problem, Severity
from witnessmark.records.acts import Policy, Release
from witnessmark.records.world import Act, Workshop

from .describe import unconfirmed
from .letters import FORM, newest, next_letter
from .pending import release_path

__all__ = ["Request", "previous_release", "reasons_against", "releases_of", "uncommitted"]

_LONGEST = 300
"""Characters of a reason: it has its place on the cover."""
_NAMED = 12
"""So many requirements are named in one sentence; audit names all."""


@dataclass(frozen=True, slots=True)
class Request:
    """What is asked for. Persons are ids from people/."""

    vehicle: str
    issue: str
    by: str
    second: str | None = None
    with_gaps: str | None = None
    why: str | None = None
    as_of: date | None = None
    sign_with: Path | None = field(default=None)
    """A private SSH key for the tag."""


def releases_of(workshop: Workshop, vehicle: str) -> tuple[tuple[Act, Release], ...]:
    """Every release of the vehicle that history or folder knows, oldest letter first, sound or not."""
    found = [
        (act, act.body)
        for act in workshop.acts
        if isinstance(act.body, Release) and act.body.seal and act.body.seal.vehicle
        and act.body.seal.vehicle.id == vehicle and FORM.fullmatch(act.body.release)
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda pair: (len(pair[1].release), pair[1].release, pair[0].code)))


def previous_release(workshop: Workshop, vehicle: str) -> Release | None:
    """The newest issue that was frozen and stands unchanged in the history."""
    ledger = Ledger(workshop)
    sound = {body.release: body for act, body in releases_of(workshop, vehicle) if ledger.sound(act)}
    last = newest(sound)
    return sound[last] if last else None


def uncommitted(root: Path, vehicle: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Files that differ from the newest commit: those in the vehicle's folder, and those elsewhere."""
    from witnessmark.reading.githistory import open_history

    history = open_history(root, use_cache=False)
    if isinstance(history, Problem):
        raise Misuse(history)
    with history:
        found = sorted(history.differing(root, ("evidence", "requirements", "templates"), skip=("evidence/intake",)))
    own = f"evidence/vehicles/{vehicle}/"
    others = tuple(p for p in found if not p.startswith("evidence/vehicles/"))
    return tuple(p for p in found if p.startswith(own)), others


def reasons_against(
    root: Path, workshop: Workshop, assessment: Assessment, request: Request, tagged: bool, today: date
) -> tuple[Problem, ...]:
    """Everything that stands in the way. `workshop` is what the committed bytes say, `root` where the builds lie."""
    found = [
        *_files(workshop, assessment),
        *_persons(workshop, request),
        *_letters(root, workshop, request, tagged),
        *_gaps(workshop, assessment, request),
    ]
    if request.as_of is not None and request.as_of > today:
        found.append(
            Problem("freeze.ahead", f"{request.as_of} lies ahead of the clock", "freeze as of a day that has come")
        )
    return tuple(found)


def _files(workshop: Workshop, assessment: Assessment) -> Iterator[Problem]:
    yield from (p for p in (*workshop.problems, *assessment.problems) if p.severity is Severity.PROBLEM)
    for draft in workshop.drafts:
        if draft.vehicle == assessment.vehicle:
            yield Problem(
                "freeze.draft",
                "this is a draft; a release holds none",
                f"seal it (witnessmark record --seal {draft.path}), or delete it and commit that",
                draft.place,
            )


def _persons(workshop: Workshop, request: Request) -> Iterator[Problem]:
    known = ", ".join(sorted(workshop.people)) or "nobody yet"
    for who in (request.by, request.second):
        if who is not None and who not in workshop.people:
            yield Problem("person.unknown", f"'{who}' is nobody from people/", f"name one of {known}")
    if request.second is not None and request.second == request.by:
        yield Problem("freeze.second", "the second person is the first", "name another with --second")
    if request.second is None and _four_eyes(workshop):
        yield Problem(
            "freeze.four-eyes",
            "the workshop's policy asks for a second person before a release",
            "name who looked at it with --second PERSON",
        )


def _four_eyes(workshop: Workshop) -> bool:
    """Whether the newest policy in force asks for it; one that is not sound can only ask for more."""
    ledger = Ledger(workshop)
    day = workshop.as_of.date()
    found = [(a, p) for a, p in ledger.of(Policy) if p.in_force <= day and not ledger.gone(a)]
    sound = [(a, p) for a, p in found if ledger.sound(a)]
    last = max(sound, key=lambda pair: (pair[1].in_force, pair[0].appeared or 0, pair[0].code), default=None)
    after = [p for a, p in found if last is None or p.in_force >= last[1].in_force]
    asked = [*([last[1]] if last else []), *(p for p in after if p.policy.four_eyes_release == "yes")]
    return any(p.policy.four_eyes_release == "yes" for p in asked)


def _letters(root: Path, workshop: Workshop, request: Request, tagged: bool) -> Iterator[Problem]:
    issue, vehicle = request.issue, request.vehicle
    if not FORM.fullmatch(issue):
        yield Problem(
            "freeze.letter",
            f"'{issue}' is no letter of an issue",
            "use a capital letter, A first; I, O, Q, S, X and Z are left out",
        )
        return
    known = releases_of(workshop, vehicle)
    letters = [body.release for _, body in known]
    if issue in letters:
        yield Problem(
            "freeze.exists",
            f"issue {issue} of {vehicle} was frozen already, and never changes",
            f"freeze the next one: --issue {next_letter(newest(letters))}",
            Place(release_path(vehicle, issue)),
        )
    elif issue != next_letter(newest(letters)):
        last = newest(letters)
        yield Problem(
            "freeze.order",
            f"issue {issue} is out of order: {f'the newest is {last}' if last else 'none was frozen yet'}",
            f"freeze issue {next_letter(last)}",
        )
    if tagged:
        yield Problem(
            "freeze.tag",
            f"the tag {vehicle}/{issue} exists",
            "look with git show at what it names; a tag of a release is never moved",
            Place(".git"),
        )
    if (root / "builds" / vehicle / issue).exists():
        yield Problem(
            "freeze.taken",
            f"the folder builds/{vehicle}/{issue} exists",
            "move it away; a release is never written over",
            Place(f"builds/{vehicle}/{issue}"),
        )
    previous = previous_release(workshop, vehicle)
    if known and previous is None:
        yield Problem(
            "freeze.previous",
            "no issue before this one stands unchanged in the history",
            "run witnessmark check, and put the sealed files in releases/ back",
        )
    if known and not request.why:
        yield Problem("freeze.why", "a later issue says why there is one", "add --why and the reason in a sentence")
    if not known and request.why:
        yield Problem("freeze.why", "the first issue takes the place of none", "leave --why out")


def _gaps(workshop: Workshop, assessment: Assessment, request: Request) -> Iterator[Problem]:
    if not assessment.requirements:
        yield Problem(
            "freeze.nothing",
            "no requirement is asked of this vehicle, so nothing would be shown",
            "state the requirement sets it is to meet, with their source",
        )
        return
    gaps = [r for r in assessment.requirements if r.state.is_gap]
    unsure = unconfirmed(assessment)
    if request.with_gaps is not None and not request.with_gaps.strip():
        yield Problem("freeze.reason", "--with-gaps needs the reason in words", "say why it is released all the same")
    if len(request.with_gaps or "") > _LONGEST:
        yield Problem(
            "freeze.reason",
            f"the reason for the gaps has {len(request.with_gaps or '')} characters, and stands on the cover",
            f"say it in at most {_LONGEST}",
        )
    fields = assessment.open_in_forms
    risks = assessment.risks.open_rows if assessment.risks is not None else ()
    if request.with_gaps and not gaps and not unsure and not fields:
        yield Problem(
            "freeze.no-gaps", "there is no gap, no empty field and no unconfirmed limit", "leave --with-gaps out"
        )
    if risks and not gaps:
        # A control that does not hold is a gap of its own where its requirement does not apply or is not asked.
        rows = ", ".join(row.name for row in risks[:_NAMED])
        yield Problem(
            "freeze.risks",
            f"rows of the risk analysis are open: {rows}",
            f"show their controls, or record the analysis anew: witnessmark record risks {assessment.vehicle}",
        )
    if request.with_gaps:
        return
    if gaps:
        yield Problem(
            "freeze.gaps",
            f"{_counted(gaps, 'requirement stands', 'requirements stand')} in the way: {_named(gaps)}",
            f"close them (witnessmark audit {assessment.vehicle}), or say why it is released all the same: "
            "--with-gaps REASON; the cover then shows their number and the reason",
        )
    if fields:
        yield _fields(assessment, fields)
    if unsure:
        yield Problem(
            "freeze.unconfirmed",
            f"the limits of {_counted(unsure, 'requirement', 'requirements')} were compared with the official text by "
            f"nobody, found to differ from it, or, where there is no such text, adopted by nobody: {_named(unsure)}",
            "work through them: witnessmark list unconfirmed; or --with-gaps REASON",
        )


def _fields(assessment: Assessment, fields: Sequence[str]) -> Problem:
    """The fields of the authority's forms that are empty, as what stands in the way."""
    more = f" and {len(fields) - _NAMED} more" if len(fields) > _NAMED else ""
    stand = "field of the authority's forms is" if len(fields) == 1 else "fields of the authority's forms are"
    return Problem(
        "freeze.fields",
        f"{len(fields)} {stand} empty: {', '.join(fields[:_NAMED])}{more}",
        f"fill them (witnessmark record {assessment.vehicle} form), or say why it is released all the same: "
        "--with-gaps REASON",
    )


def _counted(found: Sequence[RequirementState], one: str, many: str) -> str:
    return f"{len(found)} {one if len(found) == 1 else many}"


def _named(found: Iterable[RequirementState]) -> str:
    names = [f"{r.id} ({r.state.words})" if r.state.is_gap else r.id for r in found]
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return ", ".join(names[:_NAMED]) + more
