"""Every command and every file of docs/first-vehicle.md, in the order of the page."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest

from .conftest import ROOT, Ran, run

PAGE = (ROOT / "docs" / "first-vehicle.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```(sh|yaml)\n(.*?)^```$", PAGE, re.M | re.S)


def _state(folder: Path, home: Path, ident: str) -> str:
    document = json.loads(run("audit", "car-01", "--format", "json", cwd=folder, home=home).out)
    return next(str(r["state"]) for r in document["requirements"] if r["id"] == ident)


@pytest.fixture(scope="module")
def followed(tmp_path_factory: pytest.TempPathFactory, home: Path) -> tuple[Path, list[tuple[str, Ran, str]]]:
    """The folder after the whole page, and for each command what it said and how bonding stood afterwards."""
    base = tmp_path_factory.mktemp("tutorial")
    shop = base / "shop"
    said: list[tuple[str, Ran, str]] = []
    for kind, text in BLOCKS:
        if kind == "yaml":
            first, _, rest = text.partition("\n")
            path = shop / first.removeprefix("# ")
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(rest, encoding="utf-8")
            continue
        for line in text.splitlines():
            words = shlex.split(line)
            assert words[0] == "witnessmark", line
            ran = run(*words[1:], cwd=shop if shop.exists() else base, home=home)
            state = _state(shop, home, "bonding-resistance") if words[1] in ("audit", "build") else ""
            said.append((line, ran, state))
    return shop, said


def test_the_page_has_commands_and_files() -> None:
    assert sum(kind == "sh" for kind, _ in BLOCKS) >= 6
    assert sum(kind == "yaml" for kind, _ in BLOCKS) >= 6


def test_every_command_does_what_the_page_says(followed: tuple[Path, list[tuple[str, Ran, str]]]) -> None:
    _, said = followed
    for line, ran, _ in said:
        assert ran.status == (1 if " audit " in line else 0), f"{line}\n{ran.out}{ran.err}"


def test_bonding_goes_from_not_shown_to_conforms(followed: tuple[Path, list[tuple[str, Ran, str]]]) -> None:
    _, said = followed
    assert [state for _, _, state in said if state] == ["not-shown", "not-shown", "conforms", "conforms"]
    second = [ran.out for line, ran, _ in said if " audit " in line][1]
    assert "1 of 2 are shown. There is no record for DC/DC converter." in second


def test_the_file_is_there(followed: tuple[Path, list[tuple[str, Ran, str]]]) -> None:
    shop, _ = followed
    assert (shop / "builds" / "car-01" / "draft" / "technical-file.pdf").is_file()
