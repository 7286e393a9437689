"""The demonstration is sealed as it stands: sealing it anew, act by act, changes no byte.

It fails when a set, a method or an act has changed since: then run `write_editions` and `reseal`, and look at the diff.
"""

from __future__ import annotations

import shutil
from pathlib import Path

from tests.demonstration.reseal import ROOT, reseal, sealings
from witnessmark.reading.acts import read_act


def test_sealing_anew_changes_nothing(tmp_path: Path) -> None:
    for top in ("evidence", "requirements"):
        shutil.copytree(ROOT / top, tmp_path / top)
    rows = sealings(ROOT / "tests/demonstration/seals.yaml")
    assert len(rows) > 50
    assert reseal(tmp_path, rows) == 0


def test_every_sealed_file_is_in_the_list_and_holds() -> None:
    rows = {row["path"]: row["code"] for row in sealings(ROOT / "tests/demonstration/seals.yaml")}
    sealed = {}
    for top in ("evidence", "requirements"):
        for path in sorted((ROOT / top).rglob("*.yaml")):
            shown = path.relative_to(ROOT).as_posix()
            text = read_act(path.read_bytes(), shown)
            if text.sealed:
                assert text.holds, shown
                sealed[shown] = text.code
    assert sealed == rows
