"""What is handed over on one route: technical file, papers, published photographs, index and hashes, in one folder.

Originals of photographs stay in the workshop: what is handed over are the copies without position data, and a table
says which copy is of which original.
"""

from __future__ import annotations

import csv
import hashlib
import io
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from witnessmark.assessment.model import Assessment
from witnessmark.document.build import BuildReport, build, swap
from witnessmark.document.content import Sources, sources
from witnessmark.document.routes import Item, Route
from witnessmark.document.tables import defused
from witnessmark.document.text import clean
from witnessmark.document.views.book import Book, Use
from witnessmark.document.views.papers import Paper, papers
from witnessmark.document.views.words import day, plural
from witnessmark.problems import Problem
from witnessmark.records.sets import LeafKind
from witnessmark.records.world import Workshop

__all__ = ["Handed", "SubmissionReport", "submit"]

_PICTURES = (".jpg", ".jpeg", ".png", ".heic", ".heif", ".tif", ".tiff", ".webp", ".gif")
_WAITS: Mapping[str, str] = {
    "applicant": "TO BE ADDED",
    "service": "comes from the service",
    "authority": "comes from the authority",
}
_PAPERS: Mapping[str, LeafKind] = {"documents": LeafKind.DOCUMENT, "reports": LeafKind.REPORT}


@dataclass(frozen=True, slots=True)
class Handed:
    """One file that is handed over: path in the folder, item, what it is, pages as its record says, what it shows.

    `row` is its number in the index of the technical file, `items` what it fills in the authority's forms.
    """

    path: str
    item: str
    title: str
    origin: str
    pages: str
    shows: str
    sha256: str
    size: int
    row: str = ""
    items: str = ""
    level: str = ""


@dataclass(frozen=True, slots=True)
class SubmissionReport:
    """What was made. `missing` are items that the applicant still has to add, `kept_back` files with the reason."""

    written: bool
    out: Path
    problems: tuple[Problem, ...] = ()
    handed: tuple[Handed, ...] = ()
    missing: tuple[Item, ...] = ()
    kept_back: tuple[tuple[str, str], ...] = ()


def submit(root: Path, workshop: Workshop, assessment: Assessment, route: Route, out: Path) -> SubmissionReport:
    """Write the folder for one route into `out`. Nothing is half-written: it is made beside its place and moved there.

    Problems: as `build` gives them, and `submission.*`; any that is no note, and nothing is written.
    """
    out.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".handing-", dir=out.parent) as beside:
        built = build(root, workshop, assessment, Path(beside) / "built")
        if not built.written:
            return SubmissionReport(False, out, built.problems)
        target = Path(beside) / "out"
        target.mkdir()
        made = sources(workshop, assessment)
        report = _assemble(root, Book.of(workshop, assessment), made, built, route, target, out)
        swap(target, out)
        return report


def _assemble(
    root: Path, book: Book, made: Sources, built: BuildReport, route: Route, target: Path, out: Path
) -> SubmissionReport:
    handed: list[Handed] = []
    kept_back: list[tuple[str, str]] = []
    missing: list[Item] = []
    for item in route.items:
        before = len(handed)
        if item.source == "technical-file":
            handed.append(
                _put(target, item, "technical-file.pdf", built.pdf.read_bytes(), "Technical file", "applicant")
            )
        elif item.source in _PAPERS:
            found, back = _papers(root, book, item, target)
            handed += found
            kept_back += back
        elif item.source == "photographs":
            handed += _photographs(book, made, built, item, target)
        elif item.source == "data":
            for path in sorted((built.html.parent / "attached").glob("*")):
                handed.append(
                    _put(target, item, f"data/{path.name}", path.read_bytes(), "record or readings", "applicant")
                )
        if item.by == "applicant" and len(handed) == before:
            missing.append(item)
    (target / "index.csv").write_text(_index(route, handed), encoding="utf-8")
    (target / "README.txt").write_text(_readme(book, route, handed, missing, kept_back), encoding="utf-8")
    hashes = [(p.relative_to(target).as_posix(), p.read_bytes()) for p in sorted(target.rglob("*")) if p.is_file()]
    lines = [f"{hashlib.sha256(data).hexdigest()}  {name}\n" for name, data in hashes]
    (target / "SHA256SUMS").write_text("".join(lines), encoding="utf-8")
    return SubmissionReport(True, out, built.problems, tuple(handed), tuple(missing), tuple(kept_back))


def _put(
    target: Path,
    item: Item,
    name: str,
    data: bytes,
    title: str,
    origin: str,
    pages: str = "",
    shows: str = "",
    paper: Paper | None = None,
) -> Handed:
    path = target / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    told = (str(paper.row), " ".join(paper.items), paper.level) if paper is not None else ("", "", "")
    return Handed(name, item.no, title, origin, pages, shows, hashlib.sha256(data).hexdigest(), len(data), *told)


def _papers(root: Path, book: Book, item: Item, target: Path) -> tuple[list[Handed], list[tuple[str, str]]]:
    """The papers that records of this kind rest on, each once, from the bytes that were sealed."""
    from witnessmark.reading.acts import folder_of_files
    from witnessmark.reading.files import read_file, resolve_inside

    found: list[Handed] = []
    back: list[tuple[str, str]] = []
    seen: set[str] = set()
    index = {(paper.code, paper.name): paper for paper in papers(book)}
    for code, uses in sorted(book.uses.items()):
        for use in uses:
            name = use.result.claim.file
            if not name or use.leaf.leaf.kind is not _PAPERS[item.source] or code not in use.leaf.governs:
                continue
            act = use.result.act
            path = f"{folder_of_files(act.body, act.path)}/{name}"
            if path in seen:
                continue
            seen.add(path)
            sealed = next((f for f in act.files if f.name == name), None)
            place = resolve_inside(root, path)
            data = place if isinstance(place, Problem) else read_file(place, path)
            if isinstance(data, Problem) or sealed is None or not sealed.intact:
                back.append((path, "it is missing, or changed since it was sealed"))
            elif Path(name).suffix.lower() in _PICTURES:
                back.append((path, "it is a picture, and its position data was not taken out"))
            else:
                claim = use.result.claim
                title = f"{use.requirement.requirement.title}: {claim.number or Path(name).name}"
                to = f"papers/{code}-{Path(name).name}"
                paper = index[code, name]
                found.append(_put(target, item, to, data, title, paper.origin, claim.pages or "", _shows(uses), paper))
    return found, back


def _shows(uses: Iterable[Use]) -> str:
    return " ".join(dict.fromkeys(f"{u.requirement.set_id}:{u.requirement.id}" for u in uses))


def _photographs(book: Book, made: Sources, built: BuildReport, item: Item, target: Path) -> list[Handed]:
    """The published copies, and the table that says which original each is of."""
    images = {p.name.partition("_")[2]: p for p in sorted((built.html.parent / "_images").glob("*"))}
    by_path = {photo.path: photo for photo in book.photos.values()}
    rows = [("published", "sha256 of it", "original", "sha256 of the original", "finding", "shows")]
    handed: list[Handed] = []
    for published in made.photos:
        copy, photo = images.get(Path(published.file).name), by_path[published.path]
        if copy is None:
            continue
        shows = _shows(photo.uses)
        findings = ", ".join(dict.fromkeys(u.result.claim.finding or "nobody has judged it" for u in photo.uses))
        one = _put(
            target,
            item,
            f"photographs/{Path(published.file).name}",
            copy.read_bytes(),
            f"Photograph {photo.number}",
            "applicant",
            "",
            shows,
        )
        handed.append(one)
        rows.append((one.path, one.sha256, photo.original, published.sha256, findings, shows))
    if handed:
        table = _csv(rows)
        handed.append(
            _put(target, item, "photographs.csv", table.encode("utf-8"), "Original and published", "applicant")
        )
    return handed


def _csv(rows: Iterable[Iterable[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    for row in rows:
        writer.writerow([defused(" ".join(clean(cell).split("\n"))) for cell in row])
    return out.getvalue()


def _index(route: Route, handed: list[Handed]) -> str:
    more = ("format", "level", "index row", "form items")
    head = ("no", "item", "brought by", "file", "title", "origin", "pages", "bytes", "sha256", "shows", *more)
    rows: list[tuple[str, ...]] = [head]
    for item in route.items:
        files = [h for h in handed if h.item == item.no]
        for h in files:
            kept = (h.path, h.title, h.origin, h.pages, str(h.size), h.sha256, h.shows)
            form = Path(h.path).suffix.removeprefix(".").upper()
            rows.append((item.no, item.title, item.by, *kept, form, h.level, h.row, h.items))
        if not files:
            rows.append((item.no, item.title, item.by, "not in this folder", *[""] * (len(rows[0]) - 4)))
    return _csv(rows)


def _readme(
    book: Book, route: Route, handed: list[Handed], missing: list[Item], kept_back: list[tuple[str, str]]
) -> str:
    total, gaps = len(book.assessment.requirements), len(book.gaps)
    empty = len(book.assessment.empty_fields)
    demonstration = book.workshop.file.demonstration
    lines = [
        f"{book.vehicle.title}: {route.title}",
        f"Technical file {book.vehicle.file_number}, issue {book.vehicle.issue}, draft, as of "
        f"{day(book.assessment.as_of)}. VIN {book.fact_words('vin') or 'not stated'}.",
        *([demonstration.notice] if demonstration else []),
        "",
        f"All {total} requirements are shown or do not apply. The office decides."
        if book.ready
        else f"Not ready to submit. {gaps} of {total} requirements stand in the way"
        f"{f', {empty} fields of the information document are empty' if empty else ''}: see the gap register.",
        f"For: {route.to}. How well this route is known: {route.confidence}. Ask the office before anything is sent.",
        "",
        "Index (the same with hashes: index.csv)",
    ]
    for item in route.items:
        files = [h.path for h in handed if h.item == item.no]
        words = "; ".join(files) if 0 < len(files) < 4 else plural(len(files), "file") if files else ""
        lines.append(f"  {item.no:>3}  {item.title}: {words or _WAITS[item.by]}")
    if missing:
        lines += ["", f"{len(missing)} of these the applicant still has to add by hand."]
    if kept_back:
        lines += ["", "Not handed over:", *(f"  {name}: {why}" for name, why in kept_back)]
    lines += [
        "",
        "Photographs are copies without position data; photographs.csv says which original each is of. The originals",
        "stay in the workshop. SHA256SUMS is checked with: sha256sum -c SHA256SUMS",
        "High voltage can kill. Local codes and qualified persons decide.",
        "",
    ]
    return "\n".join(clean(" ".join(line.split("\n"))) for line in lines)
