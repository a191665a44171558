"""Every file of the TOML suite that is listed for TOML 1.0: values of the valid ones, a problem in the others."""

import datetime
import json
import math
from decimal import Decimal
from typing import Any

from setuplint.source import parsed_document

Suite = dict[str, bytes]
_TIMES = {
    "datetime": datetime.datetime,
    "datetime-local": datetime.datetime,
    "date-local": datetime.date,
    "time-local": datetime.time,
}


def _as_expected(value: Any, expected: Any) -> bool:
    if isinstance(expected, list):
        return type(value) is list and len(value) == len(expected) and all(map(_as_expected, value, expected))
    if set(expected) != {"type", "value"} or not isinstance(expected["type"], str):
        return (
            type(value) is dict
            and value.keys() == expected.keys()
            and all(_as_expected(value[key], expected[key]) for key in expected)
        )
    kind, text = expected["type"], expected["value"]
    if kind == "string":
        return type(value) is str and value == text
    if kind == "integer":
        return type(value) is int and value == int(text)
    if kind == "bool":
        return type(value) is bool and value is (text == "true")
    if kind == "float":
        number = float(text)
        return type(value) is Decimal and (float(value) == number or (value.is_nan() and math.isnan(number)))
    moment = _TIMES[kind].fromisoformat(text)
    return (
        type(value) is type(moment) and value == moment and getattr(value, "tzinfo", 1) == getattr(moment, "tzinfo", 1)
    )


def test_the_list_is_whole(suite: Suite) -> None:
    # tomlkit 0.15.2 lists these many; a later suite has no fewer.
    assert sum(name.startswith("valid/") and name.endswith(".toml") for name in suite) >= 205
    assert sum(name.startswith("invalid/") for name in suite) >= 473


def test_valid_files_give_their_values(suite: Suite) -> None:
    wrong = []
    for name, data in suite.items():
        if name.startswith("valid/") and name.endswith(".toml"):
            document = parsed_document(data, name)
            expected = json.loads(suite[name.removesuffix("toml") + "json"])
            if document.problems or document.broken or not _as_expected(document.values, expected):
                wrong.append((name, document.problems, document.values))
    assert wrong == []


def test_invalid_files_give_a_problem(suite: Suite) -> None:
    silent = [
        name for name, data in suite.items() if name.startswith("invalid/") and not parsed_document(data, name).problems
    ]
    assert silent == []


def test_every_problem_is_placed_and_worded(suite: Suite) -> None:
    for name, data in suite.items():
        document = parsed_document(data, name)
        assert document.problems == sorted(document.problems, key=lambda problem: problem.span), name
        for problem in document.problems:
            assert 0 <= problem.span.start <= problem.span.end <= len(document.text), (name, problem)
            assert problem.message.endswith("."), (name, problem)
            assert problem.help.rstrip('"').endswith("."), (name, problem)
