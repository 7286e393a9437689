"""What is handed over on a route: index, hashes, published photographs; and the recipes as data."""

from __future__ import annotations

import csv
import hashlib
import io
import re
import shutil
import subprocess
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pikepdf
import pytest
from PIL import Image

from tests.documents import fixture_assessment
from tests.documents.fixture_assessment import assessment, workshop
from tests.language.pseudo import MARK, plain, pseudo, said_in, strangers
from witnessmark.assessment.model import Assessment
from witnessmark.cli.main import main
from witnessmark.document import submission
from witnessmark.document.build import BuildReport
from witnessmark.document.count_pdf import letters, printed
from witnessmark.document.handing import spans
from witnessmark.document.measuring import measure
from witnessmark.document.routes import SOURCES, route, routes
from witnessmark.document.submission import SubmissionReport, submit
from witnessmark.records.world import Workshop

ROOT = Path(__file__).parents[2]


def test_every_recipe_says_who_brings_what_and_how_well_it_is_known() -> None:
    assert [r.id for r in routes()] == ["individual", "inspector", "un-r100"]
    for one in routes():
        assert one.confidence
        assert len({item.no for item in one.items}) == len(one.items)
        assert {item.by for item in one.items} == {"applicant", "service", "authority"}
        assert all(item.source in SOURCES for item in one.items)
        assert any(item.source == "technical-file" for item in one.items)
        # What a service or an authority adds never comes out of the applicant's folder.
        assert all(not item.source for item in one.items if item.by != "applicant")


def test_requirements_that_a_recipe_asks_papers_for_are_in_a_shipped_set() -> None:
    ids = set()
    for file in (ROOT / "requirements").glob("*/*.yaml"):
        ids |= set(re.findall(r"^  - id: (\S+)$", file.read_text(encoding="utf-8"), re.MULTILINE))
    asked = {ident for one in routes() for item in one.items for ident in item.of}
    assert asked and asked <= ids


@pytest.fixture(scope="module")
def handed(
    good: tuple[Path, BuildReport], tmp_path_factory: pytest.TempPathFactory
) -> tuple[SubmissionReport, dict[str, bytes]]:
    return _handed(workshop(), good, tmp_path_factory.mktemp("handed"))


def _handed(world: Workshop, good: tuple[Path, BuildReport], folder: Path) -> tuple[SubmissionReport, dict[str, bytes]]:
    root, built = good

    def as_built(_root: Path, _workshop: Workshop, _assessment: Assessment, out: Path) -> BuildReport:
        shutil.copytree(built.out, out)
        return replace(built, out=out)

    recipe = route("un-r100")
    assert recipe is not None
    out = folder / "submission"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(submission, "build", as_built)
        report = submit(root, world, assessment(world), recipe, out)
    assert report.written, report.problems
    assert not list(out.parent.glob(".handing-*"))
    return report, {p.relative_to(out).as_posix(): p.read_bytes() for p in out.rglob("*") if p.is_file()}


Handed = tuple[SubmissionReport, dict[str, bytes]]


def _rows(handed: Handed) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(handed[1]["index.csv"].decode())))


def test_the_folder_holds_what_its_index_says_and_the_hashes_are_those_of_the_files(handed: Handed) -> None:
    report, files = handed
    listed = dict(line.split("  ", 1)[::-1] for line in files["SHA256SUMS"].decode().splitlines())
    # What says the digests cannot say its own: the index carries that of SHA256SUMS, and who signs it signs all.
    without = {"SHA256SUMS", "README.txt", "index.csv", "index.html", "index.pdf"}
    # The format that sha256sum of GNU coreutils reads: digest, two blanks, name.
    assert listed == {n: hashlib.sha256(data).hexdigest() for n, data in files.items() if n not in without}
    rows = _rows(handed)
    assert [int(row["item"]) for row in rows] == sorted(int(row["item"]) for row in rows)
    for row in rows:
        if row["sha256"]:
            assert hashlib.sha256(files[row["file"]]).hexdigest() == row["sha256"]
            assert int(row["bytes"]) == len(files[row["file"]])
        else:
            assert row["file"] == "not in this folder"
    assert {row["file"] for row in rows if row["sha256"]} == set(listed)
    table = list(csv.DictReader(io.StringIO(files["photographs.csv"].decode())))
    assert table
    for row in table:
        assert hashlib.sha256(files[row["published"]]).hexdigest() == row["sha256 of it"]
    read_me = files["README.txt"].decode()
    assert "Not ready to submit. 6 of 9 requirements stand in the way" in read_me
    assert "comes from the authority" in read_me
    assert "TO BE ADDED" in read_me
    assert report.missing[0].no == "1"


_BETWEEN = r"[,:;](?:\s|$)|\s×\s|(?:evidence|own-set)[:/]\S+|\b[0-9a-f]{12,64}\b"
"""What stands between words of ours in the index: marks, paths, ids and digests."""


def test_the_index_is_in_the_language_of_the_workshop(
    good: tuple[Path, BuildReport], handed: Handed, tmp_path: Path
) -> None:
    _, files = _handed(replace(workshop(), language=pseudo()), good, tmp_path)
    known = f" {plain(Path(fixture_assessment.__file__).read_text('utf-8'))} {plain(' '.join(files))} "
    page = files["index.html"].decode()
    for text in (*files["README.txt"].decode().splitlines(), *said_in(page)):
        runs = strangers(text, known)
        pieces = (piece for run in runs for piece in re.split(_BETWEEN, run))
        assert [p for p in pieces if len(re.findall(r"[A-Za-z]{2,}", p)) > 1 and f" {plain(p)} " not in known] == []
    # Keys of the tables stay as they are; what stands under them is said.
    rows, in_english = (list(csv.DictReader(io.StringIO(f["index.csv"].decode()))) for f in (files, handed[1]))
    assert rows[0].keys() == in_english[0].keys()
    assert {row["brought by"] for row in rows} == {row["brought by"] for row in in_english}
    assert all(MARK in row["title"] or row["kind"] for row in rows) and any(MARK in row["change"] for row in rows)


def test_sha256sum_of_the_system_finds_every_file_whole(handed: Handed, tmp_path: Path) -> None:
    if shutil.which("sha256sum") is None:
        pytest.skip("there is no sha256sum here")
    for name, data in handed[1].items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(data)
    checked = ["sha256sum", "--strict", "-c", "SHA256SUMS"]
    assert subprocess.run(checked, cwd=tmp_path, capture_output=True, check=False).returncode == 0
    (tmp_path / "photographs.csv").write_bytes(b"another table")
    assert subprocess.run(checked, cwd=tmp_path, capture_output=True, check=False).returncode == 1


def test_no_published_picture_holds_anything_but_pixels(handed: Handed) -> None:
    """Read with Pillow: no tags (CIPA DC-008, 4.6), no position, no XMP, no colour profile, no comment."""
    pictures = [n for n in handed[1] if n.startswith("photographs/")]
    assert pictures
    for name in pictures:
        with Image.open(io.BytesIO(handed[1][name])) as image:
            assert not dict(image.getexif())
            assert not image.getexif().get_ifd(0x8825)
            assert not {"exif", "xmp", "XML:com.adobe.xmp", "icc_profile", "comment", "photoshop"} & set(image.info)


def test_the_index_has_the_columns_and_each_row_its_number_once(handed: Handed) -> None:
    rows = _rows(handed)
    assert list(rows[0])[:14] == [
        "no", "item", "title", "kind", "document no. and rev.", "date", "pages", "format", "origin", "level", "shows",
        "sha256", "change", "reason",
    ]  # fmt: skip
    numbered = [row for row in rows if row["no"] and not row["no"].startswith("R-")]
    assert len({row["no"] for row in numbered}) == len(numbered)
    assert {row["no"][0] for row in numbered} >= {"T", "F"}
    # Nothing was issued yet.
    assert {row["change"] for row in rows if row["sha256"]} == {"new"}
    (whole,) = [row for row in rows if row["no"] == "T1"]
    with pikepdf.open(io.BytesIO(handed[1]["technical-file.pdf"])) as pdf:
        assert int(whole["pages"]) == len(pdf.pages)
    assert whole["format"] == "A4, PDF/A-3a"


class _Words(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.words, self.links, self.within, self.skipped = "", set[str](), "", ("style", "title")

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.within = tag
        self.links |= {value or "" for name, value in attrs if name in ("href", "src")}

    def handle_data(self, data: str) -> None:
        self.words += data if self.within not in self.skipped else ""


def test_screen_and_print_say_the_same_head_rows_and_history(handed: Handed, tmp_path: Path) -> None:
    _, files = handed
    (tmp_path / "index.pdf").write_bytes(files["index.pdf"])
    page = _Words()
    page.feed(files["index.html"].decode())
    both = (
        letters(page.words),
        letters(printed(tmp_path / "index.pdf").across) + letters(printed(tmp_path / "index.pdf").upright),
    )
    digest = hashlib.sha256(files["SHA256SUMS"]).hexdigest()
    number = sum(1 for row in _rows(handed) if row["sha256"])
    said = [
        "File number", "Approval number, with extension", "none yet", "Regulation, series, supplement", "Applicant",
        f"Total files{number}", f"SHA-256 of SHA256SUMS{digest}", "History", "nothing was issued before",
        "Numbers are never given again", *(row["sha256"][:12] for row in _rows(handed) if row["sha256"]),
    ]  # fmt: skip
    for words in said:
        assert letters(words) in both[0], words
        assert letters(words) in both[1], words
    # One file, without a network: it leads to files of the folder and to nothing else.
    assert {link for link in page.links if not link.startswith("data:")} <= {n.replace(" ", "%20") for n in files}
    assert "http" not in re.sub(r"data:[^)\"]*", "", files["index.html"].decode())


def test_what_the_applicant_has_to_add_is_said_everywhere(handed: Handed, tmp_path: Path) -> None:
    report, files = handed
    assert report.missing
    (tmp_path / "index.pdf").write_bytes(files["index.pdf"])
    in_print = printed(tmp_path / "index.pdf")
    for item in report.missing:
        assert item.title in files["README.txt"].decode()
        assert item.title in files["index.html"].decode().replace("&#39;", "'")
        assert letters(item.title) in letters(in_print.across + in_print.upright)
    assert files["index.html"].decode().count('<tr class="gap">') == len(report.missing)


def test_the_index_is_a_pdf_that_can_be_read_aloud(handed: Handed) -> None:
    with pikepdf.open(io.BytesIO(handed[1]["index.pdf"])) as pdf:
        with pdf.open_metadata() as said:
            assert (said["pdfaid:part"], said["pdfaid:conformance"], said["pdfuaid:part"]) == ("3", "A", "1")
        assert pdf.Root.StructTreeRoot is not None


@pytest.mark.parametrize(
    ("numbers", "words"),
    [
        ([], ""),
        (["P1"], "P1"),
        (["P1", "P2"], "P1, P2"),
        (["P1", "P2", "P3", "P7", "F1", "F2", "F3"], "P1 to P3, P7, F1 to F3"),
        (["P9", "P10", "P11"], "P9 to P11"),
        (["T1", "R-7k4qxm", "R-7k4qxm", "R-2m8wfd"], "T1, data of 2 acts"),
    ],
)
def test_numbers_in_a_row_are_told_as_a_span(numbers: list[str], words: str) -> None:
    assert spans(numbers) == words


def test_a_paper_that_is_no_pdf_inside_is_not_counted_and_stops_nothing(tmp_path: Path) -> None:
    (tmp_path / "a.pdf").write_bytes(b"no PDF at all")
    (tmp_path / "b.pdf").write_bytes(b"%PDF-1.4\n" + b"1 0 obj\n<< /Type /Catalog /Pages 1 0 R >>\nendobj\n" * 3)
    rows = measure({"paths": [str(tmp_path / "a.pdf"), str(tmp_path / "b.pdf")]})
    assert [row["pages"] for row in rows] == [0, 0]


def test_pages_and_size_are_those_that_another_library_counts(tmp_path: Path) -> None:
    for name, size, number in (("a4", (595, 842), 3), ("across", (842, 595), 1), ("odd", (500, 500), 2)):
        pdf = pikepdf.new()
        for _ in range(number):
            pdf.add_blank_page(page_size=size)
        pdf.save(tmp_path / f"{name}.pdf")
    rows = measure({"paths": [str(tmp_path / f"{name}.pdf") for name in ("a4", "across", "odd")]})
    assert [(row["pages"], row["size"]) for row in rows] == [(3, "A4"), (1, "A4"), (2, "")]


def test_a_route_that_is_not_known_is_refused_with_those_that_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["build", "van-07", "--for", "moon", "--folder", str(ROOT)]) == 2
    assert "individual, inspector, un-r100" in capsys.readouterr().err
