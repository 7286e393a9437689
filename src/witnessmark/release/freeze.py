"""Freezing: from the committed bytes alone to a technical file, a bag, a sealed release and a tag.

In this order: the history into a bundle, the bundle into an empty folder, that folder read and assessed without any
cache, every reason against it gathered. Only then is something written: document and bag beside, and last, as
`pending` says, one rename, one commit, one tag.
"""

from __future__ import annotations

import json
import shutil
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import Assessment
from witnessmark.document.issued import Changed, Issued
from witnessmark.document.views.words import day
from witnessmark.language import Language, say, speaking
from witnessmark.problems import Misuse, Place, Problem, Severity
from witnessmark.reading.workshop import Reading, now, read_everything, read_workshop
from witnessmark.recording.atomic import locked, sync_folder
from witnessmark.recording.commit import author_of
from witnessmark.recording.keep import Entered, prepare
from witnessmark.recording.seal_file import recorders_clock
from witnessmark.records.acts import Release
from witnessmark.records.base import text_of_instant
from witnessmark.records.workshop import WorkshopFile
from witnessmark.records.world import Workshop

from .bag import close_bag, sync_tree
from .compare import differences
from .conditions import Request, previous_release, reasons_against, uncommitted
from .describe import Description, describe, unconfirmed
from .file import PreviousIssue, ReleaseFile, Someone, ToolUsed, WorkshopNamed, release_schema
from .gitwork import Repository, opened, restore
from .pending import Pending, begin, complete, recover, release_path, staging
from .readings import all_readings
from .readme import readme
from .tool import lock_file, tool

__all__ = ["BUNDLE", "CHECKED_OUT", "Frozen", "freeze", "issued_of"]

_NOT_IN_IT = ("git.untracked", "git.ignored", "git.line-ends")
"""Of files that are not committed as they lie there: those of the vehicle are refused by name, others are told."""
CHECKED_OUT = ("evidence", "requirements", "templates")
BUNDLE = "history.bundle"
Tell = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Frozen:
    """A release that is there: its folder, the digest that names it, and what is to be said of it."""

    request: Request
    release: ReleaseFile
    folder: Path
    manifest: str
    code: str
    tag: str
    files: int
    told: str = ""
    """What an interrupted run had left, in words."""
    elsewhere: tuple[str, ...] = ()
    """Files outside the vehicle's folder that are not committed, and so are not in the release."""
    problems: tuple[Problem, ...] = ()


def freeze(
    root: Path,
    request: Request,
    *,
    clock: Callable[[], datetime] = now,
    tell: Tell = lambda text: None,
) -> Frozen:
    """Freeze one issue of a vehicle's technical file. `tell` hears of progress.

    Raises Misuse with every reason against it; then nothing was written.
    """
    _must_be_workshop(root)
    with locked(root), tempfile.TemporaryDirectory(prefix="witnessmark-") as name:
        told = recover(root)
        scratch = Path(name)
        here, elsewhere = uncommitted(root, request.vehicle)
        standing = [*(_uncommitted(path) for path in here), *_of_the_history(root)]
        if standing:
            raise Misuse(*standing)
        with opened(root) as repository:
            tell(say("Taking the committed files out of the history …"))
            bundle = scratch / BUNDLE
            repository.bundle(bundle)
            checkout = _checked_out(bundle, scratch / "folder", repository.head)
            reading = read_everything(checkout, as_of=request.as_of, clock=clock, use_cache=False)
            if not isinstance(reading, Reading):
                raise Misuse(*reading.problems)
            workshop = reading.workshop
            _must_be_frozen_here(workshop, request.vehicle)
            assessment = assess(workshop, request.vehicle)
            when = recorders_clock(reading, clock)
            tag_name = f"{request.vehicle}/{request.issue}"
            reasons = reasons_against(
                root, workshop, assessment, request, repository.tag_of(tag_name) is not None, when.date()
            )
            if reasons:
                raise Misuse(*reasons)
            found = describe(workshop, assessment)
            previous = previous_release(workshop, request.vehicle)
            before = scratch / "before"
            changes = _changes(bundle, before, previous, request.vehicle, found, workshop.language)
            release = _release_file(workshop, assessment, found, request, repository.head, previous)
            tell(say("Building the technical file …"))
            document = scratch / "document"
            noted = _document(checkout, workshop, assessment, release, changes, document)
            tell(say("Packing the bag …"))
            beside = staging(root, request.vehicle, request.issue)
            try:
                manifest, files = _pack(beside, document, checkout, bundle, workshop, assessment, found, release)
                pending = _sealed(reading, repository, request, release, manifest, when)
                begin(root, pending)
            except BaseException:
                shutil.rmtree(beside, ignore_errors=True)
                raise
        left = complete(root, pending)
    code = str(_line(pending.text, "code"))
    folder = root / "builds" / request.vehicle / request.issue
    words = " ".join(filter(None, [told, left]))
    return Frozen(request, release, folder, manifest, code, pending.tag_name, files, words, elsewhere, noted)


def _line(text: str, key: str) -> str:
    return next(line.partition(":")[2].strip() for line in text.splitlines() if line.startswith(f"{key}:"))


def _must_be_workshop(root: Path) -> None:
    """The pinned demonstration has no history of its own: nothing in it was ever recorded, so nothing is released."""
    from witnessmark.reading.folder import WORKSHOP, read_folder

    file = read_folder(root).file
    if file is not None and file.demonstration is not None and file.demonstration.history == "not-consulted":
        raise Misuse(
            Problem(
                "freeze.demonstration",
                "this is the demonstration, and nothing in it is released",
                "make a copy with a history of its own: witnessmark start --example DIR",
                Place(WORKSHOP),
            )
        )


def _must_be_frozen_here(workshop: Workshop, vehicle: str) -> None:
    if vehicle not in workshop.vehicles:
        known = ", ".join(sorted(workshop.vehicles)) or "none yet"
        raise Misuse(
            Problem("vehicle.unknown", f"no vehicle {vehicle!r} is committed", f"the vehicles here are: {known}")
        )


def _of_the_history(root: Path) -> tuple[Problem, ...]:
    """What the folder knows against its own history: the copy that is taken out of it remembers nothing rewritten.

    The cache is asked here: what was read on this machine before can only speak against a release.
    """
    found = read_everything(root, look=False)
    problems = found.workshop.problems if isinstance(found, Reading) else found.problems
    hard = (p for p in problems if p.severity is Severity.PROBLEM and p.code.startswith("git."))
    return tuple(p for p in hard if p.code not in _NOT_IN_IT)


def _uncommitted(path: str) -> Problem:
    return Problem(
        "freeze.uncommitted",
        "this is not what is committed: a release is made from committed files alone",
        "record or seal it (witnessmark record --seal FILE), commit it, or put it back (git status shows it)",
        Place(path),
    )


def _checked_out(bundle: Path, folder: Path, commit: str) -> Path:
    folder.mkdir()
    with bundle.open("rb") as stream:
        restore(stream, folder, CHECKED_OUT, commit=commit)
    return folder


def _changes(
    bundle: Path, folder: Path, previous: Release | None, vehicle: str, found: Description, language: Language
) -> tuple[Changed, ...]:
    """What differs from the issue before, which is computed again from the commit that it was frozen from; said in the
    language of the new one."""
    if previous is None:
        return ()
    _checked_out(bundle, folder, previous.commit)
    workshop = read_workshop(folder, as_of=previous.as_of, use_cache=False)
    before = describe(workshop, assess(workshop, vehicle))
    with speaking(language):
        return tuple(Changed(d.kind, d.subject, d.was, d.now, d.part) for d in differences(before, found))


def _release_file(
    workshop: Workshop,
    assessment: Assessment,
    found: Description,
    request: Request,
    commit: str,
    previous: Release | None,
) -> ReleaseFile:
    vehicle = workshop.vehicles[request.vehicle]
    demonstration = workshop.file.demonstration
    return ReleaseFile(
        format=1,
        vehicle=request.vehicle,
        title=vehicle.title,
        file_number=vehicle.file_number,
        issue=request.issue,
        as_of=workshop.as_of.date().isoformat(),
        commit=commit,
        workshop=WorkshopNamed(name=workshop.file.name, place=workshop.file.place, zone=workshop.file.zone),
        by=Someone(id=request.by, name=workshop.people[request.by].name),
        second=Someone(id=request.second, name=workshop.people[request.second].name) if request.second else None,
        previous=None
        if previous is None
        else PreviousIssue(
            issue=previous.release,
            as_of=previous.as_of.isoformat(),
            commit=previous.commit,
            manifest=previous.manifest,
        ),
        why=request.why,
        with_gaps=request.with_gaps,
        gaps=tuple(f"{r.set_id}:{r.id}" for r in assessment.requirements if r.state.is_gap),
        unconfirmed=tuple(f"{r.set_id}:{r.id}" for r in unconfirmed(assessment)),
        fields=assessment.open_in_forms,
        requirements=len(assessment.requirements),
        states={state.value: number for state, number in assessment.summary.items()},
        demonstration=demonstration.notice if demonstration else None,
        tool=ToolUsed.model_validate(tool()),
        methods={name: row["source"] if row else None for name, row in found.results["methods"].items()},
        sets={name: str(row["edition"]) for name, row in found.built["sets"].items()},
    )


def _document(
    checkout: Path,
    workshop: Workshop,
    assessment: Assessment,
    release: ReleaseFile,
    changes: tuple[Changed, ...],
    out: Path,
) -> tuple[Problem, ...]:
    """The technical file as this issue; the notes that building it gave."""
    from witnessmark.document.build import build

    with speaking(workshop.language):
        issued = issued_of(release, changes)
    # History says that nothing is uncommitted in a folder that was just taken out of it.
    clean = replace(workshop, history=replace(workshop.history, uncommitted=0))
    report = build(checkout, clean, assessment, out, draft=False, issued=issued)
    if not report.written:
        raise Misuse(*(p for p in report.problems if p.severity is Severity.PROBLEM))
    return report.problems


def issued_of(release: ReleaseFile, changes: tuple[Changed, ...] = ()) -> Issued:
    """What the document says of itself as this issue, in the language of the run."""
    previous = release.previous
    return Issued(
        letter=release.issue,
        by=release.by.id,
        second=release.second.id if release.second else "",
        commit=release.commit,
        gaps=len(release.gaps),
        unconfirmed=len(release.unconfirmed),
        fields=len(release.fields),
        with_gaps=release.with_gaps or "",
        previous=previous.issue if previous else "",
        previous_as_of=day(date.fromisoformat(previous.as_of)) if previous else "",
        why=release.why or "",
        changes=changes,
    )


def _pack(
    beside: Path,
    document: Path,
    checkout: Path,
    bundle: Path,
    workshop: Workshop,
    assessment: Assessment,
    found: Description,
    release: ReleaseFile,
) -> tuple[str, int]:
    """Everything of the issue into the folder `beside`, onto the disk; digest of the bag and number of its files."""
    data = beside / "bag" / "data"
    data.mkdir(parents=True)
    for name in CHECKED_OUT:
        if (checkout / name).is_dir():
            shutil.copytree(checkout / name, data / "inputs" / name)
    shutil.copytree(document, data / "documents")
    shutil.copytree(document, beside, dirs_exist_ok=True)
    shutil.copyfile(bundle, data / BUNDLE)
    texts = {
        "results/states.json": _json(found.audit),
        "results/results.json": _json(found.results),
        "results/built.json": _json(found.built),
        "readings.csv": all_readings(workshop, assessment),
        "release.json": release.text(),
        "release.schema.json": _json(release_schema()),
        "tool/lock.txt": lock_file(),
    }
    for name, text in texts.items():
        (data / name).parent.mkdir(exist_ok=True)
        (data / name).write_bytes(text.encode())
    info = {
        "Source-Organization": f"{release.workshop.name}, {release.workshop.place}",
        **_reached(workshop.file),
        "External-Identifier": f"{release.vehicle}/{release.issue}",
        "External-Description": f"{release.title}: technical file {release.file_number}, issue {release.issue}",
        "Bag-Software-Agent": f"{release.tool.name} {release.tool.version}",
        # The day of the states and not that of the clock: the same commit gives the same bag.
        "Bagging-Date": release.as_of,
    }
    manifest = close_bag(beside / "bag", info, {"README.txt": readme(release).encode()})
    sync_tree(beside)
    sync_folder(beside.parent)
    return manifest, sum(1 for path in (beside / "bag").rglob("*") if path.is_file())


def _reached(file: WorkshopFile) -> dict[str, str]:
    """What RFC 8493, 2.2.2 has words for: where who made the bag is, and how to reach them."""
    contact = file.contact
    found = {
        "Organization-Address": ", ".join(file.address or ()),
        "Contact-Phone": (contact and contact.telephone) or "",
        "Contact-Email": (contact and contact.mail) or "",
    }
    return {label: value for label, value in found.items() if value}


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, indent=1, sort_keys=True, allow_nan=False) + "\n"


def _sealed(
    reading: Reading,
    repository: Repository,
    request: Request,
    release: ReleaseFile,
    manifest: str,
    when: datetime,
) -> Pending:
    """The sealed release and the tag's object; neither is anywhere yet where somebody finds it."""
    vehicle, issue = request.vehicle, request.issue
    tree = {
        "release": issue,
        "at": text_of_instant(when),
        "by": request.by,
        "second": request.second,
        "as_of": release.as_of,
        "commit": release.commit,
        "manifest": manifest,
        "previous": release.previous.issue if release.previous else None,
        "why": request.why,
        "gaps": str(len(release.gaps)),
        "unconfirmed": str(len(release.unconfirmed)),
        "fields": str(len(release.fields)),
        "with_gaps": request.with_gaps,
    }
    entered = Entered(release_path(vehicle, issue), tree, f"evidence/vehicles/{vehicle}")
    prepared = prepare(reading, entered, request.by, when)
    author = author_of(request.by, reading.workshop.people)
    title = f"Issue {issue} of the technical file of {vehicle}"
    said = [title, "", f"manifest {manifest}", f"commit {release.commit}", f"as of {release.as_of}"]
    tag = repository.add_tag(f"{vehicle}/{issue}", release.commit, author, when, "\n".join(said), key=request.sign_with)
    return Pending(
        vehicle=vehicle,
        issue=issue,
        manifest=manifest,
        text=prepared.sealed.data.decode(),
        message=f"Release {title[0].lower()}{title[1:]} as {prepared.sealed.code}",
        tag=tag,
        name=author.name,
        email=author.email,
        when=text_of_instant(when),
        begun=time.time(),
    )
