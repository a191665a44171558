"""What setuplint.toml may hold, as JSON Schema: for editors that check TOML by one, and for what ours tells of its keys."""

from __future__ import annotations

from typing import Any

from setuplint.book import rulebook
from setuplint.book.editions import editions
from setuplint.book.rule_file import Limit, Rule
from setuplint.club import limits
from setuplint.club.config import KEYS
from setuplint.findings import NEWEST, SIGNALS

Node = dict[str, Any]

MOST = 999_999_999  # a limit is smaller than a thousand million
MEANING = {
    "edition": "The rule set's year. What is newer is left out, so that an upgrade fails nothing that passed before. "
    "Default: the newest, and rules that no edition has yet.",
    "fail-on": "The least signal word that makes the exit status 1; `--fail-on` of a command goes before it. Default: caution.",
    "rules": "Folders with the club's own rules, each a file with a claim; paths from this file's folder, inside the "
    "repository. Nothing in them is executed. Default: none.",
    "limits": "The club's stricter limits, by rule and limit: hold-slow.longest = 0.4. They only tighten. Default: none.",
    "never-waive": "Rules and signal words that no waiver and no baseline hides. Default: none.",
    "baseline": "The file of old findings, which are counted and fail nothing; a path from this file's folder, inside the "
    "repository. `--baseline` of a command goes before it. Default: none.",
    "require-record": "Whether a setup needs a record of its fingerprint beside it (NAME.record.json): what the transmitter was "
    "proved by. Default: false.",
}
NAME = "^[a-z][a-z0-9]*(-[a-z0-9]+)*$"
PATH: Node = {"type": "string", "minLength": 1, "pattern": r"^[^/\\][^\\]*$"}


def json_schema() -> Node:
    """JSON Schema 2020-12, by the newest edition of the rules. That a folder is there, and that a rule of a club is in it, it
    cannot see; a whole number may be written with a point."""
    ours = {"enum": [*SIGNALS, *rulebook.rules()]}
    words = {"type": "string", "anyOf": [ours, {"pattern": NAME, "description": "A rule of the club's own."}]}
    nodes: dict[str, Node] = {
        "edition": {"type": "integer", "enum": editions(), "examples": [NEWEST]},
        "fail-on": {"type": "string", "enum": list(SIGNALS), "examples": ["caution"]},
        "rules": {
            "type": "array",
            "items": PATH,
            "examples": [["club-rules"]],
        },
        "limits": _limits(),
        "never-waive": {"type": "array", "items": words, "examples": [["danger"]]},
        "baseline": {**PATH, "examples": ["known.jsonl"]},
        "require-record": {"type": "boolean", "examples": [True]},
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:setuplint:club:1",
        "title": "setuplint.toml",
        "description": "What a repository of set-ups chooses for itself.",
        "type": "object",
        "properties": {key: {"title": key, "description": MEANING[key], **nodes[key]} for key in KEYS},
        "additionalProperties": False,
        # without folders of rules there are none but ours
        "if": {"not": {"required": ["rules"]}},
        "then": {"properties": {"never-waive": {"items": ours}}},
    }


def _limits() -> Node:
    """Every limit that can be tightened: under its rule, and as one key in quotes."""
    nested: dict[str, Node] = {}
    dotted: dict[str, Node] = {}
    for rule in rulebook.rules().values():
        found = {name: limit_node(rule, name) for name in changeable(rule)}
        if found:
            nested[rule.name] = {
                "title": rule.name,
                "description": f"{_sentence(rule.title)} A {rule.signal}.",
                "type": "object",
                "properties": found,
                "minProperties": 1,
                "additionalProperties": False,
            }
            dotted |= {f"{rule.name}.{name}": {**node, "title": f"{rule.name}.{name}"} for name, node in found.items()}
    return {"type": "object", "properties": {**nested, **dotted}, "additionalProperties": False}


def changeable(rule: Rule) -> list[str]:
    """The limits of a rule that a club can tighten."""
    return [name for name in rule.limits if rule.limits[name].stricter]


def limit_node(rule: Rule, name: str) -> Node:
    """A limit with its bounds: no looser than ours, and what else `limits.objection` asks of it."""
    ours = rule.limits[name]
    node: Node = {"title": name, "description": limit_words(rule, name), "type": "number"}
    if ours.stricter == "lower":
        node |= {"minimum": 0 if ours.value >= 0 else -MOST, "maximum": _number(ours)}
    else:
        full = limits.full_cell_limit(rulebook.rules(), name)
        node |= {"minimum": _number(ours)} | (
            {"maximum": MOST} if full is None else {"exclusiveMaximum": _number(full)}
        )
    return node | {"examples": [_number(ours)]}


def limit_words(rule: Rule, name: str) -> str:
    """What a limit of a rule is, in sentences."""
    ours = rule.limits[name]
    side = "at most" if ours.stricter == "lower" else "at least"
    return f"Limit {name} of {rule.name}: {_sentence(rule.title)} Unit: {ours.unit}. A club's is {side} ours, {_number(ours)}."


def _sentence(title: str) -> str:
    return title if title.endswith((".", "?", "!")) else f"{title}."


def _number(limit: Limit) -> int | float:
    value = limit.value
    return int(value) if value.denominator == 1 else float(value)
