"""The pages of the manual that are typed by tests: their blocks, and following them command by command.

`sh`: commands. `typed`: the questions of the command above it and what is typed. `yaml`: a file, its path in the first
line (`PATH, at its end:` is added to what is there). `change`: words in a file that are exchanged. `text`: lines that
the commands above have said, in this order.
"""

from __future__ import annotations

import re
import shlex
from dataclasses import dataclass
from pathlib import Path

from .conftest import ROOT, Ran, run

__all__ = ["ENTER", "Followed", "blocks", "follow"]

BLOCK = re.compile(r"^```(sh|yaml|typed|change|text)\n(.*?)^```$", re.M | re.S)
ENTER = "Enter"
ADDED = ", at its end:"


@dataclass(frozen=True)
class Followed:
    """One page after it was followed: its folder, and what each command said."""

    folder: Path
    said: list[tuple[str, Ran]]

    def ran(self, words: str) -> list[Ran]:
        """What every command with these words in it said."""
        return [ran for line, ran in self.said if words in line]


def blocks(page: str) -> list[tuple[str, str]]:
    """Kind and text of each block of a page in docs/."""
    return BLOCK.findall((ROOT / "docs" / page).read_text(encoding="utf-8"))


def _answers(text: str) -> tuple[list[str], str]:
    """The questions of a block, and what is typed."""
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
        assert content.count(old) == 1, old
        content = content.replace(old, new)
    path.write_text(content, encoding="utf-8")


def follow(page: str, base: Path, home: Path) -> Followed:
    """Type the page in a new folder below `base`. What it shows of answers must be what was said."""
    shop = base / "shop"
    said: list[tuple[str, Ran]] = []
    latest: list[str] = []
    found = blocks(page)
    for number, (kind, text) in enumerate(found):
        if kind == "yaml":
            _write(shop, text)
        elif kind == "change":
            _change(shop, text)
        elif kind == "text":
            lines = iter(latest)
            for line in text.splitlines():
                assert line in lines, f"never said in this order: {line}\n" + "\n".join(latest)
        elif kind == "sh":
            asked: list[str] = []
            typed = ""
            if number + 1 < len(found) and found[number + 1][0] == "typed":
                asked, typed = _answers(found[number + 1][1])
            latest = []
            for line in text.splitlines():
                words = shlex.split(line)
                assert words[0] == "witnessmark", line
                ran = run(*words[1:], cwd=shop if shop.exists() else base, home=home, typed=typed)
                for question in asked:
                    assert question in ran.err, f"{line}: does not ask “{question}”\n{ran.err}"
                said.append((line, ran))
                latest += [*ran.err.splitlines(), *ran.out.splitlines()]
    return Followed(shop, said)
