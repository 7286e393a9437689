"""Finding and reading the workshop's folder for a command."""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path

from witnessmark.problems import Misuse, Problem
from witnessmark.records.world import Workshop

__all__ = ["add_folder_arguments", "add_sitting_arguments", "chosen_vehicle", "day", "read", "root_of"]


def day(text: str) -> date:
    """An argument such as 2026-11-24."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a day: write 2026-11-24") from None


def add_folder_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--folder", type=Path, default=Path(), metavar="DIR", help="the workshop's folder (default: here or above)"
    )
    parser.add_argument(
        "--as-of",
        type=day,
        metavar="DAY",
        help="states as of the end of this day (default: today, or the pinned day of a demonstration)",
    )
    parser.add_argument(
        "--format", choices=("text", "json"), default="text", help="json: one envelope on standard output"
    )


def add_sitting_arguments(parser: argparse.ArgumentParser) -> None:
    """What `record` and `change` share: who sits there, where, and how the answers come."""
    parser.add_argument("--by", metavar="PERSON", help="who sits here and seals: an id from people/")
    parser.add_argument("--answers", type=Path, metavar="FILE", help="answers in a file instead of at the terminal")
    parser.add_argument("--yes", action="store_true", help="keep without asking (with --answers)")
    parser.add_argument("--draft", action="store_true", help="leave it as a draft (with --answers)")
    parser.add_argument(
        "--folder", type=Path, default=Path(), metavar="DIR", help="the workshop's folder (default: here or above)"
    )
    parser.add_argument("--format", choices=("text", "json"), default="text")


def root_of(options: argparse.Namespace) -> Path:
    """The workshop's folder, or Misuse that says how to make one."""
    from witnessmark.reading.workshop import find_root

    found = find_root(options.folder)
    if isinstance(found, Problem):
        raise Misuse(found)
    return found


def read(options: argparse.Namespace) -> tuple[Path, Workshop]:
    """The folder and everything in it. Problems that stop everything are raised as Misuse."""
    from witnessmark.reading.workshop import read_workshop

    root = root_of(options)
    read_result = read_workshop(root, as_of=options.as_of)
    return root, read_result


def chosen_vehicle(workshop: Workshop, name: str | None) -> str:
    """The id of the vehicle asked for, or Misuse with the ids that exist."""
    if name in workshop.vehicles and name is not None:
        return name
    known = ", ".join(sorted(workshop.vehicles)) or "none yet"
    raise Misuse(Problem("vehicle.unknown", f"there is no vehicle {name!r}", f"the vehicles here are: {known}"))
