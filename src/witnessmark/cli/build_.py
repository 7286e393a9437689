"""`build`: write a vehicle's technical file."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from witnessmark.problems import Misuse, Problem, Severity

from .exits import Exit
from .folder import add_folder_arguments, chosen_vehicle, read
from .show import counted, harmless, minutes_in_words, progress, put, show_problems

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
        progress("Nothing was written: first mend what is listed above.")
        return Exit.BAD_INPUT
    if options.route:
        return _submission(options, root, workshop, assessment)
    out = options.output or root / "builds" / vehicle / "draft"
    progress(f"Building the technical file of {vehicle} …")
    report = build(root, workshop, assessment, out)
    show_problems((*problems, *report.problems), root)
    if not report.written:
        progress("Nothing was written.")
        return Exit.BAD_INPUT
    if options.format == "json":
        from witnessmark.exports.audit import build_envelope

        put(build_envelope(workshop, assessment, report))
        return Exit.DONE
    put(f"{harmless(workshop.vehicles[vehicle].title)}: the technical file is written.")
    put(f"  PDF   {report.pdf}")
    put(f"  HTML  {report.html}")
    put()
    for state, count in assessment.summary.items():
        if count:
            put(f"  {count:>4}  {state.words}")
    put()
    if assessment.gap_count:
        total = len(assessment.requirements)
        verb = "stands" if assessment.gap_count == 1 else "stand"
        put(f"Not ready to submit: {assessment.gap_count} of {total} requirements {verb} in the way. Next:")
        for group in assessment.jobs:
            effort = f", about {minutes_in_words(group.minutes)}" if group.minutes else ""
            put(f"  {group.title}: {counted(len(group.entries), 'job')}{effort}")
        put(f"Each with what to do: the gap register in the file, or witnessmark audit {vehicle}")
    else:
        put("Every requirement is shown, stands by permission or does not apply. The technical service decides.")
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
    progress(f"Watching {options.vehicle}. HTML only: the PDF is made by build without --watch. Ctrl-C ends.")
    first = True
    with Watch(root, vehicle, out, options.as_of) as watch:
        try:
            for one in watch.rounds():
                show_problems(one.problems, root)
                if not one.written:
                    progress("The pages stay as they were: first mend what is listed above.")
                elif first:
                    put(f"  HTML  {out / 'html' / 'index.html'}")
                    first = False
                else:
                    names = ", ".join(one.changed[:4]) + (" …" if len(one.changed) > 4 else "")
                    put(f"  {one.seconds:.1f} s  {counted(len(one.changed), 'page')}{': ' if names else ''}{names}")
        except KeyboardInterrupt:
            progress("No longer watching.")
    return Exit.DONE


def _submission(options: argparse.Namespace, root: Path, workshop: Workshop, assessment: Assessment) -> int:
    from witnessmark.document.routes import route, routes
    from witnessmark.document.submission import submit

    found = route(options.route)
    if found is None:
        known = ", ".join(r.id for r in routes())
        raise Misuse(Problem("submission.route", f"there is no route {options.route!r}", f"name one of {known}"))
    out = options.output or root / "builds" / assessment.vehicle / "submission"
    what = f", issue {options.issue}" if options.issue else ""
    progress(f"Building what is handed over for {assessment.vehicle}{what} …")
    if options.issue:
        from witnessmark.release.handing import hand_over

        report = hand_over(root, workshop, assessment.vehicle, options.issue, found, out)
        show_problems(report.problems, root)
    else:
        report = submit(root, workshop, assessment, found, out)
        show_problems((*workshop.problems, *assessment.problems, *report.problems), root)
    if not report.written:
        progress("Nothing was written.")
        return Exit.BAD_INPUT
    put(f"{found.title}: {counted(len(report.handed), 'file')} in {report.out}")
    for item in report.unsure:
        put(f"  item {item.no} {item.title}: look whether what is there is all that is asked")
    for item in report.missing:
        put(f"  to be added by the applicant: {item.no} {item.title}")
    for name, why in report.kept_back:
        put(f"  not handed over: {harmless(name)}: {why}")
    if report.gaps:
        put(f"Not ready to submit: {counted(report.gaps, 'requirement')} in the way.")
    if not options.issue:
        put("This is a draft. An issue that was frozen is handed over with --issue LETTER.")
    put(f"How well this route is known: {found.confidence}. Ask the office before anything is sent.")
    return Exit.DONE
