"""The manual is built whole, and its reference says what models, methods and commands say themselves."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.documents.reader import Reader, dead_links
from tests.job.conftest import ROOT
from witnessmark.assessment.assess import assess
from witnessmark.cli.main import COMMANDS
from witnessmark.cli.manual_ import WIDTH, commands
from witnessmark.exports.schemas import schemas
from witnessmark.manual import make
from witnessmark.manual.codes import codes
from witnessmark.manual.make import Made
from witnessmark.manual.methods import page_of
from witnessmark.manual.pages import INDEX, title_of
from witnessmark.methods.registry import METHODS, method
from witnessmark.problems import Misuse
from witnessmark.reading.workshop import read_workshop

# myst-parser reads Sphinx by a name that goes with Sphinx 11; ours is pinned.
pytestmark = pytest.mark.filterwarnings("ignore:.*MystReferenceResolver.*:sphinx.deprecation.RemovedInSphinx11Warning")
DOCS = ROOT / "docs"


def plain(text: str) -> str:
    return " ".join(text.replace("\xa0", " ").replace("\u202f", " ").split())


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return make(tmp_path_factory.mktemp("manual"), commands())


@pytest.fixture(scope="module")
def pages(made: Made) -> dict[str, Reader]:
    return {path.stem: Reader(path) for path in made.index.parent.glob("*.html")}


def test_it_is_built_without_a_word(made: Made, pages: dict[str, Reader]) -> None:
    assert made.problems == ()
    assert made.pages == len(pages) > 75
    assert dead_links(made.index.parent, pages) == []


def test_every_page_of_the_folder_is_in_it_and_in_its_list(pages: dict[str, Reader]) -> None:
    written = {path.stem: title_of(path.read_text(encoding="utf-8")) for path in DOCS.glob("*.md")}
    assert len(written) > 7
    for name, title in written.items():
        if name == INDEX:
            continue
        assert title, name
        assert plain(title) in plain(pages[name].words)
        assert f"{name}.html" in pages["index"].links, name
        if name in ("safety", "first-vehicle", "by-hand", "rules", "releases"):
            assert f"{name}.md" in (DOCS / "README.md").read_text(encoding="utf-8")


def test_every_page_warns(pages: dict[str, Reader]) -> None:
    for name, page in pages.items():
        said = plain(page.words)
        assert "High voltage can kill" in said, name
        assert "Local codes and qualified persons decide" in said, name


def test_every_method_has_a_page_with_all_that_it_declares(pages: dict[str, Reader]) -> None:
    for ident in METHODS:
        one, said = method(ident), plain(pages[page_of(ident)].words)
        assert one is not None
        declared = [one.id, one.title, one.purpose, one.source, one.confidence, one.validity]
        declared += [caution.text for caution in one.cautions]
        for specs in (one.inputs, one.facts, one.channels, one.options, one.roles, one.conditions):
            declared += [word for spec in specs for word in (spec.name, spec.title)]
        declared += [f"{spec.name} {spec.title} {spec.unit}".rstrip() for spec in one.measurands if spec.unit]
        for words in declared:
            assert plain(words) in said, (ident, words)
        assert "math" in pages[page_of(ident)].tags
        assert f"{page_of(ident)}.html" in pages["methods"].links


def test_every_key_of_every_file_is_told(pages: dict[str, Reader]) -> None:
    said = plain(pages["files"].words)
    for schema in schemas().values():
        for part in (schema, *schema.get("$defs", {}).values()):
            for key, field in part.get("properties", {}).items():
                assert f" {key} " in said, key
                meaning = plain(str(field.get("description", "")).replace("`", ""))
                assert meaning in said or field.get("pattern"), (key, meaning)
    assert "anything" not in said


def test_the_commands_say_what_their_help_says(pages: dict[str, Reader]) -> None:
    """Against the help that the program itself prints in a terminal of that width."""
    said = plain(pages["commands"].words)
    for name, _ in COMMANDS:
        done = subprocess.run(
            [sys.executable, "-m", "witnessmark", name, "--help"],
            capture_output=True, text=True, check=True, env={**os.environ, "COLUMNS": str(WIDTH + 2)},
        )  # fmt: skip
        assert plain(done.stdout) in said, name


def test_every_code_that_the_demonstration_meets_is_told(pages: dict[str, Reader]) -> None:
    world = read_workshop(ROOT)
    one = assess(world, "van-07")
    met = {gap.code for r in one.requirements for gap in r.gaps}
    met |= {cause.code for r in one.requirements for p in r.parts for leaf in p.leaves for cause in leaf.causes}
    met |= {problem.code for problem in (*world.problems, *one.problems)} | {unused.code for unused in one.unused}
    assert len(met) > 4
    told = {code.code for code in codes()}
    families = {code.removesuffix("…") for code in told if code.endswith("…")}
    assert not [code for code in met - told if code.partition(".")[0] + "." not in families]
    said = plain(pages["states"].words + pages["problems"].words)
    assert all(code in said for code in told)


def test_every_code_in_the_source_is_told() -> None:
    """Against a search for the letters alone."""
    import re

    found = set()
    for path in (ROOT / "src").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        found |= set(re.findall(r'\b(?:Problem|Cause|Gap)\(\s*(?:code=)?"([a-z-]+\.[a-z-]+)"', text))
    assert len(found) > 100
    assert found <= {code.code for code in codes()}


def test_without_a_reader_of_markdown_it_says_what_to_do(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(Misuse) as stopped:
        make(tmp_path / "out", commands())
    assert "witnessmark[manual]" in stopped.value.problems[0].remedy
    assert not (tmp_path / "out").exists()
