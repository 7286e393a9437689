"""A finished file that hides, drops, doubles or renames a requirement is no file: the count finds it."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.documents.builds import build_with
from tests.documents.fixture_assessment import assessment, workshop
from witnessmark.document.build import BuildReport, expected
from witnessmark.document.count_pdf import Printed, compare_pdf, letters, printed
from witnessmark.document.counts import COUNT, HEAD, LISTED, ROW, TODO, Expected, Seen, compare, seen_in_html
from witnessmark.language import Language, compiled, speaking

WANT = Expected("set:a", "area#r.a", "compliance-matrix#m.set.a", "gap-register", "not-shown", "not shown", True)
GOOD = (
    Seen(HEAD, WANT.target, "not-shown", "not shown"),
    Seen(ROW, WANT.row, "not-shown", "not shown"),
    Seen(TODO, WANT.target, "not-shown", "not shown"),
)


def test_a_file_that_shows_everything_once_is_right() -> None:
    assert compare([WANT], GOOD, "HTML") == ()


@pytest.mark.parametrize(
    ("seen", "codes"),
    [
        (GOOD[1:], ["count.missing"]),
        ((GOOD[0], GOOD[2]), ["count.missing"]),
        (GOOD[:2], ["count.gap"]),
        ((*GOOD, GOOD[0]), ["count.twice"]),
        ((replace(GOOD[0], state="conforms"), *GOOD[1:]), ["count.word"]),
        ((replace(GOOD[0], word="conforms"), *GOOD[1:]), ["count.word"]),
        ((replace(GOOD[0], word=""), *GOOD[1:]), ["count.word"]),
        ((replace(GOOD[0], hidden=True), *GOOD[1:]), ["count.missing"]),
        ((*GOOD[:2], replace(GOOD[2], hidden=True)), ["count.gap"]),
        ((*GOOD, Seen(HEAD, "area#r.b", "conforms", "conforms")), ["count.unknown"]),
        ((), ["count.missing", "count.missing", "count.gap"]),
    ],
)
def test_every_difference_is_a_problem_that_names_the_requirement(seen: tuple[Seen, ...], codes: list[str]) -> None:
    found = compare([WANT], seen, "PDF")
    assert [p.code for p in found] == codes
    assert all(WANT.name in p.message or "r.b" in p.message for p in found)


LISTING = replace(WANT, listed="state-not-shown#s.set.a")
LISTED_ONCE = Seen(LISTED, LISTING.listed, "not-shown", "not shown")


def count(target: str, said: str) -> Seen:
    return Seen(COUNT, target, "", said)


@pytest.mark.parametrize(
    ("seen", "codes"),
    [
        ([LISTED_ONCE], []),
        ([], ["count.missing"]),
        ([LISTED_ONCE, LISTED_ONCE], ["count.twice"]),
        ([replace(LISTED_ONCE, word="conforms")], ["count.word"]),
        ([LISTED_ONCE, replace(LISTED_ONCE, target="state-conforms#s.set.a", state="conforms")], ["count.unknown"]),
        ([LISTED_ONCE, count("state-not-shown#", "1")], []),
        ([LISTED_ONCE, count("state-not-shown#", "2")], ["count.link"]),
        ([LISTED_ONCE, count("state-not-shown#l.area", "1"), count("state-not-shown#l.other", "0")], []),
        ([LISTED_ONCE, count("state-not-shown#l.other", "1")], ["count.link"]),
        ([LISTED_ONCE, count("area#", "1 gap"), count("gap-register#", "1 gap")], []),
        ([LISTED_ONCE, count("area#", "no gaps")], ["count.link"]),
        ([LISTED_ONCE, count("gap-register#", "2 gaps")], ["count.link"]),
        ([LISTED_ONCE, count("concessions#", "1 concession")], ["count.link"]),
    ],
)
def test_the_page_of_a_state_and_every_number_beside_a_link_are_counted(seen: list[Seen], codes: list[str]) -> None:
    assert [p.code for p in compare([LISTING], [*GOOD, *seen], "HTML")] == codes


def test_a_link_may_count_nothing_where_nothing_is_to_be_counted() -> None:
    """A file without a gap whose other troubles stand in the way: the link says what they are."""
    shown = replace(LISTING, gap=False, state="conforms", word="conforms")
    seen = [replace(s, state="conforms", word="conforms") for s in (*GOOD[:2], LISTED_ONCE)]
    assert [p.code for p in compare([shown], [*seen, count("gap-register#", "in doubt")], "HTML")] == []
    assert [p.code for p in compare([shown], [*seen, count("gap-register#", "1 gap")], "HTML")] == ["count.link"]


def test_numbers_beside_links_are_counted_in_another_language() -> None:
    """One language says a single gap without a digit, and the number stands last."""
    head = (
        'msgid ""\nmsgstr "Content-Type: text/plain; charset=utf-8\\nPlural-Forms: nplurals=2; plural=(n != 1);\\n"\n'
    )
    gap = '\nmsgid "{n} gap"\nmsgid_plural "{n} gaps"\nmsgstr[0] "eine Lücke"\nmsgstr[1] "Lücken: {n}"\n'
    field = gap.replace(" gap", " empty field").replace("eine Lücke", "ein Feld").replace("Lücken", "Felder")
    with speaking(Language("de", compiled(head + gap + field))):
        for said, codes in (("eine Lücke", []), ("Lücken: 2", ["count.link"]), ("1 gap", ["count.link"])):
            seen = [*GOOD, LISTED_ONCE, count("gap-register#", said)]
            assert [p.code for p in compare([LISTING], seen, "HTML", empty=2)] == codes
        for said, codes in (("Felder: 2", []), ("ein Feld", ["count.link"])):
            seen = [*GOOD, LISTED_ONCE, count("information-document#", said)]
            assert [p.code for p in compare([LISTING], seen, "HTML", empty=2)] == codes


@pytest.mark.parametrize(("said", "codes"), [("2 empty fields", []), ("3 empty fields", ["count.link"])])
def test_the_number_of_empty_fields_beside_a_link_is_counted(said: str, codes: list[str]) -> None:
    """Two fields are empty, one requirement is a gap: neither number stands for the other."""
    seen = [*GOOD, LISTED_ONCE, count("information-document#", said)]
    assert [p.code for p in compare([LISTING], seen, "HTML", empty=2)] == codes


def test_numbers_beside_links_are_found_on_the_finished_pages(good: tuple[Path, BuildReport]) -> None:
    pages = {path.stem: path.read_text(encoding="utf-8") for path in (good[1].out / "html").glob("*.html")}
    seen = {(s.target, s.word) for s in seen_in_html(pages) if s.where == COUNT}
    assert {("state-not-shown#", "3"), ("gap-register#", "6 gaps"), ("concessions#", "1 concession")} <= seen
    assert {t.partition("#")[2][:2] for t, _ in seen} == {"", "l."}
    rows = expected(assessment(workshop()))
    for spoiled in ('<span class="count">3</span>', '<span class="note count">6 gaps</span>'):
        page = {"index": pages["index"].replace(spoiled, spoiled.replace("3<", "2<").replace("6", "5"))}
        assert page["index"] != pages["index"]
        assert "count.link" in {p.code for p in compare(rows, seen_in_html(page), "HTML")}


def everything(folder_: Path) -> dict[str, str]:
    return {
        path.relative_to(folder_).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder_.rglob("*"))
        if path.is_file()
    }


def test_the_shipped_templates_build_and_the_same_input_gives_the_same_bytes(
    good: tuple[Path, BuildReport], tmp_path: Path
) -> None:
    _, one = good
    two = build_with(tmp_path / "a" / "longer" / "way" / "two", {})
    assert one.written
    assert [p for p in one.problems if p.severity.value == "problem"] == []
    assert one.pdf.is_file()
    assert one.html.is_file()
    assert everything(one.out) == everything(two.out)
    assert sorted(p.name for p in one.out.parent.iterdir()) == ["draft"]


HIDING = {
    "no answer": {"index.rst.j2": ('{{ block(data, "cover") }}', "Everything is well.")},
    "no cautions": {"area.rst.j2": ('{{ block(data, "cautions") }}', "")},
    "leaves a gap out": {
        "area.rst.j2": ("{% for requirement in requirements %}", "{% for requirement in requirements[1:] %}")
    },
    "only the conforming": {
        "area.rst.j2": (
            "{{ block(data, key) }}\n{% endfor %}\n{% endfor %}",
            "{% if 'head' not in key %}{{ block(data, key) }}{% endif %}\n{% endfor %}\n{% endfor %}",
        )
    },
    "only on the screen": {
        "compliance-matrix.rst.j2": (
            "{{ block(data, key) }}",
            ".. only:: html\n\n   .. block:: {{ data|rst }}#{{ key|rst }}",
        )
    },
    "not on the page of its state": {
        "state.rst.j2": ("{{ block(data, area.key) }}", "{% if not loop.first %}{{ block(data, area.key) }}{% endif %}")
    },
    "in a comment": {
        "gap-register.rst.j2": ('{{ block(data, "register") }}', "..\n   .. block:: {{ data|rst }}#register")
    },
    "twice": {
        "compliance-matrix.rst.j2": ("{{ block(data, key) }}", "{{ block(data, key) }}\n\n{{ block(data, key) }}")
    },
    "in a box": {
        "compliance-matrix.rst.j2": (
            "{{ block(data, key) }}",
            ".. container:: tolist\n\n   .. block:: {{ data|rst }}#{{ key|rst }}",
        )
    },
}


# Those of one row change different templates, so that one build shows what each of them is found by.
TOGETHER = {
    ("no answer", "no cautions", "in a comment", "twice"): {
        ("count.block", "index#", "HTML"),
        ("count.block", "#b.cautions", "PDF"),
        ("count.gap", "gap register in the PDF", "PDF"),
        ("count.twice", "matrix of the HTML", "HTML"),
    },
    ("leaves a gap out", "in a box", "not on the page of its state"): {
        ("count.missing", "list of its state of the HTML", "HTML"),
        ("count.missing", "chapter of the HTML", "HTML"),
        ("count.missing", "stands where it can be hidden in the matrix of the HTML", "HTML"),
    },
    ("only the conforming", "only on the screen"): {
        ("count.missing", "chapter of the PDF", "PDF"),
        ("count.missing", "is missing in the matrix of the PDF", "PDF"),
    },
}


@pytest.mark.parametrize("names", TOGETHER, ids=", ".join)
def test_a_template_that_hides_something_stops_the_build(tmp_path: Path, names: tuple[str, ...]) -> None:
    report = build_with(tmp_path, {file: change for name in names for file, change in HIDING[name].items()})
    assert not report.written
    for code, words, output in TOGETHER[names]:
        assert any(p.code == code and words in p.message and output in p.message for p in report.problems), words
    assert not (tmp_path / "builds" / "van-07" / "draft").exists()


def test_every_way_to_hide_something_is_tried() -> None:
    assert sorted(name for names in TOGETHER for name in names) == sorted(HIDING)


def test_a_build_that_fails_leaves_the_old_one_whole(good: tuple[Path, BuildReport]) -> None:
    root, _ = good
    before = everything(root / "builds")
    report = build_with(root, {"area.rst.j2": ("{{ heading(title) }}", "{{ heading(titel) }}")})
    assert not report.written
    fault = next(p for p in report.problems if p.code == "template.undefined")
    assert fault.place is not None
    assert (fault.place.file, fault.place.line) == ("area.rst.j2", 1)
    assert "title" in fault.remedy
    assert everything(root / "builds") == before


def test_all_requirements_of_the_assessment_are_expected() -> None:
    one = assessment(workshop())
    assert len({e.target for e in expected(one)}) == len({e.row for e in expected(one)}) == len(one.requirements)


def test_the_printed_pages_are_read_back() -> None:
    """A row, entry or job that is missing or says another word is named; a title that begins another is told apart."""
    rows = [
        Expected("s:a", "p#a", "m#a", "r", "conforms", "conforms", False, "5.1.1", "Covers", "5.1"),
        Expected("s:b", "p#b", "m#b", "r", "conforms", "conforms", False, "5.1.1", "Covers of heavy vehicles", "5.2"),
        Expected("s:c", "p#c", "m#c", "r", "not-shown", "not shown", True, "5.1.2", "Bonding", "5.3"),
    ]
    across = "conforms 5.1.1 Covers 3 of 3 conforms 5.1.1 Covers of heavy vehicles none not shown 5.1.2 Bonding none"
    upright = (
        "5.1 Covers .... 7 5.2 Covers of heavy vehicles .... 7 5.3 Bonding .... 8\n"
        "not shown requirement 5.3\npage 8 Bonding UN 5.1.2 There is no record.\n"
        "5.1 Covers\nconforms\nUN 5.1.1 5.2 Covers of heavy vehicles\nconforms\nUN 5.1.1 "
        "5.3 Bonding\nnot shown\nUN 5.1.2"
    )
    assert compare_pdf(rows, Printed(letters(across), upright), "x.pdf") == ()
    listed = upright.replace("requirement 5.3", "requirement 5.1").replace("There", "Hits 5.2, 5.3 There")
    assert compare_pdf(rows, Printed(letters(across), listed), "x.pdf") == ()
    for spoiled, named in (
        (across.replace("not shown", "conforms"), "s:c"),
        (across.replace("conforms 5.1.1 Covers of heavy vehicles none ", ""), "s:b"),
        (across.replace("conforms 5.1.1 Covers 3 of 3 ", ""), "s:a"),
    ):
        (problem,) = compare_pdf(rows, Printed(letters(spoiled), upright), "x.pdf")
        assert problem.code == "count.printed"
        assert problem.message.startswith(named)
        assert "matrix" in problem.message
    for spoiled, named, words in (
        (upright.replace("Bonding\nnot shown", "Bonding\nconforms"), "s:c", "chapters"),
        (upright.replace("5.2 Covers of heavy vehicles\nconforms", "5.2 Covers of heavy vehicles"), "s:b", "chapters"),
        (upright.replace("requirement 5.3", "requirement 5.31"), "s:c", "register"),
    ):
        (problem,) = compare_pdf(rows, Printed(letters(across), spoiled), "x.pdf")
        assert problem.message.startswith(named)
        assert words in problem.message


def test_pages_are_read_as_another_reader_reads_them(good: tuple[Path, BuildReport]) -> None:
    """The words that we take straight from the content, against the text that pypdf extracts from the same pages."""
    ours = printed(good[1].pdf)
    pages = PdfReader(good[1].pdf).pages
    across = [page for page in pages if page.mediabox.width > page.mediabox.height]
    assert across
    assert ours.across == letters(" ".join(page.extract_text() for page in across))
    for page in (pages[0], pages[3], pages[len(pages) - 2]):
        theirs = letters(page.extract_text())
        assert len(theirs) > 200
        assert theirs in letters(ours.upright)
