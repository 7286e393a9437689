"""`compare`: what differs between two releases, or between a release and the workshop's folder."""

from __future__ import annotations

import argparse
import json
from itertools import groupby
from pathlib import Path

from witnessmark.language import Words, declared, say, say_n

from .exits import Exit
from .folder import day
from .show import harmless, progress, put, show_problems, wrapped

__all__ = ["arguments", "call"]

_TITLES = Words(
    {
        "fact": declared("Facts"),
        "part": declared("Parts"),
        "result": declared("Results that govern"),
        "set": declared("Requirement sets"),
        "state": declared("States of requirements"),
    }
)


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("before", type=Path, metavar="BEFORE", help="a bag, the folder of an issue, or a zip of one")
    parser.add_argument(
        "after",
        type=Path,
        nargs="?",
        metavar="AFTER",
        help="another of them, or a workshop's folder (default: the one here or above)",
    )
    parser.add_argument(
        "--as-of", type=day, metavar="DAY", help="states of the workshop's folder as of the end of this day"
    )
    parser.add_argument(
        "--format", choices=("text", "json"), default="text", help="json: one envelope on standard output"
    )


def call(options: argparse.Namespace) -> int:
    """Exit 0 once compared, whatever differs; 2 when one of the two is not whole or not there."""
    from witnessmark.problems import Misuse
    from witnessmark.release.sides import compared

    try:
        before, after, found = compared(options.before, options.after, as_of=options.as_of)
    except Misuse as misuse:
        show_problems(misuse.problems, None)
        progress(say("Nothing was compared."))
        return Exit.BAD_INPUT
    if options.format == "json":
        document = {
            "format": 1,
            "command": "compare",
            "as_of": after.as_of,
            "problems": [],
            "before": {"vehicle": before.vehicle, "issue": before.issue, "as_of": before.as_of},
            "after": {"vehicle": after.vehicle, "issue": after.issue, "as_of": after.as_of},
            "differences": [d.as_json() for d in found],
        }
        put(json.dumps(document, ensure_ascii=False, indent=2))
        return Exit.DONE
    put(say("Before: {what}", what=harmless(before.words)))
    put(say("After:  {what}", what=harmless(after.words)))
    put()
    if not found:
        put(say("No state, result, part, fact or requirement differs."))
    for kind, rows_ in groupby(found, key=lambda d: d.kind):
        differences = list(rows_)
        put(say_n("{what}: {n} difference", "{what}: {n} differences", len(differences), what=_TITLES[kind]))
        for one in differences:
            put(f"  {harmless(one.what)}")
            for line in wrapped(f"{harmless(one.was or say('nothing'))}  →  {harmless(one.now or say('nothing'))}", 6):
                put(line)
        put()
    return Exit.DONE
