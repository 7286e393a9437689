"""The one Sphinx extension: directives, theme, and the builder for print."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from witnessmark.document import pages, printing, screen

if TYPE_CHECKING:
    from sphinx.application import Sphinx

__all__ = ["setup"]


def setup(app: Sphinx) -> dict[str, Any]:
    """Called by Sphinx."""
    pages.register(app)
    screen.register(app)
    printing.register(app)
    return {"version": "1", "parallel_read_safe": False, "parallel_write_safe": False}
