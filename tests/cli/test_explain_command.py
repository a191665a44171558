"""`setuplint explain` and `setuplint schema`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from setuplint.book import rulebook
from setuplint.formats.report_schema import report_schema
from setuplint.setup.schema import json_schema
from tests.cli.running import Command


@pytest.mark.quick(25)
@pytest.mark.parametrize("rule", sorted(rulebook.rules()))
def test_every_page_holds_what_its_file_says(command: Command, rule: str) -> None:
    done = command("explain", rule)
    shown = rulebook.page(rule)
    assert done.status == 0
    assert done.words.startswith(f"{rule}: {shown.rule.signal} (")
    for text in (shown.rule.title, shown.rule.why, shown.rule.remedy, *(source.says for source in shown.sources)):
        assert " ".join(text.split()) in done.words
    assert "Meaning:" in done.words
    assert ("Limits:" in done.words) is bool(shown.rule.limits)
    assert any(basis in done.words for basis in ("Published:", "Common practice", "From memory"))
    assert ("It finds something" in done.out) is any(example.speaks for example in shown.examples)


def test_a_claims_page_gives_its_formula(command: Command) -> None:
    assert (
        "In every state that can be reached from power-up, never: hold called and rotor driven."
        in command("explain", "hold-bypassed").words
    )


def test_example_is_the_edit_that_makes_it_speak(command: Command) -> None:
    done = command("explain", "hold-bypassed").out
    assert (
        "It finds something after this change to the safe reference setup:\n    overrides.held.priority = 10\n" in done
    )


def test_without_a_rule_all_are_listed_the_gravest_first(command: Command) -> None:
    done = command("explain")
    assert done.status == 0
    for rule in rulebook.rules().values():
        assert f"{rule.name} {rule.title}" in done.words
    assert done.words.index("hold-bypassed") < done.words.index("override-conflict") < done.words.index("part-unused")


@pytest.mark.parametrize(
    ("rule", "complaint"),
    [
        ("hold-bypased", "; did you mean hold-bypassed?"),
        ("\x1b[2J", "there is no rule \\x1b[2J"),
        ("x" * 9999, "no rule"),
    ],
)
def test_unknown_rule(command: Command, rule: str, complaint: str) -> None:
    done = command("explain", rule)
    assert done.status == 2
    assert complaint in done.err
    assert "\x1b" not in done.err


def test_a_clubs_rule_has_a_page_too(command: Command, folder: Path) -> None:
    Path("club").mkdir()
    Path("club", "no-full-roll.toml").write_text(
        'signal = "caution"\ntitle = "Full roll"\nalways = "output roll < 50"\nwhy = "\\u001b"\nremedy = "Less"',
        encoding="utf-8",
    )
    done = command("explain", "--rules", "club", "no-full-roll")
    assert done.status == 0
    assert "always: output roll < 50." in done.words
    assert "\x1b" not in done.out
    assert "no-full-roll Full roll" in command("explain", "--rules", "club").words


def test_schemas_are_printed_as_they_are(command: Command) -> None:
    setup, report = command("schema"), command("schema", "--report")
    assert json.loads(setup.out) == json_schema()
    assert json.loads(report.out) == report_schema()
    for done in (setup, report):
        assert done.status == 0
        Draft202012Validator.check_schema(json.loads(done.out))
