"""Terms: the small expressions that the interview's data is written in.

They are written in Python's syntax and kept as nested lists, the kind first, so that they can be handed to a page as JSON.
Numbers are exact. None is what is not known, False what there is none of: arithmetic and comparisons with either give None,
and a text with either in it is None.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from functools import cache
from typing import Any

Tree = list[Any]
Lookup = Callable[[str], Any]

_BINARY: Mapping[type, str] = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/"}
_COMPARED: Mapping[type, str] = {
    **{ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!="},
    **{ast.In: "in", ast.NotIn: "not in"},
}
_CONSTANTS: Mapping[Any, str] = {True: "true", False: "false", None: "none"}


@cache
def term(text: str) -> Tree:
    """The tree of an expression. ValueError where it has what terms have not."""
    return _tree(ast.parse(text.strip(), mode="eval").body)


@cache
def text_term(text: str) -> Tree:
    """The tree of a text with expressions in braces."""
    quoted = text.replace("\\", "\\\\")
    return _tree(ast.parse(f"f'''{quoted}'''", mode="eval").body)


def _tree(node: ast.expr) -> Tree:
    match node:
        case ast.Constant(value=bool() | None as value):
            return [_CONSTANTS[value]]
        case ast.Constant(value=str() as value):
            return ["s", value]
        case ast.Constant(value=int() | float() as value):
            return ["n", repr(value)]
        case ast.Name(id=name):
            return ["v", name]
        case ast.JoinedStr(values=parts):
            return ["text", *map(_tree, parts)]
        case ast.FormattedValue(value=inside):
            return _tree(inside)
        case ast.UnaryOp(op=ast.Not(), operand=inside):
            return ["not", _tree(inside)]
        case ast.UnaryOp(op=ast.USub(), operand=inside):
            return ["-", ["n", "0"], _tree(inside)]
        case ast.BinOp(op=op, left=left, right=right) if type(op) in _BINARY:
            return [_BINARY[type(op)], _tree(left), _tree(right)]
        case ast.Compare(ops=[op], left=left, comparators=[right]):
            return [_COMPARED[type(op)], _tree(left), _tree(right)]
        case ast.BoolOp(op=op, values=parts):
            return ["and" if isinstance(op, ast.And) else "or", *map(_tree, parts)]
        case ast.IfExp(test=test, body=one, orelse=other):
            return ["if", *map(_tree, (test, one, other))]
        case ast.List(elts=items):
            return ["list", *map(_tree, items)]
        case ast.Dict(keys=keys, values=values):
            return ["table", *([_tree(key), _tree(value)] for key, value in zip(keys, values, strict=True) if key)]
        case ast.Subscript(value=holder, slice=key):
            return ["get", _tree(holder), _tree(key)]
        case ast.Call(func=ast.Name(id="first"), args=[ast.GeneratorExp(elt=item, generators=each)]):
            return ["first", *_tree(ast.ListComp(item, each))[1:]]
        case ast.Call(func=ast.Name(id=name), args=args):
            return ["call", name, *map(_tree, args)]
        case ast.ListComp(elt=item, generators=[ast.comprehension(target=ast.Name(id=name), iter=over, ifs=tests)]):
            kept = ["and", *map(_tree, tests)] if tests else ["true"]
            return ["each", name, _tree(over), kept, _tree(item)]
    raise ValueError(f"{ast.unparse(node)} is no term")


def value(tree: Tree, names: Lookup, functions: Mapping[str, Callable[..., Any]]) -> Any:
    """What a tree comes to: a Fraction, text, True, False, None, a list, or a table."""
    kind, *rest = tree

    def of(part: Tree) -> Any:
        return value(part, names, functions)

    match kind:
        case "n" | "s":
            return Fraction(rest[0]) if kind == "n" else rest[0]
        case "true" | "false" | "none":
            return {"true": True, "false": False, "none": None}[kind]
        case "v":
            return names(rest[0])
        case "not":
            return not holds(of(rest[0]))
        case "and" | "or":
            return any(holds(of(part)) for part in rest) if kind == "or" else all(holds(of(part)) for part in rest)
        case "if":
            return of(rest[1] if holds(of(rest[0])) else rest[2])
        case "list":
            return [of(part) for part in rest]
        case "table":
            return {of(key): of(item) for key, item in rest}
        case "text":
            return _joined([of(part) for part in rest])
        case "each":
            return list(_each(rest, names, functions))
        case "first":
            return next(_each(rest, names, functions), None)
        case "call":
            return functions[rest[0]](*(of(part) for part in rest[1:]))
    return _operation(kind, of(rest[0]), of(rest[1]))


def holds(what: Any) -> bool:
    """Whether it counts as true: what is not known, and what there is none of, do not, nor an empty list or text."""
    return what is True or isinstance(what, Fraction) or (isinstance(what, str | list | dict) and len(what) > 0)


def _each(parts: list[Any], names: Lookup, functions: Mapping[str, Callable[..., Any]]) -> Iterator[Any]:
    name, over, kept, item = parts
    for one in value(over, names, functions) or []:

        def inner(word: str, one: Any = one) -> Any:
            return one if word == name else names(word)

        if holds(value(kept, inner, functions)):
            yield value(item, inner, functions)


def _joined(parts: list[Any]) -> str | None:
    if any(part is None or part is False for part in parts):
        return None
    return "".join(decimal_text(part) if isinstance(part, Fraction) else str(part) for part in parts)


def _operation(kind: str, one: Any, other: Any) -> Any:
    if kind in ("==", "!="):
        return _same(one, other) == (kind == "==")
    if kind in ("in", "not in"):
        return any(_same(one, each) for each in other or []) == (kind == "in")
    if kind == "get":
        return (
            one.get(other) if isinstance(one, dict) else one[int(other)] if holds(one) and other is not None else None
        )
    if kind == "+" and isinstance(one, list) and isinstance(other, list):
        return one + other
    if not isinstance(one, Fraction) or not isinstance(other, Fraction):
        return None
    return _ARITHMETIC[kind](one, other)


def _same(one: Any, other: Any) -> bool:
    """Whether two values are one; 0 is not False."""
    return type(one) is type(other) and bool(one == other)


_ARITHMETIC: Mapping[str, Callable[[Fraction, Fraction], Any]] = {
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "*": lambda a, b: a * b,
    "/": lambda a, b: a / b if b else None,
    "<": lambda a, b: a < b,
    "<=": lambda a, b: a <= b,
    ">": lambda a, b: a > b,
    ">=": lambda a, b: a >= b,
}


def decimal_text(number: Fraction) -> str:
    """All its decimals, up to ten: 16.5; a number that needs more is cut there."""
    scaled = abs(number) * 10**10
    whole, part = divmod(int(scaled), 10**10)
    tail = f".{part:010}".rstrip("0").rstrip(".")
    return f"{'-' if number < 0 and (whole or part) else ''}{whole}{tail}"
