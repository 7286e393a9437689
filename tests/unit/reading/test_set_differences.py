"""How a set of the folder differs from the one that came with the tool; what asks less is called loosened."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.workshops import make
from witnessmark.cli.main import main
from witnessmark.reading.set_differences import differences_of, loosened, shipped_sets
from witnessmark.reading.sets import read_sets
from witnessmark.shipped import shipped

FILE = "requirements/un-r100-03/bonding.yaml"


def _folder(*changes: tuple[str, str]) -> dict[str, bytes]:
    root = shipped("requirements") / "un-r100-03"
    files = {f"requirements/un-r100-03/{p.relative_to(root)}": p.read_bytes() for p in sorted(root.rglob("*.yaml"))}
    text = files[FILE].decode()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return {**files, FILE: text.encode()}


def test_as_it_came_nothing_differs() -> None:
    sets, problems = read_sets(_folder())
    assert not problems
    assert differences_of(sets["un-r100-03"]).words == "as it came"


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("less_than: 0.1 Ω", "less_than: 0.2 Ω", "bonding/limit was less than 0.1 Ω, now less than 0.2 Ω"),
        ("less_than: 0.1 Ω", "at_most: 0.1 Ω", "bonding/limit was less than 0.1 Ω, now at most 0.1 Ω"),
        ("less_than: 0.1 Ω", "less_than: 0.05 Ω", ""),
        ("less_than: 0.1 Ω", "less_than: 100 mΩ", ""),
    ],
)
def test_a_limit_that_asks_less_is_loosened_and_one_that_asks_more_is_not(old: str, new: str, words: str) -> None:
    sets, problems = read_sets(_folder((old, new)))
    assert not problems
    found = differences_of(sets["un-r100-03"])
    assert found.changed == ("bonding-resistance",)
    assert found.loosened == ({"bonding-resistance": (words,)} if words else {})


def test_a_second_person_and_a_leaf_taken_out_ask_less() -> None:
    was = shipped_sets()["un-r100-03"].requirement("isolation-topology")
    assert was is not None
    note = was.leaves["note"]
    alone = was.model_copy(update={"leaves": {"note": note.model_copy(update={"second_person": "no"})}})
    assert list(loosened(was, alone)) == ["note needs no second person any more"]
    assert "note is not asked any more" in list(loosened(was, was.model_copy(update={"leaves": {}})))


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("        measure: bonding-resistance\n", "        inspect: looks well joined\n", "bonding: measure is not"),
        (
            "      bonding:\n",
            "      bonding:\n        decision_rule: {rule: simple, cap: 100 %}\n",
            "bonding: decision rule",
        ),
        ("    leaves:\n", "    decision_rule: {rule: simple, cap: 100 %}\n    leaves:\n", "decision rule is not"),
    ],
)
def test_what_nobody_can_tell_is_said_too(old: str, new: str, words: str) -> None:
    root = shipped("requirements") / "un-r100-03" / "bonding.yaml"
    text = root.read_text(encoding="utf-8")
    start = text.index("  - id: bonding-resistance")
    assert old in text[start:], text[start : start + 1200]
    changed = text[:start] + text[start:].replace(old, new, 1)
    if "inspect" in new:
        at = changed.index("criteria", start)
        changed = changed[:at].rstrip() + "\n" + changed[changed.index("job:", at) :].replace("job:", "        job:", 1)
    sets, problems = read_sets({**_folder(), FILE: changed.encode()})
    assert not problems, problems
    found = differences_of(sets["un-r100-03"]).loosened or {}
    assert any(words in one for one in found.get("bonding-resistance", ())), found


def test_a_rule_put_into_the_head_of_a_set_is_told() -> None:
    name = "requirements/un-r100-03/set.yaml"
    files = _folder()
    sets, problems = read_sets({**files, name: files[name] + b"decision_rule: {rule: simple, cap: 100 %}\n"})
    assert not problems
    found = differences_of(sets["un-r100-03"])
    assert found.words == "set.yaml differs"
    assert found.head == ("decision_rule was not given, now “rule simple, cap 100 %”",)


def test_a_set_of_the_team_is_its_own(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = make(tmp_path)
    assert main(["list", "sets", "--folder", str(root)]) == 0
    assert "mini" in (out := capsys.readouterr().out) and "the team's own" in out
    assert main(["list", "unconfirmed", "--folder", str(root)]) == 0
    assert (
        "isolation" in (out := capsys.readouterr().out)
        and "1 requirement held beside the official text by nobody" in out
    )
    assert main(["list", "unconfirmed", "no-set", "--folder", str(root)]) == 2
    assert "there is no set 'no-set'" in capsys.readouterr().err
