"""The example of docs/templates.md, built as it stands there; and the mistake that the page describes."""

from __future__ import annotations

import re
from pathlib import Path

from tests.documents.fixture_assessment import assessment, folder, workshop
from witnessmark.document.build import build
from witnessmark.document.content import sources
from witnessmark.document.count_pdf import letters, printed
from witnessmark.document.templates import render_templates
from witnessmark.shipped import shipped

PAGE = Path(__file__).parents[2] / "docs" / "templates.md"
EXAMPLE = re.compile(r"<!-- file: (\S+) -->\n```jinja\n(.*?)```", re.DOTALL)


def _example(into: Path) -> Path:
    own = into / "templates"
    own.mkdir(parents=True)
    for name, text in EXAMPLE.findall(PAGE.read_text(encoding="utf-8")):
        (own / name).write_text(text, encoding="utf-8")
    return own


def test_the_example_builds_and_its_words_are_on_the_page(tmp_path: Path) -> None:
    world = workshop()
    folder(tmp_path, world)
    own = _example(tmp_path)
    assert sorted(path.name for path in own.iterdir()) == [
        "chapter-care-of-the-pack.rst.j2", "letterhead.rst.j2", "our-workshop.rst.j2", "people.rst.j2",
    ]  # fmt: skip
    report = build(tmp_path, world, assessment(world))
    assert report.written, report.problems
    pages = "".join(path.read_text(encoding="utf-8") for path in (tmp_path / "builds").rglob("people.html"))
    assert "Where to find us" in pages
    assert "4 Ropewalk" in pages
    chapter = next((tmp_path / "builds").rglob("chapter-care-of-the-pack.html")).read_text(encoding="utf-8")
    number = re.search(r"<h1>(\d+) Care of the pack", chapter)
    assert number, chapter[:500]
    assert "looked at once a month" in chapter
    listed = next((tmp_path / "builds").rglob("contents.html")).read_text(encoding="utf-8")
    assert f'<span class="number">{number[1]}</span>' in listed
    assert letters("Half charged, in a dry place") in letters(printed(report.pdf).upright)
    assert report.pdf is not None
    assert letters("Saltmarsh Conversions (invented), 4 Ropewalk") in letters(printed(report.pdf).upright)
    _the_letterhead_stands(tmp_path, report.pdf)


def _the_letterhead_stands(root: Path, pdf: Path) -> None:
    """On the cover and once for each report, on screen and in print."""
    said = "is open from 8 to 17"
    cover = next((root / "builds").rglob("index.html")).read_text(encoding="utf-8")
    reports = next((root / "builds").rglob("test-reports.html")).read_text(encoding="utf-8")
    number = reports.count('class="pairbox columns2" id="b.report.')
    assert number > 1
    assert (cover.count(said), reports.count(said)) == (1, number)
    assert letters(printed(pdf).upright).count(letters(said)) == 1 + number


def test_a_mistake_in_the_example_is_told_as_the_page_says(tmp_path: Path) -> None:
    own = _example(tmp_path)
    page = own / "people.rst.j2"
    page.write_text(page.read_text(encoding="utf-8").replace("heading(title)", "heading(titel)"), encoding="utf-8")
    world = workshop()
    pages = [
        {"template": template, "target": name, "context": context}
        for template, name, context in sources(world, assessment(world)).pages
    ]
    _, problems = render_templates([own, shipped("templates")], pages)
    assert [p.code for p in problems] == ["template.undefined"]
    assert problems[0].place is not None
    assert (problems[0].place.file, problems[0].place.line) == ("people.rst.j2", 1)
    assert problems[0].remedy == "use one of the names that exist here: data, keys, title"


def test_a_mistake_in_a_template_that_others_take_in_is_told_at_its_own_line(tmp_path: Path) -> None:
    own = _example(tmp_path)
    own.joinpath("letterhead.rst.j2").write_text('{{ block(data, "letterhead") }}\n\n{{ adress }}\n', encoding="utf-8")
    world = workshop()
    pages = [
        {"template": template, "target": name, "context": context}
        for template, name, context in sources(world, assessment(world)).pages
    ]
    _, problems = render_templates([own, shipped("templates")], pages)
    assert [(p.code, str(p.place)) for p in problems] == [("template.undefined", "letterhead.rst.j2:3:1")] * 2
    names = "address, chapters, contact, data, place, title, workshop"
    assert problems[0].remedy == f"use one of the names that exist here: {names}"
