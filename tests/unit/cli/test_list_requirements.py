"""`list requirements`: what each requirement of a folder applies to, and what shows it, in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.workshops import make
from witnessmark.cli.main import main
from witnessmark.document.views.requirement_list import applies_when
from witnessmark.reading.set_differences import shipped_sets
from witnessmark.reading.sets import FACTS, read_facts
from witnessmark.shipped import shipped


def test_every_requirement_of_the_folder_with_its_leaves(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = make(tmp_path / "shop")
    assert main(["list", "requirements", "--folder", str(root)]) == 0
    assert capsys.readouterr().out == (
        "mini: A small set\n\n"
        "  1.1  isolation: Isolation of the bus\n"
        "      applies to each HV bus\n"
        "      - value (measure): isolation resistance: ≥ 1 MΩ\n"
        "      - picture (photograph): the set-up\n\n"
        "1 requirement.\n"
    )


def test_an_unknown_set_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = make(tmp_path / "shop")
    assert main(["list", "requirements", "maxi", "--folder", str(root)]) == 2
    assert "there is no set 'maxi'" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("ident", "words"),
    [
        ("un-r100-03:bonding-present", "each HV enclosure where the enclosure material is conductive"),
        ("un-r100-03:covers-need-tool", "each HV enclosure; only if the vehicle category is M1 or N1"),
        ("un-r100-03:hv-scope", "the vehicle"),
        ("workshop-duties:authorisations", "the workshop"),
        ("conversion-practice:pack-design", "the design of each traction pack"),
    ],
)
def test_to_what_it_applies_in_words(ident: str, words: str) -> None:
    """The words were typed from the sets' files."""
    set_id, _, name = ident.partition(":")
    facts = read_facts((shipped("requirements") / FACTS.partition("/")[2]).read_bytes())[0]
    requirement = shipped_sets()[set_id].requirement(name)
    assert requirement is not None, [r.id for r in shipped_sets()[set_id].requirements]
    assert applies_when(requirement, facts) == words
