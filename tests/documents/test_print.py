"""What print makes of pages: reports that say their own pages, photographs two to a row, lists that stay short."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from tests.demonstration.built import van
from witnessmark.assessment.assess import assess
from witnessmark.document.content import sources
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.world import Workshop

ROOT = Path(__file__).parents[2]


@cache
def world() -> Workshop:
    return read_workshop(ROOT)


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """The words of each page of the van's technical file."""
    pdf = van(tmp_path_factory) / "technical-file.pdf"
    return [" ".join((page.extract_text() or "").split()) for page in PdfReader(pdf).pages]


def _reports() -> list[str]:
    text = sources(world(), assess(world(), "van-07")).data["data/test-reports.json"]
    found: dict[str, Any] = json.loads(text)
    return [block["report"] for block in found.values() if block.get("report")]


def test_each_page_of_a_report_says_its_number_and_its_own_pages(pages: list[str]) -> None:
    """ISO/IEC 17025:2017, 7.8.2.1 d (from memory): every page is known to belong to the report, its end is clear."""
    codes = _reports()
    assert len(codes) > 15
    for code in codes:
        heads = [(n, re.findall(rf"Report {code}, page (\d+) of (\d+)", page)) for n, page in enumerate(pages)]
        on = [(n, found[0]) for n, found in heads if found]
        ends = [n for n, page in enumerate(pages) if f"End of report {code}." in page]
        assert len(ends) == 1 and on[-1][0] == ends[0], "the last page that says so is the one where it ends"
        assert [n for n, _ in on] == list(range(on[0][0], ends[0] + 1))
        assert [found for _, found in on] == [(str(k), str(len(on))) for k in range(1, len(on) + 1)]


def test_short_reports_share_a_page(pages: list[str]) -> None:
    shared = [page for page in pages if page.count("End of report") > 1]
    assert len(shared) > 3
    assert sum("End of report" in page for page in pages) < len(_reports()) * 0.6


def test_contents_take_one_page(pages: list[str]) -> None:
    assert "Contents" in pages[1] and "Words" in pages[1]
    assert "1 Gap register" in pages[2]


def test_no_page_of_the_chapters_holds_next_to_nothing(pages: list[str]) -> None:
    """Less than 250 letters beside head and foot is a page with one line or one picture: none of the van's is."""
    bare = {n + 1: len(page) for n, page in enumerate(pages) if len(page) < 500}
    assert not bare, bare


def test_photographs_stand_two_to_a_row(pages: list[str]) -> None:
    """Seven photographs of the connectors were on three pages and a half; two to a row they are on two or three."""
    on = [n for n, page in enumerate(pages) if re.search(r"Photograph [1-7]\b.*Finding", page)]
    assert 1 <= len(on) <= 3
