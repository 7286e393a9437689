"""`manual`: the manual as HTML, with a reference of commands, files, methods, states and problems."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from witnessmark.problems import Severity

from .exits import Exit
from .main import COMMANDS, help_of
from .show import counted, progress, put, show_problems

if TYPE_CHECKING:
    from witnessmark.manual.commands import Command

__all__ = ["arguments", "call", "commands"]

WIDTH = 88


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--output", type=Path, metavar="DIR", default=Path("builds/manual"), help="where to (default: builds/manual)"
    )


def call(options: argparse.Namespace) -> int:
    from witnessmark.manual import make

    progress("Building the manual …")
    made = make(options.output, commands())
    show_problems(made.problems, None)
    put(f"The manual, {counted(made.pages, 'page')}: {made.index}")
    return Exit.BAD_INPUT if any(p.severity is Severity.PROBLEM for p in made.problems) else Exit.DONE


def commands() -> tuple[Command, ...]:
    """Every command with its help."""
    from witnessmark.manual.commands import Command

    return tuple(Command(name, summary, help_of(name, summary, WIDTH)) for name, summary in COMMANDS)
