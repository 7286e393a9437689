"""Sheets as a PDF: the same typesetting as the technical file, the code of each sheet as a square code beside it."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path

from witnessmark.assessment.model import Assessment
from witnessmark.language import say, speaking
from witnessmark.problems import Problem
from witnessmark.records.world import Workshop

from ..views.letterhead import spoken
from .asked import SheetAsked, asked_by
from .page import SheetPage, fit, pages
from .words import LAYOUT

__all__ = ["chosen", "square_code", "write_sheets"]

_PRINT = Path(__file__).parents[1] / "print"
_FONTS = Path(__file__).parents[1] / "fonts"


def chosen(
    workshop: Workshop, assessment: Assessment, requirements: Sequence[str] = (), *, every: bool = False
) -> tuple[SheetAsked, ...]:
    """The sheets to print: those in which something is missing, with `every` all; of these requirements, if any.

    A requirement is named by its id, or by `set:id`.
    """
    found = [s for s in asked_by(workshop, assessment) if every or s.to_do]
    if requirements:
        found = [s for s in found if s.requirement in requirements or f"{s.set_id}:{s.requirement}" in requirements]
    return tuple(found)


def square_code(code: str) -> str:
    """The code of a sheet as a square code in SVG: ISO/IEC 18004, error correction level Q, quiet zone of 4 modules."""
    import segno

    made = segno.make(code.upper(), error="q", boost_error=False, micro=False)
    rows = [list(row) for row in made.matrix_iter(scale=1, border=4)]
    size = len(rows)
    path = "".join(
        f"M{x} {y}h{run}v1h-{run}z" for y, row in enumerate(rows) for x, run in _runs([bool(module) for module in row])
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size} {size}" width="{size}" height="{size}" '
        f'shape-rendering="crispEdges"><path d="M0 0h{size}v{size}h-{size}z" fill="#fff"/><path d="{path}"/></svg>'
    )


def _runs(row: list[bool]) -> list[tuple[int, int]]:
    """Where dark modules begin in one row, and how many follow one another."""
    out: list[tuple[int, int]] = []
    x = 0
    while x < len(row):
        run = 0
        while x + run < len(row) and row[x + run]:
            run += 1
        if run:
            out.append((x, run))
        x += run or 1
    return out


def write_sheets(
    workshop: Workshop,
    assessment: Assessment,
    sheets: Sequence[SheetAsked],
    pdf: Path,
    *,
    every: bool = False,
    root: Path | None = None,
) -> tuple[Problem, ...]:
    """Write the sheets into one PDF in the language of the workshop, dead before live. `root`: the workshop's folder,
    for its mark; without it none.

    Problems: `document.typeset`, and what is wrong with the mark by now; then nothing is written.
    """
    with speaking(workshop.language):
        return _written(workshop, assessment, sheets, pdf, every=every, root=root)


def _written(
    workshop: Workshop,
    assessment: Assessment,
    sheets: Sequence[SheetAsked],
    pdf: Path,
    *,
    every: bool,
    root: Path | None,
) -> tuple[Problem, ...]:
    from witnessmark.document.sign import copy_mark
    from witnessmark.document.typesetting import typeset_file

    made = pages(workshop, assessment, sheets, every=every)
    vehicle = workshop.vehicles[assessment.vehicle]
    with tempfile.TemporaryDirectory(prefix="witnessmark-") as folder:
        work = Path(folder)
        (work / "codes").mkdir()
        (work / "drawings").mkdir()
        data = [_placed(page, work) for page in made]
        tree: dict[str, object] = {
            "title": fit(say("{vehicle}: test sheets", vehicle=vehicle.title)),
            "author": fit(workshop.file.name),
            "language": workshop.language.tag,
            "words": fit(dict(LAYOUT)),
            "sheets": data,
            "mark": None,
        }
        if root is not None and workshop.mark is not None:
            fault = copy_mark(root, workshop, work / "mark.png", grey=True)
            if fault is not None:
                return (fault,)
            ratio = workshop.mark.width / workshop.mark.height
            tree["mark"] = {"ratio": round(ratio, 3), "spoken": fit(spoken(workshop.file))}
        (work / "sheets.json").write_text(json.dumps(tree, ensure_ascii=False, sort_keys=True), encoding="utf-8")
        # The shared part of the templates reads the colours of a technical file; a sheet has black only.
        (work / "body.json").write_text(json.dumps(_BLACK), encoding="utf-8")
        for file in ("sheet.typ", "base.typ"):
            shutil.copyfile(_PRINT / file, work / file)
        made_pdf = typeset_file(work / "sheet.typ", epoch=int(assessment.as_of.timestamp()))
        if isinstance(made_pdf, Problem):
            return (made_pdf,)
        pdf.parent.mkdir(parents=True, exist_ok=True)
        beside = pdf.with_name(f".{pdf.name}.part")
        beside.write_bytes(made_pdf)
        beside.replace(pdf)
    return ()


_BLACK = {
    "settings": {},
    "colours": dict.fromkeys(("ink", "ink2", "paint", "hair", "rule"), "#000000"),
    "body": [],
}


def _placed(page: SheetPage, work: Path) -> dict[str, object]:
    code = page.asked.code
    (work / "codes" / f"{code}.svg").write_text(square_code(code), encoding="utf-8")
    drawing = ""
    if page.drawing:
        drawing = f"drawings/{code}.svg"
        (work / drawing).write_text(page.drawing, encoding="utf-8")
    return {**page.data, "drawing": drawing}
