"""Several people seal at once, and a process is killed in between: every act is there, whole, once.

The processes are real; the kills come at times spread over one sealing.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

from tests.workshops import FILES, RECORD, commit_all, make, seal_by_hand
from witnessmark.reading.acts import read_act
from witnessmark.reading.check import check
from witnessmark.reading.workshop import read_workshop

SOURCE = Path(__file__).parents[3] / "src"
BASE = "evidence/vehicles/van-07/"
FACTS = BASE + "facts/first.yaml"
CODE = (
    "import sys; from pathlib import Path; from datetime import datetime;"
    "from witnessmark.recording.seal_file import seal_file;"
    "when = datetime.fromisoformat('2026-10-15T08:00+02:00');"
    "seal_file(Path(sys.argv[1]), sys.argv[2], sys.argv[3], clock=lambda: when)"
)


def _started(root: Path, path: str, by: str, cache: Path) -> subprocess.Popen[bytes]:
    environment = {**os.environ, "PYTHONPATH": str(SOURCE), "XDG_CACHE_HOME": str(cache)}
    return subprocess.Popen([sys.executable, "-c", CODE, str(root), path, by], env=environment, stderr=subprocess.PIPE)


def _workshop(root: Path, drafts: dict[str, str]) -> Path:
    make(root, {**drafts, FACTS: seal_by_hand(FILES[FACTS], "facts2", on="2026-10-01T10:00+02:00")})
    commit_all(root)
    return root


def test_two_at_once(tmp_path: Path) -> None:
    drafts = {f"{BASE}records/r{n}.yaml": RECORD.replace("5.2 MΩ", f"{n}.2 MΩ") for n in range(1, 4)}
    root = _workshop(tmp_path / "shop", drafts)
    running = [
        _started(root, path, by, tmp_path / "cache") for path, by in zip(drafts, ("jm", "ao", "jm"), strict=True)
    ]
    for process in running:
        _, said = process.communicate(timeout=120)
        assert process.returncode == 0, said.decode()
    workshop = read_workshop(root, use_cache=False)
    assert len(workshop.acts) == 4
    assert sorted(act.appeared for act in workshop.acts if act.appeared is not None) == [0, 1, 2, 3]
    assert all(act.seal_holds for act in workshop.acts)
    assert workshop.history.uncommitted == 0


def test_killed_at_any_moment_nothing_is_torn(tmp_path: Path) -> None:
    path = BASE + "records/isolation.yaml"
    root = _workshop(tmp_path / "shop", {path: RECORD})
    begun = time.monotonic()
    _started(root, path, "jm", tmp_path / "cache").communicate(timeout=120)
    whole = time.monotonic() - begun
    for step in range(4):
        one = f"{BASE}records/k{step}.yaml"
        draft = RECORD.replace("5.2 MΩ", f"{step}.4 MΩ")
        make(root, {one: draft} | dict.fromkeys(FILES))
        process = _started(root, one, "jm", tmp_path / "cache")
        time.sleep(whole * (0.5 + 0.15 * step))
        process.kill()
        process.communicate(timeout=60)
        time.sleep(0.2)  # A git that was under way ends by itself.
        data = (root / one).read_bytes()
        text = read_act(data, one)
        assert data == draft.encode() or text.holds, "a file that is neither the draft nor the sealed act"
        (root / ".git/index.lock").unlink(missing_ok=True)
        if not text.sealed:
            _, said = _started(root, one, "jm", tmp_path / "cache").communicate(timeout=120)
            assert read_act((root / one).read_bytes(), one).holds, said.decode()
    workshop = read_workshop(root, use_cache=False)
    assert len(workshop.acts) == 6
    assert len({act.code for act in workshop.acts}) == 6
    found = [p for p in check(root, use_cache=False) if p.severity == "problem"]
    assert not found
