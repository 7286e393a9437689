"""The draft of an edition names every requirement by the digest of its text; a set that cannot be read gets none."""

from __future__ import annotations

import hashlib
import json
from datetime import date
from pathlib import Path

import pytest

from tests.workshops import FILES, commit_all, make
from witnessmark.problems import Misuse
from witnessmark.reading.check import problems_of
from witnessmark.reading.workshop import Reading, read_everything
from witnessmark.recording.editions import edition_draft
from witnessmark.recording.seal_file import seal_file

DAY = date(2026, 10, 1)


def _reading(root: Path) -> Reading:
    reading = read_everything(root, use_cache=False)
    assert isinstance(reading, Reading)
    return reading


def test_a_sealed_edition_fits_the_folder_until_a_requirement_changes(tmp_path: Path) -> None:
    root = make(tmp_path)
    commit_all(root)
    path, data = edition_draft(_reading(root), "mini", edition="2026-1", issued=DAY, by="ao")
    # The one requirement's text tree, written out by hand; its digest by hashlib.
    text = {
        "id": "isolation",
        "clause": "1.1",
        "title": "Isolation of the bus",
        "statement": "The bus is isolated from the chassis.",
        "source": {"confidence": "from-memory"},
        "each": {"part": "hv-bus"},
        "leaves": {
            "value": {"measure": "isolation-resistance", "criteria": {"full": {"at_least": "1 MΩ"}}},
            "picture": {"photograph": "the set-up"},
        },
        "shown": {"all": ["value", "picture"]},
    }
    canonical = json.dumps(text, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    assert f"isolation: sha256:{hashlib.sha256(canonical.encode()).hexdigest()}" in data.decode()
    make(root, {path: data})
    seal_file(root, path, "ao")
    assert [p.code for p in problems_of(_reading(root)) if p.code.startswith("set.") and p.severity == "problem"] == []
    area = "requirements/mini/bus.yaml"
    make(root, {area: FILES[area].replace("1 MΩ", "1 kΩ")} | {p: None for p in FILES if p != area})
    (changed,) = [p for p in problems_of(_reading(root)) if p.code.startswith("set.") and p.severity == "problem"]
    assert (changed.code, str(changed.place)) == ("set.changed", f"{area}:6:5")
    (root / area).write_text(
        FILES[area].split("  - id:")[0] + "  - id: other\n" + FILES[area].split("  - id: isolation\n")[1]
    )
    codes = [p.code for p in problems_of(_reading(root)) if p.code.startswith("set.") and p.severity == "problem"]
    assert codes == ["set.not-in-edition", "set.taken-out"]


def test_a_set_that_cannot_be_read_whole_gets_no_edition(tmp_path: Path) -> None:
    root = make(tmp_path, {"requirements/mini/more.yaml": "format: 1\narea: more\n"})
    commit_all(root)
    with pytest.raises(Misuse) as caught:
        edition_draft(_reading(root), "mini", edition="2026-1", issued=DAY, by="ao")
    assert {p.code for p in caught.value.problems} == {"model.missing-key"}
    with pytest.raises(Misuse):
        edition_draft(_reading(root), "maxi", edition="2026-1", issued=DAY, by="ao")
