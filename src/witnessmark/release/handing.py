"""What is handed over of an issue that was frozen: its own document and the papers of its own commit, not a draft.

Everything comes out of the issue's folder in builds: the bag is looked through first, and its digest is the one that
the sealed release in the workshop's history names.
"""

from __future__ import annotations

import tempfile
from dataclasses import replace
from datetime import date
from pathlib import Path

from witnessmark.assessment.assess import assess
from witnessmark.assessment.ledger import Ledger
from witnessmark.document.build import BuildReport
from witnessmark.document.routes import Route
from witnessmark.document.submission import SubmissionReport, submit
from witnessmark.language import speaking
from witnessmark.problems import Misuse, Place, Problem
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.world import Workshop

from .conditions import releases_of
from .file import ReleaseFile
from .freeze import BUNDLE, CHECKED_OUT, issued_of
from .gitwork import restore
from .verify import look_into

__all__ = ["hand_over"]


def hand_over(root: Path, workshop: Workshop, vehicle: str, letter: str, route: Route, out: Path) -> SubmissionReport:
    """Write the folder for one route from the frozen issue `letter`.

    Raises Misuse where there is no such issue, or its folder is not what was frozen; then nothing is written.
    """
    folder = root / "builds" / vehicle / letter
    release = _release(root, workshop, vehicle, letter)
    data = folder / "bag" / "data"
    with tempfile.TemporaryDirectory(prefix="witnessmark-") as name:
        checkout = Path(name).resolve() / "folder"
        checkout.mkdir()
        with (data / BUNDLE).open("rb") as stream:
            restore(stream, checkout, CHECKED_OUT, commit=release.commit)
        frozen = read_workshop(checkout, as_of=date.fromisoformat(release.as_of), use_cache=False)
        frozen = replace(frozen, history=replace(frozen.history, uncommitted=0))
        built = BuildReport(True, data / "documents")
        with speaking(frozen.language):
            issued = issued_of(release)
        return submit(checkout, frozen, assess(frozen, vehicle), route, out, built=built, issued=issued)


def _release(root: Path, workshop: Workshop, vehicle: str, letter: str) -> ReleaseFile:
    ledger = Ledger(workshop)
    sealed = {body.release: body for act, body in releases_of(workshop, vehicle) if ledger.sound(act)}
    shown = Place(f"builds/{vehicle}/{letter}")
    if letter not in sealed:
        known = ", ".join(sealed) or "none yet"
        raise Misuse(
            Problem("submission.issue", f"no issue {letter!r} of {vehicle} was frozen", f"frozen are: {known}")
        )
    if not (root / shown.file / "bag").is_dir():
        remedy = "copy it back from where you keep it: the folder with bag, html and technical-file.pdf"
        raise Misuse(Problem("submission.gone", f"the folder of issue {letter} is not here", remedy, shown))
    found = look_into(root / shown.file)
    if found.intact.problems or found.release is None or found.intact.digest != sealed[letter].manifest:
        remedy = f"ask witnessmark verify {shown.file} what differs, and copy the issue back as it was"
        raise Misuse(Problem("submission.differs", f"issue {letter} is not as it was frozen", remedy, shown))
    return found.release
