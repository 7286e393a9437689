"""Formulas: LaTeX as MathML for the screen and as a tree for print. No script, no LaTeX program."""

from __future__ import annotations

import functools
import re
from typing import Any

from witnessmark.language import decimal_mark

__all__ = ["FormulaFault", "math_tree", "mathml"]

_PRIMES = re.compile(r"(?<!\\)('+)")
_LIMIT = 4000


class FormulaFault(ValueError):
    """The formula uses what the subset of LaTeX has not. The message says what."""


_NUMBER = re.compile(r"<mn>[^<]*</mn>")


def mathml(latex: str, *, block: bool = False) -> str:
    """`latex` as a MathML element on one line.

    Primes become superscripts, as they are printed; numbers have the decimal mark of the language. Raises
    `FormulaFault` for an unknown command, unbalanced braces or more than 4000 characters.
    """
    return _marked(latex, block, decimal_mark())


@functools.lru_cache(maxsize=4096)
def _marked(latex: str, block: bool, mark: str) -> str:
    text = _converted(latex, block)
    return text if mark == "." else _NUMBER.sub(lambda found: found[0].replace(".", mark), text)


@functools.lru_cache(maxsize=4096)
def _converted(latex: str, block: bool) -> str:
    from docutils.utils.math import MathError
    from docutils.utils.math.latex2mathml import tex2mathml

    if len(latex) > _LIMIT:
        raise FormulaFault(f"a formula has at most {_LIMIT} characters")
    bare = re.sub(r"\\.", "", latex, flags=re.DOTALL)
    if not _balanced(bare):
        raise FormulaFault("the braces do not balance")
    primed = _PRIMES.sub(lambda m: "^{" + r"\prime" * len(m.group(1)) + "}", latex)
    try:
        text: str = tex2mathml(primed, as_block=block)
    except MathError as fault:
        raise FormulaFault(str(fault)) from None
    except (AttributeError, IndexError, KeyError, RecursionError, TypeError, ValueError) as fault:
        # The parser answers some broken input with whatever it ran into; for us it is one fault.
        raise FormulaFault(f"cannot be read ({type(fault).__name__})") from None
    return re.sub(r">\s+<", "><", text.strip())


@functools.lru_cache(maxsize=4096)
def _walked(latex: str, block: bool, mark: str) -> Any:
    from xml.etree import ElementTree

    # Our own output of the line above, never a file: no entities, no external parts.
    root = ElementTree.fromstring(_marked(latex, block, mark))
    return _walk(root)


def math_tree(latex: str, *, block: bool = False) -> Any:
    """`latex` as ``[name, attributes, children]``, names as in MathML; strings only at the leaves.

    Raises `FormulaFault` as `mathml` does, and for an element that print does not know.
    """
    return _walked(latex, block, decimal_mark())


_LEAVES = frozenset({"mi", "mn", "mo", "mtext"})
_BRANCHES = frozenset(
    {
        "math",
        "mrow",
        "mstyle",
        "mfrac",
        "msub",
        "msup",
        "msubsup",
        "msqrt",
        "mroot",
        "munder",
        "mover",
        "munderover",
        "mspace",
        "mtable",
        "mtr",
        "mtd",
    }
)


# How many parts an element has by the MathML schema; print would stop at one with fewer.
_PARTS = {"mfrac": 2, "msub": 2, "msup": 2, "msubsup": 3, "mroot": 2, "munder": 2, "mover": 2, "munderover": 3}


def _balanced(text: str) -> bool:
    depth = 0
    for char in text:
        depth += (char == "{") - (char == "}")
        if depth < 0:
            return False
    return depth == 0


def _walk(element: Any) -> list[Any]:
    name = element.tag.rpartition("}")[2]
    attributes = {"upright": element.get("mathvariant") == "normal", "width": element.get("width", "")}
    if name in _LEAVES:
        return [name, attributes, [element.text or ""]]
    if name not in _BRANCHES:
        raise FormulaFault(f"print does not know {name}")
    if len(element) != _PARTS.get(name, len(element)):
        raise FormulaFault(f"{name} lacks a part")
    return [name, attributes, [_walk(child) for child in element]]
