"""A release held against the workshop's own folder: does it come from there, and what happened since."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from witnessmark.assessment.assess import assess
from witnessmark.assessment.ledger import Ledger
from witnessmark.language import declared, say, say_n
from witnessmark.problems import Misuse, Problem
from witnessmark.reading.workshop import find_root, now, read_workshop
from witnessmark.records.acts import Release
from witnessmark.records.world import Act, Workshop

from .compare import Difference, differences
from .conditions import releases_of
from .describe import Description, describe
from .file import ReleaseFile
from .gitwork import opened
from .letters import place_of

__all__ = ["Origin", "Since", "hold_against", "origin_by_digest", "workshop_at_hand"]

_MANIFEST = re.compile(r"^manifest (sha256:[0-9a-f]{64})$", re.MULTILINE)
COMPLETE = declared("complete in itself, origin not shown")


@dataclass(frozen=True, slots=True)
class Origin:
    """`shown`: True, False (something says otherwise), or None: nothing here says where it comes from."""

    shown: bool | None
    words: str


@dataclass(frozen=True, slots=True)
class Since:
    """What is different in the workshop's folder now. `current` is None where the folder cannot say."""

    current: bool | None
    words: str
    as_of: str = ""
    differences: tuple[Difference, ...] = ()
    acts: tuple[str, ...] = ()
    """Paths of the acts that the release does not know."""
    newer: tuple[str, ...] = ()
    """Later issues of the same vehicle."""


def workshop_at_hand(given: Path | None, here: Path, bag: Path) -> Path | None:
    """The folder that was named (Misuse when it is none), else the one from `here` upwards.

    What lies inside the bag is never taken: a bag is no witness for itself.
    """
    if given is not None:
        found = find_root(given)
        if isinstance(found, Problem):
            raise Misuse(found)
    else:
        found = find_root(here)
        if isinstance(found, Problem):
            return None
    if found.resolve().is_relative_to(bag.resolve()):
        if given is not None:
            raise Misuse(Problem("verify.inside", "that folder lies in the bag itself", "name the workshop's own"))
        return None
    return found


def origin_by_digest(given: str, digest: str) -> Origin:
    """Against a digest that somebody got by another way."""
    wanted = "sha256:" + given.lower().removeprefix("sha256:")
    if not re.fullmatch(r"sha256:[0-9a-f]{64}", wanted):
        raise Misuse(Problem("verify.digest", f"'{given}' is no digest", "give 64 hexadecimal digits"))
    if wanted == digest:
        return Origin(True, say("it is the bag with the digest that you gave"))
    return Origin(False, say("the digest of this bag is {digest}, not the one that you gave", digest=digest))


def hold_against(
    root: Path, release: ReleaseFile, digest: str, was: Description | None, clock: Callable[[], datetime] = now
) -> tuple[Origin, Since]:
    """Origin and changes by the workshop's folder. `was` None: only the origin is asked."""
    workshop = read_workshop(root, clock=clock)
    known = [pair for pair in releases_of(workshop, release.vehicle) if pair[1].release == release.issue]
    if release.vehicle not in workshop.vehicles or not workshop.history.consulted:
        words = say(
            "the folder '{folder}' has no history of a vehicle {vehicle}",
            folder=root.resolve().name,
            vehicle=release.vehicle,
        )
        return _nobody_knows(words)
    try:
        with opened(root) as repository:
            holds = repository.contains(release.commit)
            tag = repository.tag_of(f"{release.vehicle}/{release.issue}")
            tagged = (
                _MANIFEST.search(repository.run("cat-file", "tag", tag).decode("utf-8", "replace")) if tag else None
            )
    except Misuse as fault:
        words = fault.problems[0].message
        return _nobody_knows(words)
    origin = _origin(workshop, root, known, digest, tagged[1] if tagged else None)
    if was is None:
        return origin, Since(None, say("not asked"))
    if not holds:
        return origin, Since(
            None, say("nobody can say here: this folder's history does not hold the commit that was frozen")
        )
    return origin, _since(workshop, release, was)


def _nobody_knows(why: str) -> tuple[Origin, Since]:
    return (
        Origin(None, say("complete in itself, origin not shown: {why}", why=why)),
        Since(None, say("nobody can say here: {why}", why=why)),
    )


def _origin(
    workshop: Workshop, root: Path, known: list[tuple[Act, Release]], digest: str, tagged: str | None
) -> Origin:
    name = root.resolve().name
    if tagged is not None and tagged != digest:
        return Origin(
            False,
            say("the tag in the workshop's folder '{folder}' names another bag: {digest}", folder=name, digest=tagged),
        )
    if not known:
        return Origin(
            None,
            say(
                "complete in itself, origin not shown: the workshop's folder '{folder}' knows no such issue",
                folder=name,
            ),
        )
    ledger = Ledger(workshop)
    others = [act for act, body in known if body.manifest.removeprefix("sha256:") != digest.removeprefix("sha256:")]
    if others:
        return Origin(
            False, say("{file} in the workshop's folder '{folder}' names another bag", file=others[0].path, folder=name)
        )
    act, body = known[0]
    causes = ledger.causes(act)
    if causes:
        return Origin(None, say("complete in itself, origin not shown: {why}", why=causes[0].message))
    text = declared(
        "it is the bag that {who} sealed as {code} in the workshop's folder '{folder}'; the tag is not there"
    )
    if tagged:
        text = declared(
            "it is the bag that {who} sealed as {code} in the workshop's folder '{folder}', and its tag says the same"
        )
    return Origin(True, say(text, who=body.by, code=act.code, folder=name))


def _since(workshop: Workshop, release: ReleaseFile, was: Description) -> Since:
    assessment = assess(workshop, release.vehicle)
    found = describe(workshop, assessment)
    changed = differences(was, found)
    frozen = set(was.built.get("acts", ()))
    acts = tuple(
        sorted(
            act.path for act in workshop.acts
            if act.code in set(found.built["acts"]) - frozen and not isinstance(act.body, Release)
        )
    )  # fmt: skip
    ledger = Ledger(workshop)
    here = releases_of(workshop, release.vehicle)
    newer = tuple(b.release for _, b in here if place_of(b.release) > place_of(release.issue))
    withdrawn = [a for a, b in here if b.release == release.issue and ledger.gone(a)]
    said = [
        *([say("it was withdrawn ({code})", code=withdrawn[0].code)] if withdrawn else []),
        *([say("issue {issue} has taken its place", issue=newer[-1])] if newer else []),
        *([say("{n} things are not as they were", n=len(changed))] if changed else []),
    ]
    words = "; ".join(said) if said else say("nothing that it says has changed in the workshop's folder")
    if acts:
        since = say_n("{n} act was recorded since", "{n} acts were recorded since", len(acts))
        words = f"{words}; {since}"
    return Since(not said, words, workshop.as_of.date().isoformat(), changed, acts, newer)
