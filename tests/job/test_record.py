"""From a hand-written file to a requirement that conforms: sealed and committed in one act, or refused with reasons."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

from .conftest import run

PATH = "evidence/vehicles/van-07/records/finding-sign.yaml"
DRAFT = """\
format: 1
# looked at the picture at the bench
shows:
  warning-sign-pack/{leaf}: {{photo: photos/pack-sign.jpg, finding: meets, seen: the sign is on the lid}}
part: traction-pack
performed: 2026-11-24T10:00+01:00
by: {{tester: ao}}
"""


def _state(folder: Path, home: Path, ident: str) -> str:
    document = json.loads(run("audit", "van-07", "--format", "json", cwd=folder, home=home).out)
    return next(str(r["state"]) for r in document["requirements"] if r["id"] == ident)


def test_a_draft_counts_for_nothing_until_it_is_sealed(example: Path, home: Path, tmp_path: Path) -> None:
    folder = tmp_path / "copy"
    shutil.copytree(example, folder)
    file = folder / PATH
    file.write_text(DRAFT.format(leaf="sgin"), encoding="utf-8")
    refused = run("record", "--seal", PATH, "--by", "ao", cwd=folder, home=home)
    assert refused.status == 2
    assert "did you mean 'sign'?" in refused.err
    assert file.read_text(encoding="utf-8") == DRAFT.format(leaf="sgin")
    file.write_text(DRAFT.format(leaf="sign"), encoding="utf-8")
    assert _state(folder, home, "warning-sign-pack") == "not-shown"
    sealed = run("record", "--seal", PATH, "--by", "ao", "--format", "json", cwd=folder, home=home)
    assert sealed.status == 0, sealed.err
    assert json.loads(sealed.out)["path"] == PATH
    assert "# looked at the picture at the bench" in file.read_text(encoding="utf-8")
    assert _state(folder, home, "warning-sign-pack") == "conforms"
    author = subprocess.run(
        ["git", "log", "-1", "--format=%an"], cwd=folder, capture_output=True, text=True, check=True
    )
    assert author.stdout.strip() == "A. Orchis"
    assert run("check", cwd=folder, home=home).status == 0
    # An edit of what was sealed takes it away again, and check says how to mend it.
    file.write_text(file.read_text(encoding="utf-8").replace("on the lid", "on the floor"), encoding="utf-8")
    assert _state(folder, home, "warning-sign-pack") == "lapsed"
    assert run("check", cwd=folder, home=home).status == 2


def test_the_demonstration_itself_takes_no_records(home: Path, tmp_path: Path) -> None:
    from .conftest import ROOT

    said = run(
        "record", "--seal", "evidence/vehicles/van-07/records/fuse-certificate.yaml", "--by", "ao", cwd=ROOT, home=home
    )
    assert said.status == 2
    assert "witnessmark start --example" in said.err
    outside = tmp_path / "x.yaml"
    outside.write_text("format: 1\n", encoding="utf-8")
    assert run("record", "--seal", str(outside), "--by", "ao", cwd=ROOT, home=home).status == 2
