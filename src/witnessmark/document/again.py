"""The pages once more, after something changed: only those pages that differ, in a child that stays warm.

One function, for the confined child of `watch`. It keeps its pages in a private folder between calls. What `build`
would refuse is refused here too, but for the PDF, which is not made: the output then keeps what it held.
"""

from __future__ import annotations

import gc
import hashlib
import json
import shutil
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from witnessmark.document.count_fields import ExpectedField, SeenRow, compare_fields, rows_in_html
from witnessmark.document.counts import Expected, Seen, Wanted, compare, seen_in_html
from witnessmark.document.engine import rebuild, take_fonts
from witnessmark.document.pages import Build
from witnessmark.document.produce import problem_to_json, publish
from witnessmark.document.settings import Attachment, settings_from_json
from witnessmark.document.templates import render_templates
from witnessmark.language import Language, speaking
from witnessmark.problems import Problem, Severity

__all__ = ["run"]


@dataclass(slots=True)
class _Kept:
    """What is remembered between two calls."""

    work: Path
    known: Build
    sources: dict[str, str] = field(default_factory=dict)
    photos: dict[str, tuple[Any, ...]] = field(default_factory=dict)
    seen: dict[str, tuple[str, tuple[Seen, ...], tuple[SeenRow, ...]]] = field(default_factory=dict)
    """By page: digest of its HTML, and what of the count it shows: requirements, and items of forms."""


_KEPT: dict[str, _Kept] = {}


def run(job: Mapping[str, Any]) -> dict[str, Any]:
    """Render, write what differs, read and write those pages, count all, and put them in place.

    `job` as `produce.run` takes it. Gives `{"written": …, "changed": pages that differ, "problems": […]}`.
    """
    collecting = gc.isenabled()
    gc.disable()  # Everything is loaded once more and thrown away: collecting in between costs a fifth of the time.
    try:
        with speaking(Language.of_json(job.get("language"))):
            return _again(job)
    finally:
        if collecting:
            gc.enable()


def _again(job: Mapping[str, Any]) -> dict[str, Any]:
    work, out = Path(job["work"]), Path(job["out"])
    settings = settings_from_json(job["settings"])
    texts, faults = render_templates([Path(folder) for folder in job["template_dirs"]], job["pages"])
    if faults:
        return _answer(False, (), faults)
    attachments = [Attachment(**item) for item in job["attachments"]]
    kept = _KEPT.get(str(work))
    if kept is None:
        shutil.rmtree(work / "again", ignore_errors=True)
        kept = _KEPT[str(work)] = _Kept(work / "again", Build((work / "again" / "sources").resolve(), settings))
    known, everything = kept.known, kept.known.settings != settings or not kept.sources
    known.settings, known.attachments = settings, frozenset(a.name for a in attachments)
    known.problems.clear()
    known.files.clear()
    problems = _photographs(job, kept)
    wanted = dict(texts)
    wanted |= {n: json.dumps(c, ensure_ascii=True, sort_keys=True) for n, c in job["data"].items()}
    _write(kept, wanted)
    rebuild(known, kept.work, everything=everything)
    problems += known.problems
    changed = _changed(kept)
    found = [one for _, seen, _ in kept.seen.values() for one in seen]
    fields = [ExpectedField(**row) for row in job.get("fields", ())]
    problems += compare(
        [Expected(**row) for row in job["expected"]],
        found,
        "HTML",
        [Wanted(**row) for row in job["wanted"]],
        sum(one.gap for one in fields),
    )
    problems += compare_fields(fields, [row for _, _, rows in kept.seen.values() for row in rows], "HTML")
    if any(problem.severity is Severity.PROBLEM for problem in problems):
        _KEPT.pop(
            str(work)
        )  # The next call begins anew: a page that was not read again would keep its fault to itself.
        return _answer(False, (), problems)
    _put(kept.work / "html", out / "html", attachments)
    return _answer(True, changed, problems)


def _answer(written: bool, changed: tuple[str, ...], problems: Any) -> dict[str, Any]:
    return {"written": written, "changed": list(changed), "problems": [problem_to_json(p) for p in problems]}


def _photographs(job: Mapping[str, Any], kept: _Kept) -> list[Problem]:
    """Photographs whose file or digest is not that of the last call, published anew below the sources."""
    problems: list[Problem] = []
    for photo in job["photos"]:
        stamp = (photo["path"], photo["sha256"], *_stamp(Path(photo["path"])))
        if kept.photos.get(photo["file"]) == stamp:
            continue
        faults = publish(photo, kept.known.sources, {})
        problems += faults
        if not faults:
            kept.photos[photo["file"]] = stamp
    return problems


def _stamp(path: Path) -> tuple[int, int]:
    try:
        found = path.stat()
    except OSError:
        return (0, 0)
    return (found.st_mtime_ns, found.st_size)


def _write(kept: _Kept, wanted: Mapping[str, str]) -> None:
    folder = kept.known.sources
    for name in kept.sources.keys() - wanted.keys():
        (folder / name).unlink(missing_ok=True)
    for name, text in wanted.items():
        if kept.sources.get(name) == text:
            continue
        path = (folder / name).resolve()
        if not path.is_relative_to(folder):
            raise ValueError(f"{name!r} lies outside the sources")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    kept.sources = dict(wanted)


def _changed(kept: _Kept) -> tuple[str, ...]:
    """The pages whose HTML is another than at the last call; what they show is read off them."""
    pages = {path.stem: path.read_text(encoding="utf-8") for path in sorted((kept.work / "html").glob("*.html"))}
    for name in kept.seen.keys() - pages.keys():
        del kept.seen[name]
    changed = []
    for name, text in pages.items():
        digest = hashlib.sha256(text.encode()).hexdigest()
        if name not in kept.seen or kept.seen[name][0] != digest:
            kept.seen[name] = (digest, seen_in_html({name: text}), rows_in_html({name: text}))
            changed.append(name)
    return tuple(changed)


def _put(built: Path, out: Path, attachments: list[Attachment]) -> None:
    """Bring the folder for the output up to date: files that differ are replaced one by one, others stay."""
    left = {".buildinfo", ".buildinfo.bak", "objects.inv", ".doctrees", "_sources"}
    wanted = {
        path.relative_to(built).as_posix(): path
        for path in built.rglob("*")
        if path.is_file() and not left.intersection(path.relative_to(built).parts)
    }
    wanted |= {f"attached/{attachment.name}": Path(attachment.path) for attachment in attachments}
    out.mkdir(parents=True, exist_ok=True)
    for path in sorted(out.rglob("*"), reverse=True):
        name = path.relative_to(out).as_posix()
        if path.is_file() and name not in wanted and not name.startswith("_static/fonts/"):
            path.unlink()
    for name, path in wanted.items():
        to = out / name
        if to.is_file() and to.stat().st_size == path.stat().st_size and to.read_bytes() == path.read_bytes():
            continue
        to.parent.mkdir(parents=True, exist_ok=True)
        beside = to.with_name(f".{to.name}.new")
        shutil.copyfile(path, beside)
        beside.replace(to)
    if not (out / "_static" / "fonts").is_dir():
        take_fonts(out)
