"""The information document as it is printed: every item once in HTML and PDF, every empty field asked in the register.

The numbers come from `items.yaml`, typed once from a table (from memory); the pages are read with readers of their own.
"""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from tests.demonstration.built import van
from tests.forms.test_shipped_forms import TYPED
from tests.sets.loading import ROOT
from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import Assessment
from witnessmark.cli.main import main
from witnessmark.document import submission
from witnessmark.document.build import BuildReport, build, expected_fields
from witnessmark.document.content import Sources, sources
from witnessmark.document.count_fields import ExpectedField, SeenRow, compare_fields, compare_printed
from witnessmark.document.count_pdf import Printed
from witnessmark.document.routes import route
from witnessmark.document.submission import submit
from witnessmark.document.views.book import Book
from witnessmark.document.views.papers import papers
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.acts import Statement
from witnessmark.records.world import Workshop
from witnessmark.shipped import shipped

FORM = "un-r100-03.essential-characteristics"
EMPTY = {"1.6", "1.7", "3.3.1", "3.6.1", "5.2", "8.1"}
"""Left empty in the demonstration with intent."""


@lru_cache(maxsize=1)
def workshop() -> Workshop:
    return read_workshop(ROOT)


@lru_cache(maxsize=2)
def assessed(vehicle: str = "van-07") -> Assessment:
    return assess(workshop(), vehicle)


def blocks(made: Sources, page: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(made.data[f"data/{page}.json"])
    return found


def text(value: Any) -> str:
    if isinstance(value, list):
        return "".join(map(text, value))
    if isinstance(value, dict):
        return text(value.get("text", value.get("strong", "")))
    return str(value)


@pytest.fixture(scope="module")
def made() -> Sources:
    return sources(workshop(), assessed())


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> BuildReport:
    out = van(tmp_path_factory)
    return BuildReport(True, out, tuple(sorted(p.relative_to(out).as_posix() for p in out.rglob("*") if p.is_file())))


def test_the_demonstration_shows_gaps_with_intent_and_no_others() -> None:
    assert {name.rpartition("/")[2] for name in assessed().empty_fields} == EMPTY
    assert [f.applies.value for f in assessed().forms] == ["yes", "no", "no"]
    assert all(form.why for form in assessed().forms[1:])


def test_every_item_stands_once_in_the_html_with_its_gaps(built: BuildReport) -> None:
    page = (built.html.parent / "information-document.html").read_text(encoding="utf-8")
    table = page[page.index(f'id="b.form.{FORM}"') :]
    rows = re.findall(r"<tr([^>]*)><td[^>]*>(.*?)</td>", table[: table.index("</table>")], re.DOTALL)
    found = [(re.sub(r"<[^>]+>", "", first).strip(), "gap" in attributes) for attributes, first in rows]
    typed = TYPED["essential-characteristics"]
    assert sorted(number for number, _ in found) == sorted([*typed["items"], *typed["headings"]])
    assert {number for number, gap in found if gap} == EMPTY
    register = (built.html.parent / "gap-register.html").read_text(encoding="utf-8")
    asked = register[register.index(f'id="b.fields.{FORM}"') :]
    for number in EMPTY:
        assert asked.count(f">{number}</a>") == 1, number


def test_every_item_stands_once_in_the_pdf(built: BuildReport) -> None:
    reader = PdfReader(built.pdf)
    pages = [page.extract_text() or "" for page in reader.pages[:30]]  # the chapter stands near the front

    def page_of(heading: str) -> int:
        """The contents have the heading too, on one of the first pages."""
        return next(n for n, said in enumerate(pages) if n > 3 and re.search(rf"\d\.[12] {heading}", said))

    first = page_of("Essential characteristics of the vehicle")
    last = page_of("Essential characteristics, circuits tied")
    whole = "\n".join(pages[first : last + 1])
    titles = {f.item.number: f.item.title for f in assessed().forms[0].fields}
    for number in (*TYPED["essential-characteristics"]["items"], *TYPED["essential-characteristics"]["headings"]):
        start = titles[number][:9]
        wanted = re.compile(rf"(?<![\d.]){re.escape(number)}\s+{re.escape(start[:1].upper() + start[1:])}")
        assert len(wanted.findall(whole)) == 1, (number, start)


def test_the_counts_agree_everywhere(made: Sources) -> None:
    form = assessed().forms[0]
    lead = text(blocks(made, "information-document")["lead"]["text"])
    assert lead.startswith(f"{form.filled} of {form.asked} fields filled. Six are empty.")
    assert form.asked - form.filled == len(EMPTY)
    assert "Six fields of the information document are empty." in text(blocks(made, "index")["cover"]["sentence"])
    (listed,) = [c for c in made.settings.chapters if c.page == "information-document"]
    assert listed.note == "6 empty fields"
    table = blocks(made, "information-document")[f"{FORM}.table"]
    assert table["caption"] == f"{form.filled} of {form.asked} fields filled" and len(table["gaps"]) == len(EMPTY)
    (asked,) = [b for b in blocks(made, "gap-register").values() if b.get("id") == f"b.fields.{FORM}"]
    assert "six empty fields" in asked["caption"]


def test_a_fact_that_is_taken_out_becomes_a_row_of_the_register() -> None:
    """The statement with most of the fields is taken out of the workshop: each of them is asked."""
    taken = next(
        act for act in workshop().acts if isinstance(act.body, Statement) and "shock_protection" in act.body.facts
    )
    less = replace(workshop(), acts=tuple(act for act in workshop().acts if act is not taken))
    found = assess(less, "van-07")
    gone = {"1.1", "1.2", "1.4", "1.5", "2.1", "5.1", "6.1", "7.1"}
    empty = {name.rpartition("/")[2] for name in found.empty_fields if "essential" in name}
    assert empty == EMPTY | gone
    register = blocks(sources(less, found), "gap-register")
    rows = [text(row[0]) for row in register[f"fields.{FORM}"]["rows"]]
    commands = [text(row[3]) for row in register[f"fields.{FORM}"]["rows"]]
    for number in gone:
        assert sum(row.startswith(f"{number} ") for row in rows) == 1, number
    assert "witnessmark record van-07 facts shock_protection" in commands


def test_empty_fields_alone_keep_a_file_from_being_ready() -> None:
    good = replace(assessed(), requirements=tuple(r for r in assessed().requirements if not r.state.is_gap), jobs=())
    made = sources(workshop(), good)
    assert (
        not made.settings.ready and made.settings.verdict_detail == "Six fields of the information document are empty"
    )
    assert made.settings.verdict_short == "6 empty fields"
    assert blocks(made, "index")["cover"]["answer"] == "Not yet."
    full = replace(good, forms=tuple(replace(f, fields=(), doubts=()) for f in good.forms))
    first = good.forms[0]
    doubtful = replace(full, forms=(replace(first, fields=(), doubts=first.empty[0].gaps), *full.forms[1:]))
    assert not sources(workshop(), doubtful).settings.ready
    assert sources(workshop(), full).settings.ready


def test_a_vehicle_without_forms_has_no_such_chapter() -> None:
    made = sources(workshop(), replace(assessed(), forms=()))
    assert "information-document" not in [target for _, target, _ in made.pages]
    assert not [key for key in blocks(made, "gap-register") if key.startswith("fields.")]


def test_the_index_numbers_papers_by_the_time_of_sealing_and_names_the_items_they_fill() -> None:
    listed = papers(Book.of(workshop(), assessed()))
    seals = [p.uses[0].result.act.body.seal for p in listed]
    assert [p.row for p in listed] == list(range(1, len(listed) + 1))
    assert [s.on for s in seals if s] == sorted(s.on for s in seals if s)
    drawing = next(p for p in listed if p.name == "reports/circuit-drawing.pdf")
    assert drawing.items == ("8.2",) and drawing.level == "vehicle" and drawing.format == "PDF"
    assert {p.level for p in listed} == {"type", "vehicle", "workshop"}


def test_the_index_of_a_submission_names_row_level_and_items(
    built: BuildReport, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def as_built(_root: Path, _workshop: Workshop, _assessment: Assessment, out: Path) -> BuildReport:
        shutil.copytree(built.out, out)
        return replace(built, out=out)

    monkeypatch.setattr(submission, "build", as_built)
    recipe = route("un-r100")
    assert recipe is not None
    assert submit(ROOT, workshop(), assessed(), recipe, tmp_path / "out").written
    rows = list(csv.DictReader(io.StringIO((tmp_path / "out/index.csv").read_text(encoding="utf-8"))))
    listed = {f"{p.code}-{Path(p.name).name}": p for p in papers(Book.of(workshop(), assessed()))}
    handed = {Path(row["file"]).name: row for row in rows if row["file"].startswith("papers/")}
    assert len(handed) > 5 and handed.keys() <= listed.keys()
    for name, row in handed.items():
        paper = listed[name]
        assert (row["no"], row["level"]) == (f"P{paper.row}", paper.level) and row["format"].endswith("PDF")
        assert row["form items"] == " ".join(paper.items)
    readme = (tmp_path / "out/README.txt").read_text(encoding="utf-8")
    assert "6 fields of the information document are empty" in readme


WANT = ExpectedField("s.f", "3.2.1", "chemistry", True, "information-document")
ROW, ASKED = SeenRow("b.form.s.f", "3.2.1", True), SeenRow("b.fields.s.f", "3.2.1 chemistry", True)


@pytest.mark.parametrize(
    ("seen", "codes"),
    [
        ((ROW, ASKED), []),
        ((ASKED,), ["count.field"]),
        ((ROW, ROW, ASKED), ["count.field"]),
        ((replace(ROW, gap=False), ASKED), ["count.field-gap"]),
        ((replace(ROW, hidden=True), ASKED), ["count.field"]),
        ((ROW,), ["count.field-asked"]),
        ((ROW, replace(ASKED, hidden=True)), ["count.field-asked"]),
        ((ROW, ASKED, replace(ROW, first="3.2.2")), ["count.field-unknown"]),
        ((), ["count.field", "count.field-asked"]),
    ],
)
def test_the_count_finds_what_a_template_left_out(seen: tuple[SeenRow, ...], codes: list[str]) -> None:
    assert [p.code for p in compare_fields([WANT], seen, "PDF")] == codes


def test_the_count_reads_the_printed_pages() -> None:
    assert compare_printed([WANT], Printed("", "3.2.1\nChemistry\nlithium"), "f.pdf") == ()
    (problem,) = compare_printed([WANT], Printed("", "3.2.1\nlithium\nChemistry"), "f.pdf")
    assert problem.code == "count.printed" and "item 3.2.1" in problem.message
    short, long = replace(WANT, table="s.a", number="1", title="make"), replace(WANT, number="1.1", title="make")
    assert compare_printed([short, long], Printed("", "1.1\nMake\n1\nMake"), "f.pdf") == ()
    assert len(compare_printed([short, long], Printed("", "1.1\nMake"), "f.pdf")) == 1
    assert len(expected_fields(assessed())) == len(assessed().forms[0].fields)


def test_a_template_without_the_table_stops_the_build(tmp_path: Path) -> None:
    name = "information-document.rst.j2"
    source = (shipped("templates") / name).read_text(encoding="utf-8")
    left_out = source.replace('{% for key in section["keys"] %}', '{% for key in section["keys"][:1] %}')
    assert left_out != source
    for top in ("evidence", "requirements"):
        shutil.copytree(ROOT / top, tmp_path / top)
    (tmp_path / "templates").mkdir()
    (tmp_path / "templates" / name).write_text(left_out, encoding="utf-8")
    report = build(tmp_path, workshop(), assessed(), tmp_path / "out")
    assert not report.written
    assert {p.code for p in report.problems} >= {"count.field", "count.printed"}


def test_audit_names_the_empty_fields_and_exits_with_gaps(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    assert main(["audit", "van-07"]) == 1
    said = capsys.readouterr().out
    assert "Information document: 6 empty fields" in said
    assert "Essential characteristics of the vehicle: 26 of 32 fields filled" in said
    assert "1.6 representative: name, address: Who represents the maker" in said
    assert "witnessmark record van-07 form" in said
