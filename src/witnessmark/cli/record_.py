"""`record`: what was just read, photographed or received, and acts about acts. A hand-written file is sealed."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from witnessmark.problems import Misuse, Problem

from .exits import Exit
from .folder import add_sitting_arguments, chosen_vehicle, root_of
from .show import harmless, put, show_problems

if TYPE_CHECKING:
    from .answers import Answers
    from .sitting import Sitting

__all__ = ["answers_of", "arguments", "call", "person_of"]

OFFICE = (
    "workshop", "person", "vehicle", "instrument", "calibration", "authorisation", "policy", "concession", "design",
    "edition", "comparison", "adoption", "answer", "risks",
)  # fmt: skip
ABOUT_ACTS = ("correct", "withdraw", "retest", "carry_over", "check")


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "what",
        nargs="*",
        metavar="WHAT",
        help="VEHICLE: choose from its next jobs. VEHICLE REQUIREMENT[/LEAF], VEHICLE facts "
        "[PART or FACT or PART/FACT], VEHICLE form: the facts of the information document; VEHICLE parts [KIND]. "
        f"Or one of {', '.join(OFFICE)}, with its id where it has one.",
    )
    parser.add_argument(
        "--part", action="append", default=[], metavar="PART", help="for this part only; may be given again"
    )
    one = parser.add_mutually_exclusive_group()
    one.add_argument("--correct", metavar="CODE", help="put a typing error right, with what proves it")
    one.add_argument("--withdraw", metavar="CODE", help="take an act back for good, with the reason")
    one.add_argument(
        "--retest", metavar="CODE", help="do it again after a fail: the cause, what was mended, new readings"
    )
    one.add_argument("--carry-over", metavar="CODE", help="say why a record that lapsed still holds")
    one.add_argument("--check", metavar="CODE", help="as a second person: agree to an act, or not")
    one.add_argument("--sheet", metavar="CODE", help="type a filled test sheet in: the code below its square code")
    one.add_argument("--seal", type=Path, metavar="FILE", help="seal and commit a file that was written by hand")
    one.add_argument("--restore", metavar="FILE", help="put the sealed text of an edited file (or code) back")
    add_sitting_arguments(parser)


def call(options: argparse.Namespace) -> int:
    """Exit 0 once kept, 2 when nothing was kept: then nothing was written."""
    root = root_of(options)
    if options.seal is not None:
        return _seal(root, options)
    if options.restore is not None:
        return _restore(root, options)
    from .asking import Gone
    from .sitting import gave_up, refused

    try:
        answers = answers_of(options)
        sitting = _sit_down(root, options, answers)
        done = _record(sitting, options, answers)
    except Gone:
        return gave_up()
    except Misuse as misuse:
        return refused(misuse, "record", root, options.format == "json")
    sitting.finish("record")
    return Exit.DONE if done else Exit.BAD_INPUT


def _about_act(options: argparse.Namespace) -> str:
    return next((name for name in ABOUT_ACTS if getattr(options, name) is not None), "")


def answers_of(options: argparse.Namespace) -> Answers | None:
    """The file of answers, where one is given."""
    if options.answers is None:
        if options.yes or options.draft:
            raise Misuse(
                Problem(
                    "record.options", "--yes and --draft go with --answers FILE", "give the file, or leave them out"
                )
            )
        return None
    from .answers import read_answers

    return read_answers(options.answers)


def _sit_down(root: Path, options: argparse.Namespace, answers: Answers | None) -> Sitting:
    """The sitting with its vehicle and its person; Misuse when one of them is not known, or not the same twice."""
    from .sitting import Sitting

    what: list[str] = list(options.what)
    about = dict(answers.about) if answers else {}
    sitting = Sitting(root, "", None, answers, options.yes, options.draft, options.format == "json")
    workshop = sitting.reading.workshop
    if not what and about.get("what") and about["what"].split()[0] in OFFICE:
        what = about["what"].split()
    named = what[0] if what and what[0] not in OFFICE else None
    if what and what[0] in ("concession", "answer", "risks"):
        named = what[1] if len(what) > 1 else None
    if named and about.get("vehicle") and about["vehicle"] != named:
        raise Misuse(
            Problem(
                "answers.vehicle",
                f"these answers are for {about['vehicle']}, not for {named}",
                "take the answers of this vehicle, or record for that one",
                answers.places.get("vehicle") if answers else None,
            )
        )
    named = named or about.get("vehicle")
    if named is None and len(workshop.vehicles) == 1:
        named = next(iter(workshop.vehicles))
    if act := _about_act(options):
        named = _vehicle_of_code(sitting, getattr(options, act)) or named
    elif named is None and not (what and what[0] in OFFICE):
        named = _ask_vehicle(sitting)
    sitting.vehicle = chosen_vehicle(workshop, named) if named is not None else None
    sitting.by = person_of(sitting, options.by or about.get("by"))
    return sitting


def _vehicle_of_code(sitting: Sitting, code: str) -> str | None:
    from witnessmark.recording.forms.base import known_act

    seal = known_act(sitting.desk(), code).body.seal
    return seal.vehicle.id if seal is not None and seal.vehicle is not None else None


def _ask_vehicle(sitting: Sitting) -> str | None:
    vehicles = {ident: v.title for ident, v in sorted(sitting.reading.workshop.vehicles.items())}
    if not vehicles:
        return None
    if sitting.answers is not None:
        raise Misuse(Problem("vehicle.missing", "for which vehicle?", f"name one: {', '.join(vehicles)}"))
    return _ask_choice(sitting, "Which vehicle", vehicles)


def _ask_choice(sitting: Sitting, ask: str, choices: dict[str, str], preset: str = "") -> str:
    from witnessmark.recording.questions import Question

    from .asking import ask_one

    answer = ask_one(Question("choice", ask, "choice", choices=choices, preset=preset), sitting.clock)
    return str(answer)


def person_of(sitting: Sitting, named: str | None) -> str:
    """Who sits here: named, the only one, or asked."""
    people = {ident: f"{p.name}, {p.role}" for ident, p in sorted(sitting.reading.workshop.people.items())}
    if named is None:
        if len(people) == 1:
            return next(iter(people))
        if sitting.answers is not None:
            raise Misuse(Problem("person.missing", "who records this?", f"give --by with one of {', '.join(people)}"))
        return _ask_choice(sitting, "Who are you", people)
    if named not in people:
        raise Misuse(Problem("person.unknown", f"'{named}' is nobody from people/", f"known are {', '.join(people)}"))
    return named


def _record(sitting: Sitting, options: argparse.Namespace, answers: Answers | None) -> bool:
    from .choosing import about_act, evidence, facts, from_menu, from_sheet, office, parts

    act = _about_act(options)
    if act:
        return about_act(sitting, act, getattr(options, act), options.part)
    what = list(options.what)
    if answers is not None and answers.about.get("what") and len(what) < 2:
        what = [*what[:1], *answers.about["what"].split()] if what else answers.about["what"].split()
        if what[0] not in OFFICE and what[0] != sitting.vehicle:
            what.insert(0, sitting.vehicle or "")
    if what and what[0] in OFFICE:
        return office(sitting, what[0], what[1] if len(what) > 1 else "")
    rest = what[1:]
    sheet = options.sheet or (answers.about.get("sheet") if answers is not None else None)
    if sheet:
        return from_sheet(sitting, sheet, tuple(options.part))
    if not rest:
        return from_menu(sitting)
    if rest[0] == "facts":
        return facts(sitting, tuple(rest[1:]) or tuple(options.part))
    if rest[0] == "form":
        return facts(sitting, tuple(rest[1:]) or tuple(options.part), forms_only=True)
    if rest[0] == "parts":
        return parts(sitting, tuple(rest[1:]))
    return evidence(sitting, rest[0], tuple(options.part))


def _seal(root: Path, options: argparse.Namespace) -> int:
    from witnessmark.recording.seal_file import seal_file

    if options.by is None:
        raise Misuse(Problem("person.missing", "who seals it?", "give --by PERSON"))
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
        put(json.dumps(document, ensure_ascii=False, indent=2))
    else:
        put(f"Sealed as {done.sealed.code} and committed ({done.commit[:10]}): {harmless(done.sealed.path)}")
        put("From now on it is never edited: a correction is a new file that names it.")
    return Exit.DONE


def _restore(root: Path, options: argparse.Namespace) -> int:
    from witnessmark.recording.keep import restore

    given = Path(options.restore)
    inside = given.resolve().is_relative_to(root.resolve()) and ("/" in options.restore or given.exists())
    named = given.resolve().relative_to(root.resolve()).as_posix() if inside else options.restore
    try:
        code, path = restore(root, named)
    except Misuse as misuse:
        show_problems(misuse.problems, root)
        return Exit.BAD_INPUT
    put(f"The sealed text of {code} is back: {harmless(path)}")
    return Exit.DONE
