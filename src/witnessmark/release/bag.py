"""Writing a bag: payload below `data/`, digests of everything, and nothing that the manifests do not name.

Source: RFC 8493 (BagIt 1.0), 2.1 (required elements), 2.1.3 (manifests: lower-case hex, percent-encoded CR, LF and %),
2.2.1 (tag manifest), 2.2.2 (bag-info, Payload-Oxum). Stricter than it asks: SHA-256 alone, files sorted by path, two
blanks between digest and path as `sha256sum -c` reads them.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Mapping
from pathlib import Path

__all__ = [
    "BAGIT",
    "BAG_INFO",
    "DECLARATION",
    "MANIFEST",
    "PAYLOAD",
    "TAG_MANIFEST",
    "close_bag",
    "decoded",
    "digest_of",
    "encoded",
    "sync_tree",
]

BAGIT, BAG_INFO = "bagit.txt", "bag-info.txt"
MANIFEST, TAG_MANIFEST = "manifest-sha256.txt", "tagmanifest-sha256.txt"
PAYLOAD = "data/"
DECLARATION = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
_BLOCK = 1 << 16


def encoded(path: str) -> str:
    """A path as a manifest writes it."""
    return path.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def decoded(path: str) -> str:
    """A path as a manifest means it."""
    for sign, code in (("\n", "%0A"), ("\n", "%0a"), ("\r", "%0D"), ("\r", "%0d"), ("%", "%25")):
        path = path.replace(code, sign)
    return path


def close_bag(folder: Path, info: Mapping[str, str], tags: Mapping[str, bytes]) -> str:
    """Write what makes a bag of a folder that holds `data/`; the digest of its tag manifest, `sha256:…`.

    `info` are lines of bag-info.txt, `tags` further files beside it (README.txt). Every file reaches the disk.
    """
    payload = sorted(path.relative_to(folder).as_posix() for path in (folder / "data").rglob("*") if path.is_file())
    size, lines = 0, []
    for path in payload:
        digest, length = _digest(folder / path)
        size += length
        lines.append(f"{digest}  {encoded(path)}\n")
    rows = {**info, "Payload-Oxum": f"{size}.{len(payload)}"}
    files = {
        BAGIT: DECLARATION,
        BAG_INFO: "".join(f"{key}: {' '.join(rows[key].split())}\n" for key in sorted(rows)).encode(),
        MANIFEST: "".join(lines).encode(),
        **tags,
    }
    for name, data in files.items():
        (folder / name).write_bytes(data)
    listed = "".join(f"{hashlib.sha256(files[name]).hexdigest()}  {name}\n" for name in sorted(files)).encode()
    (folder / TAG_MANIFEST).write_bytes(listed)
    return "sha256:" + hashlib.sha256(listed).hexdigest()


def digest_of(file: Path) -> str:
    """`sha256:…` of a file; "" where there is none."""
    return f"sha256:{_digest(file)[0]}" if file.is_file() else ""


def _digest(file: Path) -> tuple[str, int]:
    with file.open("rb") as stream:
        digest = hashlib.file_digest(stream, "sha256").hexdigest()
        return digest, stream.tell()


def sync_tree(folder: Path) -> None:
    """Let every file and folder below reach the disk, files first."""
    folders: list[Path] = []
    for at, _, names in os.walk(folder):
        folders.append(Path(at))
        _sync(Path(at) / name for name in sorted(names))
    _sync(reversed(folders))


def _sync(paths: Iterable[Path]) -> None:
    for path in paths:
        try:
            handle = os.open(path, os.O_RDONLY)
        except PermissionError:  # Windows opens no folder.
            continue
        try:
            os.fsync(handle)
        except OSError:
            if path.is_file():
                raise
        finally:
            os.close(handle)
