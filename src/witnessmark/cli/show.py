"""Text for the terminal: problems with the place underlined, tables, and words from records made harmless."""

from __future__ import annotations

import sys
import unicodedata
from collections.abc import Iterable, Sequence
from pathlib import Path

from witnessmark.language import say, say_n
from witnessmark.problems import Place, Problem, Severity, in_order

__all__ = [
    "counted",
    "harmless",
    "jobs_in_words",
    "minutes_in_words",
    "progress",
    "put",
    "show_problems",
    "table",
    "wrapped",
]

WIDTH = 100


def harmless(text: object) -> str:
    """Without control and direction characters, so that a record cannot steer the terminal."""
    return "".join(
        " "
        if ch in "\n\t\r"
        else "\N{REPLACEMENT CHARACTER}"
        if unicodedata.category(ch) in ("Cc", "Cf", "Cs", "Co", "Cn")
        else ch
        for ch in str(text)
    )


def put(text: str = "") -> None:
    """One result line on standard output."""
    sys.stdout.write(text + "\n")


def progress(text: str) -> None:
    """One line on standard error."""
    sys.stderr.write(text + "\n")


def show_problems(problems: Iterable[Problem], root: Path | None) -> None:
    """Each problem with its place, the source line underlined, what is wrong and what to do, on standard error."""
    for problem in in_order(problems):
        message = harmless(problem.message)
        if problem.severity is not Severity.PROBLEM:
            message = say("note: {message}", message=message)
        progress(f"{harmless(problem.place) + ': ' if problem.place else ''}{message}")
        for line in _source_line(problem.place, root):
            progress(line)
        for place in problem.related:
            progress("    " + say("see also {place}", place=harmless(place)))
        for line in wrapped(say("Do this: {remedy}", remedy=harmless(problem.remedy)), indent=4):
            progress(line)
        progress("")


def _source_line(place: Place | None, root: Path | None) -> list[str]:
    if place is None or root is None or not place.line:
        return []
    try:
        with (root / place.file).open("rb") as file:
            data = file.read(1_000_000)
    except OSError:
        return []
    lines = data.decode("utf-8-sig", "replace").splitlines()
    if place.line > len(lines):
        return []
    text = lines[place.line - 1]
    start, shift = max(place.column - 1, 0), 0
    if start > 80:
        shift = start - 40
    shown = harmless(text[shift : shift + WIDTH])
    width = max(1, min(place.width or 1, len(shown) - (start - shift)))
    number = f"{place.line:>6} | "
    return [f"{number}{shown}", " " * (len(number) + start - shift) + "^" * width]


def wrapped(text: str, indent: int = 0, width: int = WIDTH) -> list[str]:
    """Broken at blanks to the width, every line indented."""
    import textwrap

    pad = " " * indent
    return textwrap.wrap(text, width, initial_indent=pad, subsequent_indent=pad, break_long_words=False) or [pad]


def table(rows: Iterable[Sequence[str]], indent: int = 2) -> list[str]:
    """Left-aligned columns as wide as their widest cell; the last column is not padded."""
    kept = [[harmless(cell) for cell in row] for row in rows]
    if not kept:
        return []
    widths = [max(len(row[i]) for row in kept if i < len(row)) for i in range(max(map(len, kept)))]
    return [
        (" " * indent + "  ".join([*(c.ljust(w) for c, w in zip(row, widths, strict=False))])).rstrip() for row in kept
    ]


def counted(number: int, one: str, many: str | None = None) -> str:
    """`1 gap`, `3 gaps`."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def jobs_in_words(group: str, count: int, minutes: int) -> str:
    """`Now, bus dead: 3 jobs, about 1 h`."""
    if not minutes:
        return say_n("{group}: {n} job", "{group}: {n} jobs", count, group=group)
    time = minutes_in_words(minutes)
    return say_n("{group}: {n} job, about {time}", "{group}: {n} jobs, about {time}", count, group=group, time=time)


def minutes_in_words(minutes: int) -> str:
    """`1 h 20 min`."""
    hours, rest = divmod(minutes, 60)
    said = [say("{n} h", n=hours)] if hours else []
    return " ".join([*said, *([say("{n} min", n=rest)] if rest or not hours else [])])
