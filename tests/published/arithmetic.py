"""A small, safe reader of arithmetic: + - * / ** and a few functions of named numbers. Nothing is run as code."""

from __future__ import annotations

import ast
import math
from collections.abc import Callable, Mapping
from typing import Any

LONGEST = 400
CONSTANTS = {"pi": math.pi}

Functions = Mapping[str, Callable[[Any], Any]]


class FormulaFault(Exception):
    """The text is no formula that is read here: the case is written wrongly."""


def names_in(text: str, functions: Functions) -> set[str]:
    """The names of the numbers that a formula uses."""
    return {
        node.id
        for node in ast.walk(_tree(text))
        if isinstance(node, ast.Name) and node.id not in functions and node.id not in CONSTANTS
    }


def compute(text: str, numbers: Mapping[str, Any], functions: Functions) -> Any:
    """The value of a formula; raises `FormulaFault` for anything but arithmetic."""
    return _compute(_tree(text).body, numbers, functions)


def _tree(text: str) -> ast.Expression:
    if len(text) > LONGEST:
        raise FormulaFault("the formula is too long")
    try:
        return ast.parse(text.strip(), mode="eval")
    except SyntaxError as fault:
        raise FormulaFault(f"{text!r} is no formula: {fault.msg}") from fault


def _compute(node: ast.expr, numbers: Mapping[str, Any], functions: Functions) -> Any:
    match node:
        case ast.Constant(value=bool()):
            pass
        case ast.Constant(value=int() | float() as value):
            return float(value)
        case ast.Name(id=name) if name in numbers:
            return numbers[name]
        case ast.Name(id=name) if name in CONSTANTS:
            return CONSTANTS[name]
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            return -_compute(operand, numbers, functions)
        case ast.UnaryOp(op=ast.UAdd(), operand=operand):
            return _compute(operand, numbers, functions)
        case ast.BinOp(left=left, op=op, right=right):
            a, b = _compute(left, numbers, functions), _compute(right, numbers, functions)
            match op:
                case ast.Add():
                    return a + b
                case ast.Sub():
                    return a - b
                case ast.Mult():
                    return a * b
                case ast.Div():
                    return a / b
                case ast.Pow():
                    if isinstance(b, float) and abs(b) > 100:
                        raise FormulaFault("the power is too large")
                    return a**b
        case ast.Call(func=ast.Name(id=name), args=[argument], keywords=[]) if name in functions:
            return functions[name](_compute(argument, numbers, functions))
    raise FormulaFault(f"{ast.unparse(node)!r} is not read here")
