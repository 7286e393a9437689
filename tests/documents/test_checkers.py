"""The technical file of the demonstration before checkers that others wrote: PDF/UA-1 as far as programs can check it.

Neither is a reference validator and a pass of both is no statement of conformance; a fault that one of them finds is a
fault of ours. `outloud` reads structure, text, fonts and links (Matterhorn Protocol 1.1), `pdfua` a smaller part of
ISO 14289-1 by another library, and qpdf (in pikepdf) the syntax of ISO 32000.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from tests.demonstration.built import van
from witnessmark.document.engine import PDF_NAME

UNKNOWN = {"PAG-001"}
"""Heads of tables that repeat on each page are no running heads, though they look alike to the checker."""


@pytest.fixture(scope="module")
def pdf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return van(tmp_path_factory) / PDF_NAME


def _spoiled(pdf: Path, to: Path) -> Path:
    """The same file without its structure: each checker has to object, or it would have looked at nothing."""
    with pikepdf.open(pdf) as one:
        del one.Root.StructTreeRoot
        del one.Root.MarkInfo
        del one.Root.Lang
        del one.pages[3:]
        one.save(to)
    return to


def _outloud(pdf: Path, to: Path) -> dict[str, Any]:
    pytest.importorskip("outloud")
    command = "from outloud.cli import main; main()"
    subprocess.run(
        [sys.executable, "-c", command, "--layer", "conformance", "--json", str(to), "-q", str(pdf)],
        check=False, capture_output=True, timeout=300,
    )  # fmt: skip
    (found,) = json.loads(to.read_text("utf-8"))["results"]
    return dict(found)


def test_outloud_finds_no_error_and_no_warning_that_is_not_explained(pdf: Path, tmp_path: Path) -> None:
    found = _outloud(pdf, tmp_path / "whole.json")
    assert found["error"] is None and found["stats"]["pages"] > 40
    assert found["counts"]["error"] == 0
    assert {one["rule"] for one in found["findings"] if one["severity"] == "warning"} <= UNKNOWN
    status = [row["status"] for row in found["criteria"]["pdfua1"]]
    assert "fail" not in status and status.count("pass") >= 14


def test_pdfua_finds_nothing(pdf: Path) -> None:
    checker = pytest.importorskip("pdfua")
    report = checker.validate(str(pdf))
    assert report.exit_code == 0 and not list(report.findings)


def test_qpdf_finds_no_fault_of_syntax(pdf: Path) -> None:
    with pikepdf.open(pdf) as one:
        assert one.check_pdf_syntax() == []


def test_the_checkers_object_to_a_file_without_structure(pdf: Path, tmp_path: Path) -> None:
    spoiled = _spoiled(pdf, tmp_path / "spoiled.pdf")
    assert _outloud(spoiled, tmp_path / "spoiled.json")["counts"]["error"] > 0
    assert list(pytest.importorskip("pdfua").validate(str(spoiled)).findings)
