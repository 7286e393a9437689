"""`freeze`: one issue of a vehicle's technical file, from committed files, for good."""

from __future__ import annotations

import argparse
import json
import shlex
from pathlib import Path
from typing import TYPE_CHECKING

from witnessmark.assessment.model import State
from witnessmark.language import say, say_n

from .exits import Exit
from .folder import add_folder_arguments, root_of
from .show import harmless, progress, put, show_problems, table, wrapped

if TYPE_CHECKING:
    from witnessmark.release.freeze import Frozen

__all__ = ["arguments", "call"]


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("vehicle", metavar="VEHICLE", help="the vehicle's id")
    parser.add_argument("--issue", required=True, metavar="LETTER", help="A, then B, C …")
    parser.add_argument("--by", required=True, metavar="PERSON", help="who freezes it: an id from people/")
    parser.add_argument("--second", metavar="PERSON", help="the second person who looked at it")
    parser.add_argument(
        "--with-gaps", metavar="REASON", help="release it although something is not shown; stands on the cover"
    )
    parser.add_argument("--why", metavar="REASON", help="why there is a new issue (from B on)")
    parser.add_argument("--sign", type=Path, metavar="KEY", help="a private SSH key that signs the tag")
    add_folder_arguments(parser)


def call(options: argparse.Namespace) -> int:
    """Exit 0 once frozen, 2 when anything stands against it: then nothing was written."""
    from witnessmark.problems import Misuse, Problem
    from witnessmark.release.conditions import Request
    from witnessmark.release.freeze import freeze
    from witnessmark.release.pending import is_pending

    root = root_of(options)
    request = Request(
        options.vehicle, options.issue, options.by, options.second, options.with_gaps, options.why, options.as_of,
        options.sign,
    )  # fmt: skip
    problems: tuple[Problem, ...] = ()
    try:
        done = freeze(root, request, tell=progress)
    except Misuse as misuse:
        problems = misuse.problems
    except OSError as fault:
        words = say("the disk or its rights stand in the way: {fault}", fault=fault.strerror or fault)
        remedy = say("make room or mend the rights, then run the command again")
        problems = (Problem("freeze.disk", words, remedy),)
    if problems:
        if options.format == "json":
            from witnessmark.exports.audit import problems_envelope

            put(problems_envelope("freeze", problems, as_of=options.as_of))
        show_problems(problems, root)
        left = say("The bag is whole, the release is not: run it again, and it is finished.")
        progress(left if is_pending(root) else say("Nothing was frozen."))
        return Exit.BAD_INPUT
    show_problems(done.problems, root)
    if options.format == "json":
        _as_json(done)
    else:
        _in_words(done)
    return Exit.DONE


def _as_json(done: Frozen) -> None:
    from witnessmark.exports.audit import problems_envelope

    found = json.loads(problems_envelope("freeze", done.problems, as_of=None))
    found |= {
        "as_of": done.release.as_of,
        "vehicle": done.release.vehicle,
        "issue": done.release.issue,
        "code": done.code,
        "folder": f"builds/{done.release.vehicle}/{done.release.issue}",
        "manifest": done.manifest,
        "tag": done.tag,
        "commit": done.release.commit,
        "files": done.files,
        "gaps": list(done.release.gaps),
        "unconfirmed": list(done.release.unconfirmed),
        "fields": list(done.release.fields),
        "not_committed_elsewhere": list(done.elsewhere),
    }
    put(json.dumps(found, ensure_ascii=False, indent=2))


def _in_words(done: Frozen) -> None:
    release = done.release
    if done.told:
        put(harmless(done.told))
    put(
        say(
            "{vehicle}: issue {issue} is frozen, as of {day}.",
            vehicle=harmless(release.title),
            issue=release.issue,
            day=release.as_of,
        )
    )
    sorts = ", ".join(f"{n} {s.words}" for s in State if s.is_gap and (n := release.states[s.value]))
    way = say_n(
        "In the way: {gaps} of {n} requirement",
        "In the way: {gaps} of {n} requirements",
        release.requirements,
        gaps=len(release.gaps),
    )
    put(f"  {way} ({sorts})" if sorts else f"  {way}")
    unsure = say_n("{n} requirement", "{n} requirements", len(release.unconfirmed))
    put("  " + say("Limits that nobody has compared with an official text, or adopted by name: {count}", count=unsure))
    put("  " + say("Empty fields in the authority's forms: {n}", n=len(release.fields)))
    if release.with_gaps:
        for line in wrapped(
            say("These numbers stand on the cover, with the reason: {reason}", reason=harmless(release.with_gaps)), 2
        ):
            put(line)
    put()
    files = say_n("{n} file", "{n} files", done.files)
    for line in table(
        [
            (say("Technical file"), str(done.folder / "technical-file.pdf")),
            (say("Bag"), f"{done.folder / 'bag'} ({files})"),
        ]
    ):
        put(line)
    put(
        "  "
        + say(
            "Sealed as {code}, tag {tag}. The digest of the bag, on which everything hangs:",
            code=done.code,
            tag=done.tag,
        )
    )
    put(f"  {done.manifest}")
    put()
    for line in wrapped(
        say(
            "Copy the bag now to two places that do not burn together: git keeps none of builds/. Write the digest "
            "down, or print it: with it anybody can prove years later that nothing was changed. To check a copy:"
        ),
        width=106,
    ):
        put(line)
    put(f"  witnessmark verify {shlex.quote(str(done.folder / 'bag'))}")
    if done.elsewhere:
        put()
        put(say("Not in it, since not committed: {files}", files=harmless(", ".join(done.elsewhere[:8]))))
