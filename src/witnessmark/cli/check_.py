"""`check`: every fault in every file in one go."""

from __future__ import annotations

import argparse
from pathlib import Path

from witnessmark.language import say, say_n
from witnessmark.problems import Severity

from .exits import Exit
from .folder import add_folder_arguments, root_of
from .show import put, show_problems

__all__ = ["arguments", "call"]


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("files", nargs="*", type=Path, metavar="FILE", help="only these files (default: all)")
    add_folder_arguments(parser)


def call(options: argparse.Namespace) -> int:
    """Exit 0 clean, 2 problems. Never writes."""
    from witnessmark.reading.check import check

    root = root_of(options)
    found = check(root, options.files, as_of=options.as_of)
    hard = sum(1 for p in found if p.severity is Severity.PROBLEM)
    if options.format == "json":
        from witnessmark.exports.audit import problems_envelope

        put(problems_envelope("check", found, as_of=options.as_of))
    else:
        show_problems(found, root)
        notes = len(found) - hard
        words = say_n("{n} problem", "{n} problems", hard) if hard else say("No problems")
        put(f"{words}, {say_n('{n} note', '{n} notes', notes)}." if notes else f"{words}.")
    return Exit.BAD_INPUT if hard else Exit.DONE
