"""The workshop's mark and address: where ISO/IEC 17025:2017, 7.8.2.1 b) wants them, on screen and in print."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import pikepdf
import pytest
from PIL import Image

from tests.documents.fixture_assessment import assessment, folder, workshop
from tests.hostile.test_mark import sign
from tests.hostile.test_pictures import photo
from witnessmark.document.build import BuildReport, build
from witnessmark.document.count_pdf import letters, printed
from witnessmark.document.sheets.write import chosen, write_sheets
from witnessmark.records.world import Picture, Workshop
from witnessmark.shipped import shipped

NAME = "Ropes & <Hooks>"
"""A name in which nothing may be read as markup."""


def _world(root: Path, data: bytes, name: str = "mark.png") -> Workshop:
    plain = workshop()
    described = {**plain.file.model_dump(), "name": NAME, "mark": name}
    described |= {
        "address": ("Quay 9", "12345 Port Ellery"),
        "contact": {"telephone": "555 0142", "mail": "a@b.example"},
    }
    folder(root, plain)
    (root / "evidence").mkdir(exist_ok=True)
    (root / "evidence" / name).write_bytes(data)
    with Image.open(io.BytesIO(data)) as image:
        width, height = image.size
    mark = Picture(f"evidence/{name}", sha256(data).hexdigest(), width, height)
    return replace(plain, file=type(plain.file).model_validate(described), mark=mark)


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> BuildReport:
    root = tmp_path_factory.mktemp("letterhead")
    world = _world(root, photo((800, 400), position=True, taken="2026:10:14 16:21:05"), "mark.jpg")
    report = build(root, world, assessment(world))
    assert report.written, report.problems
    return report


def test_it_stands_on_the_cover_and_at_the_head_of_each_report(built: BuildReport) -> None:
    cover = (built.out / "html" / "index.html").read_text(encoding="utf-8")
    reports = (built.out / "html" / "test-reports.html").read_text(encoding="utf-8")
    image = '<img src="_images/letterhead_mark.jpg" alt="Ropes &amp; &lt;Hooks&gt;: mark">'
    assert cover.count(image) == 1
    number = reports.count("data-report=")
    assert reports.count(image) == number > 1
    # Name and address of the laboratory, in each report's own table.
    said = "Ropes &amp; &lt;Hooks&gt;, Quay 9, 12345 Port Ellery"
    assert reports.count(f"<dd>{said}</dd>") == number
    assert "Quay 9, 12345 Port Ellery" in cover
    assert re.search(r"telephone 555\u00a00142|telephone 555 0142", cover)
    # Nothing is linked: the workshop's words are words.
    assert "mailto:" not in cover
    # The letterhead says whose file it is; the line with file and issue does not say it again.
    head = re.search(r'<p class="coverhead">(.*?)</p>', cover)
    assert head is not None and "Hooks" not in head[1]


def test_the_copies_hold_pixels_and_nothing_else(built: BuildReport) -> None:
    data = (built.out / "html" / "_images" / "letterhead_mark.jpg").read_bytes()
    with Image.open(io.BytesIO(data)) as image:
        assert not dict(image.getexif())
    assert b"Invented Camera" not in built.pdf.read_bytes()
    assert b"Invented Camera" not in data


def test_print_says_in_words_what_the_mark_is(built: BuildReport) -> None:
    """PDF/UA-1 (ISO 14289-1), 7.3: a figure has an alternative text."""
    with pikepdf.open(built.pdf) as pdf:
        spoken = [str(o.Alt) for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and "/Alt" in o]
    reports = (built.out / "html" / "test-reports.html").read_text(encoding="utf-8").count("data-report=")
    assert spoken.count(f"{NAME}: mark") == 1 + reports
    assert letters("Quay 9, 12345 Port Ellery") in letters(printed(built.pdf).upright)


def test_without_mark_and_address_name_and_place_stand_there(good: tuple[Path, BuildReport]) -> None:
    cover = (good[1].out / "html" / "index.html").read_text(encoding="utf-8")
    file = workshop().file
    assert "<img" not in cover.partition("covertitle")[0]
    assert re.search(rf'class="letterhead cover"><p><strong>{file.name}</strong><br>{file.place}</p>', cover)


def test_a_page_of_the_team_that_leaves_it_out_still_says_whose_file_it_is(tmp_path: Path) -> None:
    world = _world(tmp_path, sign())
    text = (shipped("templates") / "index.rst.j2").read_text(encoding="utf-8")
    own = tmp_path / "templates"
    own.mkdir()
    (own / "index.rst.j2").write_text(text.replace('{% include "letterhead.rst.j2" %}\n', ""), encoding="utf-8")
    report = build(tmp_path, world, assessment(world))
    assert report.written, report.problems
    cover = (report.out / "html" / "index.html").read_text(encoding="utf-8")
    assert re.search(r'<p class="coverhead"><span><strong>Ropes &amp; &lt;Hooks&gt;</strong>', cover)


def test_the_mark_that_was_exchanged_meanwhile_stops_the_build(tmp_path: Path) -> None:
    world = _world(tmp_path, sign())
    (tmp_path / "evidence" / "mark.png").write_bytes(sign(ink=40))
    report = build(tmp_path, world, assessment(world))
    assert not report.written
    assert "document.photograph" in [p.code for p in report.problems]


def test_a_sheet_carries_it_in_black_and_white(tmp_path: Path) -> None:
    world = _world(tmp_path, photo((800, 400)), "mark.jpg")
    found = assessment(world)
    out = tmp_path / "sheets.pdf"
    assert write_sheets(world, found, chosen(world, found), out, root=tmp_path) == ()
    with pikepdf.open(out) as pdf:
        spoken = [str(o.Alt) for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and "/Alt" in o]
        images = [o for o in pdf.objects if isinstance(o, pikepdf.Stream) and o.get("/Subtype") == "/Image"]
        shades = [image for image in images if image.get("/ColorSpace") is not None]
        assert f"{NAME}: mark" in spoken
        assert shades
        for image in shades:
            # DeviceGray, or an ICC profile of one component (ISO 32000-1, 8.6.4.2 and 8.6.5.5).
            space = image.ColorSpace
            assert space == "/DeviceGray" or (space[0] == "/ICCBased" and int(space[1].N) == 1)


def test_no_state_hangs_on_it(tmp_path: Path) -> None:
    """What is shown is the same with any mark and address, and with none."""
    from tests.recording.shop import shop
    from witnessmark.assessment.assess import assess
    from witnessmark.reading.workshop import read_workshop

    root = shop(tmp_path / "shop")
    before = assess(read_workshop(root, use_cache=False), "van-07")
    file = root / "evidence" / "workshop.yaml"
    for name, data in (("mark.png", sign()), ("gone.png", None), ("bad.png", b"no picture")):
        if data is not None:
            (root / "evidence" / name).write_bytes(data)
        text = file.read_text(encoding="utf-8").partition("mark:")[0]
        file.write_text(f"{text}mark: {name}\n", encoding="utf-8")
        after = assess(read_workshop(root, use_cache=False), "van-07")
        assert after.requirements == before.requirements
        assert after.jobs == before.jobs
