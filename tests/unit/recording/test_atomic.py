"""Writing: the old file or the new one, whatever happens; one writer at a time."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import pytest

import witnessmark
from witnessmark.problems import Misuse
from witnessmark.recording.atomic import clear_leftovers, locked, write_atomically

SOURCE = str(Path(witnessmark.__file__).parents[1])


def test_write_and_only_when_changed(tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    assert write_atomically(file, b"one")
    before = file.stat()
    assert not write_atomically(file, b"one")
    assert file.stat().st_mtime_ns == before.st_mtime_ns
    assert file.stat().st_ino == before.st_ino
    file.chmod(0o640)
    assert write_atomically(file, b"two")
    assert file.read_bytes() == b"two"
    assert file.stat().st_mode & 0o777 == 0o640
    assert [path.name for path in tmp_path.iterdir()] == ["a.yaml"]


def test_a_new_file_gets_the_users_mask(tmp_path: Path) -> None:
    (tmp_path / "plain").write_bytes(b"")
    write_atomically(tmp_path / "new", b"x")
    assert (tmp_path / "new").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_links_and_folders_are_refused(tmp_path: Path) -> None:
    (tmp_path / "real").write_bytes(b"x")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    (tmp_path / "folder").mkdir()
    for name in ("link", "folder"):
        with pytest.raises(Misuse):
            write_atomically(tmp_path / name, b"y")
    assert (tmp_path / "real").read_bytes() == b"x"


def test_a_failure_leaves_the_old_file_and_nothing_else(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "a.yaml"
    file.write_bytes(b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError):
        write_atomically(file, b"new")
    assert file.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["a.yaml"]


def test_killed_at_any_moment(tmp_path: Path) -> None:
    """A process that writes two texts in turn is killed eight times: the file is always one of them, whole."""
    file = tmp_path / "a.yaml"
    texts = [bytes([65 + i]) * 300_000 for i in range(2)]
    script = (
        f"import sys; sys.path.insert(0, {SOURCE!r})\n"
        "from pathlib import Path\n"
        "from witnessmark.recording.atomic import write_atomically\n"
        "print('ready', flush=True)\n"
        "while True:\n"
        f"    for i in range(2): write_atomically(Path({str(file)!r}), bytes([65 + i]) * 300_000)\n"
    )
    write_atomically(file, texts[0])
    for number in range(8):
        child = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE)
        assert child.stdout is not None
        child.stdout.readline()
        time.sleep(0.013 * (number + 1))
        child.kill()
        child.wait()
        child.stdout.close()
        assert file.read_bytes() in texts
    clear_leftovers(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["a.yaml"]


def test_leftovers_only(tmp_path: Path) -> None:
    for name in (".a.yaml.x1y2.tmp", "a.tmp", ".hidden", ".git/.x.y.tmp", "sub/.b.jpg.abcd.tmp"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"")
    assert [path.name for path in clear_leftovers(tmp_path)] == [".a.yaml.x1y2.tmp", ".b.jpg.abcd.tmp"]
    assert (tmp_path / "a.tmp").exists()
    assert (tmp_path / ".git/.x.y.tmp").exists()


def test_one_lock_for_each_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    root = tmp_path / "shop"
    root.mkdir()
    (tmp_path / "alias").symlink_to(root)
    script = (
        f"import sys; sys.path.insert(0, {SOURCE!r})\n"
        "from pathlib import Path\n"
        "from witnessmark.recording.atomic import locked\n"
        f"with locked(Path({str(root)!r})):\n"
        "    print('held', flush=True); sys.stdin.read()\n"
    )
    child = subprocess.Popen([sys.executable, "-c", script], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert child.stdout is not None
    assert child.stdin is not None
    assert child.stdout.readline() == b"held\n"
    with pytest.raises(Misuse) as caught, locked(tmp_path / "alias", seconds=0.2):
        pass
    assert caught.value.problems[0].code == "write.locked"
    child.kill()
    child.wait()
    child.stdin.close()
    child.stdout.close()
    with locked(root, seconds=2):
        assert not list(root.iterdir())
