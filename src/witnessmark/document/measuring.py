"""How many pages a paper has, of which size, and what kind of PDF it says it is: for the confined child."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

__all__ = ["measure"]

_MOST = 5000
_MM = 25.4 / 72
_SIZES = {"A3": (297.0, 420.0), "A4": (210.0, 297.0), "A5": (148.0, 210.0), "Letter": (215.9, 279.4)}
"""Millimetres: ISO 216, and ANSI Y14.1 for the last."""
_PART = re.compile(rb"pdfaid:part(?:>|=[\"'])\s*([1-4])")
_LEVEL = re.compile(rb"pdfaid:conformance(?:>|=[\"'])\s*([ABUEFabuef])")


def measure(argument: dict[str, Any]) -> list[dict[str, Any]]:
    """`{"paths": [PDF, …]}` to one row for each: `pages` (0: cannot be read), `size` and `standard`, "" for none.

    The standard is what the file says of itself (ISO 19005, clause 6: `pdfaid`); nothing is validated.
    """
    return [_measured(Path(path)) for path in argument["paths"]]


def _measured(path: Path) -> dict[str, Any]:
    from pypdf import PdfReader

    try:
        reader = PdfReader(path)
        number = len(reader.pages)
        sizes = {_size(reader.pages[n]) for n in range(min(number, _MOST))}
        root: Any = reader.trailer["/Root"]
        said = root.get("/Metadata")
        data = said.get_object().get_data() if said is not None else b""
    except MemoryError:
        raise
    except Exception:  # A reader of what others wrote raises whatever it meets.
        return {"pages": 0, "size": "", "standard": ""}
    part, level = _PART.search(data), _LEVEL.search(data)
    standard = f"PDF/A-{part[1].decode()}{level[1].decode().lower() if level else ''}" if part else ""
    return {"pages": number, "size": sizes.pop() if len(sizes) == 1 else "", "standard": standard}


def _size(page: Any) -> str:
    box = page.mediabox
    short, long = sorted((float(box.width) * _MM, float(box.height) * _MM))
    return next((n for n, (w, h) in _SIZES.items() if abs(short - w) < 2 and abs(long - h) < 2), "")
