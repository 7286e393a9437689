"""The tree of the pages through one fixed Typst template: PDF/A-3a and PDF/UA-1, as Typst writes them.

Typst is the gate: it refuses a document that breaks many of the rules of both standards, and says why.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Sequence
from pathlib import Path

from witnessmark.document.settings import Attachment
from witnessmark.problems import Problem, Severity

__all__ = ["PRINT", "typeset", "typeset_file"]

PRINT = Path(__file__).parent / "print"
_FONTS = Path(__file__).parent / "fonts"


def typeset(work: Path, pdf: Path, *, epoch: int, attachments: Sequence[Attachment]) -> tuple[Problem, ...]:
    """Set `body.json` in `work` and write the PDF. Fonts come from this package and the typst wheel only.

    Problems: `document.typeset` when Typst refuses, with its own words and hints.
    """
    for file in ("main.typ", "blocks.typ", "base.typ"):
        shutil.copyfile(PRINT / file, work / file)
    (work / "attached").mkdir(exist_ok=True)
    listed = []
    for number, attachment in enumerate(attachments, 1):
        shutil.copyfile(attachment.path, work / "attached" / str(number))
        listed.append({"file": f"attached/{number}", **{k: getattr(attachment, k) for k in _ATTACHED}})
    (work / "attached.json").write_text(json.dumps(listed, sort_keys=True), encoding="utf-8")
    made = _compiled(work / "main.typ", epoch)
    if isinstance(made, Problem):
        return (made,)
    data, warnings = made
    pdf.write_bytes(data)
    return tuple(
        Problem("document.typeset", f"typesetting warns: {warning}", "look at the page", None, Severity.NOTE)
        for warning in warnings
    )


def typeset_file(main: Path, *, epoch: int) -> bytes | Problem:
    """The PDF of one template, all that it reads in its own folder; a Problem (`document.typeset`) if refused."""
    made = _compiled(main, epoch)
    return made if isinstance(made, Problem) else made[0]


def _compiled(main: Path, epoch: int) -> tuple[bytes, list[str]] | Problem:
    import typst

    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[str(_FONTS)])
    compiler = typst.Compiler(str(main), root=str(main.parent), font_paths=fonts)
    try:
        data, warnings = compiler.compile_with_warnings(format="pdf", pdf_standards=["a-3a", "ua-1"], timestamp=epoch)
    except typst.TypstError as fault:
        hints = "; ".join(str(hint) for hint in getattr(fault, "hints", []) or [])
        return Problem(
            "document.typeset",
            f"the PDF was refused: {getattr(fault, 'message', '') or fault}",
            hints or "change the text or picture that is named; the HTML is not affected",
        )
    assert isinstance(data, bytes)  # one PDF, asked for as bytes
    return _without_suspects(data), [str(warning.message) for warning in warnings]


def _without_suspects(data: bytes) -> bytes:
    """The same file without `/Suspects false`, which holds when nothing is said (ISO 32000-1, 14.7.1).

    A common reader takes the word for a fault. Blanks stand in its place, so that every offset stays right.
    """
    said = b"/Suspects false"
    return data.replace(said, b" " * len(said)) if data.count(said) == 1 else data


_ATTACHED = ("name", "mime", "description", "relationship")
