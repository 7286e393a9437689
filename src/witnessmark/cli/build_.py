"""`build`: write a vehicle's technical file."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from witnessmark.language import say, say_n
from witnessmark.problems import Misuse, Problem, Severity

from .exits import Exit
from .folder import add_folder_arguments, chosen_vehicle, read
from .show import harmless, jobs_in_words, progress, put, show_problems

if TYPE_CHECKING:
    from witnessmark.assessment.model import Assessment
    from witnessmark.records.world import Workshop

__all__ = ["arguments", "call"]


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("vehicle", metavar="VEHICLE", help="the vehicle's id")
    parser.add_argument(
        "--output", type=Path, metavar="DIR", help="where to (default: builds/VEHICLE/draft in the folder)"
    )
    parser.add_argument(
        "--for",
        dest="route",
        metavar="ROUTE",
        help="the folder to hand over on this route, into builds/VEHICLE/submission: un-r100, individual, inspector",
    )
    parser.add_argument(
        "--issue",
        metavar="LETTER",
        help="with --for: hand over this frozen issue, as it was frozen, in place of a draft",
    )
    parser.add_argument(
        "--watch",
        action="store_true",
        help="HTML only, into builds/VEHICLE/watch, and again after every change in the folder, until Ctrl-C",
    )
    add_folder_arguments(parser)


def call(options: argparse.Namespace) -> int:
    """Exit 0 once written, whatever the states are; 2 when files have problems: then nothing is written."""
    from witnessmark.assessment.assess import assess
    from witnessmark.document.build import build

    if options.issue and not options.route:
        raise Misuse(Problem("build.issue", "--issue goes with --for", "name the route as well: --for ROUTE"))
    if options.watch:
        return _watch(options)
    root, workshop = read(options)
    vehicle = chosen_vehicle(workshop, options.vehicle)
    assessment = assess(workshop, vehicle)
    problems = workshop.problems + assessment.problems
    if any(p.severity is Severity.PROBLEM for p in problems):
        show_problems(problems, root)
        progress(say("Nothing was written: first mend what is listed above."))
        return Exit.BAD_INPUT
    if options.route:
        return _submission(options, root, workshop, assessment)
    out = options.output or root / "builds" / vehicle / "draft"
    progress(say("Building the technical file of {vehicle} …", vehicle=vehicle))
    report = build(root, workshop, assessment, out)
    show_problems((*problems, *report.problems), root)
    if not report.written:
        progress(say("Nothing was written."))
        return Exit.BAD_INPUT
    if options.format == "json":
        from witnessmark.exports.audit import build_envelope

        put(build_envelope(workshop, assessment, report))
        return Exit.DONE
    put(say("{vehicle}: the technical file is written.", vehicle=harmless(workshop.vehicles[vehicle].title)))
    put(f"  PDF   {report.pdf}")
    put(f"  HTML  {report.html}")
    put()
    for state, count in assessment.summary.items():
        if count:
            put(f"  {count:>4}  {state.words}")
    put()
    if assessment.gap_count:
        put(
            say_n(
                "Not ready to submit: {n} of {total} requirements stands in the way. Next:",
                "Not ready to submit: {n} of {total} requirements stand in the way. Next:",
                assessment.gap_count,
                total=len(assessment.requirements),
            )
        )
        for group in assessment.jobs:
            put("  " + jobs_in_words(group.title, len(group.entries), group.minutes))
        command = f"witnessmark audit {vehicle}"
        put(say("Each with what to do: the gap register in the file, or {command}", command=command))
    else:
        put(say("Every requirement is shown, stands by permission or does not apply. The technical service decides."))
    return Exit.DONE


def _watch(options: argparse.Namespace) -> int:
    """Until Ctrl-C: each change with the pages that it changed, or with what is wrong."""
    from witnessmark.document.watch import Watch

    if options.route or options.format == "json":
        what = "--for" if options.route else "--format json"
        raise Misuse(Problem("build.watch", f"--watch does not go with {what}", "run the two one after the other"))
    root, workshop = read(options)
    vehicle = chosen_vehicle(workshop, options.vehicle)
    out = options.output or root / "builds" / vehicle / "watch"
    progress(
        say(
            "Watching {vehicle}. HTML only: the PDF is made by build without {option}. {keys} ends.",
            vehicle=options.vehicle,
            option="--watch",
            keys="Ctrl-C",
        )
    )
    first = True
    with Watch(root, vehicle, out, options.as_of) as watch:
        try:
            for one in watch.rounds():
                show_problems(one.problems, root)
                if not one.written:
                    progress(say("The pages stay as they were: first mend what is listed above."))
                elif first:
                    put(f"  HTML  {out / 'html' / 'index.html'}")
                    first = False
                else:
                    names = ", ".join(one.changed[:4]) + (" …" if len(one.changed) > 4 else "")
                    pages = say_n("{n} page", "{n} pages", len(one.changed))
                    put(f"  {one.seconds:.1f} s  {pages}{': ' if names else ''}{names}")
        except KeyboardInterrupt:
            progress(say("No longer watching."))
    return Exit.DONE


def _submission(options: argparse.Namespace, root: Path, workshop: Workshop, assessment: Assessment) -> int:
    from witnessmark.document.routes import route, routes
    from witnessmark.document.submission import submit

    found = route(options.route)
    if found is None:
        known = ", ".join(r.id for r in routes())
        raise Misuse(Problem("submission.route", f"there is no route {options.route!r}", f"name one of {known}"))
    out = options.output or root / "builds" / assessment.vehicle / "submission"
    if options.issue:
        from witnessmark.release.handing import hand_over

        progress(
            say(
                "Building what is handed over for {vehicle}, issue {issue} …",
                vehicle=assessment.vehicle,
                issue=options.issue,
            )
        )
        report = hand_over(root, workshop, assessment.vehicle, options.issue, found, out)
        show_problems(report.problems, root)
    else:
        progress(say("Building what is handed over for {vehicle} …", vehicle=assessment.vehicle))
        report = submit(root, workshop, assessment, found, out)
        show_problems((*workshop.problems, *assessment.problems, *report.problems), root)
    if not report.written:
        progress(say("Nothing was written."))
        return Exit.BAD_INPUT
    put(
        say_n(
            "{route}: {n} file in {folder}",
            "{route}: {n} files in {folder}",
            len(report.handed),
            route=found.title,
            folder=report.out,
        )
    )
    for item in report.unsure:
        words = say("item {item}: look whether what is there is all that is asked", item=f"{item.no} {item.words}")
        put(f"  {words}")
    for item in report.missing:
        put("  " + say("to be added by the applicant: {item}", item=f"{item.no} {item.words}"))
    for name, why in report.kept_back:
        put("  " + say("not handed over: {file}: {why}", file=harmless(name), why=why))
    if report.gaps:
        put(
            say_n(
                "Not ready to submit: {n} requirement in the way.",
                "Not ready to submit: {n} requirements in the way.",
                report.gaps,
            )
        )
    if not options.issue:
        put(say("This is a draft. An issue that was frozen is handed over with {option}.", option="--issue LETTER"))
    put(say("How well this route is known: {how}. Ask the office before anything is sent.", how=found.confidence))
    return Exit.DONE
