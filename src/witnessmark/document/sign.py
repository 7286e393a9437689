"""A copy of the workshop's mark for what is printed outside a build: test sheets, the index of a submission."""

from __future__ import annotations

from pathlib import Path

from witnessmark.problems import Place, Problem
from witnessmark.records.world import Workshop

__all__ = ["copy_mark"]

SECONDS = 30.0
MEMORY_MB = 2048
LONGEST = 900


def copy_mark(root: Path, workshop: Workshop, to: Path, *, grey: bool = False) -> Problem | None:
    """Write the mark that `workshop` has into the file `to`, decoded in the confined child; `grey`: without colours.

    Gives the problem why it could not; then there is no file.
    """
    from witnessmark.confined import ConfinedFault, call
    from witnessmark.reading.files import resolve_inside

    mark = workshop.mark
    assert mark is not None
    place = Place(mark.path)
    path = resolve_inside(root, mark.path)
    if isinstance(path, Problem):
        return path
    argument = {"path": str(path), "to": str(to), "longest": LONGEST, "grey": grey}
    try:
        answer = call(
            "witnessmark.reading.pictures:publish",
            argument,
            memory_mb=MEMORY_MB,
            seconds=SECONDS,
            readable=[root, to.parent],
            writable=[to.parent],
        )
    except ConfinedFault as fault:
        return Problem("picture.decoder", f"the mark cannot be decoded: {fault.detail[:200]}", "export it anew", place)
    if "code" in answer:
        return Problem(answer["code"], answer["message"], answer["remedy"], place)
    if answer["source_sha256"] != mark.sha256:
        to.unlink(missing_ok=True)
        return Problem("file.restless", "the mark changed while it was read", "try again", place)
    return None
