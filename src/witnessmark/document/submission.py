"""What is handed over on one route: technical file, papers, published photographs, index and hashes, in one folder.

Originals of photographs stay in the workshop: what is handed over are the copies without position data, and a table
says which copy is of which original.
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from witnessmark.assessment.model import Assessment
from witnessmark.document.build import BuildReport, build, own_templates, swap
from witnessmark.document.content import Sources, sources
from witnessmark.document.handed import Handed, changed, dated, level_of, numbered_photos, shows
from witnessmark.document.handing import Handing, table, write_index
from witnessmark.document.issued import Issued
from witnessmark.document.routes import Item, Route
from witnessmark.document.since import since
from witnessmark.document.views.book import Book
from witnessmark.document.views.papers import Paper, papers
from witnessmark.document.views.words import FINDING
from witnessmark.language import say, short_day, speaking
from witnessmark.problems import Problem, Severity
from witnessmark.records.sets import LeafKind
from witnessmark.records.world import Workshop

__all__ = ["Handed", "SubmissionReport", "submit"]

SUMS = "SHA256SUMS"
_PICTURES = (".jpg", ".jpeg", ".png", ".heic", ".heif", ".tif", ".tiff", ".webp", ".gif")
_PAPERS: Mapping[str, LeafKind] = {"documents": LeafKind.DOCUMENT, "reports": LeafKind.REPORT}


@dataclass(frozen=True, slots=True)
class SubmissionReport:
    """What was made. `missing` are items that the applicant still has to add, `kept_back` files with the reason.

    `unsure` are items that some paper is there for, where nobody has said that it is all that is asked.
    """

    written: bool
    out: Path
    problems: tuple[Problem, ...] = ()
    handed: tuple[Handed, ...] = ()
    missing: tuple[Item, ...] = ()
    unsure: tuple[Item, ...] = ()
    kept_back: tuple[tuple[str, str], ...] = ()
    gaps: int = 0
    """Requirements that stand in the way, in what is handed over."""


def submit(
    root: Path,
    workshop: Workshop,
    assessment: Assessment,
    route: Route,
    out: Path,
    *,
    built: BuildReport | None = None,
    issued: Issued | None = None,
) -> SubmissionReport:
    """Write the folder for one route into `out`. Nothing is half-written: it is made beside its place and moved there.

    `built` and `issued`: the document of an issue that was frozen from `root` as it lies there; else a draft is built.

    Problems: as `build` gives them, `document.typeset` for the index, and what is wrong with the mark by now; any that
    is no note, and nothing is written.
    """
    out.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".handing-", dir=out.parent) as beside:
        if built is None:
            built = build(root, workshop, assessment, Path(beside) / "built")
        if not built.written:
            return SubmissionReport(False, out, built.problems)
        target = Path(beside) / "out"
        target.mkdir()
        made = sources(workshop, assessment, draft=issued is None, issued=issued, own=own_templates(root))
        book = replace(Book.of(workshop, assessment), draft=issued is None, issued=issued)
        with speaking(made.language):
            report = _Assembly(root, book, made, built, route, target, out).report()
        if report.written:
            swap(target, out)
        return report


@dataclass
class _Assembly:
    """One folder while it is put together."""

    root: Path
    book: Book
    made: Sources
    built: BuildReport
    route: Route
    target: Path
    out: Path

    def report(self) -> SubmissionReport:
        book = self.book
        self.papers = papers(book)
        self.numbers = numbered_photos(book.photos)
        self.kept_back: list[tuple[str, str]] = []
        codes = {act.code for act in book.acts_of_vehicle()} | set(book.uses) | set(book.acts)
        self.since = since(self.root, book, sorted(codes), before=book.issued.letter if book.issued else "")
        rows: list[Handed] = []
        for item in self.route.items:
            rows += self._of(item)
        rows = _measured(rows, self.target)
        there = {row.item for row in rows if row.path}
        missing = tuple(i for i in self.route.items if i.by == "applicant" and i.no not in there)
        unsure = tuple(i for i in self.route.items if i.of and i.no in there)
        sums = "".join(f"{row.sha256}  {row.path}\n" for row in sorted(rows, key=lambda r: r.path) if row.path)
        (self.target / SUMS).write_text(sums, encoding="utf-8")
        handing = Handing(
            book,
            self.route,
            tuple(rows),
            self.since,
            hashlib.sha256(sums.encode()).hexdigest(),
            missing,
            unsure,
            tuple(self.kept_back),
        )
        faults = write_index(handing, self.root, self.target)
        problems = (*self.built.problems, *faults)
        stopped = any(p.severity is Severity.PROBLEM for p in faults)
        return SubmissionReport(
            not stopped,
            self.out,
            problems,
            tuple(r for r in rows if r.path),
            missing,
            unsure,
            tuple(self.kept_back),
            len(book.gaps),
        )

    def _of(self, item: Item) -> list[Handed]:
        match item.source:
            case "technical-file":
                return [self._file(item)]
            case "documents" | "reports":
                return self._papers(item)
            case "photographs":
                return self._photographs(item)
            case "data":
                return self._data(item)
        return []

    def _put(self, row: Handed, data: bytes) -> Handed:
        path = self.target / row.path
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        return replace(row, sha256=hashlib.sha256(data).hexdigest(), size=len(data))

    def _file(self, item: Item) -> Handed:
        book = self.book
        row = Handed(
            "technical-file.pdf",
            item.no,
            "T1",
            say("Technical file"),
            say("technical file"),
            say("applicant"),
            say("vehicle"),
            number=say("{number}, issue {issue}", number=book.vehicle.file_number, issue=book.issue),
            dated=short_day(book.assessment.as_of),
            shows=say("all"),
        )
        return self._put(changed(row, book, self.since), self.built.pdf.read_bytes())

    def _papers(self, item: Item) -> list[Handed]:
        """The papers that records of this kind rest on, each once, from the bytes that were sealed."""
        from witnessmark.reading.acts import folder_of_files
        from witnessmark.reading.files import read_file, resolve_inside

        found: list[Handed] = []
        for paper in self.papers:
            if not self._belongs(paper, item):
                continue
            act = paper.uses[0].result.act
            path = f"{folder_of_files(act.body, act.path)}/{paper.name}"
            row = self._paper(item, paper, "")
            if paper.standing:
                found.append(changed(row, self.book, self.since, paper))
                continue
            place = resolve_inside(self.root, path)
            data = place if isinstance(place, Problem) else read_file(place, path, limit=_LARGEST)
            if isinstance(data, Problem) or not paper.sha256 or hashlib.sha256(data).hexdigest() != paper.sha256:
                self.kept_back.append((path, say("it is missing, too large, or changed since it was sealed")))
            elif Path(paper.name).suffix.lower() in _PICTURES:
                self.kept_back.append((path, say("it is a picture, and its position data was not taken out")))
            else:
                row = self._paper(item, paper, f"papers/{paper.code}-{Path(paper.name).name}")
                found.append(self._put(changed(row, self.book, self.since, paper), data))
        return found

    def _belongs(self, paper: Paper, item: Item) -> bool:
        """Whether it stands here: at the first item that asks for what it shows, else at the first that asks any."""
        kinds = {use.leaf.leaf.kind for use in paper.uses}
        shown = {use.requirement.requirement.id for use in paper.uses}
        items = [i for i in self.route.items if i.source in _PAPERS]
        asking = [i for i in items if shown.intersection(i.of)]
        return item in (asking or [i for i in items if not i.of and _PAPERS[i.source] in kinds])[:1]

    def _paper(self, item: Item, paper: Paper, path: str) -> Handed:
        return Handed(
            path,
            item.no,
            f"P{paper.row}",
            paper.title,
            paper.kind,
            paper.origin,
            paper.level,
            paper.code,
            paper.number,
            dated(paper.uses),
            read=paper.pages,
            format=paper.format,
            shows=shows(paper.uses),
            items=" ".join(paper.items),
        )

    def _photographs(self, item: Item) -> list[Handed]:
        """The published copies, and the table that says which original each is of."""
        images = {p.name.partition("_")[2]: p for p in sorted((self.built.html.parent / "_images").glob("photos_*"))}
        files = {published.path: published for published in self.made.photos}
        rows = [("published", "sha256 of it", "original", "sha256 of the original", "finding", "shows")]
        handed: list[Handed] = []
        for photo in sorted(self.book.photos.values(), key=lambda p: int(self.numbers[p.path][1:])):
            published = files.get(photo.path)
            copy = images.get(Path(published.file).name) if published is not None else None
            result = photo.uses[0].result
            number = self.numbers[photo.path]
            name = f"photographs/{number}-{Path(photo.file).name}" if copy is not None else ""
            row = Handed(
                name,
                item.no,
                number,
                say("Photograph {number} of the technical file", number=photo.number),
                say("photograph"),
                say("applicant"),
                level_of(result.act),
                result.act.code,
                dated=short_day(result.record.performed),
                format=Path(photo.file).suffix.removeprefix(".").upper(),
                shows=shows(photo.uses),
            )
            row = changed(row, self.book, self.since, photo=photo)
            if copy is None or published is None:
                handed.append(row)
                continue
            row = self._put(row, copy.read_bytes())
            handed.append(row)
            unjudged = say("nobody has judged it")
            judged = (FINDING.get(use.result.claim.finding or "", unjudged) for use in photo.uses)
            findings = ", ".join(dict.fromkeys(judged))
            rows.append((row.path, row.sha256, photo.original, published.sha256, findings, row.shows))
        if len(rows) > 1:
            title = say("Which original each published photograph is of")
            row = Handed(
                "photographs.csv", item.no, "T2", title, say("table"), say("applicant"), say("vehicle"), format="CSV"
            )
            handed.append(self._put(changed(row, self.book, self.since), table(rows).encode("utf-8")))
        return handed

    def _data(self, item: Item) -> list[Handed]:
        titles = {planned.name: planned.description for planned in self.made.attachments}
        found: list[Handed] = []
        for path in sorted((self.built.html.parent / "attached").glob("*")):
            code = path.stem.partition("-")[0]
            act = self.book.acts.get(code)
            row = Handed(
                f"data/{path.name}",
                item.no,
                f"R-{code}",
                titles.get(path.name, path.name),
                say("readings or figures") if path.suffix == ".csv" else say("act as sealed"),
                say("applicant"),
                level_of(act),
                code if act is not None else "",
                dated=short_day(act.body.seal.on) if act is not None and act.body.seal is not None else "",
                format=path.suffix.removeprefix(".").upper(),
                shows=shows(self.book.uses.get(code, ())),
            )
            found.append(self._put(changed(row, self.book, self.since), path.read_bytes()))
        return found


_LARGEST = 200_000_000


def _measured(rows: Iterable[Handed], target: Path) -> list[Handed]:
    """The rows with the pages of each PDF counted, in the confined child; a PDF that cannot be read has none."""
    from witnessmark.confined import ConfinedFault, Session

    found: list[Handed] = []
    with Session(memory_mb=2048, readable=[target]) as session:
        for row in rows:
            if not row.path.lower().endswith(".pdf"):
                found.append(row)
                continue
            one: dict[str, Any] = {"pages": 0, "size": "", "standard": ""}
            try:
                paths = {"paths": [str(target / row.path)]}
                one = session.call("witnessmark.document.measuring:measure", paths, seconds=60.0)[0]
            except ConfinedFault:
                pass
            form = f"{one['size']}, {one['standard'] or 'PDF'}" if one["size"] else one["standard"] or "PDF"
            found.append(replace(row, pages=int(one["pages"]), format=form))
    return found
