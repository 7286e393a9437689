"""A form that the workshop changed is told: an item less is a gap less, and nobody may lose one quietly."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from tests.forms.test_form_pages import assessed, workshop
from witnessmark.document.content import sources
from witnessmark.reading.form_differences import form_differences
from witnessmark.reading.set_differences import differences_of, shipped_sets
from witnessmark.reading.sets import read_sets
from witnessmark.records.sets import RequirementSet
from witnessmark.shipped import shipped

FORM = "requirements/un-r100-03/forms/essential-characteristics.yaml"


def changed(old: str = "", new: str = "", *, without: str = "") -> RequirementSet:
    root = shipped("requirements") / "un-r100-03"
    lead = "requirements/un-r100-03/"
    files = {f"{lead}{p.relative_to(root).as_posix()}": p.read_bytes() for p in sorted(root.rglob("*.yaml"))}
    text = files[FORM].decode()
    assert old in text
    files[FORM] = text.replace(old, new, 1).encode()
    sets, problems = read_sets({p: d for p, d in files.items() if not without or not p.endswith(without)})
    assert not problems
    return sets["un-r100-03"]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("", "", []),
        ('  - {number: "1.1", title: make, fact: make}\n', "", ["item 1.1 is taken out"]),
        ("title: make, fact: make", "title: make, left: authority", ["item 1.1 is filled otherwise"]),
        ("title: make, fact: make", "title: trade mark, fact: make", ["item 1.1 was called “make”"]),
        (
            "title: make, fact: make}",
            'title: make, fact: make}\n  - {number: "1.9", title: colour, left: applicant}',
            ["item 1.9 is added"],
        ),
        ('number: "1.1"', 'number: "1.0"', ["item 1.1 is taken out", "item 1.0 is added"]),
        ("bus_topology: [joined, dc-separate", "bus_topology: [dc-separate", ["when it applies is not what it was"]),
        ("confidence: from-memory", "confidence: seen", ["its source is not what it was"]),
    ],
)
def test_every_change_of_a_form_is_told(old: str, new: str, words: list[str]) -> None:
    found = list(form_differences(shipped_sets()["un-r100-03"], changed(old, new)))
    assert found == [("essential-characteristics", one) for one in words]
    assert differences_of(changed(old, new)).words == ("forms differ" if words else "as it came")


def test_a_form_that_is_gone_or_new_is_told() -> None:
    came, less = shipped_sets()["un-r100-03"], changed(without="forms/communication.yaml")
    assert list(form_differences(came, less)) == [("communication", "is taken out")]
    assert list(form_differences(less, came)) == [("communication", "is added")]


def test_the_file_prints_what_was_changed_and_what_is_gone() -> None:
    less = changed('  - {number: "1.6", title: "representative: name, address", kind: party, fact: representative}\n')
    world = replace(workshop(), sets={**workshop().sets, "un-r100-03": less})
    page = json.loads(sources(world, assessed()).data["data/information-document.json"])
    note = page["un-r100-03.essential-characteristics.changed"]
    assert (note["label"], note["text"]) == ("Changed by us", "Item 1.6 is taken out.")
    none = replace(workshop(), sets={**workshop().sets, "un-r100-03": replace(less, forms=())})
    page = json.loads(sources(none, replace(assessed(), forms=())).data["data/information-document.json"])
    assert "Taken out by this workshop: un-r100-03:essential-characteristics, " in page["lead"]["text"]


def test_list_sets_names_the_items(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from tests.workshops import make
    from witnessmark.cli.main import main

    root = shipped("requirements")
    files = {f"requirements/{p.relative_to(root).as_posix()}": p.read_bytes() for p in sorted(root.rglob("*.yaml"))}
    files[FORM] = files[FORM].replace(b'  - {number: "1.1", title: make, fact: make}\n', b"")
    mini: dict[str, str | bytes | None] = {"requirements/mini/set.yaml": None, "requirements/mini/bus.yaml": None}
    assert main(["list", "sets", "--folder", str(make(tmp_path, {**files, **mini}))]) == 0
    assert "un-r100-03: the form essential-characteristics: item 1.1 is taken out" in capsys.readouterr().out
