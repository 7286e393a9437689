"""Formulas of the methods as one line of text for the terminal. What it does not know it leaves as it is."""

from __future__ import annotations

import re

__all__ = ["plain_formula"]

_WORDS = {
    r"\left": "", r"\right": "", r"\,": " ", r"\;": " ", r"\quad": ";  ", r"\cdot": "·", r"\times": "×", r"\Omega": "Ω",
    r"\mu": "µ", r"\leq": "≤", r"\geq": "≥", r"\le": "≤", r"\ge": "≥", r"\approx": "≈", r"\Delta": "Δ", r"\pm": "±",
    r"\alpha": "α", r"\rho": "ρ", r"\tau": "τ", r"\infty": "∞", r"\sum": "Σ", r"\%": "%", r"\ ": " ", r"\ln": "ln ",
    r"\max": "max", r"\min": "min", r"\eta": "η", r"\theta": "θ", r"\kappa": "κ", r"\pi": "π", r"\vartheta": "ϑ",
    r"\int": "∫",
    r"\zeta": "ζ", r"\beta": "β", r"\cdots": "…", r"\gamma": "γ", r"\lambda": "λ",
}  # fmt: skip


def _group(text: str, start: int) -> tuple[str, int]:
    """The braced group (or single sign) that begins at `start`, and where it ends."""
    while start < len(text) and text[start] == " ":
        start += 1
    if start >= len(text):
        return "", start
    if text[start] != "{":
        command = re.match(r"\\[A-Za-z]+|.", text[start:])
        found = command[0] if command else ""
        return found, start + len(found)
    depth = 0
    for end in range(start, len(text)):
        depth += {"{": 1, "}": -1}.get(text[end], 0)
        if not depth:
            return text[start + 1 : end], end + 1
    return text[start + 1 :], len(text)


def _bracketed(text: str) -> str:
    """In brackets when it is a sum or a product, so that the slash says the same as the bar."""
    shown = plain_formula(text)
    return f"({shown})" if re.search(r"[+−·×/]|(?<=\w) (?=\()", shown) else shown


def plain_formula(latex: str) -> str:
    """`\\frac{a}{b}` becomes `a/b`, subscripts stand behind an underscore; signs as people write them."""
    out, position = "", 0
    while position < len(latex):
        command = re.match(r"\\[A-Za-z]+|\\.", latex[position:])
        if command is None:
            sign = latex[position]
            if sign in "_^":
                inner, position = _group(latex, position + 1)
                shown = plain_formula(inner)
                raised = {"2": "²", "3": "³", r"\prime": "'"}.get(inner.strip(), f"^{shown}")
                out += f"_{shown}" if sign == "_" else raised
                continue
            out += {"{": "", "}": "", "-": "−", "~": " "}.get(sign, sign)
            position += 1
            continue
        name = command[0]
        position += len(name)
        if name == r"\frac":
            above, position = _group(latex, position)
            below, position = _group(latex, position)
            out += f"{_bracketed(above)}/{_bracketed(below)}"
        elif name == r"\sqrt":
            inner, position = _group(latex, position)
            out += f"√({plain_formula(inner)})"
        elif name == r"\dot":
            inner, position = _group(latex, position)
            out += f"{plain_formula(inner)}\N{COMBINING DOT ABOVE}"
        elif name in (r"\mathrm", r"\text", r"\operatorname"):
            inner, position = _group(latex, position)
            out += plain_formula(inner)
        else:
            out += _WORDS.get(name, name)
    return re.sub(r" {2,}", " ", out).replace(" ;", ";").replace("( ", "(").replace(" )", ")").strip()
