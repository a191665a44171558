"""Whatever a stranger's file holds: one clear message, the right exit status, bounded time and memory.

Each file is linted by a process of its own, which is ended when it takes far more memory or processor time than any
file needs: a case that runs away fails, and no test measures a time.
"""

from __future__ import annotations

import os
import re
import resource
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.cli.running import HAZARD, REFERENCE, Command, Ran, forked

SECONDS = 60  # of processor time
BYTES = 2 << 30
LINE = re.compile(r"^[^ :]+:\d+:\d+: (danger|caution|notice): .+ \[([a-z-]+)\]$", re.MULTILINE)


def limited() -> None:
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    has = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()  # of it, by the tests before
    resource.setrlimit(resource.RLIMIT_AS, (has + BYTES, has + BYTES))


def lint(data: bytes | str, *options: str) -> Ran:
    Path("x.toml").write_bytes(data if isinstance(data, bytes) else data.encode())
    done = forked("lint", "x.toml", *options, before=limited)
    assert "Traceback" not in done.err
    assert done.status >= 0, "the process was ended"
    assert done.err == ""
    return done


def rules(done: Ran) -> list[str]:
    return [match.group(2) for match in LINE.finditer(done.out)]


def edited(old: str, new: str) -> str:
    assert REFERENCE.count(old) == 1, old
    return REFERENCE.replace(old, new)


ONE = {
    "empty": (b"", "not-a-setup", "format"),
    "only a byte-order mark": (b"\xef\xbb\xbf", "not-a-setup", "format"),
    "binary": (bytes(range(256)) * 40, "not-toml", ""),
    "not UTF-8": (REFERENCE.replace("Wagtail", "W\xe4gtail").encode("latin-1"), "not-toml", "UTF-8"),
    "UTF-16": (REFERENCE.encode("utf-16"), "not-toml", "UTF-8"),
    "10 MB": (REFERENCE.encode() + b"#" * 10_000_000, "not-a-setup", "1,000,000 bytes"),
    "10 MB of one key": (b"a." * 5_000_000, "not-a-setup", "1,000,000 bytes"),
    "10,000 nested arrays": ("x = " + "[" * 10_000 + "]" * 10_000 + "\n" + REFERENCE, "not-toml", "nested"),
    "10,000 nested tables": ("x = " + "{a=" * 10_000 + "1" + "}" * 10_000 + "\n" + REFERENCE, "not-toml", "nested"),
    "not a number": (edited("motor-off = -95", "motor-off = nan"), "not-a-setup", "motor-off"),
    "infinite": (edited("motor-off = -95", "motor-off = -inf"), "not-a-setup", "motor-off"),
    "a vast exponent": (edited("motor-off = -95", "motor-off = 1e999999999"), "not-a-setup", "motor-off"),
    "a 400-digit integer": (edited("motor-off = -95", f"motor-off = {'9' * 400}"), "not-a-setup", "motor-off"),
    "a 400-digit count": (edited("cells = 6", f"cells = {'9' * 400}"), "not-a-setup", "cells"),
    "100,000 nots": (
        edited('runs = "not hold is on"', f'runs = "{"not " * 100_000}hold is on"'),
        "not-a-setup",
        "400010 characters",
    ),
    "1,000 nots": (edited('runs = "not hold is on"', f'runs = "{"not " * 1000}hold is on"'), "not-a-setup", "deep"),
    "1,000 parentheses": (edited('runs = "not hold', f'runs = "{"(" * 1000}not hold'), "not-a-setup", "deep"),
    "a name in another script": (
        edited("[switches.rates]", '[switches."газ"]\nkind = "momentary"\n[switches.rates]'),
        "not-a-setup",
        "газ",
    ),
    "a curve of one point": (edited("points = [[-100, 45], [100, 45]]", "points = [[0, 45]]"), "curve-unordered", ""),
    "a curve of 10,000 points": (
        edited("points = [[-100, 45], [100, 45]]", f"points = {[[x / 50 - 100, 45] for x in range(10_000)]}"),
        "not-a-setup",
        "33",
    ),
    "a loop of conditions": (
        REFERENCE + '[conditions.a]\nwhen = "b"\n[conditions.b]\nwhen = "not a"\n[conditions.c]\nwhen = "a or b"\n'
        '[alarms.c]\nwhen = "c"\ntone = true\n',
        "condition-loop",
        "a",
    ),
}


@pytest.mark.quick(2)
@pytest.mark.parametrize("case", ONE)
def test_one_clear_message(folder: Path, case: str) -> None:
    data, rule, said = ONE[case]
    done = lint(data)
    assert done.status == 1
    assert rules(done) == [rule]
    assert said in done.out


def test_a_start_that_nothing_admits(folder: Path) -> None:
    done = lint(edited('requires = "hold is on and', 'requires = "hold is off and hold is on and'))
    assert done.status == 1
    assert "start-impossible" in rules(done)
    assert not set(rules(done)) & {"hold-bypassed", "not-decided"}, "the rest is asked as if there were no check"


def test_thirty_latches(folder: Path) -> None:
    """Each is set by one combination of switches and reset by another; all of them together stop the motor."""
    switches = "".join(f'[switches.s{n}]\nkind = "two-position"\n' for n in range(6))
    latches = "".join(
        f'[conditions.l{n}]\nwhen = "s{n % 6} is on and s{(n + 1) % 6} is off"\n'
        f'until = "s{(n + 2) % 6} is on and hold is on"\n'
        for n in range(30)
    )
    together = " and ".join(f"l{n}" for n in range(30))
    override = f'[overrides.z]\nchannel = "motor"\nvalue = 60\nwhen = "{together}"\npriority = 200\n'
    done = lint(REFERENCE + switches + latches + override)
    assert done.status == 1
    assert set(rules(done)) & {"hold-bypassed", "not-decided"}


@pytest.mark.slow
def test_parity_over_fifty_switches(folder: Path) -> None:
    """Nothing decides everything: what is not decided in the budget is said to be not decided."""
    parts = [f'[switches.s{n}]\nkind = "two-position"\n' for n in range(50)]
    parts.append('[conditions.p0]\nwhen = "s0 is on"\n')
    parts += [
        f'[conditions.p{n}]\nwhen = "(s{n} is on and not p{n - 1}) or (s{n} is off and p{n - 1})"\n'
        for n in range(1, 50)
    ]
    order = [(n * 17) % 50 for n in range(50)]
    parts.append('[conditions.q0]\nwhen = "s0 is on"\n')
    parts += [
        f'[conditions.q{n}]\nwhen = "(s{order[n]} is on and not q{n - 1}) or (s{order[n]} is off and q{n - 1})"\n'
        for n in range(1, 50)
    ]
    odd = "(p49 and not q49) or (q49 and not p49)"
    parts.append(f'[overrides.z]\nchannel = "motor"\nvalue = 60\nwhen = "{odd}"\npriority = 200\n')
    done = lint(REFERENCE + "".join(parts))
    assert set(rules(done)) <= {"not-decided", "override-shadowed", "condition-constant"}
    assert done.status in (0, 1)
    assert "hold-bypassed" not in rules(done), "the two parities are equal in every state"


@pytest.mark.slow
def test_thousands_of_conditions(folder: Path) -> None:
    """A file of 300 kB: a hundred times what a craft takes."""
    lines = [REFERENCE]
    size = len(REFERENCE)
    number = 0
    while size < 300_000:
        lines.append(f'[conditions.c{number}]\nwhen = "hold is on or save is pulled or throttle > {number % 90}"\n')
        size += len(lines[-1])
        number += 1
    done = lint("".join(lines))
    assert done.status in (0, 1)
    assert "1 setup:" in done.out


def test_a_symlink_out_of_the_tree(command: Command, folder: Path) -> None:
    Path("inside").mkdir()
    Path("secret.toml").write_text("format = 1\n", encoding="utf-8")
    Path("inside/x.toml").symlink_to(folder / "secret.toml")
    done = command("lint", "inside")
    assert done.status == 2
    assert (
        done.err == "setuplint: no setup among the paths (passed over: 1 link out of the folder): nothing was checked\n"
    )
    assert "Passed over: 1 link out of the folder." in done.words


def test_a_folder_without_setups(command: Command, folder: Path) -> None:
    Path("inside").mkdir()
    done = command("lint", "inside")
    assert done.status == 2
    assert done.err == "setuplint: no setup among the paths: nothing was checked\n"


@contextmanager
def nobody() -> Iterator[None]:
    """As a user who may not read everything, since for root no file is unreadable."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.mark.parametrize("named", [True, False], ids=["named", "in a folder"])
def test_an_unreadable_file(command: Command, folder: Path, named: bool) -> None:
    for path in (folder, *folder.parents):
        if path.stat().st_uid == os.getuid() and path != Path("/"):
            path.chmod(path.stat().st_mode | 0o055)
    Path("good.toml").write_text(REFERENCE, encoding="utf-8")
    assert command("lint", "good.toml").status == 0, "and all modules are loaded"
    Path("x.toml").write_text(REFERENCE, encoding="utf-8")
    Path("x.toml").chmod(0)
    with nobody():
        done = command("lint", *(["x.toml", "good.toml"] if named else ["."]))
    assert done.status == 2
    assert re.fullmatch(r"setuplint: cannot read (\./)?x\.toml: Permission denied\n", done.err)
    assert "1 setup: nothing found." in done.words


def test_an_unreadable_folder(command: Command, folder: Path) -> None:
    for path in (folder, *folder.parents):
        if path.stat().st_uid == os.getuid() and path != Path("/"):
            path.chmod(path.stat().st_mode | 0o055)
    Path("good.toml").write_text(REFERENCE, encoding="utf-8")
    assert command("lint", "good.toml").status == 0
    Path("closed").mkdir(mode=0)
    with nobody():
        done = command("lint", ".")
    assert done.status == 2
    assert done.err == "setuplint: cannot read ./closed: Permission denied\n"


def test_a_folder_of_rules_that_cannot_be_read_is_not_one_without(
    command: Command, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Path("good.toml").write_text(REFERENCE, encoding="utf-8")
    Path("closed").mkdir()
    Path("setuplint.toml").write_text("rules = ['closed']\n", encoding="utf-8")
    Path("closed/README.md").write_text("The rules lie one folder deeper.\n", encoding="utf-8")
    for words in (["good.toml"], ["good.toml", "--rules", "closed"]):
        done = command("lint", *words)
        assert (done.status, "there is no rule in closed: a rule is a .toml file right in it" in done.err) == (2, True)
    Path("closed/DRIVEN.TOML").write_text("never = 'flying'\n", encoding="utf-8")
    done = command("lint", "good.toml")
    assert (done.status, "a rule has the name of its file" in done.err) == (2, True)

    def refused(path: object) -> list[str]:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(os, "listdir", refused)
    assert "cannot be read: Permission denied" in command("lint", "good.toml").err
    done = command("rules-test", "closed")
    assert (done.status, "Permission denied" in done.err) == (2, True)


def test_what_the_system_refuses_is_told_in_one_line(folder: Path) -> None:
    """Also where it is none of the files: without a folder to work in a lint was a traceback."""
    Path("gone").mkdir()

    def leave() -> None:
        os.chdir("gone")
        os.rmdir("../gone")

    done = forked("lint", ".", before=leave)
    assert (done.status, done.err) == (2, "setuplint: No such file or directory\n")


def test_a_link_that_may_not_be_read(command: Command, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Path("good.toml").write_text(REFERENCE, encoding="utf-8")
    Path("x.toml").symlink_to("good.toml")
    Path("other").symlink_to("good.toml")

    def refused(*_: object, **__: object) -> str:
        raise PermissionError(13, "Permission denied")

    (folder / "way").symlink_to(".")
    monkeypatch.setattr(os, "readlink", refused)
    done = command("lint", "way/good.toml")
    assert (done.status, done.err) == (2, "setuplint: cannot read way/good.toml: Permission denied\n")
    done = command("lint", ".")
    assert (done.status, done.err) == (2, "setuplint: cannot read ./x.toml: Permission denied\n")
    assert "1 setup: nothing found." in done.words


def test_a_file_that_is_named_in_several_ways_is_one(command: Command, folder: Path) -> None:
    Path("x.toml").write_text(REFERENCE, encoding="utf-8")
    here = f"../{folder.name}"
    assert command("lint", "x.toml", "./x.toml", f"{here}/x.toml", ".").words.startswith("1 setup: ")
    assert command("lint", ".", here).words.startswith("1 setup: ")
    assert command("report", "x.toml", "./x.toml").out.startswith("<!doctype html>"), "one page, so no folder is needed"


@pytest.mark.parametrize("end", [b"\r", b"\r\r\n"])
def test_lines_that_end_with_carriage_returns_are_a_setup_in_a_folder_too(
    command: Command, folder: Path, end: bytes
) -> None:
    Path("x.toml").write_bytes(HAZARD.encode().replace(b"\n", end))
    Path("other.toml").write_bytes(b"[tool]\rx = 1\r")
    done = command("lint", ".")
    assert (done.status, "[not-toml]" in done.out) == (1, True)
    assert "Passed over: 1 other TOML file, not a setup." in done.words


def test_a_pipe_in_a_folder_is_not_waited_for(command: Command, folder: Path) -> None:
    os.mkfifo("x.toml")
    assert command("lint", ".").status == 2
