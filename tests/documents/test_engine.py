"""The document engine on the sample: standards of the PDF, pages of the HTML, determinism, faults as values."""

from __future__ import annotations

import dataclasses
import json
import os
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from tests.documents import sample
from tests.documents.picture import picture
from witnessmark.confined import call
from witnessmark.document import figures
from witnessmark.document.blockdata import BlockFault, as_json, load
from witnessmark.document.blocks import KINDS, STATES, Figure, IntervalChart, IntervalRow, Link, Note
from witnessmark.document.child import run
from witnessmark.document.engine import PDF_NAME, Report, build
from witnessmark.document.formulas import FormulaFault, math_tree, mathml
from witnessmark.document.marks import LIGHT, MARKS
from witnessmark.document.screen import decimal_rest
from witnessmark.document.settings import Attachment
from witnessmark.document.templates import render_templates
from witnessmark.problems import Severity

TITLE = sample.SETTINGS.title
ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "witnessmark" / "document"


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Report]:
    base = tmp_path_factory.mktemp("engine")
    sources = sample.write(base / "sources")
    attached = sample.attachments(base / "attached")
    return base / "out", build(sources, base / "out", settings=sample.SETTINGS, attachments=attached)


class _Page(HTMLParser):
    """Text, tags and attributes of a page, as a browser reads them."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join("".join(self.words).split())


def _pages(out: Path) -> dict[str, _Page]:
    return {path.name: _Page(path.read_text("utf-8")) for path in sorted((out / "html").glob("*.html"))}


def test_sample_uses_every_block_and_builds_without_a_word(built: tuple[Path, Report]) -> None:
    used = {block.kind for group in sample.blocks().values() for block in group.values()}
    assert used == set(KINDS)
    out, report = built
    assert report.problems == ()
    assert PDF_NAME in report.files
    assert "html/index.html" in report.files
    assert not [name for name in report.files if name.endswith((".pickle", ".doctree", ".buildinfo"))]
    assert (out / "html" / "attached" / "7k4qxm.csv").read_bytes() == sample.ATTACHED["7k4qxm.csv"]


# ---------------------------------------------------------------- the PDF


def _objects(pdf: pikepdf.Pdf, key: str, value: str) -> list[Any]:
    return [
        item for item in pdf.objects if isinstance(item, pikepdf.Dictionary) and item.get(key) == pikepdf.Name(value)
    ]


def test_pdf_declares_and_holds_what_the_standards_ask(built: tuple[Path, Report]) -> None:
    """ISO 19005-3 (part 3, level A) 6.2.2, 6.6.4, 6.7 and 6.8; ISO 14289-1 clauses 5, 7.1, 7.2 and 7.21.

    Clause numbers from memory. These are the signs of the standards, not a validation.
    """
    with pikepdf.open(built[0] / PDF_NAME) as pdf:
        with pdf.open_metadata() as xmp:
            assert xmp["pdfaid:part"] == "3"
            assert xmp["pdfaid:conformance"] == "A"
            assert xmp["pdfuaid:part"] == "1"
            assert dict(xmp)["{http://purl.org/dc/elements/1.1/}title"] == TITLE
        root = pdf.Root
        assert pikepdf.Name("/GTS_PDFA1") == root.OutputIntents[0].S
        assert bool(root.MarkInfo.Marked)
        assert str(root.Lang) == "en"
        assert bool(root.ViewerPreferences.DisplayDocTitle)
        assert "/Outlines" in root
        names = {}
        for spec in root.AF:
            stream = spec.EF.F
            names[str(spec.UF)] = (str(spec.AFRelationship), stream.read_bytes(), str(stream.Subtype))
        assert names == {
            "7k4qxm.csv": ("/Data", sample.ATTACHED["7k4qxm.csv"], "/text/csv"),
            "records.json": ("/Source", sample.ATTACHED["records.json"], "/application/json"),
        }
        tags = {
            str(item.S)
            for item in pdf.objects
            if isinstance(item, pikepdf.Dictionary) and "/S" in item and "/P" in item
        }
        for tag in ("/H1", "/H2", "/H3", "/P", "/Table", "/TR", "/TH", "/TD", "/Figure", "/Formula", "/Link", "/TOC"):
            assert tag in tags, tag
        for figure in [
            item for item in pdf.objects if isinstance(item, pikepdf.Dictionary) and item.get("/S") == "/Figure"
        ]:
            assert str(figure.get("/Alt", ""))
        fonts = _objects(pdf, "/Type", "/FontDescriptor")
        assert fonts
        assert all(any(f"/FontFile{n}" in font for n in ("", "2", "3")) for font in fonts)
        used = {str(font.FontName).partition("+")[2] for font in fonts}
        assert all(name.startswith(("FiraSans", "NewCM", "LibertinusSerif", "DejaVuSansMono")) for name in used), used


def test_pdf_turns_the_matrix_and_nothing_else(built: tuple[Path, Report]) -> None:
    with pikepdf.open(built[0] / PDF_NAME) as pdf:
        wide = [float(page.mediabox[2]) > float(page.mediabox[3]) for page in pdf.pages]
    assert any(wide)
    assert not all(wide)
    assert not wide[0]


def test_bookmarks_name_the_chapters(built: tuple[Path, Report]) -> None:
    with pikepdf.open(built[0] / PDF_NAME) as pdf, pdf.open_outline() as outline:
        titles = [str(item.title) for item in outline.root]
    assert titles[0] == "Postal van 07, converted to electric drive"
    assert "8 Protection against electric shock" in titles


def test_print_template_fetches_nothing() -> None:
    for path in (SOURCE / "print").glob("*.typ"):
        text = path.read_text("utf-8")
        assert "@preview" not in text
        assert "http" not in text


# ---------------------------------------------------------------- the HTML


def test_every_page_says_whose_it_is_and_how_it_stands(built: tuple[Path, Report]) -> None:
    settings = sample.SETTINGS
    for name, page in _pages(built[0]).items():
        for words in (settings.vin, settings.line, settings.origin, settings.verdict, settings.verdict_detail):
            assert words in page.text, name
        for stamp in settings.stamps:
            assert stamp in page.text, name


def test_pages_bring_all_they_need(built: tuple[Path, Report]) -> None:
    html = built[0] / "html"
    addresses = []
    for name, page in _pages(built[0]).items():
        for tag, attributes in page.tags:
            assert not [key for key in attributes if key.startswith("on") and key != "one"], (name, tag)
            source = attributes.get("src", "") or (attributes.get("href", "") if tag in ("a", "link") else "")
            if source.startswith(("http://", "https://")):
                addresses.append(source)
            elif source and not source.startswith("#"):
                assert (html / re.split(r"[#?]", source)[0]).is_file(), (name, source)
            if tag == "script" and "src" in attributes:
                assert attributes["src"].startswith(("_static/", "searchindex.js")), attributes
    assert addresses == ["https://example.org/"]


def test_a_mark_is_hidden_from_speech_and_its_word_is_there(built: tuple[Path, Report]) -> None:
    page = _pages(built[0])["shock.html"]
    assert all(
        attributes.get("aria-hidden") == "true"
        for tag, attributes in page.tags
        if "mark" in attributes.get("class", "").split()
    )
    for word in ("not shown", "lapsed", "nonconforming", "undecided", "conforms", "not applicable"):
        assert word in page.text
    ids = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert len(ids) == len(set(ids))


def test_links_between_pages_arrive(built: tuple[Path, Report]) -> None:
    pages = _pages(built[0])
    ids = {name: {attributes.get("id", "") for _, attributes in page.tags} for name, page in pages.items()}
    for name, page in pages.items():
        for tag, attributes in page.tags:
            target, _, anchor = attributes.get("href", "").partition("#")
            if tag == "a" and anchor and not target.startswith("http"):
                assert anchor in ids[target or name], (name, attributes)


def _luminance(colour: str) -> float:
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _contrast(one: str, two: str) -> float:
    low, high = sorted((_luminance(one), _luminance(two)))
    return (high + 0.05) / (low + 0.05)


def test_colours_can_be_read_in_light_and_dark() -> None:
    """WCAG 2.2, success criteria 1.4.3 (text 4.5 : 1) and 1.4.11 (other 3 : 1); relative luminance as defined there."""
    assert _contrast("#000000", "#ffffff") == pytest.approx(21.0)  # stated in WCAG 2.2, definition of contrast ratio
    css = (SOURCE / "theme" / "static" / "witnessmark.css").read_text("utf-8")
    palettes = [dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", block)) for block in re.findall(r":root \{([^}]*)\}", css)]
    assert palettes[0] == dict(LIGHT)
    assert palettes[2] == dict(LIGHT)
    for palette in palettes:
        for ground in (palette["paper"], palette["tint"]):
            for ink in ("ink", "ink2", "paint"):
                assert _contrast(palette[ink], ground) >= 4.5
            assert _contrast(palette["rule"], ground) >= 3.0
        assert _contrast(palette["hv"], palette["paper"]) >= 4.5


# ---------------------------------------------------------------- the same bytes


_AGAIN = """
import sys
from pathlib import Path
sys.path.insert(0, {root!r})
from tests.documents import sample
from witnessmark.document.engine import build
base = Path({base!r})
build(sample.write(base / "s"), base / "out", settings=sample.SETTINGS, attachments=sample.attachments(base / "a"))
"""


def test_same_input_same_bytes_in_another_folder_zone_locale_and_hash_seed(
    built: tuple[Path, Report], tmp_path: Path
) -> None:
    base = tmp_path / "deeper" / "and deeper"
    base.mkdir(parents=True)
    environment = {
        **os.environ,
        "TZ": "Asia/Tokyo",
        "LC_ALL": "C",
        "PYTHONHASHSEED": "777",
        "PYTHONPATH": str(ROOT / "src"),
    }
    environment["SOURCE_DATE_EPOCH"] = "1"
    script = _AGAIN.format(root=str(ROOT), base=str(base))
    subprocess.run([sys.executable, "-c", script], check=True, env=environment, cwd=tmp_path)
    first = {p.relative_to(built[0]): p.read_bytes() for p in built[0].rglob("*") if p.is_file()}
    second = {p.relative_to(base / "out"): p.read_bytes() for p in (base / "out").rglob("*") if p.is_file()}
    assert sorted(first) == sorted(second)
    assert [str(name) for name in first if first[name] != second[name]] == []
    assert str(built[0]).encode() not in b"".join(first.values())


# ---------------------------------------------------------------- faults as values


def _small(
    folder: Path, page: str, data: dict[str, Any], formats: tuple[str, ...] = ("html", "pdf")
) -> tuple[Path, Report]:
    sources = folder / "s"
    (sources / "data").mkdir(parents=True)
    (sources / "index.rst").write_text(page, encoding="utf-8")
    (sources / "data" / "d.json").write_text(json.dumps(data), encoding="utf-8")
    return folder / "out", build(sources, folder / "out", settings=sample.SETTINGS, formats=formats)


def test_faults_of_blocks_are_told_and_shown(tmp_path: Path) -> None:
    page = """Page
====

.. block:: data/d.json#missing

.. block:: data/d.json#kind

.. block:: data/d.json#field

.. block:: data/d.json#link

.. block:: data/d.json#symbol

.. block:: data/d.json#figure

.. block:: ../outside.json#x

.. block:: data/d.json#one

.. block:: data/d.json#two

.. formula::

   \\nosuchcommand{x}

A formula :math:`\\frac{1`.
"""
    row = IntervalRow("a", 1, 1, "1", "1", "pass", True)
    figure = as_json(Figure(IntervalChart((row,), 1, "w", "axis"), "c", "s"))
    figure["data"]["limit"] = float("nan")
    data = {
        "kind": {"kind": "poster"},
        "field": {"kind": "note", "txt": "x"},
        "link": as_json(Note((Link("nowhere#x", "words stay"), Link("javascript:alert(1)", "so do these")))),
        "symbol": {"kind": "note", "text": [{"symbol": "\\nosuch"}]},
        "figure": figure,
        "one": as_json(Note("first", id="twice")),
        "two": as_json(Note("second", id="twice")),
    }
    out, report = _small(tmp_path, page, data)
    codes = sorted(problem.code for problem in report.problems)
    assert codes == ["document.anchor", *["document.block"] * 6, *["document.formula"] * 2, *["document.link"] * 2]
    assert not report.sound
    for problem in report.problems:
        assert problem.place is not None
        assert problem.remedy
    text = _Page((out / "html" / "index.html").read_text("utf-8")).text
    assert text.count("could not be shown") == 6
    assert "words stay" in text
    assert "javascript:" not in (out / "html" / "index.html").read_text("utf-8").split("<main")[1].replace("nosuch", "")
    assert (out / PDF_NAME).is_file()


def test_raw_and_include_are_closed(tmp_path: Path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("not for the page", encoding="utf-8")
    page = f"""Page
====

.. raw:: html

   <script>alert(1)</script>

.. include:: {secret}

.. literalinclude:: ../secret.txt
"""
    out, report = _small(tmp_path, page, {}, ("html",))
    html = (out / "html" / "index.html").read_text("utf-8")
    assert "alert(1)" not in html
    assert "not for the page" not in html
    assert len([p for p in report.problems if p.code == "document.page"]) >= 2
    assert all(str(tmp_path) not in p.message for p in report.problems if p.place)


def test_an_unknown_element_stops_the_pdf(tmp_path: Path) -> None:
    out, report = _small(tmp_path, "Page\n====\n\n.. option:: -x\n\n   words\n", {})
    assert [p.code for p in report.problems] == ["document.stopped"]
    assert not (out / PDF_NAME).exists()


def test_a_character_without_a_glyph_is_printed_as_its_code(tmp_path: Path) -> None:
    out, report = _small(
        tmp_path, "Page\n====\n\n.. block:: data/d.json#n\n", {"n": as_json(Note("pack \U0001f50b full"))}
    )
    assert [(p.code, p.severity) for p in report.problems] == [("document.character", Severity.NOTE)]
    assert "\U0001f50b" in (out / "html" / "index.html").read_text("utf-8")
    assert (out / PDF_NAME).is_file()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ([], "object with a kind"),
        ({"kind": "note"}, "'text' is missing"),
        ({"kind": "note", "text": None}, "null"),
        ({"kind": "note", "text": "x", "style": "loud"}, "not one of"),
        ({"kind": "note", "text": "x", "gap": "yes"}, "bool is expected"),
        ({"kind": "note", "text": "x", "id": "a b"}, "no id"),
        ({"kind": "leaves", "rows": [{"leaf": "a", "part": "b", "word": "c", "state": "fine"}]}, "not one of"),
        ({"kind": "cover", "title": 3, "question": "", "answer": "", "sentence": ""}, "str is expected"),
    ],
)
def test_a_block_that_does_not_fit_is_refused(data: object, words: str) -> None:
    with pytest.raises(BlockFault, match=re.escape(words)):
        load(data)


def test_blocks_survive_json() -> None:
    for group in sample.blocks().values():
        for block in group.values():
            assert load(json.loads(json.dumps(as_json(block)))) == block


def test_a_ready_file_says_so_and_has_no_tab(tmp_path: Path) -> None:
    (tmp_path / "s").mkdir()
    (tmp_path / "s" / "index.rst").write_text("Page\n====\n\nWords.\n", encoding="utf-8")
    words = "All 64 requirements are shown or do not apply."
    ready = dataclasses.replace(
        sample.SETTINGS, verdict=words, verdict_detail="", verdict_link=None, verdict_short="", ready=True, chapters=()
    )
    for settings, tabs in ((ready, 0), (dataclasses.replace(ready, ready=False), 2)):
        report = build(tmp_path / "s", tmp_path / "out", settings=settings)
        assert report.problems == ()
        page = _Page((tmp_path / "out" / "html" / "index.html").read_text("utf-8"))
        assert words in page.text
        assert len([1 for _, attributes in page.tags if attributes.get("class") == "tab"]) == tabs


def test_an_attachment_is_one_plain_name(tmp_path: Path) -> None:
    (tmp_path / "s").mkdir()
    (tmp_path / "s" / "index.rst").write_text("Page\n====\n\nWords.\n", encoding="utf-8")
    (tmp_path / "a").write_text("a", encoding="utf-8")
    names = ("../up.txt", "/etc/x", ".hidden", "", "a/b", "good name.txt")
    attached = [Attachment(name, str(tmp_path / "a"), "text/plain") for name in names]
    report = build(tmp_path / "s", tmp_path / "out", settings=sample.SETTINGS, attachments=attached, formats=("html",))
    assert [p.code for p in report.problems] == ["document.attachment"] * 5
    assert [p.name for p in (tmp_path / "out" / "html" / "attached").iterdir()] == ["good name.txt"]


# ---------------------------------------------------------------- small parts


def test_decimal_marks_line_up() -> None:
    assert decimal_rest(["1", "1.25", "−0.5", "none", "1,1"]) == [".00", "", "0", "", "0"]


def test_formulas_are_mathml_and_a_tree() -> None:
    """Element names after W3C MathML Core."""
    text = mathml(r"\frac{U_1'}{2}")
    assert text.startswith("<math ")
    assert "<mfrac>" in text
    assert "\u2032" in text  # prime, Unicode 15.1 U+2032
    assert math_tree("U_b")[0] == "math"
    for bad in (r"\href{x}{y}", r"\frac{1", "}", r"\input{x}", "x" * 5000, r"\begin{x}"):
        with pytest.raises(FormulaFault):
            mathml(bad)
    assert "<script" not in mathml(r"a < \text{</math><script>alert(1)</script>}")


def test_marks_cover_the_seven_states() -> None:
    assert set(MARKS) == set(STATES)


def test_a_figure_escapes_its_words_and_keeps_far_values_on_the_paper() -> None:
    rows = tuple(IntervalRow("<b>&", v, 1.0, "1", "1", "pass", True) for v in (-1e9, 0.0, 499.0, 501.0, 1e12))
    for side in ("at-least", "at-most"):
        for limit in (0.0, 500.0, -3.0, 1e-9):
            chart = IntervalChart(rows, limit, "<i>limit", "axis", side)
            for narrow in (False, True):
                svg = figures.draw(chart, figures.for_print(), narrow=narrow)
                assert "<b>" not in svg
                assert "<i>" not in svg
                drawn = picture(chart, narrow=narrow)
                centres = [dot.middle[0] for dot in drawn.dots()]
                assert len(centres) == 5
                assert all(0 <= x <= drawn.width for x in centres)


# ---------------------------------------------------------------- templates and the whole job


def _templates(folder: Path, **files: str) -> Path:
    folder.mkdir()
    for name, text in files.items():
        (folder / f"{name}.rst.j2").write_text(text, encoding="utf-8")
    return folder


def test_templates_escape_all_they_print(tmp_path: Path) -> None:
    folder = _templates(
        tmp_path / "t", page="{{ heading(title) }}\n\n{{ words }} {{ words|upper }} {{ to(words, 'a#b') }}\n"
    )
    texts, problems = render_templates(
        [folder], [{"template": "page.rst.j2", "target": "p.rst", "context": {"title": "*a*", "words": "`x`_ |y|"}}]
    )
    assert problems == ()
    assert texts["p.rst"].startswith("\\*a\\*\n====")
    assert "\\`x\\`\\_ \\|y\\|" in texts["p.rst"]


def test_a_teams_template_comes_first_and_mistakes_are_told(tmp_path: Path) -> None:
    shipped = _templates(tmp_path / "shipped", page="shipped\n", broken="{{ 1 }}")
    team = _templates(
        tmp_path / "team",
        page="team\n",
        undefined="one\n\n{{ vehicel }}\n",
        syntax="a\n{% if %}\n",
        dunder="{{ ''.__class__.__mro__ }}",
        zero="{{ 1 // 0 }}",
    )
    (team / "link.rst.j2").symlink_to(tmp_path / "secret")
    (tmp_path / "secret").write_text("secret", encoding="utf-8")
    names = ("page", "undefined", "syntax", "dunder", "zero", "link", "absent", "../secret")
    pages = [{"template": f"{n}.rst.j2", "target": f"{n}.rst", "context": {"vehicle": "x", "vin": "y"}} for n in names]
    texts, problems = render_templates([team, shipped], pages)
    assert texts == {"page.rst": "team\n"}
    told = {p.code: p for p in problems}
    assert sorted(p.code for p in problems) == [
        *["template.fails"] * 2,
        *["template.missing"] * 3,
        "template.syntax",
        "template.undefined",
    ]
    undefined = next(p for p in problems if p.place and p.place.file == "undefined.rst.j2")
    assert undefined.place is not None
    assert undefined.place.line == 3
    assert "vehicle, vin" in undefined.remedy
    place = told["template.syntax"].place
    assert place is not None
    assert place.line == 2


def test_the_job_runs_in_the_limited_child(tmp_path: Path) -> None:
    folder = _templates(
        tmp_path / "t", index="{{ heading(title) }}\n\n{{ words }}\n{{ block('data/d.json', 'n', 'x') }}\n"
    )
    job = {
        "template_dirs": [str(folder)],
        "pages": [
            {"template": "index.rst.j2", "target": "index.rst", "context": {"title": "Page", "words": "*plain*"}}
        ],
        "data": {"data/d.json": {"n": as_json(Note("from a record", id="n"))}},
        "settings": as_json(sample.SETTINGS),
        "out": str(tmp_path / "out"),
        "formats": ["html", "pdf"],
    }
    told = call("witnessmark.document.child:run", job, writable=[tmp_path / "out"])
    assert told["problems"] == []
    assert PDF_NAME in told["files"]
    assert "*plain*" in (tmp_path / "out" / "html" / "index.html").read_text("utf-8")
    job["pages"] = [{"template": "index.rst.j2", "target": "index.rst", "context": {}}]
    failed = run(job)
    assert not failed["written"]
    assert failed["problems"][0]["code"] == "template.undefined"
