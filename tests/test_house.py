"""The house is kept: one class a name, functions that are named, none too long, and nobody reaches through a face."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parent.parent
TOPS = (ROOT, ROOT / "setuplint")
MODULES = sorted((ROOT / "setuplint").rglob("*.py"))
LONGEST_FUNCTION = 40
MOST_LONG_FUNCTIONS = 5
LONGEST_MODULE = 450
INTERFACES = {"run", "main"}  # what every module of a kind has
VAGUE = re.compile(r"_?(read|part|place|shown|told|said|given|wanted|gone|usual|of|at|without|about|own|whole|again)")


def name_of(path: Path) -> str:
    return str(path.relative_to(ROOT))


@cache
def trees() -> dict[str, ast.Module]:
    return {name_of(path): ast.parse(path.read_text(encoding="utf-8")) for path in MODULES}


def functions() -> Iterator[tuple[str, ast.FunctionDef | ast.AsyncFunctionDef]]:
    for module, tree in trees().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                yield module, node


def test_a_class_name_stands_once() -> None:
    places = defaultdict(list)
    for module, tree in trees().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.ClassDef):
                places[node.name].append(module)
    assert {name: where for name, where in places.items() if len(where) > 1} == {}


def test_few_functions_are_long() -> None:
    long = [(node.name, module) for module, node in functions()
            if (node.end_lineno or 0) - node.lineno + 1 > LONGEST_FUNCTION]  # fmt: skip
    assert len(long) <= MOST_LONG_FUNCTIONS, long


def test_functions_of_modules_are_named_for_what_they_return() -> None:
    vague = [(node.name, module) for module, tree in trees().items() for node in tree.body
             if isinstance(node, ast.FunctionDef) and VAGUE.fullmatch(node.name)]  # fmt: skip
    assert vague == []


def test_every_module_is_short() -> None:
    lines = {name_of(path): len(path.read_text(encoding="utf-8").splitlines()) for path in MODULES}
    assert {module: count for module, count in lines.items() if count > LONGEST_MODULE} == {}


def test_nobody_reaches_through_the_engine() -> None:
    reached = [(module, node.attr) for module, tree in trees().items() for node in ast.walk(tree)
               if isinstance(node, ast.Attribute) and node.attr in ("reach", "chooser", "encoding", "sat")
               and not module.startswith(("setuplint/server", "setuplint/solver", "setuplint/engine"))]  # fmt: skip
    assert reached == []


def test_the_documents_name_modules_that_are_there() -> None:
    documents = [ROOT / "DEVELOPERS.md", ROOT / "SECURITY.md", *(ROOT / "docs").glob("*.md")]
    named = {
        (path.name, word)
        for path in documents
        for word in re.findall(r"`([a-z_]+/[a-z_/]+\.py)`", path.read_text("utf-8"))
    }
    assert len(named) > 20
    assert {(name, word) for name, word in named if not any((top / word).exists() for top in TOPS)} == set()


def test_the_drawing_is_current() -> None:
    from tests.house import PICTURE, svg

    assert PICTURE.read_text(encoding="utf-8") == svg(), "python -m tests.house"


def test_the_guide_is_short() -> None:
    assert len((ROOT / "DEVELOPERS.md").read_bytes()) <= 8_000
