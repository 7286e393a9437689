"""The commands, each with its help as a terminal shows it, and what its exit status means."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .written import Written, table

__all__ = ["Command", "commands_page"]


@dataclass(frozen=True, slots=True)
class Command:
    """One command: name, one line, and its whole help."""

    name: str
    summary: str
    help: str


STATUS = (
    ("0", "done; audit: every requirement is shown; check: no problem; verify: whole, and recomputes the same"),
    ("1", "audit: something stands in the way; verify: not whole, or recomputes otherwise"),
    ("2", "the input or the command line is wrong; check: there are problems"),
    ("3", "a fault of the program: it says what to send us"),
)


def commands_page(commands: Sequence[Command]) -> Written:
    page = Written("commands", "Commands", "what can be typed, with every option")
    page.paragraph(
        "Results go to standard output, problems and progress to standard error. A command that reads a workshop works "
        "in its folder or in any folder below it."
    )
    page.block(table("b.status", (("Exit status", 1), ("Meaning", 6)), [*STATUS]))
    for command in commands:
        page.heading(command.name)
        page.paragraph(command.summary[0].upper() + command.summary[1:] + ".")
        page.literal(command.help)
    return page
