"""The workshop's own mark: the picture that `workshop.yaml` names, looked at before it is printed anywhere.

It claims nothing, so it needs no seal. But it comes from somebody's desk, and so it is decoded like a photograph: in
the confined child, within limits, and only as PNG or JPEG. SVG is refused: it may call on files, addresses and scripts,
and nothing of ours proves that one does not.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from witnessmark.confined import Session
from witnessmark.problems import Place, Problem, Severity
from witnessmark.records.world import Picture

from .cache import Cache, stamp_of_code
from .files import resolve_inside
from .folder import WORKSHOP, Folder
from .looking import MEMORY_MB, PASSING, ask_child
from .yamltree import place_of, read_tree

__all__ = ["read_mark"]

MAX_BYTES = 2_000_000
MAX_PIXELS = 16_000_000
LEAST = 600
"""Pixels of the longer side: at 300 to the inch as wide as it is ever printed."""
LONGEST = 6000
RATIO = 6
"""So many times as wide as high, or as high as wide, and no more: it stands in a line with words."""
DEPTH = 107
"""Of 255: a grey of this depth on white has a contrast of 3 : 1 (WCAG 2.2, 1.4.11), which a printer keeps."""
REMEDY = f"give a PNG of at least {LEAST} px, or leave mark out"
LOOK = "witnessmark.reading.pictures:look_at_sign"


def read_mark(folder: Folder, *, use_cache: bool = True) -> Picture | None:
    """The mark, if one is named and can be printed; what is wrong with it joins the folder's problems, at its line."""
    name = folder.file.mark if folder.file is not None else None
    if name is None:
        return None
    place = _place(folder)
    path = f"evidence/{name}"
    answer = _looked_at(folder, path, place, use_cache)
    if isinstance(answer, Problem):
        # That a link is one was told of the file already: one cause, one problem, at the line that names it.
        folder.problems[:] = [p for p in folder.problems if not (p.code == "files.link" and p.place == Place(path))]
        folder.problems.append(answer)
        return None
    folder.problems += _doubts(answer, name, place, path)
    return Picture(
        path, answer["sha256"], answer["width"], answer["height"], answer["taken"] or None, answer["position"]
    )


def _place(folder: Folder) -> Place:
    root = read_tree(folder.data[WORKSHOP], WORKSHOP)
    return Place(WORKSHOP) if isinstance(root, Problem) else place_of(root, ("mark",), "value", WORKSHOP)


def _looked_at(folder: Folder, path: str, place: Place, use_cache: bool) -> dict[str, Any] | Problem:
    name = path.rpartition("/")[2]

    def wrong(code: str, message: str, remedy: str = REMEDY) -> Problem:
        return Problem(code, message, remedy, place, related=(Place(path),))

    inside = resolve_inside(folder.root, path, place=place)
    if isinstance(inside, Problem):
        return inside
    if name.lower().endswith((".svg", ".svgz")):
        return wrong("mark.format", f"'{name}' is SVG, which can hold scripts and addresses, and is not read")
    if not name.lower().endswith((".png", ".jpg", ".jpeg")):
        return wrong("mark.format", f"'{name}' is neither PNG nor JPEG")
    entry = folder.entries.get(path)
    sha256 = folder.sha256(path) if entry is not None else None
    if entry is None or sha256 is None:
        remedy = "put it there and commit it, or leave mark out"
        return wrong("file.missing", f"the file '{name}' is not in {path.rpartition('/')[0]}/", remedy)
    if entry.size > MAX_BYTES:
        return wrong("mark.size", f"'{name}' has {entry.size / 1e6:.1f} MB; a mark has at most {MAX_BYTES / 1e6:g} MB")
    cache = Cache("marks", stamp_of_code("reading/pictures.py"), use=use_cache)
    answer = cache.get(sha256)
    if answer is None:
        with Session(memory_mb=MEMORY_MB, readable=[entry.file]) as session:
            answer = ask_child(session, folder, path, LOOK, max_bytes=MAX_BYTES, max_pixels=MAX_PIXELS)
        if "code" not in answer and answer["sha256"] != sha256:
            return wrong("file.restless", f"'{name}': the file changed while it was read", "try again")
        if answer.get("code") not in PASSING:
            cache.put(sha256, answer)
    if "code" in answer:
        return wrong(answer["code"], f"'{name}': {answer['message']}")
    width, height = answer["width"], answer["height"]
    if max(width, height) > LONGEST:
        return wrong("mark.size", f"'{name}' has {width} × {height} pixels; a side has at most {LONGEST}")
    if max(width, height) > RATIO * min(width, height):
        remedy = f"cut it so that one side is at most {RATIO} times the other"
        return wrong("mark.shape", f"'{name}' has {width} × {height} pixels: too long to stand beside words", remedy)
    return dict(answer)


def _doubts(answer: dict[str, Any], name: str, place: Place, path: str) -> Sequence[Problem]:
    """What does not stop it from being printed."""
    found: list[tuple[str, str, str]] = []
    width, height = answer["width"], answer["height"]
    if max(width, height) < LEAST:
        found.append(("mark.coarse", f"'{name}' has only {width} × {height} pixels and prints coarse", REMEDY))
    if answer["depth"] < DEPTH:
        words = f"'{name}' is so pale, or so even, that it is lost on a printer without colours"
        found.append(("mark.pale", words, "give one with dark lines on white"))
    return [
        Problem(code, message, remedy, place, Severity.NOTE, related=(Place(path),)) for code, message, remedy in found
    ]
