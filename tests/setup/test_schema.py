"""The JSON Schema of a setup: what editors are told of every key, and that it takes the same files as we do."""

from __future__ import annotations

import copy
import datetime
import json
import random
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from jsonschema import Draft202012Validator

from setuplint.setup import schema
from setuplint.setup.shape import faults
from setuplint.source import parsed_document

from .whole import WHOLE

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted((ROOT / "examples").rglob("*.toml"))
ODD = [None, True, 0, 1, -1, 2.5, 151, -151, 1e9, "", "on", "Hold", "throttle", [], [1], [[0, 0], [1, 1]], {}, {"a": 1}]


def mutants(count: int) -> list[dict[str, Any]]:
    """WHOLE with values changed, keys taken away, renamed and added, anywhere."""
    pick = random.Random(20)
    found = []
    for _ in range(count):
        tables = copy.deepcopy(WHOLE)
        for _ in range(pick.choice([1, 1, 2, 3])):
            _mutate(tables, pick)
        found.append(tables)
    return found


def _mutate(tables: dict[str, Any], pick: random.Random) -> None:
    at: Any = tables
    while True:
        steps = list(at) if isinstance(at, dict) else list(range(len(at)))
        if not steps:
            return
        step = pick.choice(steps)
        if isinstance(at[step], dict | list) and at[step] and pick.random() < 0.85:
            at = at[step]
            continue
        change = pick.choice(["change", "change", "delete", "rename", "add"])
        if change == "delete":
            del at[step]
        elif change == "rename" and isinstance(at, dict):
            at[pick.choice(["wombat", "x-1", "X", "from", "when"])] = at.pop(step)
        elif change == "add" and isinstance(at, dict):
            at[pick.choice(["wombat", "value", "X"])] = pick.choice(ODD[1:])
        else:
            at[step] = pick.choice(ODD[1:])
        return


def as_json(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: as_json(item) for key, item in value.items()}
    if isinstance(value, list):
        return [as_json(item) for item in value]
    return value.isoformat() if isinstance(value, datetime.date) else value


def json_validator() -> Draft202012Validator:
    return Draft202012Validator(schema.json_schema(), format_checker=jsonschema.FormatChecker())


def test_pydantic_and_the_graph_are_not_imported_to_load_a_file() -> None:
    program = (
        "import sys; from setuplint.setup import loaded_setup; "
        "loaded_setup(open(sys.argv[1], 'rb').read(), 'x.toml'); "
        "print(sorted({'pydantic', 'pydantic_core', 'networkx', 'difflib'} & set(sys.modules)))"
    )
    command = [sys.executable, "-c", program, str(ROOT / "examples" / "reference.toml")]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.strip() == "[]"


def test_the_json_schema_is_one() -> None:
    made = schema.json_schema()
    Draft202012Validator.check_schema(made)
    assert made["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert made["$id"] == "urn:setuplint:setup:1"
    assert json.dumps(made) == json.dumps(schema.json_schema())
    assert "://" not in json.dumps(made).replace(made["$schema"], "")


def rows(node: Any, inside: str = "") -> Iterator[tuple[str, Any]]:
    """Every key of the JSON Schema as TABLE.KEY, with what is said of it; with all else that a value may be."""
    if isinstance(node, list):
        for item in node:
            yield from rows(item, inside)
    elif isinstance(node, dict):
        properties = node.get("properties", {})
        yield from ((f"{inside}.{key}", row) for key, row in properties.items())
        for key, value in node.items():
            if key == "$defs":
                for name, each in value.items():
                    yield from rows(each, name)
            elif key == "properties":
                for name, each in value.items():
                    yield from rows(each, f"{inside}.{name}")
            else:
                yield from rows(value, inside)


def choices(row: Any) -> Iterator[Any]:
    yield row
    for each in row.get("anyOf", []):
        yield from choices(each)


def test_the_json_schema_tells_of_every_key() -> None:
    made = schema.json_schema()
    found = dict(rows(made))
    assert len(found) > 120
    for key, row in found.items():
        assert row["title"] == key.rpartition(".")[2]
        target = made["$defs"][row["$ref"].rpartition("/")[2]] if "$ref" in row else row
        said = row.get("description") or target["description"]
        assert said.endswith("."), key
        assert len(said) > 10, f"{key}: {said}"
        assert "x-setuplint" not in row


def test_every_number_has_its_unit_and_its_range_in_words() -> None:
    """A schema-aware editor shows the description alone. A number may also say that it has no unit."""
    numbers = 0
    for key, row in rows(schema.json_schema()):
        for each in choices(row):
            if each.get("type") not in ("number", "integer"):
                continue
            numbers += 1
            said = [row["description"], *([each["description"]] if each is not row else [])]
            for text in said:
                assert re.search(r"Unit: [^.]+\.|No unit\.", text), f"{key}: {text}"
                for bound in {each["minimum"], each["maximum"]}:
                    assert re.search(rf"(?<![\d,.]){bound:,}(?![,.]?\d)", text), f"{key}: {text}"
    assert numbers > 40
    made = dict(rows(schema.json_schema()))
    assert made["Override.priority"]["description"].count("No unit.") == 1
    assert made["Craft.motor-off"]["examples"] == [-95]
    assert "Unit: % of the motor channel's output. From -150 to 150." in made["Craft.motor-off"]["description"]


def test_every_word_is_named_and_every_absence_explained() -> None:
    made = schema.json_schema()
    required = {f"{name}.{key}" for name, each in made["$defs"].items() for key in each.get("required", [])}
    quiet = {"place", "never", "always", "at-least", "at-most", "value"}  # absent, nothing is said
    for key, row in rows(made):
        words = [word for each in choices(row) for word in each.get("enum", [])]
        assert all(word in row.get("description", "") for word in words), key
        simple = any(each.get("type") in ("number", "integer", "boolean", "string") for each in choices(row))
        if simple and key not in required and key.rpartition(".")[2] not in quiet and key != ".format":
            assert "Default: " in row["description"], key


@pytest.mark.quick(8)
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_examples_fit_the_json_schema(path: Path) -> None:
    document = parsed_document(path.read_bytes(), path.name)
    assert faults(document.values) == []
    values = json.loads(json.dumps(as_json(document.values), default=float))
    assert list(json_validator().iter_errors(values)) == []


@pytest.mark.slow
def test_the_json_schema_takes_the_same_files() -> None:
    by_schema = json_validator()
    wrong = 0
    for tables in [WHOLE, *mutants(600)]:
        if _has_a_date_in_quotes(tables):
            continue
        verdict = not faults(tables)
        assert by_schema.is_valid(as_json(tables)) == verdict, tables
        wrong += not verdict
    assert wrong > 300


def _has_a_date_in_quotes(tables: dict[str, Any]) -> bool:
    """JSON has no dates: there it is one, in TOML a text."""
    waivers = tables.get("waivers")
    first = waivers[0] if isinstance(waivers, list) and waivers else {}
    return isinstance(first, dict) and isinstance(first.get("until"), str)
