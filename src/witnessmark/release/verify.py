"""Verifying a release: is it whole, where does it come from, does it recompute the same, is it still what holds?

Four answers that are kept apart, because each can be had without the others. Nothing found in a bag is run.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from witnessmark.language import say
from witnessmark.problems import Misuse, Place, Problem, in_order
from witnessmark.reading.workshop import now

from .bag import digest_of
from .describe import Description
from .file import RELEASE, ReleaseFile, read_release_file
from .intact import Intact, look_through
from .recompute import Recomputed, described, recompute
from .standing import COMPLETE, Origin, Since, hold_against, origin_by_digest, workshop_at_hand
from .store import Store, open_store

__all__ = ["Opened", "Verification", "look_into", "verify"]

NEEDED = (RELEASE, "data/history.bundle", "data/readings.csv",
          *(f"data/results/{name}.json" for name in ("states", "results", "built")))  # fmt: skip
_LARGEST = 16 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Opened:
    """A bag that was looked through. `release` and `said` are None where the bag is not whole."""

    label: str
    intact: Intact
    release: ReleaseFile | None
    said: Description | None


@dataclass(frozen=True, slots=True)
class Verification:
    """The answers."""

    label: str
    intact: Intact
    release: ReleaseFile | None
    origin: Origin
    recomputed: Recomputed | None
    """None: not tried, since the bag is not whole."""
    since: Since | None
    """None: no workshop's folder is at hand."""

    @property
    def good(self) -> bool:
        """Whole, recomputed the same, and nothing says that it comes from elsewhere."""
        return (
            not self.intact.problems
            and self.origin.shown is not False
            and self.recomputed is not None
            and self.recomputed.same is True
        )

    @property
    def problems(self) -> tuple[Problem, ...]:
        return in_order((*self.intact.problems, *(self.recomputed.problems if self.recomputed else ())))


def look_into(path: Path) -> Opened:
    """Look through a bag without computing anything. Raises Misuse where there is none."""
    store, issue = open_store(path)
    with contextlib.closing(store):
        intact, release, said = _looked(store, issue)
        return Opened(store.label, intact, release, said)


def verify(
    path: Path,
    *,
    workshop: Path | None = None,
    manifest: str | None = None,
    here: Path | None = None,
    clock: Callable[[], datetime] = now,
) -> Verification:
    """Verify the release at `path`: a bag, the folder of an issue, or a zip of one; nothing is written there.

    `workshop`: the folder that it is held against; None: the one from `here` upwards, if there is one. `manifest`: a
    digest that the bag must have. Raises Misuse where there is no bag, and for arguments that are none.
    """
    if manifest is not None:
        origin_by_digest(manifest, "")
    root = workshop_at_hand(workshop, here or Path.cwd(), path)
    store, issue = open_store(path)
    with contextlib.closing(store):
        intact, release, said = _looked(store, issue)
        origin = Origin(None, say(COMPLETE))
        if manifest is not None:
            origin = origin_by_digest(manifest, intact.digest)
        if release is None or said is None:
            return Verification(store.label, intact, release, _whole(origin), None, None)
        since = None
        if root is not None:
            by_folder, since = hold_against(root, release, intact.digest, said, clock)
            origin = _both(origin, by_folder) if manifest is not None else by_folder
        try:
            recomputed = recompute(store, release, intact.payload)
        except Misuse as fault:
            recomputed = Recomputed(False, problems=fault.problems)
        return Verification(store.label, intact, release, origin, recomputed, since)


def _whole(origin: Origin) -> Origin:
    """Of a bag that is not whole, nothing better is said than that its digest is another."""
    if origin.shown is False:
        return origin
    return Origin(None, say("not shown: the bag is not whole"))


def _both(by_digest: Origin, by_folder: Origin) -> Origin:
    """The worse of two witnesses; one that knows nothing takes nothing away."""
    if by_folder.shown is None:
        return by_digest
    if by_digest.shown is False:
        return by_digest
    return Origin(by_folder.shown, f"{by_digest.words}; {by_folder.words}")


def _looked(store: Store, issue: Path | None) -> tuple[Intact, ReleaseFile | None, Description | None]:
    intact = look_through(store)
    found: list[Problem] = [*intact.problems]
    if not found:
        found += [_lacks(name) for name in NEEDED if name not in store.files]
    if not found and issue is not None:
        found += _beside(issue, intact)
    release, said = None, None
    if not found:
        try:
            if store.files[RELEASE] > _LARGEST:
                raise Misuse(
                    Problem("release.file", "the release file is too large", "ask for it anew", Place(RELEASE))
                )
            with store.open(RELEASE) as stream:
                release = read_release_file(stream.read(_LARGEST))
            said = described(store)
        except Misuse as fault:
            found += fault.problems
    return replace(intact, problems=in_order(found)), release, said


def _lacks(name: str) -> Problem:
    return Problem(
        "bag.lacks", "a release has this file, and the bag does not", "ask for the release anew", Place(name)
    )


def _beside(issue: Path, intact: Intact) -> list[Problem]:
    """The document that lies beside the bag is the one in it."""
    inside = "data/documents/"
    wanted = {p.removeprefix(inside): d for p, d in intact.payload.items() if p.startswith(inside)}
    found: list[Problem] = []
    there: dict[str, Path] = {}
    for path in sorted(issue.rglob("*")):
        name = path.relative_to(issue).as_posix()
        if name == "bag" or name.startswith("bag/"):
            continue
        if path.is_symlink():
            found.append(Problem("release.beside", "this is a link", "take it away", Place(name)))
        elif path.is_file():
            there[name] = path
    for name in sorted({*wanted, *there}):
        if name not in there or name not in wanted or digest_of(there[name]) != f"sha256:{wanted[name]}":
            words = "this is not the document that was released"
            found.append(
                Problem("release.beside", words, f"take it from bag/{inside}{name}, if it is there", Place(name))
            )
    return found
