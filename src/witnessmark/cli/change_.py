"""`change`: an event on a part. What lapses by it is shown before it is written."""

from __future__ import annotations

import argparse
from pathlib import Path

from witnessmark.problems import Misuse, Problem

from .exits import Exit
from .folder import add_sitting_arguments, chosen_vehicle, root_of

__all__ = ["arguments", "call"]


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("vehicle", metavar="VEHICLE")
    parser.add_argument("part", nargs="?", default="", metavar="PART", help="the part (default: it is asked)")
    add_sitting_arguments(parser)


def call(options: argparse.Namespace) -> int:
    """Exit 0 once kept, 2 when nothing was kept: then nothing was written."""
    from .asking import Gone
    from .sitting import gave_up, refused

    root = root_of(options)
    try:
        return _change(root, options)
    except Gone:
        return gave_up()
    except Misuse as misuse:
        return refused(misuse, "change", root, options.format == "json")


def _change(root: Path, options: argparse.Namespace) -> int:
    from witnessmark.recording.forms.event import Change

    from .record_ import answers_of, person_of
    from .sitting import Sitting

    answers = answers_of(options)
    sitting = Sitting(root, "", None, answers, options.yes, options.draft, options.format == "json")
    sitting.vehicle = chosen_vehicle(sitting.reading.workshop, options.vehicle)
    stated = answers.about.get("vehicle", options.vehicle) if answers else options.vehicle
    if stated != options.vehicle:
        raise Misuse(
            Problem(
                "answers.vehicle", f"these answers are for {stated}, not for {options.vehicle}", "take the right ones"
            )
        )
    known = Change(sitting.desk()).built_in
    if options.part and options.part not in known:
        raise Misuse(Problem("part.unknown", f"there is no part '{options.part}'", f"built in are {', '.join(known)}"))
    sitting.by = person_of(sitting, options.by or (answers.about.get("by") if answers else None))
    done = sitting.run(lambda desk: Change(desk, options.part)) is not None
    sitting.finish("change")
    return Exit.DONE if done else Exit.BAD_INPUT
