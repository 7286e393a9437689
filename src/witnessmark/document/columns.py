"""How wide the columns of a printed table are: so that it takes as few lines as it can.

The shares that a view gives are where the search begins; they stay where nothing is gained. Lines are estimated from
the mean widths of the letters, which is enough: the typesetter breaks the lines itself, and no letter is lost by it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from .text import broken

__all__ = ["GAP", "MAIN", "WIDE", "Shape", "lines", "shape", "widths"]

GAP = 2.5
"""Millimetres between two columns."""
WIDE, MAIN = 172.0, 130.0
"""Millimetres of the text and of its main column."""
_ROWS = 80
_LINE, _ROW = 3.5, 2.4
"""Millimetres that a line takes, and what a row takes beside its lines."""
Shape = tuple[float, list[float]]
_STEPS = (16.0, 8.0, 4.0, 2.0, 1.0)

# Advance widths of the condensed face at 8.8 pt, in millimetres, from the font itself.
_WIDTHS = {
    char: width
    for width, chars in (
        (0.7, " .,;:'|"),
        (0.9, "ijlIJ()[]"),
        (1.1, "ftr-/"),
        (1.3, "cszy17"),
        (1.45, "aegkvxEFLSTXYZ234569±=<>≥≤×°"),
        (1.65, "bdhnopquABCKPRV08"),
        (1.9, "DGHNOQUwΩµ"),
        (2.4, "mMW%–—"),
    )
    for char in chars
}


@lru_cache(maxsize=20000)
def _length(word: str) -> float:
    return sum(_WIDTHS.get(char, 1.6) for char in word)


@lru_cache(maxsize=20000)
def _words(text: str) -> tuple[tuple[float, float], ...]:
    """Each unbroken run of letters with the space before it; long words have places to break, as print gives them."""
    out: list[tuple[float, float]] = []
    for word in re.split(r"[ \t\n]+", broken(text)):
        for n, piece in enumerate(word.split("\u200b")):
            out.append((0.0 if n else 0.7, _length(piece)))
    return tuple(out)


@lru_cache(maxsize=20000)
def _whole(text: str) -> float:
    return sum(space + long for space, long in _words(text))


@lru_cache(maxsize=100000)
def lines(text: str, width: float) -> int:
    """How many lines a text takes in a column so wide, broken between words."""
    count, used = 1, 0.0
    for space, long in _words(text):
        if used and used + space + long > width:
            count, used = count + 1, long
        else:
            used += long + (space if used else 0.0)
    return count


def _least(cells: Sequence[str]) -> float:
    """What the longest word of a column needs: words are not broken, a hyphen in a serial number would be read."""
    return max((long for cell in cells for _, long in _words(cell)), default=0.0) * 1.04 + GAP


def widths(columns: Sequence[Sequence[str]], shares: Sequence[float], whole: float) -> list[float]:
    """Millimetres for each column, together `whole`. `columns` hold the head and cells of each; a share of 0 is a
    column as narrow as its longest cell."""
    return _search(columns, shares, whole)[1]


def shape(columns: Sequence[Sequence[str]], shares: Sequence[float]) -> Shape:
    """How wide the whole table is and each of its columns: in the main column, or across the page where that makes it
    clearly shorter."""
    rows = len(columns[0]) if columns else 0
    (tall, narrow), (short, wide) = _search(columns, shares, MAIN), _search(columns, shares, WIDE)
    if short * _LINE + rows * _ROW < 0.93 * (tall * _LINE + rows * _ROW):
        return WIDE, wide
    return MAIN, narrow


def _search(columns: Sequence[Sequence[str]], shares: Sequence[float], whole: float) -> tuple[float, list[float]]:
    """Lines that the table takes, and the widths that were found."""
    need = [_least(cells) for cells in columns]
    fixed = {n for n, share in enumerate(shares) if not share}
    for n in fixed:
        need[n] = max(map(_length, columns[n]), default=0.0) * 1.04 + GAP
    free = [n for n in range(len(shares)) if n not in fixed]
    room = whole - sum(need[n] for n in fixed)
    step = max(1, len(columns[0]) // _ROWS) if columns else 1
    rows = list(zip(*columns, strict=True))[::step]
    if not free or room <= sum(need[n] for n in free):
        return 4.0 * step * _cost(rows, need)[1], need  # too narrow for its words: never the better shape
    found = _begin(need, shares, free, room)
    cost, high = _cost(rows, found)
    for by in _STEPS:
        better = True
        while better:
            better = False
            for giver in free:
                for taker in free:
                    if giver == taker or found[giver] - by < need[giver]:
                        continue
                    tried = list(found)
                    tried[giver], tried[taker] = tried[giver] - by, tried[taker] + by
                    now, taken = _cost(rows, tried)
                    if now < cost - 1e-9:
                        found, cost, high, better = tried, now, taken, True
    return float(step * high), [round(width, 1) for width in found]


def _begin(need: list[float], shares: Sequence[float], free: list[int], room: float) -> list[float]:
    """The shares as they are given, but no column narrower than it needs: the others give it what it lacks."""
    found = list(need)
    open_ = list(free)
    while True:
        rest = room - sum(found[n] for n in free if n not in open_)
        total = sum(shares[n] for n in open_)
        narrow = [n for n in open_ if rest * shares[n] / total < need[n]]
        if not narrow:
            for n in open_:
                found[n] = rest * shares[n] / total
            return found
        for n in narrow:
            found[n] = need[n]
            open_.remove(n)


def _cost(rows: Sequence[tuple[str, ...]], tried: Sequence[float]) -> tuple[float, int]:
    """What the table costs, and the lines that it takes. The longest cell of each row counts by its length too: else
    nothing would draw the search across widths at which no line is saved yet."""
    cost = 0.0
    high = 0
    for row in rows:
        taken = [lines(cell, width - GAP) for cell, width in zip(row, tried, strict=True)]
        high += max(taken)
        cost += 0.2 * sum(taken)
        cost += 0.2 * max(_whole(cell) / (width - GAP) for cell, width in zip(row, tried, strict=True))
    return high + cost, high
