"""What every log reader begins with: the bytes of the file within bounds, and faults of the file as one exception.

`Fault` stays inside this floor: each reader's `read` catches it and gives its problems as values.
"""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import Any

from witnessmark.problems import Place, Problem

__all__ = ["MAX_BYTES", "Fault", "bytes_of", "extra", "fault", "text_of"]

MAX_BYTES = 1_000_000_000


class Fault(Exception):
    """The log cannot be used; `problems` say why."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__(problems[0].message)
        self.problems = problems


def fault(code: str, message: str, remedy: str, shown: str, line: int = 0, column: int = 0) -> Fault:
    """One problem at a line of the file (0: the file as a whole)."""
    return Fault(Problem(code, message, remedy, Place(shown, line, column or (1 if line else 0))))


def bytes_of(source: Path | bytes, shown: str) -> bytes:
    """The bytes of the log, read once: what is hashed is what is used. Raises `Fault`."""
    if isinstance(source, Path):
        try:
            with source.open("rb") as stream:
                source = stream.read(MAX_BYTES + 1)
        except OSError as error:
            raise fault(
                "log.unreadable", f"cannot be read: {error.strerror}", "look at the path and its rights", shown
            ) from None
    if len(source) > MAX_BYTES:
        raise fault("log.size", f"the log is larger than {MAX_BYTES // 1_000_000} MB", "cut it to the test", shown)
    if not source:
        raise fault("log.empty", "the log is empty", "export it again", shown)
    return source


def text_of(data: bytes, shown: str) -> tuple[str, str]:
    """The text and its encoding: UTF-8, else Windows-1252, which is what the makers of CAN tools write."""
    for encoding in ("utf-8-sig" if data.startswith(b"\xef\xbb\xbf") else "utf-8", "cp1252"):
        try:
            return data.decode(encoding), encoding
        except UnicodeDecodeError:
            continue
    raise fault("log.encoding", "the file is neither UTF-8 nor Windows-1252 text", "export it as UTF-8", shown)


def extra(module: str, package: str, what: str, shown: str) -> Any:
    """A library of the extra `logs`, imported here and only when such a file is read. Raises `Fault` without it."""
    try:
        return import_module(module)
    except ImportError:
        raise fault(
            "log.extra",
            f"reading {what} needs {package}, which is not installed",
            "install it with: python -m pip install 'witnessmark[logs]'",
            shown,
        ) from None
