"""`start`: make a workshop's folder, empty or as a copy of the demonstration."""

from __future__ import annotations

import argparse
from pathlib import Path

from .exits import Exit
from .show import counted, put

__all__ = ["arguments", "call"]


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("directory", type=Path, metavar="DIR", help="a folder that is not there yet, or is empty")
    parser.add_argument("--example", action="store_true", help="a copy of the invented demonstration, with its history")
    parser.add_argument("--sets", nargs="+", metavar="SET", help="the requirement sets (default: the usual ones)")
    parser.add_argument("--name", default="Name of the workshop", help="name of the workshop")
    parser.add_argument(
        "--person", default="Name of the first person", help="who starts it: the first commits name them"
    )
    parser.add_argument(
        "--vehicle", metavar="ID", default="vehicle-01", help="id of the first vehicle (default: vehicle-01)"
    )


def call(options: argparse.Namespace) -> int:
    """Exit 0 once written, 2 when the folder is in use or a set is unknown."""
    from witnessmark.recording.start import start, start_example

    if options.example:
        commits = start_example(options.directory)
        put(f"The demonstration lies in {options.directory}, with {counted(commits, 'commit')} of invented history.")
        put(f"Next: cd {options.directory}, then witnessmark audit")
        return Exit.DONE
    sets = start(
        options.directory, sets=options.sets, name=options.name, vehicle=options.vehicle, person=options.person
    )
    put(f"A workshop's folder lies in {options.directory}, with the sets {', '.join(sets)}.")
    put(f"First vehicle: {options.vehicle}. Nothing is shown for it yet.")
    put("Next: write names and place in evidence/workshop.yaml, evidence/people/first.yaml and")
    put(f"evidence/vehicles/{options.vehicle}/vehicle.yaml, then cd there and witnessmark audit {options.vehicle}.")
    put("Address and mark: witnessmark record workshop.")
    put(f"What is missing is asked by witnessmark record {options.vehicle}; people, instruments and policy likewise.")
    facts, kinds = _needed(options.directory, options.vehicle)
    put(f"These sets need {counted(facts, 'fact')} of the vehicle and {counted(kinds, 'list')} of parts to begin with:")
    put(f"witnessmark record {options.vehicle} facts (or parts) asks each, with why and what hangs on it.")
    return Exit.DONE


def _needed(directory: Path, vehicle: str) -> tuple[int, int]:
    """How many facts of the vehicle and how many lists of parts the chosen sets need before anything else."""
    from witnessmark.assessment.assess import assess
    from witnessmark.assessment.facts import VEHICLE
    from witnessmark.reading.workshop import read_workshop
    from witnessmark.recording.forms.statement import facts_wanted, kinds_wanted

    workshop = read_workshop(directory)
    assessment = assess(workshop, vehicle)
    return len(facts_wanted(workshop, assessment).get(VEHICLE, {})), len(kinds_wanted(assessment))
