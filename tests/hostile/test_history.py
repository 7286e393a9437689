"""Histories that were tampered with, cut, rewritten or spoiled by accident: each is a problem of its own with a remedy.

Each case is done to a copy of one small workshop with a history, and read as `check` reads it.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.workshops import FILES, RECORD, commit_all, make, seal_by_hand
from witnessmark.problems import Problem
from witnessmark.reading.check import check
from witnessmark.reading.githistory import History, open_history
from witnessmark.reading.workshop import read_workshop

VAN = "evidence/vehicles/van-07"
FAIL = f"{VAN}/records/fail.yaml"
PICTURE = f"{VAN}/photos/meter.txt"
WITH_FILE = RECORD.replace(
    "  isolation/value: {}\n",
    "  isolation/value: {}\n  isolation/picture: {photo: photos/meter.txt, finding: meets}\n",
)
BYTES = b"a line\nanother line\n"
FACTS = f"{VAN}/facts/first.yaml"
PERSON = ("-c", "user.name=Somebody", "-c", "user.email=somebody@example.invalid", "-c", "core.fsmonitor=false")


def git(root: Path, *words: str) -> str:
    done = subprocess.run(["git", *PERSON, *words], cwd=root, check=True, capture_output=True, text=True)
    return done.stdout.strip()


def commit(root: Path, message: str = "x") -> str:
    git(root, "add", "-A")
    git(root, "commit", "-q", "-m", message)
    return git(root, "rev-parse", "HEAD")


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Facts first; then a record that fails and has a file; then one that comes after it."""
    root = make(tmp_path_factory.mktemp("history") / "base", {".gitattributes": "* -text\n"})
    (root / FACTS).write_text(seal_by_hand(FILES[FACTS], "facts2", on="2026-10-01T10:00+02:00"), encoding="utf-8")
    commit_all(root)
    git(root, "config", "core.logAllRefUpdates", "true")
    fail = seal_by_hand(
        WITH_FILE.replace("5.2 MΩ", "0.2 MΩ"), "fa2ked", files=[("photos/meter.txt", BYTES)],
        found={"isolation/full": "fail"},
    )  # fmt: skip
    make(root, {FAIL: fail, PICTURE: BYTES, **dict.fromkeys(FILES)})
    commit(root, "the fail")
    make(root, {f"{VAN}/records/next.yaml": seal_by_hand(RECORD, "next22"), **dict.fromkeys(FILES)})
    commit(root, "the next")
    return root


def drop_the_fail(root: Path) -> None:
    git(root, "rebase", "-q", "--onto", "HEAD~2", "HEAD~1")


def forget_logs(root: Path) -> None:
    shutil.rmtree(root / ".git/logs")


def filter_branch(root: Path) -> None:
    environment = {**os.environ, "FILTER_BRANCH_SQUELCH_WARNING": "1"}
    command = ["git", *PERSON, "filter-branch", "-f", "--index-filter", f"git rm -q --cached --ignore-unmatch {FAIL}"]
    subprocess.run([*command, "HEAD"], cwd=root, check=True, capture_output=True, env=environment)
    git(root, "reset", "-q", "--hard")


def tagged_then_dropped(root: Path) -> None:
    git(root, "tag", "-a", "-m", "issue A", "van-07/A")
    drop_the_fail(root)
    forget_logs(root)


def amended(root: Path) -> None:
    git(root, "reset", "-q", "--hard", "HEAD~1")
    text = (root / FAIL).read_text(encoding="utf-8").replace("0.2 MΩ", "5.2 MΩ")
    (root / FAIL).write_text(text, encoding="utf-8")
    git(root, "add", "-A")
    git(root, "commit", "-q", "--amend", "-m", "the pass")


def on_a_side_branch(root: Path) -> None:
    git(root, "checkout", "-q", "-b", "side")
    make(root, {f"{VAN}/records/side.yaml": seal_by_hand(RECORD, "s2de22"), **dict.fromkeys(FILES)})
    commit(root)
    git(root, "checkout", "-q", "main")


def worktree_in_the_way(root: Path) -> None:
    git(root, "worktree", "add", "-q", str(root.parent / "second"))
    shutil.rmtree(root)
    (root.parent / "second").rename(root)


def shallow(root: Path) -> None:
    cut = root.parent / "cut"
    git(root.parent, "clone", "-q", "--depth", "1", f"file://{root}", str(cut))
    shutil.rmtree(root)
    cut.rename(root)


def without_history(root: Path) -> None:
    shutil.rmtree(root / ".git")


def not_added(root: Path) -> None:
    git(root, "rm", "-q", "--cached", PICTURE)
    git(root, "commit", "-q", "-m", "without the file")


def ignored(root: Path) -> None:
    (root / ".gitignore").write_text("builds/\n*.txt\n", encoding="utf-8")
    not_added(root)


def excluded_act(root: Path) -> None:
    (root / ".git/info").mkdir(exist_ok=True)
    (root / ".git/info/exclude").write_text("more.yaml\n", encoding="utf-8")
    make(root, {f"{VAN}/records/more.yaml": seal_by_hand(RECORD, "m2re22"), **dict.fromkeys(FILES)})


def crlf(root: Path) -> None:
    (root / PICTURE).write_bytes(BYTES.replace(b"\n", b"\r\n"))


def crlf_by_git(root: Path) -> None:
    (root / ".gitattributes").write_text("*.txt text eol=crlf\n", encoding="utf-8")
    (root / PICTURE).unlink()
    git(root, "checkout", "HEAD", "--", PICTURE)


def passed_over(mark: str) -> Callable[[Path], None]:
    def act(root: Path) -> None:
        git(root, "update-index", mark, FAIL)

    return act


def damaged_index(root: Path) -> None:
    (root / ".git/index").write_bytes(b"DIRC, or not")


def put(path: str, text: str | bytes) -> Callable[[Path], None]:
    def act(root: Path) -> None:
        make(root, {path: text, **dict.fromkeys(FILES)})

    return act


def twin_in_the_commit(root: Path) -> None:
    name = git(root, "rev-parse", f"HEAD:{FAIL}")
    git(root, "update-index", "--add", "--cacheinfo", f"100644,{name},{VAN}/records/Fail.yaml")
    git(root, "commit", "-q", "-m", "twins")


def annexed(root: Path) -> None:
    (root / PICTURE).unlink()
    (root / PICTURE).symlink_to("../../../../.git/annex/objects/x/y/SHA256E-s20--aa.txt/SHA256E-s20--aa.txt")


def copied(root: Path) -> None:
    shutil.copyfile(root / FAIL, root / f"{VAN}/records/again.yaml")


def two_firsts(root: Path) -> None:
    """Two branches give one code to two texts; the merge holds both."""
    git(root, "checkout", "-q", "-b", "left")
    put(f"{VAN}/records/l.yaml", seal_by_hand(RECORD, "d2ubre"))(root)
    commit(root)
    git(root, "checkout", "-q", "main")
    put(f"{VAN}/records/r.yaml", seal_by_hand(RECORD.replace("5.2", "5.3"), "d2ubre"))(root)
    commit(root)
    git(root, "merge", "-q", "-m", "both", "left")


POINTER = b"version https://git-lfs.github.com/spec/v1\noid sha256:00\nsize 20\n"
CONFLICT = "<<<<<<< HEAD\nformat: 1\n=======\nformat: 1\n>>>>>>> side\n"
RECORDS = f"{VAN}/records"

CASES: dict[str, tuple[Callable[[Path], None], str, str]] = {
    # What happened: how, the problem's code, a word of its remedy.
    "the fail was taken out by a rebase": (drop_the_fail, "git.rewritten", "git merge"),
    "the fail was amended into a pass": (amended, "git.rewritten", "git merge"),
    "a filter took the fail out everywhere": (filter_branch, "git.rewritten", "git merge"),
    "a tag knows what neither history nor logs know": (tagged_then_dropped, "git.rewritten", "git merge"),
    "an act is on another branch": (on_a_side_branch, "git.elsewhere", "git merge"),
    "the clone is cut": (shallow, "git.shallow", "--unshallow"),
    "there is no history": (without_history, "git.none", "git init"),
    "a file of a committed act is in no commit": (not_added, "git.untracked", "git add"),
    "a file of a committed act is ignored": (ignored, "git.ignored", "take that line out"),
    "a sealed act is ignored": (excluded_act, "git.ignored", "take that line out"),
    "git passes over a file (assume-unchanged)": (
        passed_over("--assume-unchanged"),
        "git.assume-unchanged",
        "--no-assume-unchanged",
    ),
    "git passes over a file (skip-worktree)": (
        passed_over("--skip-worktree"),
        "git.skip-worktree",
        "--no-skip-worktree",
    ),
    "the index is damaged": (damaged_index, "git.index", "git reset"),
    "line ends were changed by an editor": (crlf, "git.line-ends", "* -text"),
    "line ends were changed by git": (crlf_by_git, "git.line-ends", "* -text"),
    "a stand-in instead of a large file": (put(PICTURE, POINTER), "files.pointer", "git lfs pull"),
    "a stand-in that is a text": (
        put(PICTURE, "/annex/objects/SHA256E-s20--aa.txt\n"), "files.annex", "git annex get"),
    "a stand-in that is a link": (annexed, "files.annex", "git annex get"),
    "both sides of a merge": (put(f"{RECORDS}/open.yaml", CONFLICT), "files.conflict", "keep one side"),
    "a copy that a synchronising program left": (
        put(f"{RECORDS}/next (conflicted copy 2026).yaml", "format: 1\n"), "files.conflicted-copy", "keep one"),
    "one code in two files": (copied, "act.doubled-code", "delete the copy"),
    "one code for two texts": (two_firsts, "act.clash", "record both again"),
    "names that differ by case, in the folder": (put(f"{RECORDS}/NEXT.yaml", RECORD), "files.twin", "rename"),
    "names that differ by case, in the commit only": (twin_in_the_commit, "git.twin", "rename"),
    "a second working tree": (worktree_in_the_way, "git.file", "main working tree"),
}  # fmt: skip


def faults(root: Path, *, use_cache: bool = False) -> list[Problem]:
    return [p for p in check(root, use_cache=use_cache) if p.code != "set.no-edition"]


def test_the_base_itself_has_none_of_them(base: Path) -> None:
    assert {p.code for p in faults(base)} & {code for _, code, _ in CASES.values()} == set()


@pytest.mark.parametrize("name", CASES)
def test_each_is_a_problem_of_its_own(base: Path, tmp_path: Path, name: str) -> None:
    how, code, remedy = CASES[name]
    root = tmp_path / "copy"
    shutil.copytree(base, root, symlinks=True)
    how(root)
    found = [p for p in faults(root) if p.code == code]
    assert found, [(p.code, p.message) for p in faults(root)]
    assert any(remedy in p.remedy for p in found), [p.remedy for p in found]


def test_the_codes_differ() -> None:
    """One cause, one code: only several ways to the same fault share one."""
    shared = {"git.rewritten", "git.ignored", "git.line-ends", "files.annex"}
    codes = [code for _, code, _ in CASES.values() if code not in shared]
    assert len(codes) == len(set(codes))


@pytest.mark.parametrize("how", [drop_the_fail, filter_branch, amended, tagged_then_dropped])
def test_a_fail_taken_out_of_the_history_still_hurts(base: Path, tmp_path: Path, how: Callable[[Path], None]) -> None:
    """It is there as an act that is not committed: such an act can hurt and cannot help."""
    root = tmp_path / "copy"
    shutil.copytree(base, root)
    how(root)
    acts = [act for act in read_workshop(root, use_cache=False).acts if act.code == "fa2ked"]
    assert any(act.appeared is None and act.body.seal and act.body.seal.found for act in acts)


def test_an_edit_that_was_committed_and_taken_back_is_no_rewriting(base: Path, tmp_path: Path) -> None:
    root = tmp_path / "copy"
    shutil.copytree(base, root)
    (root / FAIL).write_text((root / FAIL).read_text(encoding="utf-8").replace("0.2", "5.2"), encoding="utf-8")
    commit(root)
    git(root, "reset", "-q", "--hard", "HEAD~1")
    assert "git.rewritten" not in {p.code for p in faults(root)}


def opened(root: Path, cache: Path) -> History:
    history = open_history(root, cache=cache)
    assert isinstance(history, History)
    return history


def test_one_commit_more_reads_one_commit_and_a_rewriting_all(base: Path, tmp_path: Path) -> None:
    root, cache = tmp_path / "copy", tmp_path / "cache"
    shutil.copytree(base, root)
    under = ("evidence", "requirements")
    with opened(root, cache) as history:
        whole = history.first_texts(under)
        assert history.commits_read == 3
    with opened(root, cache) as history:
        assert history.first_texts(under) == whole
        assert history.commits_read == 0
    put(f"{RECORDS}/more.yaml", seal_by_hand(RECORD, "m2re22"))(root)
    commit(root)
    with opened(root, cache) as history:
        longer = history.first_texts(under)
        assert longer[:-1] == whole
        assert history.commits_read == 1
        assert history.texts_read == 1
    drop = git(root, "rev-parse", "HEAD~3")
    git(root, "rebase", "-q", "--onto", drop, "HEAD~2")
    with opened(root, cache) as history:
        rewritten = history.first_texts(under)
        assert history.commits_read == 3, "all is read anew"
        assert FAIL not in [text.path for text in rewritten]


def test_this_machine_remembers_what_git_has_forgotten(
    base: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the logs gone and the objects too, only what was read before knows it; it is said again at each reading."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    root = tmp_path / "copy"
    shutil.copytree(base, root)
    assert "git.rewritten" not in {p.code for p in faults(root, use_cache=True)}
    drop_the_fail(root)
    forget_logs(root)
    (root / ".git/ORIG_HEAD").unlink(missing_ok=True)
    git(root, "gc", "-q", "--prune=now")
    for _ in range(2):
        found = [p for p in faults(root, use_cache=True) if p.code == "git.rewritten"]
        assert [("read on this machine before" in p.message, "backup" in p.remedy) for p in found] == [(True, True)]
    # In a clone made afterwards nothing is left that could know it.
    clone = tmp_path / "clone"
    git(tmp_path, "clone", "-q", f"file://{root}", str(clone))
    assert "git.rewritten" not in {p.code for p in faults(clone, use_cache=True)}
