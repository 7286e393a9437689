"""The index of what is handed over: one set of words, as a table, as a page for the screen and as a PDF to sign.

Its head names the file, the approval and the applicant, and carries the digest of `SHA256SUMS`, which holds the digest
of every file: who signs the index signs them all. Its foot is the history of the issues.
"""

from __future__ import annotations

import base64
import csv
import functools
import io
import json
import re
import shutil
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from witnessmark.document.handed import Handed
from witnessmark.document.routes import Item, Route
from witnessmark.document.since import Since
from witnessmark.document.tables import defused
from witnessmark.document.text import clean
from witnessmark.document.views.authority import verdict_of_the_authority
from witnessmark.document.views.book import Book
from witnessmark.document.views.letterhead import contact_lines, spoken
from witnessmark.language import day, declared, say, say_n
from witnessmark.problems import Problem

__all__ = ["Handing", "table", "write_index"]

_OWN = Path(__file__).parent
BY = {"applicant": declared("applicant"), "service": declared("service"), "authority": declared("authority")}
WAITS = {
    "applicant": declared("TO BE ADDED by the applicant"),
    "service": declared("comes from the service"),
    "authority": declared("comes from the authority"),
}


@dataclass(frozen=True, slots=True)
class Handing:
    """Everything that the index says. `digest` is that of SHA256SUMS."""

    book: Book
    route: Route
    rows: tuple[Handed, ...]
    since: Since
    digest: str
    missing: tuple[Item, ...]
    unsure: tuple[Item, ...]
    kept_back: tuple[tuple[str, str], ...]

    @property
    def there(self) -> tuple[Handed, ...]:
        return tuple(row for row in self.rows if row.path)


def write_index(handing: Handing, root: Path, target: Path) -> tuple[Problem, ...]:
    """index.csv, index.html, index.pdf and README.txt. Gives what is wrong with the mark, and what Typst refuses."""
    from witnessmark.document.sign import copy_mark

    words = _words(handing)
    with tempfile.TemporaryDirectory(prefix="witnessmark-") as folder:
        work = Path(folder).resolve()
        picture = b""
        if handing.book.workshop.mark is not None:
            fault = copy_mark(root, handing.book.workshop, work / "mark.png")
            if fault is not None:
                return (fault,)
            picture = (work / "mark.png").read_bytes()
        pdf = _pdf(handing, words, work, bool(picture))
    if isinstance(pdf, Problem):
        return (pdf,)
    (target / "index.pdf").write_bytes(pdf)
    (target / "index.html").write_text(_html(words, picture), encoding="utf-8")
    (target / "index.csv").write_text(_csv(handing), encoding="utf-8")
    (target / "README.txt").write_text(_readme(handing, words), encoding="utf-8")
    return ()


# ---------------------------------------------------------------- words


def _words(handing: Handing) -> dict[str, Any]:
    """What the index says, part by part: plain texts and rows of them."""
    book, file = handing.book, handing.book.workshop.file
    total, gaps = len(book.assessment.requirements), len(book.gaps)
    empty = len(book.assessment.empty_fields)
    if book.ready:
        verdict = say("All {total} requirements are shown or do not apply. The office decides.", total=total)
    else:
        verdict = say("Not ready to submit. {gaps} of {total} requirements stand in the way", gaps=gaps, total=total)
        fields = say_n(
            ", {n} field of the information document is empty",
            ", {n} fields of the information document are empty",
            empty,
        )
        verdict += f"{fields if empty else ''}: {say('see the gap register')}."
    return {
        "language": file.language,
        "title": say("Index of what is handed over"),
        "route": say(handing.route.title),
        "vehicle": book.vehicle.title,
        "name": file.name,
        "lines": [file.where, ", ".join(contact_lines(file))] if file.contact else [file.where],
        "spoken": spoken(file),
        "ratio": round(book.workshop.mark.width / book.workshop.mark.height, 3) if book.workshop.mark else 1.0,
        "stamp": file.demonstration.notice if file.demonstration else "",
        "short_stamp": say("Demonstration: all data invented"),
        "verdict": verdict,
        "answers": verdict_of_the_authority(book),
        "route_words": say(
            "For: {to}. How well this route is known: {confidence}. Ask the office before anything is sent.",
            to=say(handing.route.to),
            confidence=say(handing.route.confidence),
        ),
        "head": _head(handing),
        "asked_title": say("What this route asks for"),
        "asked_heads": [say("Item"), say("What is meant"), say("Brought by"), say("Where it is")],
        "asked": [_asked(handing, item) for item in handing.route.items],
        "missing": _missing(handing),
        "files_title": say("Every file"),
        "files_heads": [
            say("No."), say("Item"), say("Title, kind"), say("Document no., rev., date"), say("Pages, format"),
            say("Origin"), say("Level"), say("Shows"), "SHA-256", say("Change"),
        ],
        "files": [_file(row) for row in handing.rows],
        "kept_title": say("Not handed over"),
        "kept": [[name, why] for name, why in handing.kept_back],
        "history_title": say("History"),
        "history_heads": [say("Issue"), say("Date"), say("What changed"), say("Which rows"), say("Approved by")],
        "history": _history(handing),
        "notes": _notes(),
    }  # fmt: skip


def _notes() -> list[str]:
    return [
        say(
            "Numbers are never given again: T the technical file and its table, P papers, F photographs, by the time "
            "of sealing; R with the code of its act for data. What is no longer handed over keeps its line."
        ),
        say(
            "SHA-256: the first 12 digits; all of them are in SHA256SUMS, whose own digest stands in the head. It is "
            "checked with: sha256sum -c SHA256SUMS"
        ),
        say(
            "Photographs are copies without position data; photographs.csv says which original each is of. The "
            "originals stay in the workshop."
        ),
        say("High voltage can kill. Local codes and qualified persons decide."),
    ]


def _head(handing: Handing) -> list[list[str]]:
    book = handing.book
    facts = book.fact_words
    pages = sum(row.pages for row in handing.there)
    papers = sum(1 for row in handing.there if row.pages)
    status = say("draft") if book.draft else say("released")
    not_stated = say("not stated")
    return [
        [say("File number"), book.vehicle.file_number],
        [say("Issue"), f"{book.issue}, {status}"],
        [say("Date"), day(book.assessment.as_of)],
        [say("Approval number, with extension"), facts("approval_to_extend") or say("none yet")],
        [say("Regulation, series, supplement"), "; ".join(_rules(book)) or say("no set chosen")],
        [say("Applicant"), _applicant(book)],
        ["VIN", facts("vin") or not_stated],
        [say("Type"), facts("vehicle_type") or not_stated],
        [
            say("Total pages"),
            say_n(
                "{pages} in {n} document, without photographs and data",
                "{pages} in {n} documents, without photographs and data",
                papers,
                pages=pages,
            ),
        ],
        [say("Total files"), str(len(handing.there))],
        [say("SHA-256 of SHA256SUMS"), handing.digest],
    ]


def _rules(book: Book) -> list[str]:
    found = []
    for name in dict.fromkeys(set_id for set_id, _ in book.areas()):
        one = book.set_of(name)
        if one is None or one.file.series is None:
            continue
        supplement = one.file.supplement or say("not stated")
        found.append(
            say(
                "{rule}, series {series}, supplement {supplement}",
                rule=one.file.short,
                series=one.file.series,
                supplement=supplement,
            )
        )
    return list(dict.fromkeys(found))


def _applicant(book: Book) -> str:
    """The maker or, where one is stated, the representative (clause 3.1); without either, whose file this is."""
    facts, file = book.fact_words, book.workshop.file
    representative = facts("representative")
    if representative and representative.casefold() != "none":
        return representative
    return facts("vehicle_maker") or say("not stated; prepared by {name}, {where}", name=file.name, where=file.where)


def _asked(handing: Handing, item: Item) -> dict[str, Any]:
    numbers = [row.no for row in handing.there if row.item == item.no]
    where = spans(numbers) if numbers else say(WAITS[item.by])
    if item in handing.unsure:
        where += ". " + say("Whether this is all that is asked, nobody has said.")
    cells = [item.no, item.words, say(BY[item.by]), where]
    return {"cells": cells, "gap": item in handing.missing}


def _missing(handing: Handing) -> str:
    if not handing.missing:
        return say("Nothing of what the applicant brings is missing from this folder.")
    items = "; ".join(f"{item.no} {item.words}" for item in handing.missing)
    return say_n(
        "{n} item that the applicant brings is not in this folder: {items}.",
        "{n} items that the applicant brings are not in this folder: {items}.",
        len(handing.missing),
        items=items,
    )


def _file(row: Handed) -> dict[str, Any]:
    printed = ", ".join(w for w in (row.number, row.dated) if w) or say("none on it")
    pages = f"{row.pages} × {row.format}" if row.pages else row.format
    if row.read:
        pages += f"; {say('read: {pages}', pages=row.read)}"
    item = f"{row.item}; {row.items}" if row.items else row.item
    change = f"{row.change}: {row.reason}" if row.reason else row.change
    name = row.path or say("not in this folder")
    digest = row.sha256[:12] or say("none")
    what = row.title if row.kind.casefold() in row.title.casefold() else f"{row.title}, {row.kind}"
    shown = row.shows or say("none")
    cells = [row.no, item, what, printed, pages, row.origin, row.level, shown, digest, change]
    return {"cells": cells, "file": name, "there": bool(row.path)}


def _history(handing: Handing) -> list[list[str]]:
    book, rows = handing.book, handing.rows
    found = []
    for issue in handing.since.issues:
        second = f", {book.person(issue.second)}" if issue.second else ""
        numbers = [row.no for row in rows if handing.since.first.get(row.code) == issue.release]
        why = issue.why or say("first issue")
        if issue.with_gaps:
            why += f"; {say('issued with gaps: {why}', why=issue.with_gaps)}"
        found.append(
            [issue.release, day(issue.as_of), why, spans(numbers) or say("none"), f"{book.person(issue.by)}{second}"]
        )
    now = [row.no for row in rows if row.code and row.path and row.code not in handing.since.first]
    last = handing.since.previous
    what = say("since issue {issue}", issue=last) if last else say("nothing was issued before")
    by = say("nobody yet: a draft")
    if book.issued is not None:
        by = ", ".join(book.person(who) for who in (book.issued.by, book.issued.second) if who)
        what = "; ".join(w for w in (book.issued.why, what) if w)
        if book.issued.with_gaps:
            what += f"; {say('issued with gaps: {why}', why=book.issued.with_gaps)}"
    found.append([book.issue, day(book.assessment.as_of), what, spans(now) or say("none"), by])
    return found


def _counted(number: str) -> tuple[int, int, str]:
    """T, P, F, then data; within each by number."""
    return "TPF".find(number[:1]) % 4, int(number[1:]) if number[1:].isdigit() else 0, number


def spans(numbers: Iterable[str]) -> str:
    """`P1, P2, P3, P7` as `P1 to P3, P7`; data by how many there are, since their numbers are codes."""
    runs: list[list[tuple[str, int]]] = []
    data = 0
    for number in sorted(dict.fromkeys(numbers), key=_counted):
        letter, digits = number[:1], number[1:]
        if not digits.isdigit():
            data += 1
            continue
        at = (letter, int(digits))
        if runs and runs[-1][-1] == (letter, at[1] - 1):
            runs[-1].append(at)
        else:
            runs.append([at])
    words = []
    for run in runs:
        first, last = (f"{run[n][0]}{run[n][1]}" for n in (0, -1))
        if len(run) < 3:
            words += [f"{letter}{n}" for letter, n in run]
        else:
            words.append(say("{first} to {last}", first=first, last=last))
    if data:
        words.append(say_n("data of {n} act", "data of {n} acts", data))
    return ", ".join(words)


# ---------------------------------------------------------------- forms of it


def table(rows: Iterable[Iterable[str]]) -> str:
    """Rows as CSV that no spreadsheet takes for formulas."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    for row in rows:
        writer.writerow([defused(" ".join(clean(cell).split("\n"))) for cell in row])
    return out.getvalue()


def _csv(handing: Handing) -> str:
    head = (
        "no", "item", "title", "kind", "document no. and rev.", "date", "pages", "format", "origin", "level", "shows",
        "sha256", "change", "reason", "file", "bytes", "brought by", "pages read", "form items",
    )  # fmt: skip
    rows: list[tuple[str, ...]] = [head]
    for item in handing.route.items:
        found = [row for row in handing.rows if row.item == item.no]
        for row in found:
            rows.append(
                (
                    row.no, item.no, row.title, row.kind, row.number, row.dated, str(row.pages or ""), row.format,
                    row.origin, row.level, row.shows, row.sha256, row.change, row.reason,
                    row.path or say("not in this folder"), str(row.size or ""), item.by, row.read, row.items,
                )
            )  # fmt: skip
        if not any(row.path for row in found):
            rows.append(("", item.no, item.words, *[""] * 11, say("not in this folder"), "", item.by, "", ""))
    return table(rows)


def _readme(handing: Handing, words: Mapping[str, Any]) -> str:
    book = handing.book
    lines = [
        f"{words['vehicle']}: {words['route']}",
        say(
            "Technical file {number}, issue {issue}, {status}, as of {day}. VIN {vin}.",
            number=book.vehicle.file_number,
            issue=book.issue,
            status=say("draft") if book.draft else say("released"),
            day=day(book.assessment.as_of),
            vin=book.fact_words("vin") or say("not stated"),
        ),
        *([words["stamp"]] if words["stamp"] else []),
        "",
        words["verdict"],
        *([words["answers"]] if words["answers"] else []),
        words["route_words"],
        "",
        say("Index (in full, with hashes: index.pdf, index.html, index.csv)"),
    ]
    for row in words["asked"]:
        number, title, _, where = row["cells"]
        lines.append(f"  {number:>3}  {title}: {where}")
    lines += ["", words["missing"]]
    if words["kept"]:
        lines += ["", f"{words['kept_title']}:", *(f"  {name}: {why}" for name, why in words["kept"])]
    lines += ["", *words["notes"], ""]
    return "\n".join(clean(" ".join(line.split("\n"))) for line in lines)


def _pdf(handing: Handing, words: Mapping[str, Any], work: Path, mark: bool) -> bytes | Problem:
    from witnessmark.document.sheets.page import fit
    from witnessmark.document.typesetting import typeset_file

    tree = {**fit(dict(words)), "mark": mark, "page": say("page"), "of": say("of")}
    (work / "index.json").write_text(json.dumps(tree, ensure_ascii=False, sort_keys=True), encoding="utf-8")
    shutil.copyfile(_OWN / "print" / "index.typ", work / "index.typ")
    return typeset_file(work / "index.typ", epoch=int(handing.book.assessment.as_of.timestamp()))


def _html(words: Mapping[str, Any], picture: bytes) -> str:
    import jinja2
    from markupsafe import Markup

    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(_OWN / "theme"), autoescape=True, undefined=jinja2.StrictUndefined
    )
    mark = f"data:image/png;base64,{base64.b64encode(picture).decode('ascii')}" if picture else ""
    made = environment.get_template("submission.html").render(**_clean(words), mark=mark, style=Markup(_style()))
    return re.sub(r"\n\s*\n+", "\n", made)


def _clean(value: Any) -> Any:
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, list):
        return [_clean(item) for item in value]
    return {k: _clean(v) for k, v in value.items()} if isinstance(value, Mapping) else value


@functools.cache
def _style() -> str:
    """The style with the fonts in it: the page is one file, and needs no other."""
    text = (_OWN / "theme" / "submission.css").read_text(encoding="utf-8")
    for name in ("sans-400", "sans-600", "condensed-400", "condensed-600"):
        data = base64.b64encode((_OWN / "fonts" / f"{name}.woff2").read_bytes()).decode("ascii")
        text = text.replace(f"url({name}.woff2)", f"url(data:font/woff2;base64,{data})")
    return text
