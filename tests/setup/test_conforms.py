"""The quick look at a file's shape never says yes where pydantic-core has something to say."""

from __future__ import annotations

import datetime
import tomllib
from collections.abc import Iterator
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from pydantic_core import SchemaValidator, ValidationError

from setuplint.setup.conforms import _conforms, conforms, recorded
from setuplint.setup.format_check import core_schema

EXAMPLES = Path(__file__).parents[2] / "examples"
DAY = datetime.date(2026, 5, 4)
ODD = [
    0, 1, -1, 2, 33, 149, 151, -151, 10**6, 10**400, True, False, None, 0.0, -0.0, 1.0, 0.5, 1e300, float("nan"),
    float("inf"), Decimal("1.5"), Decimal("151"), Decimal("NaN"), Decimal("Infinity"), Decimal("1e400"), "", " ",
    "x", "a-b", "A", "a-", "hold\n", "é", "1", "x" * 501, "throttle", "two-position", "electric", "natural",
    "motor", [], [1], [1, 2], [1, 2, 3], ["a"], ["a", "a"], ["A"], [[0, 0], [1, 1]], [[0, "0"], [1, 1]],
    [[0, 0, 0], [1, 1, 1]], [[0, 0]] * 40, (1, 2), {1}, {}, {"a": 1}, {"a": {}}, {"A": {}}, {1: 2}, b"a", DAY,
    datetime.datetime(2026, 5, 4), datetime.time(1),
]  # fmt: skip


@cache
def nodes() -> tuple[dict[str, Any], ...]:
    """Every part of the schema once, as pydantic-core is given it."""
    found: dict[str, dict[str, Any]] = {}

    def walk(node: Any) -> None:
        if isinstance(node, dict):
            if isinstance(node.get("type"), str) and node["type"] != "typed-dict-field":
                found.setdefault(repr(node), node)
            for each in node.values():
                walk(each)
        elif isinstance(node, list | tuple):
            for each in node:
                walk(each)

    walk(core_schema())
    return tuple(found.values())


def accepted(validator: SchemaValidator, value: Any) -> bool:
    try:
        validator.validate_python(value)
    except ValidationError:
        return False
    return True


def test_what_conforms_is_accepted_by_pydantic_core() -> None:
    said = {True: 0, False: 0}
    for node in nodes():
        validator = SchemaValidator(node, {"strict": True, "extra_fields_behavior": "forbid"})  # type: ignore[arg-type]
        for value in ODD:
            yes = _conforms(node, value)
            said[yes] += 1
            assert not yes or accepted(validator, value), (node, value)
    assert min(said.values()) > 400


def edits(values: Any) -> Iterator[Any]:
    """The values with one place at a time made odd: left out, misspelt, of another type."""
    if isinstance(values, dict):
        for key, value in values.items():
            rest = {name: each for name, each in values.items() if name != key}
            yield rest
            yield {**rest, f"{key}x": value}
            yield {**rest, key: [value]}
            yield from ({**values, key: edited} for edited in edits(value))
    elif isinstance(values, list):
        yield from ([*values[:n], *values[n + 1 :]] for n in range(len(values)))
        yield from ([*values[:n], edited, *values[n + 1 :]] for n, each in enumerate(values) for edited in edits(each))
    else:
        yield from ("", None, -1, 10**9, {}, str(values), [values])


@pytest.mark.parametrize("name", ["reference", "plover"])
def test_an_example_conforms_and_one_edit_away_the_two_agree(name: str) -> None:
    values = tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8"))
    assert conforms(values)
    validator = SchemaValidator(core_schema())
    differ = [edited for edited in edits(values) if conforms(edited) != accepted(validator, edited)]
    assert not differ


def test_words_that_are_kept_elsewhere_are_looked_up() -> None:
    """Smoothings are modules of their own: the recorded data has no list of them."""
    curve = recorded()["schema"]["fields"]["curves"]["schema"]["values_schema"]
    points = [[-100, 0], [100, 1]]
    assert _conforms(curve, {"points": points, "smoothing": "monotone"})
    assert not _conforms(curve, {"points": points, "smoothing": "mono"})
