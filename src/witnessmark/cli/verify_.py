"""`verify`: is a release whole, does it recompute the same, is it still what holds."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .exits import Exit
from .show import counted, harmless, progress, put, show_problems, table, wrapped

if TYPE_CHECKING:
    from witnessmark.release.verify import Verification

__all__ = ["arguments", "call"]

_SHOWN = 12


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("path", type=Path, metavar="PATH", help="a bag, the folder of an issue, or a zip of one")
    parser.add_argument(
        "--workshop", type=Path, metavar="DIR", help="hold it against this workshop's folder (default: here or above)"
    )
    parser.add_argument("--manifest", metavar="DIGEST", help="the digest that the workshop gave you by another way")
    parser.add_argument(
        "--format", choices=("text", "json"), default="text", help="json: one envelope on standard output"
    )


def call(options: argparse.Namespace) -> int:
    """Exit 0 intact, recomputes the same and of no other origin; 1 not; 2 there is no bag."""
    from witnessmark.release.verify import verify

    progress("Looking through the release, then computing everything again …")
    found = verify(options.path, workshop=options.workshop, manifest=options.manifest)
    if options.format == "json":
        put(json.dumps(_as_json(found), ensure_ascii=False, indent=2))
    else:
        show_problems(found.problems[:_SHOWN], None)
        if len(found.problems) > _SHOWN:
            progress(f"and {len(found.problems) - _SHOWN} more of them")
        _in_words(found)
    return Exit.DONE if found.good else Exit.DIFFERS


def _in_words(found: Verification) -> None:
    release = found.release
    if release is not None:
        put(f"{harmless(release.title)}: technical file {harmless(release.file_number)}, issue {release.issue}")
        from witnessmark.assessment.model import State

        states = ", ".join(f"{n} {s.words}" for s in State if (n := release.states.get(s.value, 0)))
        put(f"As of {release.as_of}: {harmless(states)}")
        if release.demonstration:
            put(harmless(release.demonstration))
        put()
    for line in table([(name, answer) for name, answer, _ in answers(found)]):
        put(line)
    put()
    for _, _, words in answers(found):
        for line in wrapped(harmless(words)):
            put(line)
    if found.since is not None:
        for one in found.since.differences[:_SHOWN]:
            for line in wrapped(
                f"{one.kind} {harmless(one.what)}: {harmless(one.was or 'nothing')} → {harmless(one.now or 'nothing')}",
                2,
            ):
                put(line)
        more = len(found.since.differences) - _SHOWN
        if more > 0:
            put(f"  and {more} more: witnessmark compare shows all")


def answers(found: Verification) -> tuple[tuple[str, str, str], ...]:
    """Question, answer and sentence, in the order in which one asks."""
    intact, again = found.intact, found.recomputed
    if intact.problems:
        whole = f"Not intact: {counted(len(intact.problems), 'fault')}. Believe nothing in it."
    else:
        whole = f"Intact: all {intact.files} files are as they were packed, and nothing lies beside them."
    if again is None:
        same = ("not tried", "Nothing was computed again, since the bag is not whole.")
    elif again.same is None:
        same = ("not here", f"It is not recomputable here: {', '.join(again.missing)}. Install it and verify again.")
    elif again.same:
        words = (
            f"Computed again from its readings: {counted(again.requirements, 'state')} and "
            f"{counted(again.results, 'result')} are the same."
        )
        if again.other_methods:
            words += f" The source of {', '.join(again.other_methods)} is not the one that made it; the results are."
        same = ("yes", words)
    else:
        same = ("NO", f"Computed again, it is not the same: {counted(len(again.problems), 'difference')}.")
    shown = {True: "shown", False: "NO", None: "not shown"}[found.origin.shown]
    since = found.since
    current = ("not asked", "Whether it still holds, only the workshop's folder can say: --workshop DIR.")
    if since is not None:
        answer = {True: "yes", False: "NO", None: "not known"}[since.current]
        current = (answer, f"Since then: {since.words}.")
    return (
        ("Is it intact?", "NO" if intact.problems else "yes", whole),
        ("Where does it come from?", shown, f"Origin: {found.origin.words}."),
        ("Does it recompute the same?", *same),
        ("Is it still current?", *current),
    )


def _as_json(found: Verification) -> dict[str, Any]:
    from witnessmark.exports.audit import problems_envelope

    release, again, since = found.release, found.recomputed, found.since
    document: dict[str, Any] = json.loads(problems_envelope("verify", found.problems, as_of=None))
    document |= {
        "as_of": release.as_of if release else None,
        "vehicle": release.vehicle if release else None,
        "issue": release.issue if release else None,
        "manifest": found.intact.digest or None,
        "good": found.good,
        "intact": not found.intact.problems,
        "files": found.intact.files,
        "origin": {"shown": found.origin.shown, "words": found.origin.words},
        "recomputes": None
        if again is None
        else {
            "same": again.same,
            "requirements": again.requirements,
            "results": again.results,
            "not_here": list(again.missing),
            "other_methods": list(again.other_methods),
        },
        "current": None
        if since is None
        else {
            "current": since.current,
            "words": since.words,
            "as_of": since.as_of or None,
            "differences": [d.as_json() for d in since.differences],
            "acts": list(since.acts),
            "newer": list(since.newer),
        },
    }
    return document
