"""`build --watch`: what changed is on the page, what `build` refuses is refused, and the pages are those of a build."""

from __future__ import annotations

import json
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from witnessmark.cli.main import main
from witnessmark.document.watch import Watch, stamps

ROOT = Path(__file__).parents[2]
VEHICLE = "van-07"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the demonstration, whose day is pinned and whose history is not asked."""
    root = tmp_path_factory.mktemp("watched")
    for name in ("evidence", "requirements", "templates"):
        shutil.copytree(ROOT / name, root / name)
    return root


@pytest.fixture(scope="module")
def watch(folder: Path) -> Iterator[Watch]:
    with Watch(folder, VEHICLE, folder / "builds" / "watch") as one:
        first = one.once()
        assert first.written, first.problems
        assert len(first.changed) > 50
        yield one


def change(path: Path, old: str, new: str) -> set[str]:
    """Replace words in a file; gives what has changed, as the loop would see it."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return {str(path.resolve())}


def page(watch: Watch, name: str) -> str:
    return (watch.out / "html" / f"{name}.html").read_text(encoding="utf-8")


def found_by_search(html: Path) -> dict[str, set[str]]:
    """The pages on which each word is found; their numbers in the index may come in another order."""
    text = (html / "searchindex.js").read_text(encoding="utf-8")
    index = json.loads(text.removeprefix("Search.setIndex(").removesuffix(")"))
    return {
        word: {index["docnames"][n] for n in ([pages] if isinstance(pages, int) else pages)}
        for kind in ("terms", "titleterms")
        for word, pages in index[kind].items()
        if pages != []  # a word that was taken away is left behind, without a page
    }


def everything(html: Path) -> dict[str, bytes]:
    return {p.relative_to(html).as_posix(): p.read_bytes() for p in sorted(html.rglob("*")) if p.is_file()}


def test_words_of_a_template_are_on_their_page_and_no_other_page_is_touched(watch: Watch, folder: Path) -> None:
    before = everything(watch.out / "html")
    changed = change(
        folder / "templates" / "people.rst.j2", "{{ heading(title) }}", "{{ heading(title) }}\n\nWe are here."
    )
    one = watch.once(changed)
    assert (one.written, one.changed) == (True, ("people",)), one.problems
    assert "We are here." in page(watch, "people")
    after = everything(watch.out / "html")
    assert {n for n in after if after[n] != before.get(n)} <= {"people.html", "searchindex.js"}


def test_a_mistake_in_a_template_is_told_with_its_line_and_the_pages_stay(watch: Watch, folder: Path) -> None:
    before = everything(watch.out / "html")
    path = folder / "templates" / "people.rst.j2"
    one = watch.once(change(path, "heading(title)", "heading(titel)"))
    assert not one.written
    assert [(p.code, p.place.file if p.place else "", p.place.line if p.place else 0) for p in one.problems] == [
        ("template.undefined", "people.rst.j2", 1)
    ]
    assert everything(watch.out / "html") == before
    assert watch.once(change(path, "heading(titel)", "heading(title)")).written


def test_the_words_of_a_requirement_are_on_its_page(watch: Watch, folder: Path) -> None:
    path = folder / "requirements" / "un-r100-03" / "isolation.yaml"
    statement = next(line for line in path.read_text(encoding="utf-8").splitlines() if " statement: " in line)
    one = watch.once(change(path, statement, statement.replace("statement: ", "statement: Newly worded, ")))
    assert one.written, one.problems
    assert "area-un-r100-03-isolation" in one.changed
    assert "Newly worded" in page(watch, "area-un-r100-03-isolation")


def test_a_template_that_hides_a_gap_is_refused(watch: Watch, folder: Path) -> None:
    before = everything(watch.out / "html")
    path = folder / "templates" / "gap-register.rst.j2"
    text = path.read_text(encoding="utf-8")
    path.write_text("{{ heading(title) }}\n", encoding="utf-8")
    one = watch.once({str(path.resolve())})
    assert not one.written
    assert {p.code for p in one.problems} >= {"count.gap"}
    again = watch.once(change(folder / "templates" / "words.rst.j2", "In own words", "In words of our own"))
    assert not again.written  # still, though another page changed
    assert everything(watch.out / "html") == before
    path.write_text(text, encoding="utf-8")
    assert watch.once({str(path.resolve())}).written


def test_a_file_with_a_fault_stops_it_until_it_is_mended(watch: Watch, folder: Path) -> None:
    path = folder / "evidence" / "vehicles" / VEHICLE / "vehicle.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text + "colour: red\n", encoding="utf-8")
    one = watch.once({str(path.resolve())})
    assert not one.written
    assert one.problems[0].place is not None
    assert one.problems[0].place.file.endswith("vehicle.yaml")
    path.write_text(text, encoding="utf-8")
    assert watch.once({str(path.resolve())}).written


def test_the_pages_are_those_of_a_whole_build(watch: Watch, folder: Path) -> None:
    """After all that was changed above: byte for byte what `build` makes of the same folder."""
    watch.once()
    assert main(["build", VEHICLE, "--folder", str(folder), "--output", str(folder / "whole")]) == 0
    whole, ours = everything(folder / "whole" / "html"), everything(watch.out / "html")
    assert whole.keys() == ours.keys()
    assert {name for name in whole if whole[name] != ours[name]} <= {"searchindex.js"}
    assert found_by_search(folder / "whole" / "html") == found_by_search(watch.out / "html")


def test_every_file_that_is_read_is_looked_at(folder: Path) -> None:
    before = stamps(folder)
    for name in ("evidence/new.yaml", "requirements/new.yaml", "templates/new.j2", ".git/logs/HEAD"):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("x", encoding="utf-8")
        now = stamps(folder)
        assert now != before, name
        before = now
        path.unlink()
        assert stamps(folder) != now
        before = stamps(folder)
    shutil.rmtree(folder / ".git")


def test_control_c_ends_it_cleanly(folder: Path) -> None:
    """The command itself: it says where the pages are, and that it makes no PDF; it leaves no folder of its own."""
    command = [sys.executable, "-u", "-m", "witnessmark", "build", VEHICLE, "--watch", "--folder", str(folder)]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    assert child.stdout is not None
    said = ""
    while "index.html" not in said:
        line = child.stdout.readline()
        assert line, said
        said += line
    time.sleep(0.5)
    child.send_signal(signal.SIGINT)
    rest, _ = child.communicate(timeout=30)
    assert child.returncode == 0, said + rest
    assert "HTML only" in said
    assert "No longer watching" in rest
    assert "Traceback" not in rest
    made = folder / "builds" / VEHICLE / "watch"
    assert (made / "html" / "index.html").is_file()
    assert sorted(path.name for path in made.iterdir()) == ["html"]


@pytest.mark.parametrize("more", [["--format", "json"], ["--for", "un-r100"]])
def test_what_does_not_go_together_is_refused(
    folder: Path, more: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["build", VEHICLE, "--watch", "--folder", str(folder), *more]) == 2
    assert "--watch does not go with" in capsys.readouterr().err
