"""What is no change: other names, another order of the tables, and formulas that are equal."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import pytest
import tomli_w

import setuplint
from setuplint.comparison.changes import Comparison
from setuplint.comparison.result import compare
from tests import once
from tests.compare.pairs import tables
from tests.compare.rewritten import PARTS, Names, renamed, reordered, rewritten
from tests.oracle.pick import Pick
from tests.oracle.setups import Maker
from tests.oracle.toml_text import to_toml

EXAMPLES = Path(__file__).parents[2] / "examples"
WHOLE = sorted(p for p in EXAMPLES.glob("*.toml") if "extends" not in p.read_text() and "format = 1" in p.read_text())
ALL = [*WHOLE, *sorted((EXAMPLES / "hazards").glob("*.toml"))[::3]]


@cache
def compared(old: str, new: str, *, hazards: bool = True) -> Comparison:
    """Without `hazards` as if a lint of either had found nothing, which it takes long to say."""
    models = [setuplint.load_text(text, name) for text, name in ((old, "old.toml"), (new, "new.toml"))]
    assert not models[1].problems or len(models[0].problems) == len(models[1].problems)
    linted = (old, new) if hazards else ("format = 1\n",) * 2
    return compare(models[0].model, models[1].model, *(once.lint_text(text, "wagtail.toml") for text in linted))


def nothing_else(found: Comparison, text: str) -> None:
    """No change, and as much is the same as of the set-up and itself."""
    assert found.changes == ()
    assert (found.gained, found.lost, found.open) == ((), (), ())
    assert found.same == compared(text, text).same
    assert not found.differs


@pytest.mark.quick(2)
@pytest.mark.parametrize("path", ALL, ids=lambda p: p.stem)
def test_other_names_are_no_change_and_are_told(path: Path) -> None:
    text = path.read_text()
    names = Names(file := tomllib.loads(text))
    found = compared(text, tomli_w.dumps(renamed(file, names)))
    nothing_else(found, text)
    told = {(old, new) for kind, old, new in found.matching.renamed() if not kind.startswith("position")}
    assert told == {pair for kind in PARTS for pair in names.parts[kind].items()}
    places = {(old, new) for kind, old, new in found.matching.renamed() if kind.startswith("position")}
    assert places == {pair for words in names.positions.values() for pair in words.items()}


@pytest.mark.quick(3)
@pytest.mark.parametrize("kind", [*PARTS, ""])
def test_other_names_of_one_kind(kind: str) -> None:
    """The last: of positions alone."""
    text = (EXAMPLES / "reference.toml").read_text()
    names = Names(file := tomllib.loads(text), (kind,), positions=not kind)
    nothing_else(compared(text, tomli_w.dumps(renamed(file, names))), text)


@pytest.mark.quick(2)
@pytest.mark.parametrize("path", ALL, ids=lambda p: p.stem)
def test_another_order_is_no_change(path: Path) -> None:
    text = path.read_text()
    nothing_else(compared(text, tomli_w.dumps(reordered(tomllib.loads(text)))), text)


@pytest.mark.quick(2)
@pytest.mark.parametrize("path", ALL, ids=lambda p: p.stem)
def test_equal_formulas_are_no_change(path: Path) -> None:
    text = path.read_text()
    file = tomllib.loads(text)
    file.pop("claims", None)  # a claim's subject is its text
    text = tomli_w.dumps(file)
    nothing_else(compared(text, tomli_w.dumps(rewritten(file, strange=False))), text)


CHUNK = 5
REWRITES: list[Callable[[dict[str, Any]], dict[str, Any]]] = [
    lambda file: rewritten(file, 1),
    lambda file: reordered(rewritten(file, 2), 2),
    lambda file: reordered(file, 3),
    lambda file: renamed(file, Names(file, ("switches", "sensors", "conditions", "curves", "overrides"))),
]


@pytest.mark.quick(1)
@pytest.mark.parametrize("first", range(0, 25, CHUNK))
@pytest.mark.parametrize("rewrite", range(len(REWRITES)))
def test_random_set_ups_written_in_another_way(rewrite: int, first: int) -> None:
    wrong = {}
    for seed in range(first, first + CHUNK):
        file = tables(Maker(Pick(Random(f"same {rewrite} {seed}").randint)).make())
        file.pop("claims", None)
        old, new = to_toml(file), to_toml(REWRITES[rewrite](file))
        found = compared(old, new, hazards=False)
        if found.changes or found.open or found.same != compared(old, old, hazards=False).same:
            wrong[seed] = found.changes or found.open
    assert wrong == {}
