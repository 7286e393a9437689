"""Git for releases: nothing of a folder's configuration runs, and no bundle writes where it should not."""

from __future__ import annotations

import io
import subprocess
from pathlib import Path

import pytest

from witnessmark.problems import Misuse
from witnessmark.release.gitwork import opened, restore
from witnessmark.release.verify import verify

from .yard import NOW, frozen, git, without_document, yard


def test_no_hook_filter_or_program_of_the_folder_runs(tmp_path: Path) -> None:
    root, mark = yard(tmp_path / "yard"), tmp_path / "mark"
    program = tmp_path / "program.sh"
    program.write_text(f"#!/bin/sh\ntouch {mark}\ncat\n")
    program.chmod(0o755)
    for name in ("pre-commit", "post-commit", "reference-transaction", "post-index-change", "post-checkout",
                 "prepare-commit-msg", "commit-msg", "pre-auto-gc", "post-rewrite"):  # fmt: skip
        hook = root / ".git" / "hooks" / name
        hook.parent.mkdir(exist_ok=True)
        hook.write_bytes(program.read_bytes())
        hook.chmod(0o755)
    (root / ".git" / "info").mkdir(exist_ok=True)
    (root / ".git" / "info" / "attributes").write_text("* filter=x diff=x\n")
    for key in ("filter.x.clean", "filter.x.smudge", "filter.x.process", "core.fsmonitor", "diff.x.textconv",
                "diff.external", "gpg.program", "gpg.ssh.program", "core.sshCommand", "core.editor"):  # fmt: skip
        git(root, "config", key, str(program))
    for key in ("commit.gpgsign", "tag.gpgsign"):
        git(root, "config", key, "true")
    mark.unlink(missing_ok=True)  # What git itself may have run above.
    with without_document():
        done = frozen(root)
    assert verify(done.folder, here=root, clock=lambda: NOW).good
    assert not mark.exists()


def _made(root: Path, kind: str, *entries: tuple[str, str, str]) -> str:
    lines = "".join(f"{mode} {'tree' if mode == '040000' else 'blob'} {name}\t{path}\n" for mode, name, path in entries)
    done = subprocess.run(["git", kind], cwd=root, input=lines.encode(), capture_output=True, check=True)
    return done.stdout.decode().strip()


@pytest.mark.parametrize("step", ["..", ".git", ".GIT", "nul.yaml", "a:b"])
def test_a_bundle_with_a_path_that_leads_elsewhere(tmp_path: Path, step: str) -> None:
    """Trees as git itself would not make them: refused before a file is written."""
    root = yard(tmp_path / "yard")
    blob = git(root, "hash-object", "-w", "evidence/workshop.yaml")
    inner = _made(root, "mktree", ("100644", blob, "x"))
    evidence = _made(root, "mktree", ("040000", inner, step))
    top = _made(root, "mktree", ("040000", evidence, "evidence"))
    commit = git(root, "-c", "user.name=x", "-c", "user.email=x", "commit-tree", top, "-m", "A trick")
    git(root, "update-ref", "refs/heads/main", commit)
    git(root, "symbolic-ref", "HEAD", "refs/heads/main")
    with opened(root) as repository:
        repository.bundle(tmp_path / "bundle")
    target = tmp_path / "target"
    target.mkdir()
    with (tmp_path / "bundle").open("rb") as stream, pytest.raises(Misuse) as caught:
        restore(stream, target, ("evidence",))
    assert caught.value.problems[0].code == "bundle.path"
    assert not (target / "evidence").exists() and not (tmp_path / "x").exists()


def test_what_is_no_bundle(tmp_path: Path) -> None:
    root = yard(tmp_path / "yard")
    with opened(root) as repository:
        repository.bundle(tmp_path / "bundle")
    whole = (tmp_path / "bundle").read_bytes()
    for number, data in enumerate(
        (b"", whole[:200], whole[:-30], b"# v3" + whole[4:], whole.replace(b"\n\n", b"\n", 1))
    ):
        target = tmp_path / f"target-{number}"
        target.mkdir()
        with pytest.raises(Misuse):
            restore(io.BytesIO(data), target, ("evidence",))
        assert not (target / "evidence").exists()


def test_files_of_another_size_than_the_bag_names(tmp_path: Path) -> None:
    """So that a small pack with huge files never fills a disk: sizes are looked at first."""
    root = yard(tmp_path / "yard")
    with opened(root) as repository:
        repository.bundle(tmp_path / "bundle")
    (tmp_path / "target").mkdir()
    with (tmp_path / "bundle").open("rb") as stream, pytest.raises(Misuse) as caught:
        restore(stream, tmp_path / "target", ("evidence",), sizes={"evidence/workshop.yaml": 1})
    assert caught.value.problems[0].code == "bundle.inputs"
    assert not (tmp_path / "target" / "evidence").exists()
