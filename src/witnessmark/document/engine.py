"""Builds the pages: one reading by Sphinx, two outputs.

Sphinx runs as a library without a configuration file, with raw and include switched off, in a private folder that is
removed afterwards. Nothing in the sources is ever executed. One build at a time in one process.
"""

from __future__ import annotations

import io
import logging
import os
import re
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from witnessmark.document.settings import Attachment, Settings, cleaned
from witnessmark.problems import Place, Problem, Severity, in_order

__all__ = ["PDF_NAME", "Report", "build", "rebuild", "take_fonts"]

PDF_NAME = "technical-file.pdf"
_OWN = Path(__file__).parent


@dataclass(frozen=True, slots=True)
class Report:
    """What a build wrote (paths relative to the output folder, sorted) and what it has to say."""

    files: tuple[str, ...]
    problems: tuple[Problem, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing but notes came up."""
        return all(problem.severity is Severity.NOTE for problem in self.problems)


def build(
    sources: Path,
    out: Path,
    *,
    settings: Settings,
    attachments: Sequence[Attachment] = (),
    formats: Iterable[str] = ("html", "pdf"),
    tree: Path | None = None,
    markdown: bool = False,
) -> Report:
    """Build the pages in `sources` (index.rst first) into `out`: the folder ``html`` and `PDF_NAME`.

    `attachments` go into the PDF and into ``html/attached/``. `formats` is a choice of "html" and "pdf". `tree`: where
    the tree that the PDF is set from is kept as well, for whoever counts what stands in it. The same input gives the
    same bytes, whatever the folder, time zone, language of the machine or hash seed. `markdown`: pages of ours that end
    in ``.md`` are read too.

    Problems come back in the report: `document.*` for blocks, links, formulas and characters, `document.page` for what
    Sphinx says, `document.typeset` for what Typst refuses. A PDF that was refused is not written.
    """
    from witnessmark.document.pages import BUILD, Build

    wanted = set(formats)
    settings = cleaned(settings)
    named = [attachment for attachment in attachments if _is_name(attachment.name)]
    known = Build(sources.resolve(), settings, frozenset(attachment.name for attachment in named), markdown=markdown)
    known.problems += [
        Problem("document.attachment", f"{attachment.name!r} is no file name", "give it one plain name with an ending")
        for attachment in attachments
        if not _is_name(attachment.name)
    ]
    attachments = [cleaned(attachment) for attachment in named]
    token = BUILD.set(known)
    try:
        with (
            tempfile.TemporaryDirectory(prefix="witnessmark-") as folder,
            _sphinx_closed(),
        ):
            work = Path(folder)
            out.mkdir(parents=True, exist_ok=True)
            # The reading is shared: the second output finds the pages read.
            _run(known, work, "html")
            if "html" in wanted:
                _take_html(work / "html", out / "html", attachments)
            if "pdf" in wanted:
                _run(known, work, "witnessmark-print")
                if not _stopped(known):
                    if tree is not None:
                        shutil.copyfile(work / "witnessmark-print" / "body.json", tree)
                    known.problems += _typeset(work / "witnessmark-print", out / PDF_NAME, settings, attachments)
    finally:
        BUILD.reset(token)
    found = [out / PDF_NAME, *(out / "html").rglob("*")]
    written = sorted(path.relative_to(out).as_posix() for path in found if path.is_file())
    return Report(tuple(written), in_order(known.problems))


def rebuild(known: Any, work: Path, *, everything: bool) -> None:
    """Read again the pages of `known` that changed since the last call with this `work`, and write them to its `html`.

    `everything`: all pages are written, because what stands on each of them has changed. Problems go into `known`.
    """
    from witnessmark.document.pages import BUILD

    token = BUILD.set(known)
    try:
        with _sphinx_closed():
            _run(known, work, "html", everything=everything)
    finally:
        BUILD.reset(token)


def _is_name(name: str) -> bool:
    return bool(re.fullmatch(r"[\w()+,-][\w .()+,-]*", name)) and not name.endswith((" ", "."))


def _stopped(known: Any) -> bool:
    return any(problem.code == "document.stopped" for problem in known.problems)


def _typeset(work: Path, pdf: Path, settings: Settings, attachments: Sequence[Attachment]) -> Sequence[Problem]:
    from witnessmark.document.typesetting import typeset

    pdf.unlink(missing_ok=True)
    return typeset(work, pdf, epoch=settings.epoch, attachments=attachments)


def _configuration(settings: Settings, *, markdown: bool) -> dict[str, Any]:
    reader = {"myst_heading_anchors": 3, "myst_enable_extensions": []} if markdown else {}
    return {
        **reader,
        "extensions": ["witnessmark.document.extension", *(["myst_parser"] if markdown else [])],
        "project": settings.title,
        "author": settings.author,
        "copyright": "",
        "language": settings.language,
        "root_doc": "index",
        "html_theme": "witnessmark",
        "html_title": settings.title,
        "html_math_renderer": "witnessmark",
        "html_last_updated_fmt": None,
        "html_copy_source": False,
        "html_show_sourcelink": False,
        "html_show_copyright": False,
        "html_show_sphinx": False,
        "html_show_search_summary": False,
        "html_use_index": False,
        "html_domain_indices": False,
        "html_static_path": [],
        "html_permalinks": False,
        "smartquotes": False,
        "highlight_language": "none",
        "pygments_style": "none",
        "toc_object_entries": False,
        "keep_warnings": False,
    }


@contextmanager
def _sphinx_closed() -> Iterator[None]:
    """Sphinx with raw and include off and the date pinned; the process is afterwards as it was."""
    import sphinx.environment

    defaults = sphinx.environment.default_settings
    before = {name: defaults.get(name) for name in ("raw_enabled", "file_insertion_enabled")}
    defaults.update(raw_enabled=False, file_insertion_enabled=False)
    epoch = os.environ.pop("SOURCE_DATE_EPOCH", None)
    os.environ["SOURCE_DATE_EPOCH"] = "0"
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                defaults.pop(name, None)
            else:
                defaults[name] = value
        del os.environ["SOURCE_DATE_EPOCH"]
        if epoch is not None:
            os.environ["SOURCE_DATE_EPOCH"] = epoch


def _run(known: Any, work: Path, builder: str, *, everything: bool = False) -> None:
    from docutils.utils import SystemMessage
    from sphinx.application import Sphinx
    from sphinx.errors import SphinxError
    from sphinx.util.docutils import docutils_namespace, patch_docutils

    from witnessmark.document.printing import UnknownElement

    logger = logging.getLogger("sphinx")
    kept = (list(logger.handlers), logger.level, logger.propagate)
    try:
        with patch_docutils(), docutils_namespace():
            app = Sphinx(
                str(known.sources),
                None,
                str(work / builder),
                str(work / "doctrees"),
                builder,
                confoverrides=_configuration(known.settings, markdown=known.markdown),
                status=None,
                warning=io.StringIO(),
                freshenv=False,
                parallel=1,
            )
            logger.addHandler(_Collect(app, known))
            app.build(force_all=everything or builder != "html")
    except (UnknownElement, SphinxError, SystemMessage) as fault:
        known.problems.append(
            Problem("document.stopped", f"the pages could not be built: {fault}", "mend the page that is named")
        )
    finally:
        logger.handlers[:], logger.level, logger.propagate = kept


class _Collect(logging.Handler):
    """Sphinx' warnings as problems, each once, with the place relative to the sources."""

    def __init__(self, app: Any, known: Any) -> None:
        from sphinx.util.logging import WarningLogRecordTranslator, WarningSuppressor

        super().__init__(logging.WARNING)
        self.known = known
        self.addFilter(WarningSuppressor(app))
        self.addFilter(WarningLogRecordTranslator(app))

    def emit(self, record: logging.LogRecord) -> None:
        message = record.getMessage()
        problem = Problem(
            "document.page",
            message.replace(str(self.known.sources), "").strip(),
            "mend the page at this place",
            self._place(str(getattr(record, "location", "") or "")),
        )
        if problem not in self.known.problems:
            self.known.problems.append(problem)

    def _place(self, location: str) -> Place | None:
        file, _, line = location.partition(":") if location[1:2] != ":" else (location, "", "")
        path = Path(file)
        if not location or not path.is_relative_to(self.known.sources):
            return None
        number = int(line.split(":")[0]) if line.split(":")[0].isdigit() else 0
        return Place(path.relative_to(self.known.sources).as_posix(), number, 1 if number else 0)


def _take_html(built: Path, out: Path, attachments: Sequence[Attachment]) -> None:
    """Move the built pages to their place, without the marks that Sphinx leaves for itself."""
    if out.exists():
        shutil.rmtree(out)
    for name in (".buildinfo", ".buildinfo.bak", "objects.inv", ".doctrees", "_sources"):
        path = built / name
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink(missing_ok=True)
    take_fonts(built)
    if attachments:
        (built / "attached").mkdir()
        for attachment in attachments:
            shutil.copyfile(attachment.path, built / "attached" / attachment.name)
    shutil.copytree(built, out)


def take_fonts(built: Path) -> None:
    """Put the fonts of the theme and their licence beside the pages."""
    fonts = built / "_static" / "fonts"
    fonts.mkdir(parents=True, exist_ok=True)
    for font in sorted((_OWN / "fonts").glob("*.woff2")):
        shutil.copyfile(font, fonts / font.name)
    shutil.copyfile(_OWN / "fonts" / "OFL-FiraSans.txt", fonts / "OFL-FiraSans.txt")
