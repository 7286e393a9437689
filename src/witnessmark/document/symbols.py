"""Symbols of the emergency responder sheet, as paths in a box of 24 by 24. They are our own, in ink only, so that a
copy of a copy in grey still tells them apart; each stands with its word. None is a sign of ISO 17840: those belong to
the standard."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

__all__ = ["SYMBOLS", "TURNS", "symbol"]

_LINE = 'fill="none" stroke="{ink}"'
_CORE = 'fill="none" stroke="{paper}"'

SYMBOLS: Mapping[str, str] = MappingProxyType(
    {
        # A black block of cells with two terminals.
        "pack": (
            '<path d="M1.5 7.5H22.5V21H1.5ZM4.5 3H9.5V7.5H4.5ZM14.5 3H19.5V7.5H14.5Z" fill="{ink}"/>'
            f'<path d="M6.7 10.5V18M12 10.5V18M17.3 10.5V18" {_CORE} stroke-width="2.2"/>'
        ),
        # The double line that high voltage has in the one-line diagram.
        "cable": (
            f'<path d="M0.5 18C10 18 10 6 23.5 6" {_LINE} stroke-width="7"/>'
            f'<path d="M0.5 18C10 18 10 6 23.5 6" {_CORE} stroke-width="2.8"/>'
        ),
        # A box on that line.
        "component": (
            f'<path d="M0 12H24" {_LINE} stroke-width="6.6"/><path d="M0 12H24" {_CORE} stroke-width="2.6"/>'
            f'<path d="M5.5 4H18.5V20H5.5Z" fill="{{paper}}" stroke="{{ink}}" stroke-width="2.2"/>'
        ),
        # A bridge lifted out of its two contacts.
        "disconnect": (
            f'<path d="M0.5 21H7.2V15.5M23.5 21H16.8V15.5M7.2 12V7.5H16.8V12" {_LINE} stroke-width="2.6"/>'
            f'<path d="M12 7.5V2.2M7.5 2.2H16.5" {_LINE} stroke-width="2.6"/>'
        ),
        # A loop of wire, cut through.
        "loop": (
            f'<path d="M0.5 20.5H8C2 14 4 5.5 12 5.5S22 14 16 20.5H23.5" {_LINE} stroke-width="2.4"/>'
            f'<path d="M10 9L14 2" {_CORE} stroke-width="4.4"/>'
            f'<path d="M8 10L12.2 1.4M11.8 10L16 1.4" {_LINE} stroke-width="1.9"/>'
        ),
        # A hollow box with plus and minus.
        "battery": (
            f'<path d="M2.5 8H21.5V21H2.5Z" {_LINE} stroke-width="2.2"/>'
            '<path d="M5 3.6H9.6V8H5ZM14.4 3.6H19V8H14.4Z" fill="{ink}"/>'
            f'<path d="M5 14.5H10.4M7.7 11.8V17.2M13.6 14.5H19" {_LINE} stroke-width="2.2"/>'
        ),
        # A bag that has burst out of its case.
        "inflator": (
            f'<path d="M12 14.6A5.6 5.6 0 1 0 12 3.4A5.6 5.6 0 1 0 12 14.6ZM12 14.6V18" {_LINE} stroke-width="2.2"/>'
            '<path d="M5.5 17.5H18.5V22.5H5.5Z" fill="{ink}"/>'
            f'<path d="M0.8 9H4M20 9H23.2M3.4 1.6L5.8 4M20.6 1.6L18.2 4M3.4 16.4L5.8 14M20.6 16.4L18.2 14" {_LINE} '
            'stroke-width="1.8"/>'
        ),
        # The hatching that says "not permitted" in every figure of the file.
        "no-cut": (
            f'<path d="M2 2H22V22H2Z" {_LINE} stroke-width="2.2"/>'
            f'<path d="M2 9.5L9.5 2M2 16L16 2M2.5 21.5L21.5 2.5M8 22L22 8M14.5 22L22 14.5" {_LINE} stroke-width="1.7"/>'
        ),
        # A wedge under a bar.
        "lift": (
            f'<path d="M1.5 3.5H22.5" {_LINE} stroke-width="3.4"/><path d="M12 6.6L20.5 21.5H3.5Z" fill="{{ink}}"/>'
        ),
        # An arrow through a gap in a wall; it is turned to where the outlet blows.
        "vent": (
            f'<path d="M5 1V7M5 17V23" {_LINE} stroke-width="3"/><path d="M0.5 12H15" {_LINE} stroke-width="2.6"/>'
            '<path d="M14 5.5L23.5 12L14 18.5Z" fill="{ink}"/>'
        ),
        # The same opening, where nobody has stated to which side it blows.
        "vent-somewhere": (
            f'<path d="M1.5 4H8.5M15.5 4H22.5M1.5 20H8.5M15.5 20H22.5" {_LINE} stroke-width="3"/>'
            '<path d="M12 16A4 4 0 1 0 12 8A4 4 0 1 0 12 16Z" fill="{ink}"/>'
        ),
    }
)

TURNS: Mapping[str, Mapping[str, int]] = MappingProxyType(
    {
        "top": {"forward": 180, "backward": 0, "left": 90, "right": 270},
        "side": {"forward": 180, "backward": 0, "up": 270, "down": 90},
    }
)
"""By how many degrees the arrow is turned in each view, with the nose of the vehicle at the left. What blows towards
the eye or away from it has no arrow in that view."""


def symbol(name: str, colours: Mapping[str, str], x: float, y: float, size: float, turn: int = 0) -> str:
    """The symbol with its upper left corner at (x, y), `size` points large."""
    scale = round(size / 24, 4)
    turned = f" rotate({turn} 12 12)" if turn else ""
    body = SYMBOLS[name].format(**colours)
    return f'<g transform="translate({round(x, 2):g} {round(y, 2):g}) scale({scale:g}){turned}">{body}</g>'
