"""Figures in words: every number with its unit that stands in a text, normalised, so that two texts can be compared.

Numbers in words count ("three", "half an hour"), a unit counts for all numbers before it ("7 to 18 Hz"), and sizes are
turned into one unit each, so that 60 min and 1 h are the same figure.
"""

from __future__ import annotations

import re
from decimal import Decimal
from functools import lru_cache

__all__ = ["figures", "plain"]

Figure = tuple[Decimal, str]

UNITS: dict[str, tuple[str, str]] = {
    "ms": ("time", "0.001"), "s": ("time", "1"), "min": ("time", "60"), "h": ("time", "3600"), "day": ("time", "86400"),
    "mm": ("length", "0.001"), "cm": ("length", "0.01"), "m": ("length", "1"), "km": ("length", "1000"),
    "km/h": ("speed", "1"), "m/s²": ("m/s²", "1"), "g": ("g", "1"), "gₙ": ("g", "1"),
    "mΩ": ("Ω", "0.001"), "Ω": ("Ω", "1"), "kΩ": ("Ω", "1000"), "MΩ": ("Ω", "1000000"), "Ω/V": ("Ω/V", "1"),
    "V": ("V", "1"), "V²": ("V²", "1"), "A": ("A", "1"), "J": ("J", "1"), "Hz": ("Hz", "1"), "L": ("L", "1"),
    "L/min": ("L/min", "1"), "m³": ("m³", "1"), "N": ("N", "1"), "kN": ("N", "1000"), "°C": ("°C", "1"),
    "K": ("K", "1"), "°": ("°", "1"), "%": ("%", "1"), "C": ("C", "1"), "kg": ("kg", "1"), "t": ("t", "1"),
    "years": ("years", "1"),
}  # fmt: skip
"""Unit as written: what it measures, and how many of the unit that all are turned into."""

WORDS = {
    "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8", "nine": "9",
    "ten": "10", "twelve": "12", "fifteen": "15", "twenty": "20", "sixty": "60",
}  # fmt: skip
LONG = {
    "hours?": "h", "minutes?": "min", "seconds?": "s", "days?": "day", "ohms?": "Ω", "metres?": "m", "volts?": "V",
    "per cent": "%", "percent": "%", "millimetres?": "mm", "centimetres?": "cm", "tonnes?": "t",
}  # fmt: skip
REFERENCE = re.compile(
    r"\b(?:No\.|Annex(?:es)?|Article|Art\.|Appendix|Regulation|clauses?|ISO|IEC|IP|R\d|EU|page|pages)\s*[\d.:/\-A-Z]+(?:\s*(?:,|and|or|to)\s*\d[\d.A-Z]*)*"
    r"|\(\d+(?:\.\d+)+\)|\b\d+\.\d+\.\d+(?:\.\d+)*\b"
)
NUMBER = r"(?<![\w.])-?\d+(?:\.\d+)?"
FIGURE = re.compile(rf"({NUMBER})\s?({'|'.join(sorted(map(re.escape, UNITS), key=len, reverse=True))})?(?![\w²³/])")
BETWEEN = re.compile(rf"({NUMBER})\s*(?:to|and|or|by|±|×|→|–|/)\s*(?=-?\d+(?:\.\d+)?\s?([^\s\d.,;:()]+))")


@lru_cache(maxsize=4096)
def plain(text: str) -> str:
    """The text in small letters, blanks made one, number words as digits, unit words as units."""
    for old, new in (("−", "-"), ("\u00a0", " "), ("½ ×", "half"), ("½", "half"), ("2 × rated", "twice the rated")):
        text = text.replace(old, new)
    text = re.sub(r"\bC/3\b", "a third of C", text)
    text = re.sub(r"\bhalf an hour\b", "30 min", text)
    text = re.sub(r"\b(?:an|one) hour\b|\bthe hour\b", "1 h", text)
    text = re.sub(r"\bone second\b", "1 s", text)
    text = re.sub(r"(?<![\d.])0[1-4]\b(?! ?[A-Za-zΩ°%])|(?<![\d.])0[1-4] (?=series|only)", "", text)
    for word, digits in WORDS.items():
        text = re.sub(rf"\b{word}\b(?! of (?:the|its|these|those|four)\b)", digits, text, flags=re.IGNORECASE)
    for word, unit in LONG.items():
        text = re.sub(rf"(\d)[\s-]?{word}\b", rf"\g<1> {unit}", text)
    text = re.sub(r"Ω per volt|Ω of isolation per volt|Ω to (?:the )?chassis per volt", "Ω/V", text)
    return re.sub(r"\s+", " ", text).strip()


@lru_cache(maxsize=4096)
def figures(text: str) -> frozenset[Figure]:
    """Every number of the text with what it measures; a bare number with nothing. Numbers of clauses are left out."""
    text = REFERENCE.sub(" ", plain(text))
    for _ in range(4):
        text = BETWEEN.sub(lambda m: f"{m[1]} {m[2]}, " if m[2] in UNITS else m[0], text)
    found: set[Figure] = set()
    for number, unit in FIGURE.findall(text):
        kind, factor = UNITS[unit] if unit else ("", "1")
        found.add(((Decimal(number) * Decimal(factor)).normalize(), kind))
    return frozenset(found)
