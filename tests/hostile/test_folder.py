"""A folder that somebody gave you runs nothing of theirs: everything known that could run is planted, nothing does.

One repository holds it all; every command that reads a folder is run in it once. Each plant leaves a mark of its own
name, so that a failure says which plant ran in which command. Where strace is there, every program that was started and
every connection that was tried is looked at as well.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests.recording.shop import BASE, shop
from tests.workshops import FILES, RECORD, make
from witnessmark.problems import Problem
from witnessmark.reading.gitfolder import git_program
from witnessmark.reading.githistory import open_history

SOURCE = Path(__file__).parents[2] / "src"
DRAFT = f"{BASE}/records/draft.yaml"
TAGGED = "evidence/people/object.yaml"
COMMANDS: dict[str, list[str]] = {
    "check": ["check"],
    "audit": ["audit"],
    "audit of one": ["audit", "van-07", "--format", "json"],
    "calculate": ["calculate", "insulation-tester/1", "--explain"],
    "list sets": ["list", "sets"],
    "record --seal": ["record", "--seal", DRAFT, "--by", "jm"],
    "record": ["record", "van-07", "--by", "jm"],
    "change": ["change", "van-07", "traction-bus", "--by", "jm"],
    "compare": ["compare", "builds/van-07/A"],
    "record --restore": ["record", "--restore", f"{BASE}/facts/first.yaml"],
    "build with their templates": ["build", "van-07"],
    "build": ["build", "van-07"],
    "sheet": ["sheet", "van-07"],
    "freeze": ["freeze", "van-07", "--issue", "A", "--with-gaps", "a test", "--by", "jm"],
    "verify": ["verify", "builds/van-07/A"],
    "check again": ["check"],
    "check of a tag": ["check", TAGGED],
}
MUST_DO = ("check", "audit", "calculate", "list sets", "record --seal", "build")
"""Commands that have to come as far as their work: a command that refuses at once proves nothing."""

DRIVER = """
import contextlib, io, json, sys
from pathlib import Path
marks, out, commands = Path(sys.argv[1]), Path(sys.argv[2]), json.loads(sys.argv[3])
from witnessmark.cli.main import COMMANDS, main
there = {name for name, _ in COMMANDS}
found = {}
for name, words in commands.items():
    if words[0] not in there:
        continue
    if name == "build":
        for template in Path("templates").glob("*.j2"):  # They stop the build; without them it has to come to its end.
            template.unlink()
    if name == "check of a tag":
        Path(words[1]).write_text(f"name: !!python/object/apply:os.system ['touch {marks}/yaml-tag']\\n")
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        try:
            status = main(words)
        except SystemExit as end:
            status = end.code
    left = sorted(p.name for p in marks.iterdir())
    for mark in marks.iterdir():
        mark.unlink()
    found[name] = {"status": status, "marks": left, "said": said.getvalue()[-1500:]}
out.write_text(json.dumps(found), encoding="utf-8")
"""

PROGRAMS = ("git", "python", "python3", "sh", "cat", "ssh", "gpg", "typst", "fc-list", "less", "editor", "uname")
MODULES = ("yaml", "git", "json", "PIL", "sphinx", "typst", "jinja2", "pydantic", "witnessmark", "methods", "plugin")
AT_START = ("sitecustomize.py", "usercustomize.py", "conf.py", "conftest.py", "setup.py", "witnessmark.py")
HOOKS = (
    "pre-commit", "prepare-commit-msg", "commit-msg", "post-commit", "post-index-change", "reference-transaction",
    "post-checkout", "post-merge", "pre-auto-gc", "pre-push", "post-rewrite", "fsmonitor-watchman",
)  # fmt: skip
KEYS = {
    # Key of .git/config: its value, with {} for a program that leaves the mark of this key.
    "core.fsmonitor": "{}", "core.sshCommand": "{}", "core.pager": "{}", "core.editor": "{}", "core.askPass": "{}",
    "core.gitProxy": "{}", "core.alternateRefsCommand": "{}", "sequence.editor": "{}", "credential.helper": "!{}",
    "gpg.program": "{}", "gpg.ssh.program": "{}", "gpg.ssh.defaultKeyCommand": "{}", "gpg.x509.program": "{}",
    "commit.gpgSign": "true", "tag.gpgSign": "true", "log.showSignature": "true", "diff.external": "{}",
    "filter.evil.clean": "{}", "filter.evil.smudge": "{}", "filter.evil.process": "{}", "filter.evil.required": "true",
    "diff.evil.textconv": "{}", "diff.evil.command": "{}", "merge.evil.driver": "{}", "merge.tool": "evil",
    "mergetool.evil.cmd": "{}", "difftool.evil.cmd": "{}", "tar.evil.command": "{}", "trailer.evil.command": "{}",
    "trailer.evil.key": "Evil", "uploadpack.packObjectsHook": "{}", "remote.origin.url": "ext::{}",
    "remote.origin.promisor": "true", "remote.origin.partialclonefilter": "blob:none", "protocol.allow": "always",
    "protocol.ext.allow": "always", "extensions.partialClone": "origin", "extensions.worktreeConfig": "true",
    "pager.log": "{}", "alias.log": "!{}", "alias.update-index": "!{}", "alias.cat-file": "!{}", "web.browser": "evil",
    "browser.evil.cmd": "{}", "instaweb.httpd": "{}", "hook.evil.command": "{}", "hook.evil.event": "pre-commit",
    "interactive.diffFilter": "{}", "submodule.recurse": "true", "maintenance.auto": "true", "gc.auto": "1",
}  # fmt: skip
ATTRIBUTES = "* filter=evil diff=evil merge=evil text eol=crlf ident export-subst working-tree-encoding=UTF-16\n"
TEMPLATE = (
    "{% for x in ().__class__.__base__.__subclasses__() %}{{ x.__init__.__globals__ }}{% endfor %}"
    "{{ cycler.__init__.__globals__.os.system('touch MARK') }}{{ self.__init__.__globals__ }}\n"
)


@dataclass
class Hostile:
    """The folder, where its plants leave their marks, and what came of the commands."""

    root: Path
    marks: Path
    found: dict[str, dict[str, object]] = field(default_factory=dict)
    traced: str | None = None

    def evil(self, name: str) -> Path:
        """A program that leaves the mark `name` and hands its input on."""
        safe = re.sub(r"[^A-Za-z0-9.-]", "_", name)
        file = self.marks.parent / "evil" / safe
        file.parent.mkdir(exist_ok=True)
        file.write_text(f'#!/bin/sh\n: > "{self.marks}/{safe}"\n/bin/cat\n', encoding="utf-8")
        file.chmod(0o755)
        return file

    def python(self, name: str) -> str:
        return f"open({str(self.marks / ('python-' + name))!r}, 'w').close()\n"


def plant(hostile: Hostile) -> None:
    root = hostile.root
    for folder in (root, root / "evidence", root / "templates", root / "requirements", root / BASE):
        folder.mkdir(exist_ok=True)
        for name in AT_START:
            (folder / name).write_text(hostile.python(name), encoding="utf-8")
        (folder / "evil.pth").write_text(f"import os; {hostile.python('pth')}", encoding="utf-8")
        (folder / "docutils.conf").write_text(
            "[general]\nraw_enabled: yes\nfile_insertion_enabled: yes\n[restructuredtext parser]\nraw_enabled: yes\n",
            encoding="utf-8",
        )
        for name in PROGRAMS:
            shutil.copy(hostile.evil(f"path-{name}"), folder / name)
    for name in MODULES:
        if not (root / f"{name}.py").exists():
            (root / f"{name}.py").write_text(hostile.python(f"module-{name}"), encoding="utf-8")
    (root / "pyproject.toml").write_text(
        '[build-system]\nrequires = []\nbuild-backend = "conf"\nbackend-path = ["."]\n'
        '[project.entry-points."witnessmark.methods"]\nevil = "plugin:METHODS"\n',
        encoding="utf-8",
    )
    (root / ".env").write_text(f"PYTHONSTARTUP={root}/conf.py\nGIT_EXTERNAL_DIFF={hostile.evil('env')}\n")
    for name in ("index", "gap-register", "area", "contents", "vehicle"):
        text = TEMPLATE.replace("MARK", str(hostile.marks / f"template-{name}"))
        (root / "templates" / f"{name}.rst.j2").write_text(text, encoding="utf-8")
    (root / "templates" / "conf.py.j2").write_text(TEMPLATE, encoding="utf-8")
    _plant_in_git(hostile)


def _plant_in_git(hostile: Hostile) -> None:
    root = hostile.root
    git = root / ".git"
    lines = []
    for key, value in KEYS.items():
        section, _, name = key.rpartition(".")
        top, _, sub = section.partition(".")
        head = f'[{top} "{sub}"]' if sub else f"[{top}]"
        lines.append(f"{head}\n\t{name} = {value.format(hostile.evil('key-' + key))}\n")
    included = hostile.marks.parent / "included"
    included.write_text(f"[core]\n\tfsmonitor = {hostile.evil('included')}\n", encoding="utf-8")
    lines.append(f'[include]\n\tpath = {included}\n[includeIf "gitdir:/"]\n\tpath = {included}\n')
    lines.append(f"[core]\n\thooksPath = {hostile.marks.parent}/hooks\n\tattributesFile = {root}/attributes\n")
    lines.append("[core]\n\trepositoryformatversion = 1\n")
    with (git / "config").open("a", encoding="utf-8") as config:
        config.write("".join(lines))
    (git / "config.worktree").write_text(f"[core]\n\tfsmonitor = {hostile.evil('worktree')}\n", encoding="utf-8")
    (git / "info").mkdir(exist_ok=True)
    for file in (
        git / "info/attributes",
        root / "attributes",
        root / "evidence/.gitattributes",
        root / ".gitattributes",
    ):
        file.write_text(ATTRIBUTES, encoding="utf-8")
    for folder in (git / "hooks", hostile.marks.parent / "hooks"):
        folder.mkdir(exist_ok=True)
        for name in HOOKS:
            shutil.copy(hostile.evil(f"hook-{name}"), folder / name)
    # A submodule with a monitor of its own, and a folder that looks like a repository without files.
    module = root / "module"
    clean = {k: v for k, v in os.environ.items() if not k.startswith("GIT_")}
    subprocess.run(["git", "init", "-q", str(module)], check=True, capture_output=True, env=clean)
    with (module / ".git/config").open("a", encoding="utf-8") as config:
        config.write(f"[core]\n\tfsmonitor = {hostile.evil('submodule')}\n")
    (root / ".gitmodules").write_text(
        f'[submodule "m"]\n\tpath = module\n\turl = ext::{hostile.evil("submodule-url")}\n'
        f"\tupdate = !{hostile.evil('submodule-update')}\n",
        encoding="utf-8",
    )
    disguised = root / "builds" / "bare"
    for name in ("objects", "refs"):
        (disguised / name).mkdir(parents=True)
    (disguised / "HEAD").write_text("ref: refs/heads/main\n", encoding="utf-8")
    (disguised / "config").write_text(f"[core]\n\tfsmonitor = {hostile.evil('bare')}\n", encoding="utf-8")


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Hostile:
    """The planted folder after every command was run in it, in one process, with the folder first on PATH."""
    outside = tmp_path_factory.mktemp("hostile")
    made = Hostile(shop(outside / "shop"), outside / "marks")
    made.marks.mkdir()
    make(made.root, {DRAFT: RECORD, **dict.fromkeys(FILES)})
    plant(made)
    driver = outside / "driver.py"
    driver.write_text(DRIVER, encoding="utf-8")
    environment = {k: v for k, v in os.environ.items() if not k.startswith(("GIT_", "COV_"))}
    environment |= {
        "PATH": os.pathsep.join(["", ".", "evidence", os.environ["PATH"]]),
        "XDG_CACHE_HOME": str(outside / "cache"),
        "PYTHONPATH": str(SOURCE),
        "HOME": str(outside / "home"),
    }
    words = [sys.executable, str(driver), str(made.marks), str(outside / "found.json"), json.dumps(COMMANDS)]
    trace = outside / "trace"
    if strace := _strace():
        words = [strace, "-f", "-qq", "--seccomp-bpf", "-e", "trace=execve,execveat,connect", "-o", str(trace), *words]
    done = subprocess.run(
        words, cwd=made.root, env=environment, input="", capture_output=True, text=True, check=False, timeout=300
    )
    assert done.returncode == 0, done.stderr[-3000:]
    made.found = json.loads((outside / "found.json").read_text(encoding="utf-8"))
    made.traced = trace.read_text(encoding="utf-8", errors="replace") if strace else None
    return made


def _strace() -> str | None:
    found = shutil.which("strace")
    if found is None:
        return None
    tried = subprocess.run([found, "-f", "--seccomp-bpf", "-o", os.devnull, "true"], capture_output=True, check=False)
    return found if tried.returncode == 0 else None


def test_nothing_planted_ran(hostile: Hostile) -> None:
    ran = {name: found["marks"] for name, found in hostile.found.items() if found["marks"]}
    assert ran == {}, f"{ran}: what each of these commands let run"


def test_the_commands_did_their_work(hostile: Hostile) -> None:
    """None ended with a fault of our own, and those that matter came to their end."""
    faults = {name: found["said"] for name, found in hostile.found.items() if found["status"] not in (0, 1, 2)}
    assert faults == {}
    refused = {
        name: found["said"] for name, found in hostile.found.items()
        if name in MUST_DO and found["status"] not in (0, 1)
    }  # fmt: skip
    assert refused == {}
    assert "unsafe" in str(hostile.found["build with their templates"]["said"])
    assert "not allowed" in str(hostile.found["check of a tag"]["said"])


def test_the_plants_are_alive(hostile: Hostile) -> None:
    """Plain git and plain Python, used in the ordinary way, do run them: otherwise all this would prove nothing."""
    before = {path.name for path in hostile.marks.iterdir()}
    ordinary = {**os.environ, "GIT_CONFIG_NOSYSTEM": "1", "GIT_CONFIG_GLOBAL": os.devnull, "HOME": os.devnull}
    for words in (
        ["git", "status"], ["git", "log", "-1"], ["git", "add", "evidence"], ["git", "diff"],
        ["git", "update-ref", "refs/heads/other", "HEAD"], [sys.executable, "-c", "import conf, plugin"],
    ):  # fmt: skip
        subprocess.run(
            words,
            cwd=hostile.root,
            env=ordinary,
            capture_output=True,
            stdin=subprocess.DEVNULL,
            timeout=60,
            check=False,
        )
    ran = {path.name for path in hostile.marks.iterdir()} - before
    for mark in hostile.marks.iterdir():
        mark.unlink()
    kinds = ("worktree", "key-filter", "hook-", "python-")
    assert [kind for kind in kinds if not any(name.startswith(kind) for name in ran)] == []


def test_only_git_and_our_own_children_were_started_and_nothing_was_called_up(hostile: Hostile) -> None:
    if hostile.traced is None:
        pytest.skip("strace is not there, or may not be used")
    assert list(_odd(hostile.traced.splitlines())) == []
    assert "execve(" in hostile.traced


def _odd(lines: Iterable[str]) -> Iterable[str]:
    """Programs that are neither Python nor git, and connections other than to the name service of this machine."""
    git = git_program()
    assert git is not None
    allowed = {str(Path(sys.executable)), str(Path(sys.executable).resolve()), git, str(Path(git).resolve())}
    for line in lines:
        if program := re.search(r'execve(?:at)?\((?:AT_FDCWD, )?"([^"]*)"', line):
            if program[1] not in allowed and not program[1].startswith("/usr/lib/git-core/"):
                yield line
        elif "connect(" in line and "nscd" not in line and "resumed>" not in line:
            yield line


@pytest.mark.parametrize(
    ("path", "text", "code"),
    [
        ("objects/info/alternates", "/nowhere\n", "git.borrowed"),
        ("commondir", "../../elsewhere\n", "git.file"),
        ("config", "[core]\n\tworktree = /\n", "git.worktree"),
        ("config", "[extensions]\n\trefStorage = reftable\n", "git.format"),
    ],
)
def test_what_cannot_be_made_harmless_is_refused(tmp_path: Path, path: str, text: str, code: str) -> None:
    root = make(tmp_path / "shop")
    git = root / ".git"
    for name in ("objects/info", "refs"):
        (git / name).mkdir(parents=True)
    (git / "HEAD").write_text("ref: refs/heads/main\n", encoding="utf-8")
    (git / path).write_text(text, encoding="utf-8")
    found = open_history(root, use_cache=False)
    assert isinstance(found, Problem)
    assert found.code == code
