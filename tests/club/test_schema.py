"""The JSON Schema of setuplint.toml: it says of a file what reading it says, but for folders and what is in them."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from jsonschema import Draft202012Validator

from setuplint.book import rulebook
from setuplint.club import nearest
from setuplint.club.config import KEYS, Config, ConfigError, config_or_problems, read_config
from setuplint.club.schema import changeable, json_schema
from setuplint.source import parsed_document
from tests.cli.running import ROOT, Command
from tests.club.made import claim, write
from tests.club.test_config import WHOLE

KNOWN = (
    "edition = 2026",
    'fail-on = "notice"',
    'rules = ["club-rules"]',
    'never-waive = ["danger", "mode-jump"]',
    "limits.hold-slow.longest = 0.4",
    'limits."hold-slow.longest" = 0.4',
    "limits = {}",
)
BAD = (
    "wombat = 1",
    "edition = 2031",
    'edition = "2026"',
    'fail-on = "grave"',
    "fail-on = true",
    'rules = "club-rules"',
    "rules = [1]",
    'rules = [""]',
    'rules = ["/etc"]',
    r"rules = ['club\rules']",
    r"baseline = 'old\known.jsonl'",
    'never-waive = "danger"',
    'never-waive = ["dangre"]',
    'never-waive = ["too-strong"]',  # there are no rules of a club
    "limits = 3",
    "limits.hold-slow = {}",
    "limits.hold-slow = 0.4",
    "limits.hold-slow.longest = 0.6",
    "limits.hold-slow.longest = -0.1",
    'limits.hold-slow.longest = "0.4"',
    "limits.hold-slow.level = 0.1",
    "limits.hold-bypassed.longest = 0.1",
    "limits.cell-count-mismatch.full-lipo = 4.1",
    "limits.voltage-alarm-below-floor.floor-lipo = 3.2",
    "limits.voltage-alarm-below-floor.floor-lipo = 4.2",
    "limits.expo-harsh.least = -16",
    "limits.gyro-gain-lost.least = 9999999999",
)


def validator() -> Draft202012Validator:
    return Draft202012Validator(json_schema(), format_checker=jsonschema.FormatChecker())


def values(text: str) -> Any:
    return json.loads(json.dumps(parsed_document(text, "setuplint.toml").values, default=float))


def right(club: Path, text: str) -> bool:
    found = nearest.NearestFile(str(club / "setuplint.toml"), str(club))
    return isinstance(config_or_problems(parsed_document(text, "setuplint.toml"), found), Config)


def test_it_is_a_schema_and_is_printed(command: Command) -> None:
    Draft202012Validator.check_schema(json_schema())
    printed = command("schema", "--of", "club")
    assert json.loads(printed.out) == json_schema()
    assert printed.status == 0
    assert command("schema", "--of", "report").out == command("schema", "--report").out
    assert command("schema", "--of", "setup").out == command("schema").out
    assert tuple(json_schema()["properties"]) == KEYS


def test_what_the_readme_shows_and_every_key(club: Path) -> None:
    write(club, {"club-rules/too-strong.toml": claim()})
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = [block for block in re.findall(r"```toml\n(.*?)```", readme, re.S) if "never-waive" in block]
    assert shown
    for text in (*shown, WHOLE, *KNOWN, ""):
        assert list(validator().iter_errors(values(text))) == [], text


@pytest.mark.parametrize("text", BAD)
def test_what_is_wrong(club: Path, text: str) -> None:
    assert not validator().is_valid(values(text))
    (club / "setuplint.toml").write_text(text, encoding="utf-8")
    with pytest.raises(ConfigError):
        read_config(nearest.given_config(str(club / "setuplint.toml")))


def numbers() -> Iterator[tuple[str, str, Any]]:
    for rule in rulebook.rules().values():
        for name, limit in rule.limits.items():
            for step in (-1, -0.01, 0, 0.01, 1):
                yield rule.name, name, round(float(limit.value) + step, 6)


def test_every_limit_to_a_hundredth(club: Path) -> None:
    """As reading has it: no looser, not below nothing, under a full cell; and what cannot be changed is not there."""
    schema, seen = validator(), {True: 0, False: 0}
    for rule, name, number in numbers():
        text = f"[limits]\n{rule}.{name} = {number}\n"
        verdict = right(club, text)
        assert schema.is_valid(values(text)) == verdict, text
        assert schema.is_valid(values(f'[limits]\n"{rule}.{name}" = {number}\n')) == verdict, text
        seen[verdict] += 1
    assert min(seen.values()) > 50
    offered = {f"{rule.name}.{name}" for rule in rulebook.rules().values() for name in changeable(rule)}
    assert offered == {
        f"{r.name}.{n}" for r in rulebook.rules().values() for n, limit in r.limits.items() if limit.stricter
    }


def test_it_agrees_with_reading(club: Path) -> None:
    write(club, {"club-rules/too-strong.toml": claim()})
    pick = random.Random(7)
    schema, wrong = validator(), 0
    own = ('["too-strong"]', '["dangre"]')  # what may be a club's rule is not seen where folders of rules are named
    lines = [*KNOWN, *(line for line in BAD if not line.endswith(own))]
    for _ in range(300):
        chosen = {line.partition("=")[0].partition(".")[0].strip(): line for line in pick.sample(lines, 3)}
        text = "\n".join(chosen.values()) + "\n"
        verdict = right(club, text)
        assert schema.is_valid(values(text)) == verdict, text
        wrong += not verdict
    assert 100 < wrong < 300


def test_every_key_and_limit_is_described() -> None:
    made = json_schema()["properties"]
    assert all(node["description"].endswith(".") for node in made.values())
    for rule, node in made["limits"]["properties"].items():
        for each in node.get("properties", {rule: node}).values():
            assert "Unit: " in each["description"], rule
