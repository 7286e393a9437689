"""What a call is, and how refused input is told apart from a case that is written wrongly."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

Given = Mapping[str, Any]
Outputs = dict[str, Any]


class RefusedCase(Exception):
    """The program refused the input, with these codes; a case may expect that."""

    def __init__(self, codes: tuple[str, ...], messages: str) -> None:
        super().__init__(messages)
        self.codes = codes


@dataclass(frozen=True)
class Call:
    """A calculation: its required and optional arguments. With `lists`, scalars may be lists of equal length."""

    run: Callable[[Given], Outputs]
    required: tuple[str, ...]
    optional: tuple[str, ...] = ()
    lists: bool = False


def with_unit(text: Any, unit: str) -> str:
    """A number that was written without its unit, with it."""
    text = str(text).strip()
    return text if not unit or unit == "1" or text[-1:].isalpha() or text[-1:] in "Ω%³²" else f"{text} {unit}"
