"""The cautions of every method reach whoever reads: at the bench, in --explain, on the page and in print."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader

from tests.documents import sample
from tests.documents.fixture_assessment import workshop
from tests.first_order_against_monte_carlo import EXAMPLES
from witnessmark.cli.main import main
from witnessmark.document.build import BuildReport
from witnessmark.document.engine import PDF_NAME, build
from witnessmark.document.views.areas import each_once
from witnessmark.methods.registry import METHODS, method
from witnessmark.records.acts import Record


def letters(text: str) -> str:
    """What is left when lines are broken, tied or hyphenated anew."""
    return re.sub(r"[\W_]+", "", text).lower()


def cautions_of(id: str) -> list[str]:
    found = method(id)
    assert found is not None and found.cautions
    return [caution.text for caution in found.cautions]


def sentences(texts: list[str]) -> list[str]:
    return [part for text in texts for part in re.split(r"(?<=[.])\s+", text.strip())]


@pytest.mark.parametrize("id", METHODS)
def test_explain_tells_every_caution(id: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calculate", id, "--explain"]) == 0
    said = letters(capsys.readouterr().out)
    for text in cautions_of(id):
        assert letters(text) in said


@pytest.mark.parametrize("id", METHODS)
def test_calculate_tells_every_caution(id: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    example = EXAMPLES[id]
    given = [
        f"{name}={value}"
        for name, values in (*example.get("readings", {}).items(), *example.get("facts", {}).items())
        if values is not None
        for value in ((values,) if isinstance(values, str) else values)
    ]
    assert main(["calculate", id, *given, *_log(id, example, tmp_path)]) == 0
    said = letters(capsys.readouterr().out)
    for text in cautions_of(id):
        assert letters(text) in said


def _log(id: str, example: Any, folder: Path) -> list[str]:
    if "columns" not in example:
        return []
    columns = {name.replace(":", "_"): np.asarray(values, dtype=float) for name, values in example["columns"].items()}
    rows = zip(*(values.tolist() for values in columns.values()), strict=True)
    path = folder / "log.csv"
    lines = [",".join(columns), *(",".join(f"{value:.10f}" for value in row) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    found = method(id)
    assert found is not None
    out = ["--log", str(path)]
    for spec in found.channels:
        if any(name.partition(":")[0] == spec.name for name in example["columns"]):
            out += ["--channel", f"{spec.name}={spec.name}_*" if spec.many else f"{spec.name}={spec.name}"]
    for name, value in example.get("options", {}).items():
        unit = next((spec.unit for spec in found.options if spec.name == name), "s")
        out += ["--option", f"{name}={value:g}" + ("" if unit == "1" else f" {unit}")]
    return out


def test_a_sentence_is_said_once_and_none_is_lost() -> None:
    """Only the one about local codes may go: it is the last line of every band."""
    texts = [text for id in METHODS for text in cautions_of(id)]
    kept = letters(" ".join(each_once(texts)))
    lost = {part for part in sentences(texts) if letters(part) not in kept}
    assert all("ocal codes" in part and "decide" in part for part in lost), lost


class _Words(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.words: list[str] = []

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def words_of(html: Path) -> str:
    parser = _Words()
    for page in sorted(html.glob("**/*.html")):
        parser.feed(page.read_text("utf-8"))
    return letters(" ".join(parser.words))


def printed(pdf: Path) -> str:
    return letters(" ".join(page.extract_text() for page in PdfReader(pdf).pages))


def test_the_technical_file_has_those_of_each_method_that_was_used(good: tuple[Path, BuildReport]) -> None:
    _, report = good
    assert report.pdf is not None
    used = {a.body.method for a in workshop().acts if isinstance(a.body, Record) and a.body.method}
    assert used
    screen, paper = words_of(report.pdf.parent), printed(report.pdf)
    for id in used:
        for part in sentences(list(each_once(cautions_of(id)))):
            assert letters(part) in screen, (id, part)
            assert letters(part) in paper, (id, part)


def test_those_of_all_methods_can_be_shown_and_printed(tmp_path: Path) -> None:
    """One hazard band with the cautions of every method: none is cut, on the screen or on paper."""
    sources = sample.write(tmp_path / "sources")
    lines = list(each_once(text for id in METHODS for text in cautions_of(id)))
    changed = 0
    for file in sorted((tmp_path / "sources").glob("**/*.json")):
        data = json.loads(file.read_text("utf-8"))
        for block in data.values() if isinstance(data, dict) else ():
            if isinstance(block, dict) and block.get("kind") == "cautions":
                block["lines"] = lines
                changed += 1
        file.write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
    assert changed
    attached = sample.attachments(tmp_path / "attached")
    report = build(sources, tmp_path / "out", settings=sample.SETTINGS, attachments=attached)
    assert report.problems == ()
    screen, paper = words_of(tmp_path / "out" / "html"), printed(tmp_path / "out" / PDF_NAME)
    for line in lines:
        assert letters(line) in screen
        assert letters(line) in paper
