"""Numbers on pages have the decimal mark of the language, in formulas and figures too; nothing else about them changes.

The made-up language writes numbers as Finnish does: a comma (Unicode CLDR, symbols of `fi`), and a space between
thousands. What a person wrote as words stays as it was written; what other programs read keeps the point.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.language.pseudo import MARK, corpus, plain, pseudo, said_in
from tests.language.texts import ROOT
from witnessmark.document.formulas import math_tree, mathml
from witnessmark.document.screen import decimal_rest
from witnessmark.document.text import UNITS
from witnessmark.language import Language, speaking
from witnessmark.methods.checking import latex, spoken
from witnessmark.quantities import parse_quantity
from witnessmark.quantities.format import decimal_string, number, printed, show, written
from witnessmark.quantities.units import parse_unit

_MEASURED = re.compile(rf"(?<![\w.,-])\d+([.,]\d+)?(?=\s?(?:{UNITS})(?![\w·/-]))")
"""A number before a unit."""
_SIGNED = re.compile(r"(?<=[±<>≥≤×=])\s?[−-]?\d+([.,]\d+)?(?![\d.,]*\d)")
"""A number after a sign."""
_HERE = "|"
_ALONE = re.compile(r"[<>±≥≤−+-]?\s?\d[\d\u202f]*([.,]\d+)?")


def _pages(folder: Path) -> dict[str, str]:
    found = {path.stem: path.read_text("utf-8") for path in sorted((folder / "html").glob("*.html"))}
    assert len(found) > 60
    return found


def _cells(html: str) -> Iterator[str]:
    """What stands alone in a cell of numbers, or in a figure."""
    for cell in re.findall(r'(?s)<td class="right">(.*?)</td>', html) + re.findall(r"<text[^>]*>([^<]*)</text>", html):
        text = re.sub(r"<[^>]*>", "", cell).strip()
        if _ALONE.fullmatch(text):
            yield text


_HEADING = re.compile(r"^\d+\.\d+ (?=A [a-z])")
"""A heading that begins with the word "A": no amperes."""


def _numbers(html: str) -> Iterator[tuple[str, str]]:
    """Each number that is surely one, with what stands around it; units of words (`min`, `digits`) may be ours."""
    html = html.replace(MARK, "")
    for said in said_in(html):
        text = _HEADING.sub("", said)
        for pattern in (_MEASURED, _SIGNED):
            for found in pattern.finditer(text):
                yield found[0].strip(), f"{text[: found.start()][-60:]}{_HERE}{text[found.start() :][:70]}"
    for text in _cells(html):
        yield text, text
    for text in re.findall(r"<mn>([^<]*)</mn>", html):
        yield text, text


def _is_quoted(number: str, around: str, known: str) -> bool:
    """Whether a person wrote it among words: two words or more beside the number are found in what was written."""
    first, _, last = around.partition(_HERE)
    before, after = first.split()[-6:], last.strip()[len(number) :].split()[:6]
    for left in range(len(before) + 1):
        for right in range(len(after) + 1):
            run = [*before[len(before) - left :], number, *after[:right]]
            words = [w for w in plain(" ".join(run)).split() if len(w) > 2 and w.isalpha()]
            if len(words) >= 2 and f" {plain(' '.join(run))} " in known:
                return True
    return False


def test_no_number_of_ours_has_a_point(foreign: Path) -> None:
    known = corpus(ROOT)
    found: dict[str, str] = {}
    seen = 0
    for page, html in _pages(foreign).items():
        for number_, around in _numbers(html):
            seen += "," in number_
            if "." in number_ and not _is_quoted(number_, around, known):
                found.setdefault(f"{page}: {around}", number_)
    assert seen > 1000
    assert not found, "\n".join(sorted(found))


def test_in_english_no_number_has_a_comma(english: Path) -> None:
    known = corpus(ROOT)
    for page, html in _pages(english).items():
        for number_, around in _numbers(html):
            assert "," not in number_ or _is_quoted(number_, around, known), f"{page}: {around}"


def test_every_page_has_the_same_numbers_in_both_languages(english: Path, foreign: Path) -> None:
    """Readings, results, limits, budgets, formulas: digit for digit."""
    there, here = _pages(foreign), _pages(english)
    known = {n for html in here.values() for n, _ in _numbers(html)}
    for page, html in here.items():
        ours = Counter(n for n, _ in _numbers(html))
        theirs = Counter(n.replace(",", ".") for n, _ in _numbers(there[page]))
        assert not ours - theirs, (page, ours - theirs)
        # A reason that is cut to its first sentence is cut elsewhere where sentences begin with another letter.
        assert set(theirs - ours) <= known, (page, theirs - ours)


def test_numbers_in_formulas_are_one_piece_with_the_mark() -> None:
    """MathML 3, 3.2.4: a number is one `mn`; a comma in an `mo` would have a space after it."""
    assert "<mn>203.4</mn>" in mathml(r"203.4\,\mathrm{V}")
    with speaking(pseudo()):
        assert "<mn>203,4</mn>" in mathml(r"203.4\,\mathrm{V}") and "<mo>,</mo>" not in mathml(r"203.4\,\mathrm{V}")
        assert '["mn", {"upright": false, "width": ""}, ["0,5"]]' in _as_json(math_tree("0.5 x"))
    assert "<mn>203.4</mn>" in mathml(r"203.4\,\mathrm{V}"), "what is kept is kept for each language"


def _as_json(tree: object) -> str:
    import json

    return json.dumps(tree)


def test_what_people_read_has_the_mark_and_what_programs_read_has_the_point() -> None:
    volt, ohm = parse_unit("V"), parse_unit("Ω")
    found = parse_quantity("12345.5 V ± 0.6 V (k=2)")
    with speaking(pseudo()):
        assert str(show(203.41, 0.6, volt)) == "203,41 V ± 0,60 V"
        assert number(found.value) == "12\u202f345,5", "SI Brochure, 5.4.4: thin spaces, never a comma"
        assert printed(found) == "12345,5 V ± 0,6 V (k=2)" and str(found) == "12345.5 V ± 0.6 V (k=2)"
        assert spoken(0.25, ohm) == "250 mΩ" and spoken(2.5, ohm) == "2,5 Ω"
        assert latex(2.5, ohm) == r"2.5\,\mathrm{\Omega}", "LaTeX is read again, and marked where it becomes a page"
        assert decimal_string(0.25) == "0.25"
    assert str(show(203.41, 0.6, volt)) == "203.41 V ± 0.60 V"


@pytest.mark.parametrize(
    ("text", "page"),
    [
        ("403.2 V", "403,2 V"),
        ("> 999.9 MΩ", "> 999,9 MΩ"),
        ("203.4 V ± 0.3 % (k=2)", "203,4 V ± 0,3 % (k=2)"),
        ("2.4", "2.4"),  # a version, perhaps
        ("2.4.1", "2.4.1"),
        ("5.1 of the drawing", "5.1 of the drawing"),
        ("8.10.2026", "8.10.2026"),
        ("96 cells × 4.20 V", "96 cells × 4.20 V"),
        ("", ""),
    ],
)
def test_only_a_number_with_its_unit_is_written_anew(text: str, page: str) -> None:
    with speaking(pseudo()):
        assert written(text) == page
    assert written(text) == text


def test_columns_line_up_on_either_mark() -> None:
    assert decimal_rest(["1.25", "10", "0.5", "none"]) == ["", ".00", "0", ""]
    with speaking(pseudo()):
        rest = decimal_rest(["1,25", "10", "0,5", "none"])
    assert rest == ["", ",00", "0", ""]


@pytest.mark.parametrize("tag", ["fi", "de", "pt-BR", "sv"])
def test_reading_the_page_back_gives_the_number(tag: str) -> None:
    """By the symbols of CLDR: these write a decimal comma."""
    with speaking(Language(tag)):
        for x in (0.00125, 1.5, 99.25, 1234.5678):
            shown = show(x, None, parse_unit("V"), significant=8, choose_prefix=False).value
            assert "," in shown and float(shown.replace(",", ".").replace("\u202f", "")) == x


def test_attached_files_keep_the_point(foreign: Path, english: Path) -> None:
    """CSV and JSON are for other programs: byte for byte as in English."""
    names = sorted(p.name for p in (foreign / "html" / "attached").iterdir() if p.suffix in (".csv", ".json", ".yaml"))
    assert any(name.endswith(".csv") for name in names)
    for name in names:
        theirs = (foreign / "html" / "attached" / name).read_bytes()
        if name.endswith(".csv"):
            rows = list(csv.reader(theirs.decode("utf-8").splitlines()))
            assert not [cell for row in rows for cell in row if re.fullmatch(r"\d+,\d+", cell)], name
        if not name.endswith(".json"):
            assert theirs == (english / "html" / "attached" / name).read_bytes(), name
