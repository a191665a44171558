"""How far a run is, on a terminal alone: a real one (a pty), a pipe, and CI, which may have a terminal and keeps all of it."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
REFERENCE = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")
AT_ONCE = (
    "import sys, setuplint.cli.progress as p; p.AFTER = p.AGAIN = 0; "
    "from setuplint.cli import main; sys.exit(main(sys.argv[1:]))"
)
ERASE = "\r\x1b[K"


@pytest.fixture
def setups(tmp_path: Path) -> Path:
    folder = tmp_path / "hangar"
    folder.mkdir()
    for number in range(4):
        (folder / f"wagtail-{number}.toml").write_text(REFERENCE, encoding="utf-8")
    return folder


def on_terminal(words: list[str], folder: Path, **environment: str) -> tuple[str, str]:
    """Standard output through a pipe, and all that a terminal at standard error was sent."""
    ours, theirs = pty.openpty()
    env = {**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm", **environment}
    if "CI" not in environment:
        env.pop("CI", None)
    with subprocess.Popen(
        [sys.executable, "-c", AT_ONCE, *words], cwd=folder, env=env, stdout=subprocess.PIPE, stderr=theirs
    ) as running:
        os.close(theirs)
        said = b""
        while True:
            try:
                piece = os.read(ours, 4096)
            except OSError:  # Linux's way to say that the other end is closed
                break
            if not piece:
                break
            said += piece
        assert running.stdout is not None
        out = running.stdout.read().decode()
    os.close(ours)
    assert running.returncode == 0, said
    return out, said.decode()


COMMANDS = [
    (["lint", "hangar"], "Linted"),
    (["report", "hangar", "--out", "pages"], "Reports"),
]


@pytest.mark.quick(1)
@pytest.mark.parametrize(("words", "doing"), COMMANDS, ids=lambda each: each[0] if isinstance(each, list) else "")
def test_a_terminal_sees_one_line_that_is_gone_at_the_end(words: list[str], doing: str, setups: Path) -> None:
    _, said = on_terminal(words, setups.parent)
    assert "\n" not in said
    lines = said.split(ERASE)
    assert [f"{doing}: {number} of 4" for number in range(1, 5)] == [line for line in lines if line.startswith(doing)]
    assert lines[-1] == ""


@pytest.mark.slow
def test_compare_counts_too(setups: Path) -> None:
    def git(*words: str) -> None:
        who = ["-c", "user.name=Pilot", "-c", "user.email=pilot@example.org"]
        subprocess.run(["git", *who, *words], cwd=setups, check=True, capture_output=True)

    git("init", "-q")
    git("add", ".")
    git("commit", "-q", "-m", "as flown")
    for path in setups.glob("*.toml"):
        path.write_text(f"# as flown\n{REFERENCE}", encoding="utf-8")
    _, said = on_terminal(["compare", "--since", "HEAD"], setups)
    assert "Comparing: 4" in said
    assert said.endswith(ERASE)


@pytest.mark.quick(1)
@pytest.mark.parametrize("environment", [{"CI": "true"}, {"TERM": "dumb"}], ids=["ci", "dumb"])
def test_it_is_silent_where_it_would_stay(environment: dict[str, str], setups: Path) -> None:
    _, said = on_terminal(["lint", "hangar"], setups.parent, **environment)
    assert said == ""


def test_one_file_has_nothing_to_count(setups: Path) -> None:
    _, said = on_terminal(["lint", "hangar/wagtail-0.toml"], setups.parent)
    assert said == ""


def test_a_pipe_sees_nothing_of_it_and_the_report_is_the_same(setups: Path) -> None:
    seen, _ = on_terminal(["lint", "hangar"], setups.parent)
    env = {**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm"}
    command = [sys.executable, "-c", AT_ONCE, "lint", "hangar"]
    piped = subprocess.run(command, cwd=setups.parent, env=env, capture_output=True, text=True, check=True)
    assert piped.stderr == ""
    assert piped.stdout == seen
