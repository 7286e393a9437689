"""Walking a folder: what is taken, what is refused, and that the digest is that of the bytes."""

from __future__ import annotations

import hashlib
import os
import unicodedata
from pathlib import Path

import pytest

from witnessmark.problems import Problem, Severity
from witnessmark.reading.files import Hashed, cache_folder, hash_file, odd_name, read_file, resolve_inside, walk


def put(root: Path, *names: str) -> None:
    for name in names:
        file = root / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(name.encode())


def test_regular_files_in_order(tmp_path: Path) -> None:
    put(tmp_path, "evidence/b.yaml", "evidence/a/c.jpg", "requirements/x/set.yaml", "other/y", ".git/config")
    put(tmp_path, "evidence/.b.yaml.x1y2.tmp", "evidence/Thumbs.db", "evidence/b.yaml~", "evidence/intake/z.jpg")
    found = walk(tmp_path, skip=["evidence/intake"])
    assert [entry.path for entry in found.files] == ["evidence/a/c.jpg", "evidence/b.yaml", "requirements/x/set.yaml"]
    assert found.problems == ()
    assert found.files[0].size == len("evidence/a/c.jpg")
    assert "other/y" in [entry.path for entry in walk(tmp_path, [""]).files]
    assert not [entry for entry in walk(tmp_path, [""]).files if entry.path.startswith(".git")]


def test_what_is_refused(tmp_path: Path) -> None:
    put(tmp_path, "evidence/a.yaml", "outside/b.yaml", "evidence/CON.yaml", "evidence/a:b.yaml", "evidence/end.")
    put(
        tmp_path, "evidence/A.YAML", "evidence/a (conflicted copy).yaml", "evidence/sub/.git/config", "evidence/.x.yaml"
    )
    (tmp_path / "evidence/file-link.yaml").symlink_to(tmp_path / "outside/b.yaml")
    (tmp_path / "evidence/folder-link").symlink_to(tmp_path / "outside")
    (tmp_path / "evidence/broken-link").symlink_to(tmp_path / "nowhere")
    os.mkfifo(tmp_path / "evidence/pipe.yaml")
    found = walk(tmp_path)
    assert [(p.place.file if p.place else "", p.code) for p in found.problems] == [
        ("evidence/.x.yaml", "files.hidden"),
        ("evidence/CON.yaml", "files.name"),
        ("evidence/a (conflicted copy).yaml", "files.conflicted-copy"),
        ("evidence/a.yaml", "files.twin"),
        ("evidence/a:b.yaml", "files.name"),
        ("evidence/broken-link", "files.link"),
        ("evidence/end.", "files.name"),
        ("evidence/file-link.yaml", "files.link"),
        ("evidence/folder-link", "files.link"),
        ("evidence/pipe.yaml", "files.special"),
        ("evidence/sub/.git", "files.repository"),
    ]
    assert [p.severity for p in found.problems].count(Severity.NOTE) == 1
    assert [entry.path for entry in found.files] == [
        "evidence/A.YAML",
        "evidence/a (conflicted copy).yaml",
        "evidence/a.yaml",
    ]


def test_names_in_two_compositions_are_one(tmp_path: Path) -> None:
    composed, split = "prüfung.yaml", unicodedata.normalize("NFD", "prüfung.yaml")
    put(tmp_path, f"evidence/{split}")
    assert [entry.path for entry in walk(tmp_path).files] == [f"evidence/{composed}"]
    path = resolve_inside(tmp_path, f"evidence/{composed}")
    assert isinstance(path, Path)
    assert path.read_bytes() == f"evidence/{split}".encode()
    put(tmp_path, f"evidence/{composed}")
    assert [p.code for p in walk(tmp_path).problems] == ["files.twin"]


def test_a_link_as_the_root_of_evidence(tmp_path: Path) -> None:
    put(tmp_path, "elsewhere/a.yaml")
    (tmp_path / "evidence").symlink_to(tmp_path / "elsewhere")
    found = walk(tmp_path)
    assert not found.files
    assert [p.code for p in found.problems] == ["files.path"]


def test_too_deep(tmp_path: Path) -> None:
    put(tmp_path, "evidence/" + "d/" * 20 + "a.yaml")
    assert [p.code for p in walk(tmp_path).problems] == ["files.depth"]


@pytest.mark.parametrize(
    "path",
    ["", "/etc/passwd", "../x", "a/../../x", "a//b", "./a", "~/x", "C:/x", "c:x", "a\\b", "a/b\0c", "a/nul", "a/b.",
     "link/x", "link", ".git/config", "a/\u202ex", "\\\\server\\x"],
)  # fmt: skip
def test_paths_that_lead_out(tmp_path: Path, path: str) -> None:
    (tmp_path / "link").symlink_to("/etc")
    found = resolve_inside(tmp_path, path)
    assert isinstance(found, Problem)
    assert found.code == "files.path"


def test_paths_that_stay_inside(tmp_path: Path) -> None:
    assert resolve_inside(tmp_path, "photos/set up Ω.jpg") == tmp_path / "photos/set up Ω.jpg"


@pytest.mark.parametrize("name", ["a", "set-up.jpg", "Zähler 2.csv", "con-1.yaml", "a.b.c", "..."[:0] + "x"])
def test_ordinary_names(name: str) -> None:
    assert odd_name(name) is None


def test_hash(tmp_path: Path) -> None:
    """Reference: FIPS 180-4 example, SHA-256 of "abc"."""
    (tmp_path / "a").write_bytes(b"abc")
    found = hash_file(tmp_path / "a", "a")
    assert found == Hashed("ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad", 3, b"abc")
    big = os.urandom(200_000)
    (tmp_path / "b").write_bytes(big)
    assert hash_file(tmp_path / "b", "b", keep=1000) == Hashed(hashlib.sha256(big).hexdigest(), len(big), None)


def test_what_is_not_a_file(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"x")
    (tmp_path / "link").symlink_to(tmp_path / "a")
    os.mkfifo(tmp_path / "pipe")
    codes = []
    for name in ("link", "pipe", "missing", ""):
        found = hash_file(tmp_path / name, name)
        assert isinstance(found, Problem)
        codes.append(found.code)
    assert codes == ["files.link", "files.special", "files.missing", "files.unreadable"]


def test_read_file_refuses_stand_ins(tmp_path: Path) -> None:
    file = tmp_path / "a"
    cases = {
        b"a: 1\n<<<<<<< HEAD\nb: 1\n=======\nb: 2\n>>>>>>> side\n": ("files.conflict", "x.yaml:2:1"),
        b"version https://git-lfs.github.com/spec/v1\noid sha256:00\nsize 1\n": ("files.pointer", "x.yaml"),
        b"x" * 101: ("files.size", "x.yaml"),
    }
    for data, (code, place) in cases.items():
        file.write_bytes(data)
        found = read_file(file, "x.yaml", limit=100)
        assert isinstance(found, Problem)
        assert (found.code, str(found.place)) == (code, place)
    file.write_bytes(b"a: 1\n")
    assert read_file(file, "x.yaml") == b"a: 1\n"


def test_cache_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert cache_folder() == tmp_path / "witnessmark"
    # XDG base directory specification 0.8: a relative path is to be ignored.
    monkeypatch.setenv("XDG_CACHE_HOME", "relative")
    assert cache_folder() == Path.home() / ".cache" / "witnessmark"
