"""What OASIS's SARIF 2.1.0 asks in words, and its schema cannot say. Numbers are its sections."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any
from urllib.parse import unquote

Object = dict[str, Any]

URI = re.compile(r"[A-Za-z0-9._~!$&'()*+,;=:@/-]*(?:%[0-9A-F]{2}[A-Za-z0-9._~!$&'()*+,;=:@/-]*)*")  # RFC 3986, a path


def check(log: Object, texts: Mapping[str, str]) -> None:
    """`texts` has the files by their path from the root."""
    (run,) = log["runs"]
    rules = run["tool"]["driver"]["rules"]
    assert len({rule["id"] for rule in rules}) == len(rules)
    assert len({rule["name"] for rule in rules}) == len(rules)
    assert all(rule["name"] != rule["id"] for rule in rules)  # 3.49.7
    for result in run["results"]:
        if "ruleIndex" in result:  # 3.27.6
            assert rules[result["ruleIndex"]]["id"] == result["ruleId"]
        else:  # 3.52.3: found by its id
            assert result["ruleId"] in {rule["id"] for rule in rules}
        assert result["kind"] == "fail" or result["level"] == "none"  # 3.27.10
        if result["kind"] == "fail":
            rule = next(rule for rule in rules if rule["id"] == result["ruleId"])
            own_level = result["ruleId"] == "not-decided"  # it has that of the rule it stands for
            assert own_level or result["level"] == rule["defaultConfiguration"]["level"]
        assert result["locations"]
        assert "suppressions" in result  # 3.27.23: all results have it, or none
        _ids(result)
        _flows(result)
    for message in _found(log, "text"):
        assert message, "3.11.8: not empty"
    for message in _messages(run):
        assert not re.search("[{}]", message.replace("{{", "").replace("}}", "")), "3.11.5"
        assert not re.search(r"(?<!\\)\]\(", message), "3.11.6"
    for place in _found(log, "artifactLocation"):
        _artifact(place, run)
    for place in _found(log, "physicalLocation"):
        _region(place["region"], texts[_path(place)])
    for fix in _found(log, "replacements"):
        assert fix


def _artifact(place: Object, run: Object) -> None:
    assert place.get("uriBaseId", "%SRCROOT%") in run["originalUriBaseIds"]  # 3.4.4
    assert "uri" not in run["originalUriBaseIds"]["%SRCROOT%"]
    assert URI.fullmatch(place["uri"])
    if "uriBaseId" in place:
        assert not place["uri"].startswith("/")
        assert ".." not in place["uri"].split("/")


def _path(place: Object) -> str:
    return unquote(place["artifactLocation"]["uri"])


def _region(region: Object, text: str) -> None:
    """Lines and columns, counted here from the text alone, lead to the offsets that are given (3.30)."""
    starts = [0, *(found.end() for found in re.finditer(r"\r\n|\n", text))]  # 3.14.16: the newline sequences by default
    ends = [*(found.start() for found in re.finditer(r"\r\n|\n", text)), len(text)]

    def offset(line: int, column: int) -> int:
        assert 1 <= line <= len(starts)
        assert 1 <= column <= ends[line - 1] - starts[line - 1] + 2  # the end may be past the line's last character
        return starts[line - 1] + column - 1

    start = offset(region["startLine"], region["startColumn"])
    if "charOffset" not in region:
        return
    end = offset(region["endLine"], region["endColumn"])
    assert 0 <= start <= end <= len(text)
    assert (region["charOffset"], region["charLength"]) == (start, end - start)


def _ids(result: Object) -> None:
    """3.28.2: unique in the result, and not negative."""
    ids = [place["id"] for place in result.get("relatedLocations", [])]
    assert len(set(ids)) == len(ids)
    assert all(number >= 0 for number in ids)


def _flows(result: Object) -> None:
    for flow in result.get("codeFlows", []):
        for thread in flow["threadFlows"]:
            order = [place["executionOrder"] for place in thread["locations"]]
            assert order  # 3.37.6: not empty
            assert order == sorted(order)
            assert all(place["location"]["message"]["text"] for place in thread["locations"])


def _found(value: Any, key: str) -> Iterator[Any]:
    """Every value of a key, wherever it stands."""
    if isinstance(value, dict):
        for name, item in value.items():
            if name == key:
                yield item
            yield from _found(item, key)
    elif isinstance(value, list):
        for item in value:
            yield from _found(item, key)


def _messages(run: Object) -> Iterator[str]:
    for message in _found(run, "message"):
        yield message["text"]
    for rule in run["tool"]["driver"]["rules"]:
        for key in ("shortDescription", "fullDescription"):
            yield rule[key]["text"]
        yield rule["help"]["text"]
        yield rule["help"]["markdown"].replace("](", "")
