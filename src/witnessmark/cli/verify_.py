"""`verify`: is a release whole, does it recompute the same, is it still what holds."""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from witnessmark.language import Words, declared, say, say_n

from .exits import Exit
from .show import harmless, progress, put, show_problems, table, wrapped

if TYPE_CHECKING:
    from witnessmark.release.verify import Verification

__all__ = ["arguments", "call"]

_SHOWN = 12
_SHOWN_WORDS: Mapping[bool | None, str] = Words(
    {True: declared("shown"), False: declared("NO"), None: declared("not shown")}
)
_CURRENT: Mapping[bool | None, str] = Words({True: declared("yes"), False: declared("NO"), None: declared("not known")})
_KINDS: Mapping[str, str] = Words(
    {
        "fact": declared("fact"),
        "part": declared("part"),
        "result": declared("result"),
        "set": declared("set"),
        "state": declared("state"),
    }
)


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

    progress(say("Looking through the release, then computing everything again …"))
    found = verify(options.path, workshop=options.workshop, manifest=options.manifest)
    if options.format == "json":
        put(json.dumps(_as_json(found), ensure_ascii=False, indent=2))
    else:
        show_problems(found.problems[:_SHOWN], None)
        if len(found.problems) > _SHOWN:
            progress(say("and {n} more of them", n=len(found.problems) - _SHOWN))
        _in_words(found)
    return Exit.DONE if found.good else Exit.DIFFERS


def _in_words(found: Verification) -> None:
    release = found.release
    if release is not None:
        put(
            say(
                "{vehicle}: technical file {number}, issue {issue}",
                vehicle=harmless(release.title),
                number=harmless(release.file_number),
                issue=release.issue,
            )
        )
        from witnessmark.assessment.model import State

        states = ", ".join(f"{n} {s.words}" for s in State if (n := release.states.get(s.value, 0)))
        put(say("As of {day}: {states}", day=release.as_of, states=harmless(states)))
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
                f"{_KINDS.get(one.kind, one.kind)} {harmless(one.what)}: "
                f"{harmless(one.was or say('nothing'))} → {harmless(one.now or say('nothing'))}",
                2,
            ):
                put(line)
        more = len(found.since.differences) - _SHOWN
        if more > 0:
            put("  " + say("and {n} more: {command} shows all", n=more, command="witnessmark compare"))


def answers(found: Verification) -> tuple[tuple[str, str, str], ...]:
    """Question, answer and sentence, in the order in which one asks."""
    intact, again = found.intact, found.recomputed
    if intact.problems:
        whole = say_n(
            "Not intact: {n} fault. Believe nothing in it.",
            "Not intact: {n} faults. Believe nothing in it.",
            len(intact.problems),
        )
    else:
        whole = say("Intact: all {n} files are as they were packed, and nothing lies beside them.", n=intact.files)
    if again is None:
        same = (say("not tried"), say("Nothing was computed again, since the bag is not whole."))
    elif again.same is None:
        words = say(
            "It is not recomputable here: {missing}. Install it and verify again.", missing=", ".join(again.missing)
        )
        same = (say("not here"), words)
    elif again.same:
        words = say(
            "Computed again from its readings: {states} and {results} are the same.",
            states=say_n("{n} state", "{n} states", again.requirements),
            results=say_n("{n} result", "{n} results", again.results),
        )
        if again.other_methods:
            other = say(
                "The source of {methods} is not the one that made it; the results are.",
                methods=", ".join(again.other_methods),
            )
            words = f"{words} {other}"
        same = (say("yes"), words)
    else:
        words = say_n(
            "Computed again, it is not the same: {n} difference.",
            "Computed again, it is not the same: {n} differences.",
            len(again.problems),
        )
        same = (say("NO"), words)
    since = found.since
    current = (
        say("not asked"),
        say("Whether it still holds, only the workshop's folder can say: {option}.", option="--workshop DIR"),
    )
    if since is not None:
        current = (_CURRENT[since.current], say("Since then: {what}.", what=since.words))
    return (
        (say("Is it intact?"), say("NO") if intact.problems else say("yes"), whole),
        (
            say("Where does it come from?"),
            _SHOWN_WORDS[found.origin.shown],
            say("Origin: {what}.", what=found.origin.words),
        ),
        (say("Does it recompute the same?"), *same),
        (say("Is it still current?"), *current),
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
