"""A disk that is full, or an output that is closed: status 2 and one line, so that what is lost never looks like a result."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.running import HAZARD, REFERENCE, environment, forked

FULL = Path("/dev/full")
CLAIM = 'signal = "notice"\ntitle = "t"\nwhy = "w"\nremedy = "r"\nnever = "output motor > 60"\n'
LINE = "setuplint: cannot write to standard output: No space left on device\n"

COMMANDS = [
    ["--help"],
    ["--version"],
    ["lint", "--help"],
    ["lint", "x.toml"],
    *(["lint", "--format", form, "bad.toml"] for form in ("json", "sarif", "junit", "markdown")),
    ["lint", "--fix", "bad.toml"],
    ["explain"],
    ["explain", "hold-bypassed"],
    ["trace", "x.toml"],
    ["trace", "x.toml", "--sweep", "throttle", "--csv"],
    ["compare", "x.toml", "bad.toml"],
    ["report", "x.toml"],
    ["sheet", "x.toml"],
    ["sheet", "x.toml", "--format", "json"],
    ["bench-card", "x.toml"],
    ["record", "x.toml", "x.record.json"],
    ["rules-test", "club"],
    ["new", "made.toml", "--rotor", "fixed"],
    ["new", "-", "--rotor", "fixed"],
    ["schema"],
]


@pytest.fixture
def setups(folder: Path) -> Path:
    (folder / "x.toml").write_text(REFERENCE, encoding="utf-8")
    (folder / "bad.toml").write_text(HAZARD, encoding="utf-8")
    kept = '{"record": 1, "craft": "Wagtail 470", "file": "x.toml", "fingerprint": "2ff8a47f", "on": "2026-11-28"}'
    (folder / "x.record.json").write_text(kept, encoding="utf-8")
    (folder / "club").mkdir()
    (folder / "club" / "loud.toml").write_text(CLAIM, encoding="utf-8")
    return folder


def run(
    words: list[str], redirected: str, folder: Path, given: str = "", **changed: str
) -> subprocess.CompletedProcess[str]:
    """By a shell, which knows how to give a command a full or a closed output."""
    command = ["sh", "-c", f'exec "$@" {redirected}', "sh", sys.executable, "-m", "setuplint", *words]
    return subprocess.run(command, cwd=folder, env=environment(**changed), input=given, capture_output=True, text=True)


@pytest.mark.quick(1)
@pytest.mark.parametrize("words", [["lint", "-"], ["sheet", "-"], ["new", "made.toml", "--ask"]], ids=" ".join)
def test_a_closed_standard_input_is_an_empty_one(setups: Path, words: list[str]) -> None:
    closed, empty = (run(words, redirected, setups) for redirected in ("<&-", "</dev/null"))
    assert (closed.returncode, closed.stdout, closed.stderr) == (empty.returncode, empty.stdout, empty.stderr)
    assert closed.returncode


@pytest.mark.quick(2)
@pytest.mark.skipif(not FULL.exists(), reason="there is no /dev/full here")
@pytest.mark.parametrize(
    ("unbuffered", "words"),
    [*(("", words) for words in COMMANDS), *(("1", words) for words in COMMANDS[::4])],
    ids=lambda each: each if isinstance(each, str) else " ".join(each),
)
def test_a_full_standard_output_is_status_2_and_one_line(setups: Path, words: list[str], unbuffered: str) -> None:
    if unbuffered:
        done = run(words, ">/dev/full", setups, PYTHONUNBUFFERED=unbuffered)
        assert (done.returncode, done.stderr) == (2, LINE)
    else:
        assert forked(*words, out=FULL) == (2, "", LINE)


def messages(*methods: str) -> str:
    """What an editor sends, each a request."""
    bodies = [json.dumps({"jsonrpc": "2.0", "id": n, "method": method, "params": {"capabilities": {}}})
              for n, method in enumerate(methods)]  # fmt: skip
    return "".join(f"Content-Length: {len(body)}\r\n\r\n{body}" for body in bodies)


@pytest.mark.slow
@pytest.mark.skipif(not FULL.exists(), reason="there is no /dev/full here")
def test_the_language_server_cannot_answer_on_a_full_disk(setups: Path) -> None:
    done = run(["serve"], ">/dev/full", setups, messages("initialize", "shutdown"))
    assert (done.returncode, done.stderr) == (2, LINE)
    closed = run(["serve"], ">&-", setups, messages("initialize"))
    assert (closed.returncode, closed.stderr) == (2, "setuplint: standard output is closed\n")


@pytest.mark.skipif(not FULL.exists(), reason="there is no /dev/full here")
def test_a_full_standard_error_changes_no_status(setups: Path) -> None:
    assert run(["lint", "bad.toml"], "2>/dev/full", setups).returncode == 1
    assert run(["lint", "missing.toml"], "2>/dev/full", setups).returncode == 2


def test_a_closed_standard_output_is_status_2_and_one_line(setups: Path) -> None:
    done = run(["lint", "x.toml"], ">&-", setups)
    assert (done.returncode, done.stderr) == (2, "setuplint: standard output is closed\n")
    assert run(["sheet", "x.toml", "--out", "made.md"], ">&-", setups).returncode == 0
