"""Where a file is other than its shape: each kind of value by itself, and an example with one place changed at a time."""

from __future__ import annotations

import datetime
import tomllib
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from setuplint.setup.shape import Fault, faults, format_written, tables, whole_file, written

from .test_schema import as_json, json_validator

EXAMPLES = Path(__file__).parents[2] / "examples"
DAY = datetime.date(2026, 5, 4)
POINT = [0, 0]


def errors(*path: str, value: Any) -> list[str]:
    """What is wrong with a file that has nothing but its format and a value at a path."""
    for step in reversed(path):
        value = {step: value}
    return [fault.error for fault in faults({"format": 1, **value})]


@pytest.mark.parametrize(
    ("path", "good", "wrong"),
    [
        (
            "craft.motor-off",
            [0, -150, 150, -150.0, Decimal("1.5")],
            {
                "type": [True, None, "1", [], {}, DAY, 10**400],
                "range": [-151, 150.5, Decimal("151"), 10**6],
                "amount": [float("nan"), float("inf"), Decimal("NaN"), Decimal("-Infinity"), Decimal("1e400")],
            },
        ),
        ("battery.cells", [1, 24], {"type": [True, 6.0, Decimal(6), "6"], "range": [0, 25, 10**400]}),
        ("craft.stabilised", [True, False], {"type": [0, 1, "true", None]}),
        ("craft.kind", ["helicopter"], {"choice": ["plane", ""], "type": [1, ["helicopter"]]}),
        ("craft.name", ["x", "x" * 60], {"length": ["", "x" * 61], "type": [1, True]}),
        ("modes.calm.when", ["hold is on", ""], {"type": [1, True, []]}),
        ("failsafe.x y", [-100, "keep"], {"type": [True, [], {}, DAY], "choice": ["held"], "range": [151]}),
        ("switches", [{}, {"a-1": {"kind": "selector"}}], {"name": [{"A": {"kind": "selector"}}], "type": [[], "a"]}),
        ("switches.a.kind", ["momentary"], {"choice": ["sprung"]}),
        ("switches.a", [], {"missing": [{}], "type": ["selector", 1]}),
        (
            "curves.a",
            [{"points": [POINT] * 33, "smoothing": "monotone"}],
            {"choice": [{"points": [POINT] * 2, "smoothing": "mono"}]},
        ),
        (
            "curves.a.points",
            [[POINT] * 2],
            {"short": [[], [POINT]], "long": [[POINT] * 34, [[0, 0, 0], POINT]], "missing": [[[0], POINT]]},
        ),
        ("knobs.a", [{}, {"place": "top"}], {"unknown": [{"where": "top"}]}),
    ],
)  # fmt: skip
def test_values(path: str, good: list[Any], wrong: dict[str, list[Any]]) -> None:
    steps = path.split(".")
    for value in good:
        assert errors(*steps, value=value) in ([], ["missing"]), value
    for error, values in wrong.items():
        for value in values:
            assert error in errors(*steps, value=value), value


def test_a_date_is_no_time() -> None:
    waiver = {"rule": "mode-jump", "reason": "soft"}
    assert errors("waivers", value=[{**waiver, "until": DAY}]) == []
    assert errors("waivers", value=[{**waiver, "until": datetime.datetime(2026, 5, 4)}]) == ["type"]
    assert errors("waivers", value=[{**waiver, "on": ["a", 1]}]) == ["type"]


def test_where_a_fault_is() -> None:
    value = {"rate": {"switch": "rates", "at": {"low": 200}}}
    (fault,) = faults({"format": 1, "channels": {"roll": value}})
    assert fault[:2] == ("range", ("channels", "roll", "rate", "at", "low"))
    assert isinstance(fault, Fault)
    assert (fault.field, fault.notes["unit"], fault.value) == ("at", "%", 200)


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
def test_one_edit_away_from_an_example_the_json_schema_says_the_same(name: str) -> None:
    values = tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8"))
    assert faults(values) == []
    validator = json_validator()
    differ = [edited for edited in edits(values) if bool(faults(edited)) == validator.is_valid(as_json(edited))]
    assert not differ


def test_the_data_as_python_reads_it_is_the_same() -> None:
    prepared: dict[str, Any] = {}
    exec(format_written(), prepared)
    assert prepared["FORMAT"] == written()
    assert whole_file() is list(tables().values())[-1]
