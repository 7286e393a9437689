"""The seven marks: a bolt head, its seat and the painted line, as paths in a box of 24 by 24."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

__all__ = ["LIGHT", "MARKS", "mark", "sprite"]

LIGHT: Mapping[str, str] = MappingProxyType(
    {
        "paper": "#ffffff",
        "tint": "#eaf0f5",
        "ink": "#15191e",
        "ink2": "#4c5763",
        "rule": "#7f8b96",
        "hair": "#c3cad1",
        "paint": "#0f4c81",
        "hv": "#b3540a",
    }
)
_TICKS = '<path d="M12 0V3M12 21V24" fill="none" stroke="{paint}" stroke-width="4.8"/>'
_HEAD = (
    '<path d="M20.5 12 16.25 19.36H7.75L3.5 12 7.75 4.64H16.25Z" fill="{paper}" stroke="{ink}" stroke-width="1.8"'
    ' stroke-linejoin="round"/>'
)
MARKS: Mapping[str, str] = MappingProxyType(
    {
        "conforms": _HEAD + '<path d="M12 0V24" fill="none" stroke="{paint}" stroke-width="4.8"/>',
        "nonconforming": (
            '<path d="M18.12 17.77 16.73 20.18H7.28L2.55 12 4.08 9.34ZM21.45 12 19.92 14.66 5.88 6.23 7.28 3.82H16.73Z"'
            ' fill="{ink}"/>' + _TICKS
        ),
        "undecided": _HEAD + '<path d="M12 4.64H7.75L3.5 12 7.75 19.36H12Z" fill="{ink}"/>' + _TICKS,
        "not-shown": (
            '<path d="M20 12 16 18.93H8L4 12 8 5.07H16Z" fill="{paper}" stroke="{ink}" stroke-width="3.6"'
            ' stroke-linejoin="miter"/>'
        ),
        "lapsed": (
            '<path d="M9.2 4.64H14.8M17 6L19.8 10.8M19.8 13.2L17 18M14.8 19.36H9.2M7 18L4.2 13.2M4.2 10.8L7 6"'
            ' fill="none" stroke="{ink}" stroke-width="1.8"/>' + _TICKS
        ),
        "under-concession": (
            '<path d="M18.2 12 15.1 17.37H8.9L5.8 12 8.9 6.63H15.1Z" fill="none" stroke="{ink}" stroke-width="1.8"'
            ' stroke-linejoin="round"/><path d="M6.4 1.6H1.6V22.4H6.4M17.6 1.6H22.4V22.4H17.6" fill="none"'
            ' stroke="{ink}" stroke-width="2.4"/>'
        ),
        "not-applicable": (
            '<path d="M12 3V9M12 11V13M12 15V21M3 12H9M11 12H13M15 12H21" stroke="{ink}" stroke-width="1.6"'
            ' fill="none"/>'
        ),
    }
)
_SCREEN = {name: f"var(--{name})" for name in LIGHT}


def mark(state: str) -> str:
    """The mark of `state` as one SVG file in the colours of print."""
    body = MARKS[state].format(**LIGHT)
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24" width="24" height="24">{body}</svg>'


def sprite() -> str:
    """All marks as symbols for a page; colours come from the page's own tokens."""
    symbols = "".join(
        f'<symbol id="mark-{state}" viewBox="0 0 24 24">{body.format(**_SCREEN)}</symbol>'
        for state, body in MARKS.items()
    )
    return f'<svg class="sprite" aria-hidden="true" width="0" height="0">{symbols}</svg>'
