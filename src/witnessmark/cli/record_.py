"""`record`: so far, seal what was written by hand and commit it, in one act."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from witnessmark.problems import Misuse, Problem

from .exits import Exit
from .folder import add_folder_arguments, root_of
from .show import harmless, say, show_problems

__all__ = ["arguments", "call"]


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--seal", type=Path, required=True, metavar="FILE", help="the draft under evidence/ to seal")
    parser.add_argument("--by", required=True, metavar="PERSON", help="who seals it: an id from people/")
    add_folder_arguments(parser)


def call(options: argparse.Namespace) -> int:
    """Exit 0 once sealed and committed, 2 when it cannot be: then the draft is as it was."""
    from witnessmark.recording.seal_file import seal_file

    root = root_of(options)
    path = options.seal.resolve()
    if not path.is_relative_to(root.resolve()):
        raise Misuse(
            Problem("seal.outside", f"'{options.seal}' is not in the workshop's folder", "name a file under evidence/")
        )
    try:
        done = seal_file(root, path.relative_to(root.resolve()).as_posix(), options.by)
    except Misuse as misuse:
        show_problems(misuse.problems, root)
        return Exit.BAD_INPUT
    if options.format == "json":
        document = {"format": 1, "command": "record", "as_of": None, "problems": []}
        document |= {"code": done.sealed.code, "path": done.sealed.path, "commit": done.commit}
        say(json.dumps(document, ensure_ascii=False, indent=2))
    else:
        say(f"Sealed as {done.sealed.code} and committed ({done.commit[:10]}): {harmless(done.sealed.path)}")
        say("From now on it is never edited: a correction is a new file that names it.")
    return Exit.DONE
