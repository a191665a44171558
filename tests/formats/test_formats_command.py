"""`setuplint lint --format`: what is written for whole runs, by the schemas and renderers of others."""

from __future__ import annotations

import json
import os
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest
from cmarkgfm import github_flavored_markdown_to_html
from jsonschema import Draft7Validator
from lxml import etree

from setuplint.cli import lint_run
from setuplint.formats import format_names
from setuplint.formats.markdown_text import LIMIT, byte_size
from tests.cli.running import HAZARD, REFERENCE, ROOT, Command, Ran, process
from tests.formats.sarif_rules_of_prose import check

OTHERS = ("sarif", "junit", "markdown")
WAIVER = (
    '\n[[waivers]]\nrule = "hold-bypassed"\non = ["rescue-power"]\nreason = "tried <b> | @all"\nuntil = 2027-04-01\n'
)
RULE = """\
signal = "caution"
title = "Hold and rescue are not to be called together"
why = "the club's own"
remedy = "do not"
never = "hold called and rescue called"
"""
TODAY = "--today=2027-03-01"


@pytest.fixture
def club(folder: Path) -> Path:
    """A repository: a hazard, the same one waived, a safe setup, a broken one, a part that two share, and what is no setup."""
    subprocess.run(["git", "init", "-q"], check=True)
    texts = {
        "craft/bad.toml": HAZARD,
        "craft/waived é.toml": HAZARD + WAIVER,
        "craft/good.toml": REFERENCE,
        "broken.toml": "format = 1\n[craft\n\U0001f681 = \u2028\r\n",
        "plover.toml": (ROOT / "examples" / "plover.toml").read_text(encoding="utf-8"),
        "club-radio.toml": (ROOT / "examples" / "club-radio.toml").read_text(encoding="utf-8"),
        "pyproject.toml": "[project]\nname = 'x'\n",
        "club-rules/club-own.toml": RULE,
    }
    for name, text in texts.items():
        Path(name).parent.mkdir(exist_ok=True)
        Path(name).write_text(text, encoding="utf-8", newline="")
    return folder


def texts_of(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes().decode().removeprefix("\ufeff")
        for path in folder.rglob("*.toml")
    }


def failures(text: str) -> int:
    return sum(int(suite.get("failures")) for suite in etree.fromstring(text.encode()))


def test_formats_are_found_by_their_files() -> None:
    assert format_names("reports") == ["text", "json", "sarif", "junit", "markdown"]
    assert format_names("comparisons") == ["text", "json", "markdown"]


@pytest.mark.slow
def test_sarif_of_a_repository(command: Command, club: Path, sarif_schema: Draft7Validator) -> None:
    done = command("lint", "--format", "sarif", "--rules", "club-rules", TODAY, ".", "none.toml")
    log = json.loads(done.out)
    sarif_schema.validate(log)
    check(log, texts_of(club))
    (run,) = log["runs"]
    assert done.status == run["invocations"][0]["exitCode"] == 2
    assert run["invocations"][0]["executionSuccessful"] is False
    uris = {each["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] for each in run["results"]}
    assert uris >= {"craft/bad.toml", "craft/waived%20%C3%A9.toml", "broken.toml"}
    (hidden,) = [each for each in run["results"] if each["suppressions"]]
    assert hidden["ruleId"] == "hold-bypassed"
    assert hidden["suppressions"][0]["justification"] == "tried <b> | @all"
    own = [each for each in run["results"] if each["ruleId"] == "club-own"]
    assert {each["level"] for each in own} == {"warning"}
    assert run["tool"]["driver"]["rules"][-1]["id"] == "club-own"
    assert str(club) not in done.out


@pytest.mark.slow
def test_sarif_of_the_examples(
    command: Command, sarif_schema: Draft7Validator, monkeypatch: pytest.MonkeyPatch, examples_as_json: Ran
) -> None:
    monkeypatch.chdir(ROOT)
    log = json.loads(command("lint", "--format", "sarif", "examples").out)
    sarif_schema.validate(log)
    check(log, texts_of(ROOT))
    found = json.loads(examples_as_json.out)["summary"]
    assert not any(found.pop("unlisted").values())  # of the lists that JSON alone has
    results = log["runs"][0]["results"]
    assert sum(each["kind"] == "fail" for each in results) == sum(found["found"].values())
    assert sum(each["kind"] == "open" for each in results) == found["not-judged"]
    assert log["runs"][0]["properties"]["summary"] == found


@pytest.mark.slow
def test_junit_of_a_repository(command: Command, club: Path, junit_schema: etree.XMLSchema) -> None:
    done = command("lint", "--format", "junit", TODAY, ".", "none.toml")
    tree = etree.fromstring(done.out.encode())
    junit_schema.assertValid(tree)
    ends = {suite.get("name"): (int(suite.get("failures")), int(suite.get("errors"))) for suite in tree}
    assert ends["./craft/bad.toml"] == (1, 0)
    assert ends["./craft/good.toml"] == ends["./craft/waived é.toml"] == ends["./plover.toml"] == (0, 0)
    assert ends["./broken.toml"][0] > 0
    assert ends["setuplint"] == (0, 1)
    (case,) = next(suite for suite in tree if suite.get("name") == "./club-radio.toml").findall("testcase")
    assert case.get("name") == "no danger or caution, as far as a shared part can show"


def test_markdown_of_a_repository(command: Command, club: Path) -> None:
    done = command("lint", "--format", "markdown", TODAY, ".")
    assert done.status == 1
    html = github_flavored_markdown_to_html(done.out)
    head = done.out.partition("\n")[0]
    assert re.fullmatch("### setuplint on 5 setups: 2 dangers, 2 cautions, [0-9]+ not judged; hidden: 1 waived", head)
    assert "until 2027-04-01: tried &lt;b&gt; | @\u2060all" in html
    assert "not a clearance to fly" in done.words
    assert "Shared: 1 part" in done.words


@pytest.mark.parametrize("form", OTHERS)
def test_nothing_found_and_nothing_there(command: Command, folder: Path, form: str) -> None:
    Path("good.toml").write_text(REFERENCE, encoding="utf-8")
    clean = command("lint", "--format", form, "good.toml")
    assert (clean.status, clean.err) == (0, "")
    Path("other.toml").write_text("x = 1\n", encoding="utf-8")
    assert command("lint", "--format", form, ".").status == 0
    Path("good.toml").unlink()
    nothing = command("lint", "--format", form, ".")
    assert nothing.status == 2
    assert "nothing was checked" in nothing.out
    hooked = command("lint", "--only-setups", "--format", form, "other.toml")
    assert hooked.status == 0
    for done in (clean, nothing, hooked):
        _parsed(form, done.out)


@pytest.mark.parametrize("form", OTHERS)
def test_standard_input(command: Command, folder: Path, form: str) -> None:
    done = command("lint", "--format", form, "--name", "craft/a.toml", "-", stdin=HAZARD.encode())
    assert done.status == 1
    _parsed(form, done.out)
    assert "craft/a.toml" in done.out


@pytest.mark.slow
@pytest.mark.parametrize("form", OTHERS)
def test_equal_inputs_give_equal_bytes_in_any_number_of_processes(
    command: Command, club: Path, monkeypatch: pytest.MonkeyPatch, form: str
) -> None:
    words = ("lint", "--format", form, TODAY, ".")
    once = command(*words)
    monkeypatch.setattr(lint_run, "MANY", 1)
    monkeypatch.setattr(lint_run, "CHUNK", 1)
    assert command(*words) == once
    assert process(*words).out == once.out


@pytest.mark.parametrize("form", OTHERS)
def test_what_fails_is_each_files_own_choice(command: Command, club: Path, form: str) -> None:
    Path("craft/setuplint.toml").write_text('edition = 2026\nfail-on = "danger"\n', encoding="utf-8")
    Path("craft/notice.toml").write_text(REFERENCE.replace('voice = "idle up"', "", 1), encoding="utf-8")
    done = command("lint", "--format", form, "craft/notice.toml", "craft/good.toml")
    assert done.status == 0
    if form == "junit":
        assert failures(done.out) == 0
        assert failures(command("lint", "--format", form, "--fail-on", "notice", "craft/notice.toml").out) == 1
    if form == "markdown":
        assert "**Passed:** nothing at or above danger" in done.out
    _parsed(form, done.out)


def test_an_audit_hides_nothing(command: Command, club: Path) -> None:
    words = ("--no-waivers", TODAY, "craft/waived é.toml")
    (result,) = json.loads(command("lint", "--format", "sarif", *words).out)["runs"][0]["results"]
    assert result["suppressions"] == []
    assert failures(command("lint", "--format", "junit", *words).out) == 1
    assert "Waivers hide nothing here: 1 finding is waived." in command("lint", "--format", "markdown", *words).words


@pytest.mark.slow
def test_many_setups_fit_into_a_comment(command: Command, folder: Path) -> None:
    for number in range(70):
        Path(f"{number:02}.toml").write_text(HAZARD, encoding="utf-8")
    done = command("lint", "--format", "markdown", ".")
    assert byte_size(done.out) <= LIMIT
    assert "### setuplint on 70 setups: 70 dangers\n" in done.out
    assert "Not shown here" not in done.out


@pytest.mark.parametrize("form", OTHERS)
def test_a_file_name_that_is_no_text(command: Command, folder: Path, form: str) -> None:
    Path(os.fsdecode(b"\xff|@x<.toml")).write_text(HAZARD, encoding="utf-8")
    done = command("lint", "--format", form, ".")
    assert done.status == 1
    _parsed(form, done.out)
    if form == "sarif":
        (result,) = json.loads(done.out)["runs"][0]["results"]
        assert result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] == "%FF%7C%40x%3C.toml"


def _parsed(form: str, text: str) -> Any:
    return {
        "sarif": json.loads,
        "junit": lambda x: etree.fromstring(x.encode()),
        "markdown": github_flavored_markdown_to_html,
    }[form](text)
