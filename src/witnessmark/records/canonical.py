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
    return _as_json(_normal(tree))


def _as_json(tree: Any) -> str:
    return json.dumps(tree, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def _digest(text: str) -> str:
    return "sha256:" + hashlib.sha256(text.encode()).hexdigest()


def digest_of(tree: Any) -> str:
    """`sha256:` and the digest of the canonical form of any text tree."""
    return _digest(canonical_text(tree))


def content_digest(document: Mapping[str, Any], *, texts_only: bool = False) -> str:
    """What `seal.content` must say for this document (its text tree): everything but that one value.

    `texts_only`: the caller knows that every scalar is a text already, as a reader gives them; the same digest, faster.
    """
    seal = document.get("seal")
    without = dict(document)
    if isinstance(seal, Mapping):
        without["seal"] = {k: v for k, v in seal.items() if k != "content"}
    if texts_only:
        text = _as_json(without)
        # Every part of a text in NFC is in NFC, so the whole tells for all its scalars.
        if text.isascii() or unicodedata.is_normalized("NFC", text):
            return _digest(text)
    return digest_of(without)
