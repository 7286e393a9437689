"""`sheet`: printable test sheets with this vehicle's limits, for what is still to be read, probed or tried at it."""

from __future__ import annotations

import argparse
from pathlib import Path

from witnessmark.language import Words, declared, say, say_n
from witnessmark.problems import Misuse, Problem, Severity

from .exits import Exit
from .folder import add_folder_arguments, chosen_vehicle, read
from .show import harmless, progress, put, show_problems

__all__ = ["arguments", "call"]

_BUS = Words({"dead": declared("bus dead"), "live": declared("bus live")})


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("vehicle", metavar="VEHICLE", help="the vehicle's id")
    parser.add_argument(
        "requirements", metavar="REQUIREMENT", nargs="*", help="only these requirements (default: all with gaps)"
    )
    parser.add_argument("--every", action="store_true", help="also what is shown already, with rows for all parts")
    parser.add_argument(
        "--meters",
        action="store_true",
        help="write nothing: tell of each limit what would just pass, and whether the meters here can decide it",
    )
    parser.add_argument(
        "--output",
        type=Path,
        metavar="FILE",
        help="file, or folder for sheets.pdf (default: builds/VEHICLE/ in the folder)",
    )
    add_folder_arguments(parser)


def call(options: argparse.Namespace) -> int:
    """Exit 0 once written, or when nothing is to be done at the vehicle; 2 on bad input: then nothing is written."""
    from witnessmark.assessment.assess import assess
    from witnessmark.document.sheets.asked import asked_by
    from witnessmark.document.sheets.write import chosen, write_sheets

    root, workshop = read(options)
    vehicle = chosen_vehicle(workshop, options.vehicle)
    assessment = assess(workshop, vehicle)
    problems = workshop.problems + assessment.problems
    if any(p.severity is Severity.PROBLEM for p in problems):
        show_problems(problems, root)
        progress(say("Nothing was written: first mend what is listed above."))
        return Exit.BAD_INPUT
    known = {name for s in asked_by(workshop, assessment) for name in (s.requirement, f"{s.set_id}:{s.requirement}")}
    for name in options.requirements:
        if name not in known:
            raise Misuse(
                Problem(
                    "sheet.requirement",
                    say("{name} has nothing that is done at {vehicle}", name=name, vehicle=vehicle),
                    say("name one of {names}", names=", ".join(sorted(n for n in known if ":" not in n))),
                )
            )
    sheets = chosen(workshop, assessment, options.requirements, every=options.every or bool(options.requirements))
    if not sheets:
        title = harmless(workshop.vehicles[vehicle].title)
        put(say("Nothing is to be read, probed or tried at {vehicle}: no sheet.", vehicle=title))
        return Exit.DONE
    if options.meters:
        from .meters import told_for_sheets

        return told_for_sheets(workshop, assessment, sheets, as_json=options.format == "json")
    out = options.output or root / "builds" / vehicle / "sheets.pdf"
    if out.is_dir():
        out /= "sheets.pdf"
    every = options.every or bool(options.requirements)
    faults = write_sheets(workshop, assessment, sheets, out, every=every, root=root)
    show_problems((*problems, *faults), root)
    if faults:
        progress(say("Nothing was written."))
        return Exit.BAD_INPUT
    if options.format == "json":
        put(_envelope(vehicle, assessment.as_of.isoformat(), out, sheets))
        return Exit.DONE
    put(say_n("{n} test sheet: {file}", "{n} test sheets: {file}", len(sheets), file=out))
    for number, sheet in enumerate(sheets, 1):
        rows = ", ".join(harmless(row.title or say("the vehicle")) for row in sheet.to_do) or say("all shown")
        bus = _BUS[sheet.bus].ljust(8)
        put(f"  {number}  {sheet.code}  {bus}  {harmless(sheet.state.requirement.title)}: {rows}")
    put()
    put(say("High voltage can kill. Local codes and qualified persons decide what may be done, how and by whom."))
    return Exit.DONE


def _envelope(vehicle: str, as_of: str, out: Path, sheets: tuple[object, ...]) -> str:
    import json

    from witnessmark.document.sheets.asked import SheetAsked

    rows = [
        {
            "code": s.code,
            "bus": s.bus,
            "requirement": f"{s.set_id}:{s.requirement}",
            "leaves": list(s.leaves),
            "method": s.method.id if s.method else None,
            "parts": [{"part": r.part, "missing": list(r.missing), "retest_of": list(r.retest_of)} for r in s.rows],
        }
        for s in sheets
        if isinstance(s, SheetAsked)
    ]
    body = {"format": 1, "command": "sheet", "as_of": as_of, "problems": [], "vehicle": vehicle, "pdf": str(out)}
    return json.dumps(body | {"sheets": rows}, ensure_ascii=False, indent=2)
