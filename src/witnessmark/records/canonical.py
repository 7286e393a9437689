"""The canonical form of a sealed file, and its digest.

SHA-256 over UTF-8 JSON of the text tree: every scalar a string in NFC, keys sorted, no blanks, without `seal.content`.
Comments, order of keys, quoting and line ends stand outside it.
"""

from __future__ import annotations

import hashlib
import json
import unicodedata
from collections.abc import Mapping
from typing import Any

__all__ = ["canonical_text", "content_digest", "digest_of"]


def _normal(tree: Any) -> Any:
    if isinstance(tree, Mapping):
        return {unicodedata.normalize("NFC", str(k)): _normal(v) for k, v in tree.items()}
    if isinstance(tree, list | tuple):
        return [_normal(item) for item in tree]
    return unicodedata.normalize("NFC", "" if tree is None else str(tree))


def canonical_text(tree: Any) -> str:
    """The text tree (strings, tuples or lists, mappings) as canonical JSON."""
    return json.dumps(_normal(tree), ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def digest_of(tree: Any) -> str:
    """`sha256:` and the digest of the canonical form of any text tree."""
    return "sha256:" + hashlib.sha256(canonical_text(tree).encode()).hexdigest()


def content_digest(document: Mapping[str, Any]) -> str:
    """What `seal.content` must say for this document (its text tree): everything but that one value."""
    seal = document.get("seal")
    without = dict(document)
    if isinstance(seal, Mapping):
        without["seal"] = {k: v for k, v in seal.items() if k != "content"}
    return digest_of(without)
