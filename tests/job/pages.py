"""The pages of the manual as a person follows them: each command run, each answer typed, each file written.

A page says to the tests, in comments that no reader sees, where it begins: `<!-- after: PAGE -->` in the folder that
another page leaves behind, `<!-- in: FOLDER -->` in a copy of that folder of the source, `<!-- in: nothing -->` in an
empty one.
`<!-- ends: 1 -->` before a box says that its commands end with that status.

Boxes are `sh`, commands; `typed`, the questions of the command above and what is typed; `yaml`, a file with its path in
the first line (`# PATH, at its end:` is added to what is there); `change`, words in a file that are exchanged; `po`,
texts of a language file that are filled in; `text`, lines that the commands above have said in this order. A picture
that is typed and not there is one of any sort that the reader was told to bring.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from textwrap import dedent

from PIL import Image

from .conftest import ROOT, Ran, run

__all__ = ["DOCS", "ENTER", "Box", "Followed", "boxes", "follow", "loose", "mentioned", "pages", "start_of", "state_in"]

DOCS = ROOT / "docs"
ENTER = "Enter"
NOTHING = "nothing"
ADDED = ", at its end:"
_BOX = re.compile(r"(?:^[ ]*<!-- ends: (\d) -->\n)?^([ ]*)```(sh|yaml|typed|change|po|text)\n(.*?)^\2```$", re.M | re.S)
_START = re.compile(r"<!-- (after|in): (\S+) -->")
_ANY_FENCE = re.compile(r"^[ ]*```.*?^[ ]*```$", re.M | re.S)
_COMMAND = re.compile(r"^\s*(?:\$ *)?(?:witnessmark|python3?|pip|git) ")
_INLINE = re.compile(r"`(witnessmark [^`\n]+)`")


@dataclass(frozen=True)
class Box:
    """One box of a page, of its `kind`; `ends` the status that its commands end with, if it is said."""

    kind: str
    text: str
    ends: int | None


@dataclass(frozen=True)
class Followed:
    """One page after it was followed: its folder, and for each command what it said and how bonding stood then."""

    folder: Path
    said: list[tuple[str, Ran, str]]
    ends: list[int | None]

    @property
    def states(self) -> list[str]:
        return [state for _, _, state in self.said if state]


def pages() -> list[str]:
    """Every page of the manual that is written by hand."""
    return sorted(path.name for path in DOCS.glob("*.md"))


def boxes(page: str) -> list[Box]:
    text = (DOCS / page).read_text(encoding="utf-8")
    return [Box(kind, dedent(body), int(ends) if ends else None) for ends, _, kind, body in _BOX.findall(text)]


def start_of(page: str) -> tuple[str, str]:
    """Where a page begins: ("after", page), ("in", folder) or ("", "")."""
    found = _START.search((DOCS / page).read_text(encoding="utf-8"))
    return (found[1], found[2]) if found else ("", "")


def loose(page: str) -> list[str]:
    """Commands in a box that is not followed: in one of another kind, or set in by blanks."""
    text = (DOCS / page).read_text(encoding="utf-8")
    rest = _BOX.sub(lambda m: "" if m[3] == "sh" else m[0], text)
    fenced = [line for fence in _ANY_FENCE.findall(rest) for line in fence.splitlines()]
    indented = [line for line in _ANY_FENCE.sub("", rest).splitlines() if line.startswith("    ")]
    return [line.strip() for line in (*fenced, *indented) if _COMMAND.match(line)]


def mentioned(page: str) -> list[str]:
    """Commands in running text."""
    return _INLINE.findall((DOCS / page).read_text(encoding="utf-8"))


def state_in(audit: str) -> str:
    """How bonding stands in the list of an audit."""
    rows = [line for line in audit.splitlines() if "UN R100" in line and line.endswith("  Bonding resistance")]
    return rows[0].strip().partition("  ")[0] if len(rows) == 1 else ""


def answers(text: str) -> tuple[list[str], str]:
    """The questions of a box, and what is typed."""
    pairs = [line.split(" → ") for line in text.splitlines()]
    assert all(len(pair) == 2 for pair in pairs), text
    return [asked for asked, _ in pairs], "".join(("" if a == ENTER else a) + "\n" for _, a in pairs)


def _write(shop: Path, text: str) -> None:
    first, _, rest = text.partition("\n")
    name = first.removeprefix("# ")
    path = shop / name.removesuffix(ADDED)
    path.parent.mkdir(parents=True, exist_ok=True)
    before = path.read_text(encoding="utf-8") if name.endswith(ADDED) else ""
    path.write_text(before + rest, encoding="utf-8")


def _change(shop: Path, text: str) -> None:
    first, *rows = text.splitlines()
    path = shop / first.removeprefix("# ")
    content = path.read_text(encoding="utf-8")
    for old, new in (row.split(" → ") for row in rows):
        assert old in content, old
        content = content.replace(old, new)
    path.write_text(content, encoding="utf-8")


def _translate(shop: Path, text: str) -> None:
    """Fill the translations of the box into the file, each below its own text."""
    first, *rows = text.splitlines()
    path = shop / first.removeprefix("# ")
    blocks = path.read_text(encoding="utf-8").split("\n\n")
    at = -1
    for row in rows:
        if row.startswith("msgid "):
            (at,) = (n for n, block in enumerate(blocks) if row in block.splitlines())
        elif row.startswith("msgstr"):
            mark = re.escape(row.partition(" ")[0])
            blocks[at], done = re.subn(rf'(?m)^{mark} ".*"$', lambda _, row=row: row, blocks[at])  # type: ignore[misc]
            assert done == 1, row
    path.write_text("\n\n".join(blocks), encoding="utf-8")


def _bring_pictures(shop: Path, typed: str) -> None:
    for name in (line for line in typed.splitlines() if line.endswith(".jpg") and not (shop / line).exists()):
        (shop / name).parent.mkdir(parents=True, exist_ok=True)
        Image.new("RGB", (640, 480), (90, 110, 90)).save(shop / name)


_LEFT: dict[str, Path] = {}
"""The folder that each page left behind, so that another can begin there."""
_FOLLOWED: dict[str, Followed] = {}
"""What became of each page: one that another begins from is followed once."""


def follow(page: str, base: Path, home: Path) -> Followed:
    """Follow a page in `base`, or say what became of it where it was followed already."""
    if page in _FOLLOWED:
        return _FOLLOWED[page]
    how, where = start_of(page)
    if how == "after":
        if where not in _LEFT:  # in a folder of its own: what comes after it must not change what it left behind
            before = base.with_name(f"{base.name}-{Path(where).stem}")
            before.mkdir()
            follow(where, before, home)
        shutil.copytree(_LEFT[where], base, dirs_exist_ok=True, symlinks=True)
    elif how == "in" and where != NOTHING:
        shutil.copytree(ROOT / where, base / "source", ignore=shutil.ignore_patterns("__pycache__"))
    shop = base / "source" if how == "in" and where != NOTHING else base / "shop"
    said: list[tuple[str, Ran, str]] = []
    ends: list[int | None] = []
    found = boxes(page)
    latest: list[str] = []
    for number, box in enumerate(found):
        if box.kind == "yaml" and box.text.startswith("# "):
            _write(shop, box.text)
        elif box.kind == "change":
            _change(shop, box.text)
        elif box.kind == "po":
            _translate(shop, box.text)
        elif box.kind == "text" and start_of(page) != ("", ""):
            lines = iter([line.strip() for line in latest])
            for line in box.text.splitlines():
                assert line.strip() in lines, f"never said in this order: {line}\n" + "\n".join(latest)
        elif box.kind == "sh":
            latest = []
            asked: list[str] = []
            typed = ""
            if number + 1 < len(found) and found[number + 1].kind == "typed":
                asked, typed = answers(found[number + 1].text)
                _bring_pictures(shop, typed)
            for line in box.text.splitlines():
                ran = _command(line, shop if shop.exists() else base, home, typed)
                for question in asked:
                    assert question in ran.err, f"{line}: does not ask “{question}”\n{ran.err}"
                said.append((line, ran, state_in(ran.out) if line.startswith("witnessmark audit") else ""))
                ends.append(box.ends)
                latest += [*ran.err.splitlines(), *ran.out.splitlines()]
    _LEFT[page] = base
    return _FOLLOWED.setdefault(page, Followed(shop, said, ends))


def _command(line: str, cwd: Path, home: Path, typed: str) -> Ran:
    words = shlex.split(line)
    site = cwd / "site"
    if words[:3] == ["python", "-m", "pip"]:
        # Without a network, and into a folder beside: the machine stays as it is.
        own = ["--no-index", "--no-deps", "--target", str(site)] if words[3] == "install" else ["--no-index"]
        own += ["--no-build-isolation"] if words[3] == "wheel" else []
        done = subprocess.run(
            [sys.executable, *words[1:], *own], cwd=cwd, capture_output=True, text=True, check=False, timeout=240
        )
        return Ran(done.returncode, done.stdout, done.stderr)
    assert words[0] == "witnessmark", line
    path = os.pathsep.join(p for p in (str(site) if site.is_dir() else "", os.environ.get("PYTHONPATH", "")) if p)
    return run(*words[1:], cwd=cwd, home=home, typed=typed, **({"PYTHONPATH": path} if path else {}))
