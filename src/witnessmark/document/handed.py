"""What is handed over, file by file: as the index lists it, with what changed since the issue before."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from witnessmark.document.since import Since
from witnessmark.document.views.book import Book, PhotoUse, Use
from witnessmark.document.views.papers import Paper
from witnessmark.language import Words, declared, say, short_day
from witnessmark.records.acts import Authorisation, Calibration, DesignRevision, Policy, Record, SetEdition
from witnessmark.records.world import Act

__all__ = ["Handed", "changed", "level_of", "numbered_photos", "shows", "told_change"]

NEW, REVISED, UNCHANGED, WITHDRAWN = "new", "revised", "unchanged", "withdrawn"
CHANGES = Words(
    {
        NEW: declared("new"),
        REVISED: declared("revised"),
        UNCHANGED: declared("unchanged"),
        WITHDRAWN: declared("withdrawn"),
    }
)


@dataclass(frozen=True, slots=True)
class Handed:
    """One row of the index. `path` is its place in the folder, "" for one that is no longer handed over.

    `no` is never given again: `T1` the technical file, `P7` a paper, `F12` a photograph, by the time of sealing;
    `R-` and the code of its act for data. `item` is the route's number, `items` are those of the authority's forms.
    `number` is what is printed on it, `read` the pages that records rest on, `pages` how many it has (0: not counted).
    """

    path: str
    item: str
    no: str
    title: str
    kind: str
    origin: str
    level: str
    code: str = ""
    number: str = ""
    dated: str = ""
    pages: int = 0
    read: str = ""
    format: str = ""
    shows: str = ""
    items: str = ""
    sha256: str = ""
    size: int = 0
    change: str = ""
    reason: str = ""


def changed(row: Handed, book: Book, since: Since, paper: Paper | None = None, photo: PhotoUse | None = None) -> Handed:
    """The row with what changed, in the words of the index; a row that is not in the folder was withdrawn."""
    change, reason = told_change(row, book, since, paper, photo)
    return replace(row, change=CHANGES[change], reason=reason)


def told_change(
    row: Handed, book: Book, since: Since, paper: Paper | None = None, photo: PhotoUse | None = None
) -> tuple[str, str]:
    """New, revised, unchanged or withdrawn, and why."""
    uses = paper.uses if paper is not None else photo.uses if photo is not None else ()
    if not row.path:
        standing = paper.standing if paper is not None else say("its record no longer counts")
        return WITHDRAWN, _when(standing, row.code, book, since, uses)
    if not row.code:
        if not since.previous:
            return NEW, ""
        return REVISED, say("takes the place of that of issue {issue}", issue=since.previous)
    first = since.first.get(row.code, "")
    if first:
        return UNCHANGED, say("since issue {issue}", issue=first)
    before = _before(uses, paper is not None)
    if since.previous and before:
        return REVISED, say("takes the place of that of {code}", code=", ".join(before))
    corrects = book.acts[row.code].body.corrects if row.code in book.acts else None
    if since.previous and corrects:
        return REVISED, say("corrects {code}", code=corrects)
    return NEW, ""


def _when(standing: str, code: str, book: Book, since: Since, uses: Iterable[Use]) -> str:
    """Why it is no longer handed over, and whether that is so since the issue before or was so in it."""
    if not since.previous:
        return standing
    enders = {act.code for act in book.answers_to(code)}
    enders |= {governs for use in uses for governs in use.leaf.governs if governs != code}
    before = [since.first[one] for one in enders if one in since.first]
    if code in since.first and not before:
        return say("{why}; since issue {issue}", why=standing, issue=since.previous)
    if before:
        return say("{why}; so in issue {issue} already", why=standing, issue=min(before, key=lambda i: (len(i), i)))
    return standing


def _before(uses: Iterable[Use], paper: bool) -> tuple[str, ...]:
    """Codes of the earlier records of the same leaf and part that brought a file of this sort."""
    found: dict[str, None] = {}
    for use in uses:
        for result in use.leaf.records:
            named = result.claim.file if paper else result.claim.photo
            if named and result.record.performed < use.result.record.performed:
                found[result.act.code] = None
    return tuple(found)


def level_of(act: Act | None) -> str:
    """Whether an act is about a type, this vehicle, or the workshop."""
    body = act.body if act is not None else None
    if isinstance(body, DesignRevision) or (isinstance(body, Record) and body.design):
        return say("type")
    if isinstance(body, Calibration | Authorisation | Policy | SetEdition):
        return say("workshop")
    return say("vehicle")


def shows(uses: Iterable[Use]) -> str:
    """The requirements, by set and id."""
    return " ".join(dict.fromkeys(f"{u.requirement.set_id}:{u.requirement.id}" for u in uses))


def numbered_photos(photos: Mapping[str, PhotoUse]) -> dict[str, str]:
    """By path, the number of every photograph that was ever recorded, by the time of sealing."""

    def sealed(photo: PhotoUse) -> tuple[str, str]:
        seals = [use.result.act.body.seal for use in photo.uses]
        return min((seal.on.isoformat() for seal in seals if seal is not None), default="z"), photo.path

    return {photo.path: f"F{n}" for n, photo in enumerate(sorted(photos.values(), key=sealed), 1)}


def dated(uses: Iterable[Use]) -> str:
    """The day that stands on the paper, as the records say it."""
    days = dict.fromkeys(use.result.claim.dated for use in uses if use.result.claim.dated is not None)
    return "; ".join(short_day(one) for one in days)
