"""The printed technical file in the made-up language, read back: every word is ours, said in it, or somebody's.

A page of a PDF is one stream of words: sentences break over lines and cells follow one another. So a word counts as
somebody's when it stands in a run of three or more that a person wrote, or when it is a whole entry of theirs (a
title, an id).
"""

from __future__ import annotations

import functools
import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.language.pseudo import MARK, TAG, corpus, months, plain, printed_in, values
from tests.language.test_numbers import is_quoted, measured
from tests.language.texts import ROOT

_OURS = re.compile(rf"[{MARK}{MARK.upper()}][\w'’]+(?:-\s?[{MARK}]?[\w'’]+)*")
_CODES = re.compile(
    r"\b(?=[a-z]*\d)(?=\d*[a-z])[a-z0-9]{6}\b|\b[0-9a-f]{8,64}\b|\S+\.(?:jpe?g|png|ya?ml|csv|pdf)\b|\S+@\S+"
    r"|\b(?:evidence|vehicles|van-07|photos|reports|logs|records)/\S*"
)
"""Codes of records, hashes and names of files."""
_OF_NOBODY = frozenset(
    {"sha", "vin", "yaml", "json", "csv", "pdf", "iso", "iec", "din", "un", "jcgm", "dc", "ac", "hv", "min", "max"}
    | {"witnessmark"}
)
_BESIDE = frozenset(
    {
        "the",
        "through",
        "bus",
        "enclosure",
        "evaluation",
        "combustion",
        "survives",
        "discharge",
        "parting",
        "battery",
        "orchis",
        "support",
    }
    | {"carry over", "5a own", "hydro gen", "ve hicle", "switc hing off", "hop"}
)
"""Words of the workshop's own that stand alone between words of ours, or were parted at the end of a line."""


@pytest.fixture(scope="module")
def pages(foreign: Path) -> list[str]:
    reader = PdfReader(foreign / "technical-file.pdf")
    assert str(reader.root_object["/Lang"]) == TAG
    found = [printed_in(page.extract_text()) for page in reader.pages]
    assert len(found) > 50
    return found


def left_over(text: str, known: str, entries: frozenset[str]) -> list[str]:
    """Runs of words that are neither ours nor anybody's."""
    found = []
    for piece in re.split(r"\u241f", _OURS.sub("\u241f", _CODES.sub(" \u241f ", text))):
        words = plain(piece).split()
        at, run = 0, []
        while at < len(words):
            end = _reach(words, at, known, entries)
            if end == at:
                run.append(words[at])
                end = at + 1
            elif run:
                found.append(" ".join(run))
                run = []
            at = end
        if run:
            found.append(" ".join(run))
    return [run for run in found if any(_is_word(word) for word in run.split())]


def _is_word(word: str) -> bool:
    """Letters of English: symbols of formulas are of other alphabets."""
    return len(word) > 2 and word.isascii() and word.isalpha() and word not in _OF_NOBODY


@functools.cache
def threes(known: str) -> frozenset[tuple[str, ...]]:
    """Every three words that stand side by side: asked first, as looking through the whole text takes long."""
    words = known.split()
    return frozenset(zip(words, words[1:], words[2:], strict=False))


def _reach(words: list[str], at: int, known: str, entries: frozenset[str]) -> int:
    """How far a run of three or more known words, or a whole entry, goes from here; `at` itself for none."""
    best = at
    for end in range(at + 1, min(len(words), at + 40) + 1):
        run = " ".join(words[at:end])
        there = end - at >= 3 and tuple(words[end - 3 : end]) in threes(known) and f" {run} " in known
        if run in entries or there:
            best = end
        elif end - at >= 3 and not there:
            break
    return best


def test_no_word_of_ours_is_printed_in_english(pages: list[str]) -> None:
    known, entries = corpus(ROOT), values(ROOT) | months()
    found: dict[str, list[int]] = {}
    for n, page in enumerate(pages, 1):
        for piece in left_over(page, known, entries):
            run = " ".join(word for word in piece.split() if not word.isdigit())
            if run not in _BESIDE:
                found.setdefault(run, []).append(n)
    assert not found, "\n".join(f"{run}: page {n}" for run, n in sorted(found.items()))


def test_what_would_be_forgotten_is_found() -> None:
    known, entries = corpus(ROOT), values(ROOT)
    assert left_over("øIsolation øresistance øis undoubtedly sufficient øhere", known, entries) == [
        "undoubtedly sufficient"
    ]
    assert left_over("Heater bus øis øfine", known, entries) == []


def test_no_number_of_ours_is_printed_with_a_point(pages: list[str]) -> None:
    known = corpus(ROOT)
    found = {
        f"page {n}: {around}"
        for n, page in enumerate(pages, 1)
        for number, around in measured(page)
        if "." in number and not is_quoted(number, around, known)
    }
    assert not found, "\n".join(sorted(found))
