"""History is read from repositories that try to run something; nothing of theirs may run, and nothing may be missed."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
from pathlib import Path

import pytest

from witnessmark.problems import Problem, Severity
from witnessmark.reading.githistory import History, blob_id, open_history

PERSON = {
    "GIT_AUTHOR_NAME": "Ada Tester",
    "GIT_AUTHOR_EMAIL": "ada@example.org",
    "GIT_COMMITTER_NAME": "Ada Tester",
    "GIT_COMMITTER_EMAIL": "ada@example.org",
    "GIT_CONFIG_NOSYSTEM": "1",
    "GIT_CONFIG_GLOBAL": os.devnull,
}


class Workshop:
    """A real repository made by the test, one minute between two commits."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.minute = 0
        root.mkdir(parents=True)
        self.git("init", "-q", "-b", "main")

    def git(self, *arguments: str) -> str:
        date = f"2026-10-01T10:{self.minute:02}:00+00:00"
        clean = {name: value for name, value in os.environ.items() if not name.startswith("GIT_")}
        environment = {**clean, **PERSON, "GIT_AUTHOR_DATE": date, "GIT_COMMITTER_DATE": date}
        done = subprocess.run(["git", *arguments], cwd=self.root, env=environment, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()

    def write(self, path: str, text: str | bytes) -> Path:
        file = self.root / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return file

    def commit(self, message: str = "x") -> str:
        self.minute += 1
        self.git("add", "-A")
        self.git("commit", "-q", "-m", message)
        return self.git("rev-parse", "HEAD")


@pytest.fixture
def shop(tmp_path: Path) -> Workshop:
    return Workshop(tmp_path / "shop")


def opened(root: Path, cache: Path | None = None) -> History:
    history = open_history(root, cache=cache, use_cache=cache is not None)
    assert isinstance(history, History), history
    return history


def refused(root: Path) -> str:
    problem = open_history(root, use_cache=False)
    assert isinstance(problem, Problem)
    assert problem.message and problem.remedy
    return problem.code


def texts(history: History) -> list[tuple[str, bytes]]:
    return [(text.path, text.data) for text in history.first_texts(["evidence"])]


def test_blob_id_is_gits(shop: Workshop) -> None:
    """Checked against git itself: `git hash-object` names the same bytes."""
    file = shop.write("evidence/a.yaml", "format: 1\n")
    assert shop.git("hash-object", str(file)) == blob_id(b"format: 1\n")
    # Pro Git, 2nd edition, section 10.2: "test content" and a line feed.
    assert blob_id(b"test content\n") == "d670460b4b4aece5915caf5c68d12f560a9fe3e4"


def test_first_texts_in_order_also_edited_deleted_and_renamed(shop: Workshop) -> None:
    shop.write("evidence/a.yaml", "a: 1\n")
    first = shop.commit()
    shop.write("evidence/a.yaml", "a: 2\n")
    shop.write("evidence/b.yaml", "b: 1\n")
    second = shop.commit()
    (shop.root / "evidence/b.yaml").unlink()
    (shop.root / "evidence/a.yaml").rename(shop.root / "evidence/c.yaml")
    shop.write("evidence/photo.jpg", b"\xff\xd8")
    shop.write("other/z.yaml", "z: 1\n")
    third = shop.commit()
    with opened(shop.root) as history:
        found = history.first_texts(["evidence"])
        assert [(t.path, t.data, t.commit, t.position) for t in found] == [
            ("evidence/a.yaml", b"a: 1\n", first, 0),
            ("evidence/a.yaml", b"a: 2\n", second, 1),
            ("evidence/b.yaml", b"b: 1\n", second, 2),
        ]
        assert history.head == third
        assert set(history.tree()) == {"evidence/c.yaml", "evidence/photo.jpg", "other/z.yaml"}
        assert history.committed("evidence/c.yaml", b"a: 2\n")
        assert not history.committed("evidence/c.yaml", b"a: 2\r\n")
        assert not history.committed("evidence/a.yaml", b"a: 2\n")
        assert history.problems == ()


def test_a_branch_whose_changes_a_merge_dropped_is_not_forgotten(shop: Workshop) -> None:
    shop.write("evidence/a.yaml", "a: 1\n")
    shop.commit()
    shop.git("checkout", "-q", "-b", "side")
    shop.write("evidence/fail.yaml", "verdict: fail\n")
    shop.commit()
    shop.git("checkout", "-q", "main")
    shop.write("evidence/b.yaml", "b: 1\n")
    shop.commit()
    shop.minute += 1
    shop.git("merge", "-q", "-s", "ours", "-m", "drop it", "side")
    with opened(shop.root) as history:
        assert texts(history) == [
            ("evidence/a.yaml", b"a: 1\n"),
            ("evidence/b.yaml", b"b: 1\n"),
            ("evidence/fail.yaml", b"verdict: fail\n"),
        ]


def test_what_only_a_merge_brought_in_is_seen(shop: Workshop) -> None:
    shop.write("evidence/a.yaml", "a: 1\n")
    shop.commit()
    shop.git("checkout", "-q", "-b", "side")
    shop.write("evidence/s.yaml", "s: 1\n")
    shop.commit()
    shop.git("checkout", "-q", "main")
    shop.write("evidence/m.yaml", "m: 1\n")
    shop.commit()
    shop.git("merge", "-q", "--no-commit", "--no-ff", "side")
    shop.write("evidence/evil.yaml", "evil: 1\n")
    merge = shop.commit("merge")
    with opened(shop.root) as history:
        last = history.first_texts(["evidence"])[-1]
        assert (last.path, last.commit) == ("evidence/evil.yaml", merge)


def test_packed_refs_detached_head_and_packed_objects(shop: Workshop) -> None:
    shop.write("evidence/a.yaml", "a: 1\n")
    commit = shop.commit()
    shop.git("gc", "-q")
    assert not (shop.root / ".git/refs/heads/main").exists()
    with opened(shop.root) as history:
        assert history.head == commit
        assert texts(history) == [("evidence/a.yaml", b"a: 1\n")]
    shop.git("checkout", "-q", "--detach")
    with opened(shop.root) as history:
        assert history.head == commit


def test_empty_repository(shop: Workshop) -> None:
    shop.write("evidence/a.yaml", "a: 1\n")
    with opened(shop.root) as history:
        assert history.head is None
        assert history.tree() == {}
        assert texts(history) == []
        assert history.dirty_count(shop.root) == 1
        assert not history.committed("evidence/a.yaml", b"a: 1\n")


def test_dirty_count_from_the_bytes(shop: Workshop) -> None:
    for name in ("a", "b", "c", "d"):
        shop.write(f"evidence/{name}.yaml", f"{name}: 1\n")
    shop.write("evidence/.gitattributes", "* -text\n")
    shop.commit()
    with opened(shop.root) as history:
        assert history.dirty_count(shop.root) == 0
        old = (shop.root / "evidence/a.yaml").stat()
        shop.write("evidence/a.yaml", "a: 2\n")
        os.utime(shop.root / "evidence/a.yaml", ns=(old.st_atime_ns, old.st_mtime_ns))
        (shop.root / "evidence/b.yaml").unlink()
        shop.write("evidence/new.yaml", "n: 1\n")
        shop.write("evidence/intake/x.jpg", "x")
        shop.write("evidence/.new.yaml.abcd.tmp", "n")
        (shop.root / "evidence/d.yaml").unlink()
        (shop.root / "evidence/d.yaml").symlink_to("c.yaml")
        assert history.dirty_count(shop.root, skip=["evidence/intake"]) == 4


def test_line_ends_are_bytes(shop: Workshop) -> None:
    """With `text=auto` git stores LF for a file with CR LF on disk: then the bytes differ, and that is said."""
    shop.write(".gitattributes", "* text=auto\n")
    shop.write("evidence/a.yaml", b"a: 1\r\n")
    shop.commit()
    with opened(shop.root) as history:
        assert not history.committed("evidence/a.yaml", b"a: 1\r\n")
        assert history.dirty_count(shop.root) == 1


def test_names_beyond_ascii(shop: Workshop) -> None:
    shop.write("evidence/prüfung Ω.yaml", "a: 1\n")
    shop.commit()
    with opened(shop.root) as history:
        assert texts(history) == [("evidence/prüfung Ω.yaml", b"a: 1\n")]
        assert history.committed("evidence/pru\u0308fung Ω.yaml", b"a: 1\n")


def test_cache_gives_the_same_and_is_extended(shop: Workshop, tmp_path: Path) -> None:
    cache = tmp_path / "cache"
    shop.write("evidence/a.yaml", b"a: \xe4\xff\n")
    shop.commit()
    with opened(shop.root, cache) as history:
        first = history.first_texts(["evidence"])
    (kept,) = (cache / "history").iterdir()
    with opened(shop.root, cache) as history:
        assert history.first_texts(["evidence"]) == first
    shop.write("evidence/b.yaml", "b: 1\n")
    shop.commit()
    with opened(shop.root, cache) as history, opened(shop.root) as plain:
        assert history.first_texts(["evidence"]) == plain.first_texts(["evidence"])
    # A branch from before the kept commit, merged later, may come earlier in the order: then it is read anew.
    shop.git("checkout", "-q", "-b", "side", "HEAD~1")
    shop.write("evidence/s.yaml", "s: 1\n")
    shop.commit()
    shop.git("checkout", "-q", "main")
    shop.git("merge", "-q", "-m", "merge", "side")
    with opened(shop.root, cache) as history, opened(shop.root) as plain:
        assert history.first_texts(["evidence"]) == plain.first_texts(["evidence"])
    # Damaged or changed: as if it were not there.
    for damage in (b"{", b"[]", kept.read_bytes().replace(b"s: 1", b"s: 2")):
        kept.write_bytes(damage)
        with opened(shop.root, cache) as history, opened(shop.root) as plain:
            assert history.first_texts(["evidence"]) == plain.first_texts(["evidence"])
    assert {file.suffix for file in (cache / "history").iterdir()} == {".json"}


def test_temporary_folder_is_gone(shop: Workshop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    here = tmp_path / "temporary"
    here.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(here))
    shop.write("evidence/a.yaml", "a: 1\n")
    shop.commit()
    with opened(shop.root) as history:
        texts(history)
        assert list(here.iterdir())
    assert not list(here.iterdir())


def test_inherited_variables_do_not_steer(shop: Workshop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As when started by a hook of another repository."""
    other = Workshop(tmp_path / "other")
    other.write("evidence/o.yaml", "o: 1\n")
    other.commit()
    shop.write("evidence/a.yaml", "a: 1\n")
    shop.commit()
    monkeypatch.setenv("GIT_DIR", str(other.root / ".git"))
    monkeypatch.setenv("GIT_OBJECT_DIRECTORY", str(other.root / ".git/objects"))
    monkeypatch.setenv("GIT_INDEX_FILE", str(other.root / ".git/index"))
    monkeypatch.setenv("GIT_CONFIG_COUNT", "1")
    monkeypatch.setenv("GIT_CONFIG_KEY_0", "log.showSignature")
    monkeypatch.setenv("GIT_CONFIG_VALUE_0", "true")
    monkeypatch.setenv("GIT_TRACE", "1")
    with opened(shop.root) as history:
        assert texts(history) == [("evidence/a.yaml", b"a: 1\n")]


# ---- what is refused ------------------------------------------------------------------------------------------------


def test_no_repository(tmp_path: Path) -> None:
    assert refused(tmp_path) == "git.none"


def test_part_of_a_repository(shop: Workshop) -> None:
    (shop.root / "inner").mkdir()
    assert refused(shop.root / "inner") == "git.part"


def test_git_is_a_link_or_a_file(shop: Workshop, tmp_path: Path) -> None:
    shop.write("evidence/a.yaml", "a: 1\n")
    shop.commit()
    linked = tmp_path / "linked"
    linked.mkdir()
    (linked / ".git").symlink_to(shop.root / ".git")
    assert refused(linked) == "git.link"
    shop.git("worktree", "add", "-q", str(tmp_path / "second"))
    assert refused(tmp_path / "second") == "git.file"
    shutil.move(shop.root / ".git/config", tmp_path / "config")
    (shop.root / ".git/config").symlink_to(tmp_path / "config")
    assert refused(shop.root) == "git.link"


@pytest.mark.parametrize(
    ("key", "value", "code"),
    [
        ("core.worktree", "/", "git.worktree"),
        ("extensions.objectFormat", "sha256", "git.format"),
        ("extensions.refStorage", "reftable", "git.format"),
        ("core.bare", "true", "git.bare"),
    ],
)
def test_settings_that_change_the_meaning(shop: Workshop, key: str, value: str, code: str) -> None:
    shop.write("evidence/a.yaml", "a: 1\n")
    shop.commit()
    section, name = key.split(".")
    with (shop.root / ".git/config").open("a") as config:
        config.write(f"[{section}]\n\t{name} = {value}\n")
    assert refused(shop.root) == code


def test_sha256_repository(tmp_path: Path) -> None:
    subprocess.run(["git", "init", "-q", "--object-format=sha256", str(tmp_path)], check=True, capture_output=True)
    assert refused(tmp_path) == "git.format"


def test_borrowed_objects(shop: Workshop) -> None:
    shop.write("evidence/a.yaml", "a: 1\n")
    shop.commit()
    (shop.root / ".git/objects/info/alternates").write_text("/nowhere\n")
    assert refused(shop.root) == "git.borrowed"


@pytest.mark.parametrize(
    "head", ["", "ref: ../../x\n", "ref: refs/heads/../../config\n", "ref: refs/heads/-x y\n", "x"]
)
def test_head_that_leads_elsewhere(shop: Workshop, head: str) -> None:
    shop.write("evidence/a.yaml", "a: 1\n")
    shop.commit()
    (shop.root / ".git/HEAD").write_text(head)
    assert refused(shop.root) == "git.broken"


def test_head_in_a_circle(shop: Workshop) -> None:
    (shop.root / ".git/HEAD").write_text("ref: refs/heads/main\n")
    (shop.root / ".git/refs/heads/main").write_text("ref: refs/heads/main\n")
    assert refused(shop.root) == "git.broken"


def test_head_names_a_commit_that_is_not_there(shop: Workshop) -> None:
    (shop.root / ".git/refs/heads/main").write_text("1" * 40 + "\n")
    assert refused(shop.root) == "git.broken"


def test_a_shallow_history_is_a_problem(shop: Workshop, tmp_path: Path) -> None:
    for number in range(3):
        shop.write("evidence/a.yaml", f"a: {number}\n")
        shop.commit()
    clone = tmp_path / "clone"
    subprocess.run(
        ["git", "clone", "-q", "--depth", "1", f"file://{shop.root}", str(clone)], check=True, capture_output=True
    )
    with opened(clone) as history:
        assert texts(history) == [("evidence/a.yaml", b"a: 2\n")]
        assert [(p.code, p.severity) for p in history.problems] == [("git.shallow", Severity.PROBLEM)]


def loose(root: Path, name: str) -> Path:
    return root / ".git/objects" / name[:2] / name[2:]


def test_a_missing_text_is_a_problem_and_the_others_stay(shop: Workshop) -> None:
    shop.write("evidence/a.yaml", "a: 1\n")
    shop.write("evidence/b.yaml", "b: 1\n")
    shop.commit()
    loose(shop.root, blob_id(b"a: 1\n")).unlink()
    with opened(shop.root) as history:
        assert texts(history) == [("evidence/b.yaml", b"b: 1\n")]
        assert [p.code for p in history.problems] == ["git.text"]


def test_a_text_that_is_not_what_its_name_says(shop: Workshop) -> None:
    """Git believes a loose object's name when it reads it; we do not."""
    shop.write("evidence/a.yaml", "verdict: fail\n")
    shop.write("evidence/b.yaml", "verdict: pass\n")
    shop.commit()
    target = loose(shop.root, blob_id(b"verdict: fail\n"))
    target.chmod(0o644)
    shutil.copyfile(loose(shop.root, blob_id(b"verdict: pass\n")), target)
    with opened(shop.root) as history:
        assert texts(history) == [("evidence/b.yaml", b"verdict: pass\n")]
        assert [p.code for p in history.problems] == ["git.text"]


def test_a_missing_tree_in_the_past_is_said(shop: Workshop) -> None:
    shop.write("evidence/a.yaml", "a: 1\n")
    shop.commit()
    tree = shop.git("rev-parse", "HEAD^{tree}")
    shop.write("evidence/b.yaml", "b: 1\n")
    shop.commit()
    loose(shop.root, tree).unlink()
    with opened(shop.root) as history:
        assert history.first_texts(["evidence"]) == ()
        assert [p.code for p in history.problems] == ["git.broken"]
        assert str(shop.root) not in history.problems[0].message


def test_a_huge_text_is_not_loaded(shop: Workshop) -> None:
    shop.write("evidence/a.yaml", b"#" * 1_000_001)
    shop.commit()
    with opened(shop.root) as history:
        assert texts(history) == []
        assert [p.code for p in history.problems] == ["git.text"]


def test_replacements_and_grafts_change_nothing(shop: Workshop) -> None:
    shop.write("evidence/a.yaml", "a: 1\n")
    first = shop.commit()
    shop.write("evidence/b.yaml", "b: 1\n")
    second = shop.commit()
    shop.git("replace", blob_id(b"a: 1\n"), blob_id(b"b: 1\n"))
    shop.git("replace", "--graft", second)
    (shop.root / ".git/info/grafts").write_text(second + "\n")
    with opened(shop.root) as history:
        assert [(t.data, t.commit) for t in history.first_texts(["evidence"])] == [
            (b"a: 1\n", first),
            (b"b: 1\n", second),
        ]


# ---- what could run -------------------------------------------------------------------------------------------------


def test_nothing_of_theirs_runs(shop: Workshop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every setting known to start a program is planted, with a program that leaves a mark; the marks stay away.

    That the plants are alive is shown first: plain git, asked the ordinary way, sets some of them off.
    """
    marks = tmp_path / "marks"
    marks.mkdir()
    evil = tmp_path / "evil.sh"
    evil.write_text(f'#!/bin/sh\ntouch "{marks}/$(basename "$0")-$$"\nexit 1\n')
    evil.chmod(evil.stat().st_mode | stat.S_IXUSR)

    shop.write("evidence/a.yaml", "a: 1\n")
    shop.write("evidence/b.yaml", "b: 1\n")
    shop.commit()
    shop.write("evidence/a.yaml", "a: 2\n")
    head = shop.commit()

    included = tmp_path / "included"
    included.write_text(f"[core]\n\tfsmonitor = {evil}\n")
    with (shop.root / ".git/config").open("a") as config:
        config.write(
            f"""
[core]
\tfsmonitor = {evil}
\thooksPath = {tmp_path}/hooks
\tsshCommand = {evil}
\tpager = {evil}
\teditor = {evil}
\taskPass = {evil}
\tattributesFile = {tmp_path}/attributes
\tgitProxy = {evil}
[include]
\tpath = {included}
[includeIf "gitdir:/"]
\tpath = {included}
[filter "evil"]
\tclean = {evil}
\tsmudge = {evil}
\tprocess = {evil}
\trequired = true
[diff "evil"]
\ttextconv = {evil}
\tcommand = {evil}
[diff]
\texternal = {evil}
[merge "evil"]
\tdriver = {evil}
[gpg]
\tprogram = {evil}
[gpg "ssh"]
\tprogram = {evil}
[log]
\tshowSignature = true
[pager]
\tlog = {evil}
\tls-tree = {evil}
[alias]
\tlog = !{evil}
\tls-tree = !{evil}
\tcat-file = !{evil}
[tar "evil"]
\tcommand = {evil}
[credential]
\thelper = !{evil}
[remote "origin"]
\turl = ext::{evil}
\tpromisor = true
\tpartialclonefilter = blob:none
\tuploadpack = {evil}
[protocol]
\tallow = always
[protocol "ext"]
\tallow = always
[trailer "evil"]
\tcommand = {evil}
[uploadpack]
\tpackObjectsHook = {evil}
[core]
\trepositoryformatversion = 1
[extensions]
\tpartialClone = origin
\tworktreeConfig = true
"""
        )
    (shop.root / ".git/config.worktree").write_text(f"[core]\n\tfsmonitor = {evil}\n")
    attributes = "* filter=evil diff=evil merge=evil text eol=crlf ident working-tree-encoding=UTF-16\n"
    (shop.root / ".git/info/attributes").write_text(attributes)
    (tmp_path / "attributes").write_text(attributes)
    shop.write(".gitattributes", attributes)
    for hooks in (shop.root / ".git/hooks", tmp_path / "hooks"):
        hooks.mkdir(exist_ok=True)
        for name in ("post-index-change", "pre-commit", "reference-transaction", "post-checkout", "fsmonitor-watchman"):
            shutil.copy(evil, hooks / name)
    # A commit that is "signed", so that showing it would ask the signing program.
    body = subprocess.run(
        ["git", "cat-file", "commit", head], cwd=shop.root, capture_output=True, check=True, text=True
    ).stdout
    lines, _, message = body.partition("\n\n")
    signed = f"{lines}\ngpgsig -----BEGIN PGP SIGNATURE-----\n \n x\n -----END PGP SIGNATURE-----\n\n{message}"
    name = subprocess.run(
        ["git", "-c", "core.fsmonitor=false", "hash-object", "-t", "commit", "-w", "--stdin"],
        cwd=shop.root,
        input=signed,
        capture_output=True,
        check=True,
        text=True,
    ).stdout.strip()
    (shop.root / ".git/refs/heads/main").write_text(name + "\n")
    # A missing text: with a partial clone git would fetch it, by a program.
    loose(shop.root, blob_id(b"b: 1\n")).unlink()

    for file in marks.iterdir():
        file.unlink()
    ordinary = {**os.environ, "GIT_CONFIG_NOSYSTEM": "1", "GIT_CONFIG_GLOBAL": os.devnull}
    for arguments in (["status"], ["log", "-p"], ["cat-file", "-p", blob_id(b"b: 1\n")]):
        before = len(list(marks.iterdir()))
        subprocess.run(
            ["git", *arguments], cwd=shop.root, env=ordinary, capture_output=True, stdin=subprocess.DEVNULL, timeout=30
        )
        assert len(list(marks.iterdir())) > before, f"the plant for {arguments} is dead; this test would prove nothing"
    for file in marks.iterdir():
        file.unlink()

    monkeypatch.chdir(shop.root)
    with opened(shop.root, tmp_path / "cache") as history:
        assert history.head == name
        found = texts(history)
        assert ("evidence/a.yaml", b"a: 2\n") in found
        assert history.committed("evidence/a.yaml", b"a: 2\n")
        assert history.dirty_count(shop.root) == 0
        assert [p.code for p in history.problems] == ["git.text"]
    assert not list(marks.iterdir())


def test_a_submodule_is_not_entered(shop: Workshop, tmp_path: Path) -> None:
    inner = Workshop(tmp_path / "inner")
    inner.write("evidence/i.yaml", "i: 1\n")
    inner.commit()
    shop.write("evidence/a.yaml", "a: 1\n")
    shop.git("-c", "protocol.file.allow=always", "submodule", "add", "-q", str(inner.root), "evidence/sub")
    shop.commit()
    with opened(shop.root) as history:
        assert texts(history) == [("evidence/a.yaml", b"a: 1\n")]
        assert set(history.tree()) == {".gitmodules", "evidence/a.yaml"}
