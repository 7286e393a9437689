"""Reads the command line, calls one command, and turns whatever happens into an exit status."""

from __future__ import annotations

import argparse
import errno
import functools
import importlib
import re
import sys
from collections.abc import Sequence
from pathlib import Path

from witnessmark import __version__
from witnessmark.language import Language, speaking
from witnessmark.problems import Misuse, Problem

from .exits import Exit
from .show import progress, show_problems

__all__ = ["COMMANDS", "disk_problem", "help_of", "main", "run"]

COMMANDS: tuple[tuple[str, str], ...] = (
    ("start", "make a workshop's folder"),
    ("check", "every fault in every file, with its place"),
    ("audit", "which requirement lacks evidence, and what to do next"),
    ("calculate", "one method at the bench: result, uncertainty, verdict"),
    ("record", "what was read, photographed or received: asked, sealed and kept"),
    ("change", "what happened to a part, and what lapses by it"),
    ("sheet", "test sheets to print, with this vehicle's limits"),
    ("build", "write a vehicle's technical file, HTML and PDF"),
    ("freeze", "one issue of the technical file, from committed files, for good"),
    ("verify", "is a release whole, does it recompute the same, is it still what holds"),
    ("compare", "what differs between two releases, or a release and the folder"),
    ("list", "methods, sets, schemas and formats of logs"),
    ("manual", "the manual as HTML, with a reference of commands, files, methods and problems"),
)
"""Each command is a module `witnessmark.cli.NAME_` with `arguments(parser)` and `call(options)`."""

TOLD = frozenset({"audit", "build", "calculate", "check", "compare", "freeze", "list", "sheet", "verify"})
"""Commands whose answers are said in the language of the workshop."""

CAUTION = "High voltage can kill. Local codes and qualified persons decide what may be done, how and by whom."


def _parser(wanted: str | None) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="witnessmark",
        description="The technical file of a converted vehicle's electrical safety, computed from its evidence.",
        epilog=f"Without a command: audit of all vehicles. {CAUTION}",
    )
    parser.add_argument("--version", action="version", version=f"witnessmark {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    for name, summary in COMMANDS:
        one = commands.add_parser(
            name, help=summary, description=summary[0].upper() + summary[1:] + ".", epilog=CAUTION
        )
        if name == wanted:
            module = importlib.import_module(f"witnessmark.cli.{name}_")
            module.arguments(one)
            one.set_defaults(call=module.call)
    return parser


def help_of(name: str, summary: str, width: int) -> str:
    """The help of one command as a terminal of that width shows it."""
    one = argparse.ArgumentParser(
        prog=f"witnessmark {name}",
        description=summary[0].upper() + summary[1:] + ".",
        epilog=CAUTION,
        formatter_class=functools.partial(argparse.HelpFormatter, width=width),
    )
    importlib.import_module(f"witnessmark.cli.{name}_").arguments(one)
    return re.sub(r"\x1b\[[0-9;]*m", "", one.format_help())


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit status (`Exit`)."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    if not given:
        given = ["audit"]
    wanted = next((word for word in given if not word.startswith("-")), None)
    options = _parser(wanted).parse_args(given)
    with speaking(_language(options)):
        return _run(options)


def _language(options: argparse.Namespace) -> Language:
    """What the command speaks: the language of the workshop's folder that it is about. JSON is English, and so are
    the questions of a sitting."""
    if options.command not in TOLD or getattr(options, "format", "text") == "json":
        return Language()
    from witnessmark.reading.folder import language_at

    named = (getattr(options, name, None) for name in ("workshop", "after", "folder"))
    try:
        return language_at(next(filter(None, named), Path()))
    except OSError:
        return Language()


def _run(options: argparse.Namespace) -> int:
    try:
        return int(options.call(options))
    except Misuse as misuse:
        show_problems(misuse.problems, None)
        return Exit.BAD_INPUT
    except BrokenPipeError:
        sys.stderr.close()
        return Exit.DONE
    except OSError as fault:
        problem = disk_problem(fault)
        if problem is None:
            _report(fault)
            return Exit.OUR_FAULT
        show_problems((problem,), None)
        return Exit.BAD_INPUT
    except KeyboardInterrupt:
        progress("stopped")
        return Exit.BAD_INPUT
    except Exception as fault:
        _report(fault)
        return Exit.OUR_FAULT


_DISK = {
    errno.ENOSPC: ("disk.full", "the disk is full", "make room, then run the command again"),
    errno.EDQUOT: ("disk.full", "your part of the disk is full", "make room, then run the command again"),
    errno.EROFS: ("disk.read-only", "the disk or folder can only be read", "work on a copy that can be written"),
    errno.EACCES: ("disk.rights", "your rights are not enough", "ask whoever looks after the computer for them"),
    errno.EPERM: ("disk.rights", "your rights are not enough", "ask whoever looks after the computer for them"),
    errno.EIO: ("disk.broken", "the disk cannot be read or written there", "copy the folder to a sound disk"),
}


def disk_problem(fault: OSError) -> Problem | None:
    """A fault of disk or rights, as a problem; None for anything else, which is a fault of ours."""
    known = _DISK.get(fault.errno or 0)
    if known is None:
        return None
    code, message, remedy = known
    where = f": {fault.filename}" if fault.filename else ""
    return Problem(code, f"{message}{where}", f"{remedy}; what was recorded before is there, nothing is half-made")


def _report(fault: Exception) -> None:
    import platform
    import traceback

    progress("This is a fault of ours, not of your files. Nothing of yours was changed. What we need to mend it:")
    progress("")
    progress("".join(traceback.format_exception(fault)))
    progress(f"witnessmark {__version__}, Python {platform.python_version()}, {platform.system()}")


def run() -> None:
    """The console script."""
    sys.exit(main())
