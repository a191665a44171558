"""`setuplint lint`: what it looks at, what it says, and its exit status."""

from __future__ import annotations

import json
import os
import pty
import re
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from setuplint import library
from setuplint.book.rulebook import heads_written
from setuplint.cli import files, lint_run
from setuplint.formats.report_schema import report_schema
from setuplint.setup.shape import format_written
from setuplint.source import parsed_document
from tests.cli.running import HAZARD, REFERENCE, ROOT, Command, Ran, environment, process


def test_a_hazard_gives_status_one_and_a_clean_file_zero(command: Command, folder: Path) -> None:
    Path("bad.toml").write_text(HAZARD, encoding="utf-8")
    Path("good.toml").write_text(REFERENCE, encoding="utf-8")
    bad, good = command("lint", "bad.toml"), command("lint", "good.toml")
    assert (bad.status, good.status) == (1, 0)
    assert "[hold-bypassed]" in bad.out.splitlines()[0]
    assert bad.out.startswith("bad.toml:")
    assert "nothing found" in good.words
    assert "not a clearance to fly" in good.words
    assert (bad.err, good.err) == ("", "")


@pytest.mark.slow
def test_json_keeps_to_its_schema_for_every_example(examples_as_json: Ran) -> None:
    done = examples_as_json
    value = json.loads(done.out)
    Draft202012Validator(report_schema()).validate(value)
    assert value["summary"]["files"] + 1 == len(list((ROOT / "examples").rglob("*.toml")))
    assert value["summary"]["shared-parts"] == 1
    assert value["summary"]["passed-over"] == 0
    assert sum(value["summary"]["found"].values()) == len(value["findings"])
    assert done.status == 1


def test_files_come_in_the_order_of_their_names_and_each_once(command: Command, folder: Path) -> None:
    for name in ("b.toml", "a.toml", "c/d.toml", "B.toml"):
        Path(name).parent.mkdir(exist_ok=True)
        Path(name).write_text(HAZARD, encoding="utf-8")
    value = json.loads(command("lint", "--format", "json", ".", "a.toml", "./a.toml").out)
    names = list(dict.fromkeys(finding["file"] for finding in value["findings"]))
    assert names == ["./B.toml", "a.toml", "./b.toml", "./c/d.toml"], "a file that is named is called so"


def test_a_folder_passes_over_toml_that_is_no_setup(command: Command, folder: Path) -> None:
    Path("pyproject.toml").write_text('[project]\nname = "x"\n[tool.x]\nformat = 1\n', encoding="utf-8")
    Path("empty.toml").touch()
    Path("rule.toml").write_text("text = '''\nformat = 1\n[craft]\n'''\n", encoding="utf-8")
    Path("notes.txt").write_text(REFERENCE, encoding="utf-8")
    Path("good.toml").write_text(REFERENCE, encoding="utf-8")
    done = command("lint", ".")
    assert done.status == 0
    assert "1 setup: nothing found." in done.words
    assert "Passed over: 3 other TOML files, not setups." in done.words


@pytest.mark.parametrize(
    "text",
    [
        "format = 1\n[craft]\n", "[craft]\nname = 'x'\n[field]\n", "format =\n[[claims]]\n", "format = 1\n[intent\n",
        "\xff\ncraft.name = 1\nformat = 1", "\0f\0o\0r\0m\0a\0t\0=\x001\0\n\0c\0r\0a\0f\0t\0=\0{\0}",
        '"f\\u006frmat" = 1\n"\\u0063raft" = {}', "#" * 900_000 + "\nformat = 1\n[craft]\n#" + "#" * 100_000,
    ],
)  # fmt: skip
def test_a_folder_looks_at_what_is_meant_for_a_setup(command: Command, folder: Path, text: str) -> None:
    Path("x.toml").write_bytes(text.encode("latin-1"))
    assert "1 setup:" in command("lint", ".").words


def test_a_named_file_is_linted_whatever_is_in_it(command: Command, folder: Path) -> None:
    Path("pyproject.toml").write_text('[project]\nname = "x"\n', encoding="utf-8")
    done = command("lint", "pyproject.toml")
    assert done.status == 1
    assert "[not-a-setup]" in done.out


def test_only_setups_passes_over_named_files_too_and_none_is_no_failure(command: Command, folder: Path) -> None:
    Path("other.toml").write_text('[project]\nname = "x"\n', encoding="utf-8")
    Path("bad.toml").write_text(HAZARD, encoding="utf-8")
    assert command("lint", "--only-setups", "other.toml").status == 0
    both = command("lint", "--only-setups", "other.toml", "bad.toml")
    assert both.status == 1
    assert "Passed over: 1 other TOML file, not a setup." in both.words


def test_nothing_to_lint_is_no_pass(command: Command, folder: Path) -> None:
    Path("pyproject.toml").write_text("[project]\n", encoding="utf-8")
    done = command("lint", ".")
    assert done.status == 2
    assert (
        done.err
        == "setuplint: no setup among the paths (passed over: 1 other TOML file, not a setup): nothing was checked\n"
    )


def test_what_cannot_be_read_is_told_and_stops_nothing_else(command: Command, folder: Path) -> None:
    Path("bad.toml").write_text(HAZARD, encoding="utf-8")
    Path("loop.toml").symlink_to("loop.toml")
    done = command("lint", "none.toml", "bad.toml", "loop.toml")
    assert done.status == 2
    assert "[hold-bypassed]" in done.out
    first, second = done.err.splitlines()
    assert first == "setuplint: cannot read none.toml: No such file or directory"
    assert second.startswith("setuplint: cannot read loop.toml: ")


def test_troubles_stand_in_the_json_too(command: Command, folder: Path) -> None:
    value = json.loads(command("lint", "--format", "json", "none.toml").out)
    Draft202012Validator(report_schema()).validate(value)
    assert value["summary"]["troubles"] == ["cannot read none.toml: No such file or directory"]


def test_standard_input_goes_by_the_name_that_is_given(command: Command) -> None:
    named = command("lint", "-", "--name", "wagtail.toml", stdin=HAZARD.encode())
    assert named.status == 1
    assert named.out.startswith("wagtail.toml:")
    assert command("lint", "-", stdin=HAZARD.encode()).out.startswith("stdin:")


@pytest.mark.parametrize(
    ("args", "complaint"),
    [
        (("--only", "hold-bypased", "x.toml"), "there is no rule hold-bypased; did you mean hold-bypassed?"),
        (("--only", "zzzz", "x.toml"), "there is no rule zzzz\n"),
        (("--name", "x", "x.toml"), "--name is for standard input"),
        (("--rules", "nowhere", "x.toml"), "nowhere is not a folder"),
        (("--fail-on", "warning", "x.toml"), "invalid choice"),
        (("--today", "tomorrow", "x.toml"), "is not a date like 2027-04-01"),
        ((), "the following arguments are required"),
        (("--formt", "json", "x.toml"), "unrecognized arguments: --formt; did you mean --format?\n"),
        (("--fixx", "x.toml"), "setuplint lint: unrecognized arguments: --fixx; did you mean --fix?\n"),
        (("--zzz", "x.toml"), "unrecognized arguments: --zzz\n"),
    ],
)
def test_usage_errors_say_what_is_wrong(command: Command, folder: Path, args: tuple[str, ...], complaint: str) -> None:
    Path("x.toml").write_text(REFERENCE, encoding="utf-8")
    done = command("lint", *args)
    assert done.status == 2
    assert complaint in done.err
    assert done.err.startswith("setuplint")  # a usage comes after the reason
    assert done.out == ""


def test_a_command_that_there_is_not_is_told_from_one_that_is_near(command: Command) -> None:
    first, *_, last = command("lnt", "x.toml").err.splitlines()
    assert first.endswith("did you mean lint?")
    assert last == "usage: setuplint [-h] [--version] COMMAND ..."


def test_without_a_command_all_are_listed(command: Command) -> None:
    done = command()
    assert (done.status, done.out) == (2, "")
    assert done.err.startswith("usage: setuplint ")
    assert "bench-card" in done.err


def test_only_judges_the_rules_that_are_named(command: Command, folder: Path) -> None:
    Path("bad.toml").write_text(HAZARD, encoding="utf-8")
    assert command("lint", "--only", "hold-missing", "bad.toml").status == 0
    done = command("lint", "--only", "hold-missing", "--only", "hold-bypassed", "bad.toml")
    assert done.status == 1
    assert done.out.count("bad.toml:") == 1


def test_threshold(command: Command, folder: Path) -> None:
    notice = REFERENCE + "\n[curves.spare]\npoints = [[-100, 0], [100, 0]]\n"
    Path("notice.toml").write_text(notice, encoding="utf-8")
    assert command("lint", "notice.toml").status == 0
    assert command("lint", "--fail-on", "notice", "notice.toml").status == 1
    shown = command("lint", "notice.toml")
    assert "[part-unused]" in shown.out
    assert "1 is below caution, the least that fails." in shown.words


def test_a_clubs_claims_are_judged(command: Command, folder: Path) -> None:
    Path("good.toml").write_text(REFERENCE, encoding="utf-8")
    Path("club").mkdir()
    Path("club", "no-full-roll.toml").write_text(
        'signal = "caution"\ntitle = "Full roll"\nnever = "output roll > 50"\nwhy = "Because."\nremedy = "Less."\n',
        encoding="utf-8",
    )
    done = command("lint", "--rules", "club", "good.toml")
    assert done.status == 1
    assert "[no-full-roll]" in done.out
    assert command("lint", "--rules", "club", "--only", "hold-bypassed", "good.toml").status == 0
    assert command("lint", "--rules", "club", "--only", "no-full-roll", "good.toml").status == 1


@pytest.mark.parametrize(
    "text", ["signal = 1", "not toml", 'signal = "notice"\ntitle = "x"\ncheck = "y"\nwhy = "z"\nremedy = "w"']
)
def test_a_broken_rule_of_a_club_stops_the_command(command: Command, folder: Path, text: str) -> None:
    Path("good.toml").write_text(REFERENCE, encoding="utf-8")
    Path("club").mkdir()
    Path("club", "mine.toml").write_text(text, encoding="utf-8")
    done = command("lint", "--rules", "club", "good.toml")
    assert done.status == 2
    assert "mine" in done.err
    assert len(done.err.splitlines()) == 1


def test_links_out_of_a_folder_are_not_followed(command: Command, folder: Path) -> None:
    outside = folder / "outside"
    outside.mkdir()
    (outside / "bad.toml").write_text(HAZARD, encoding="utf-8")
    inside = folder / "inside"
    (inside / "sub").mkdir(parents=True)
    (inside / "good.toml").write_text(REFERENCE, encoding="utf-8")
    (inside / "bad.toml").symlink_to(outside / "bad.toml")
    (inside / "folder").symlink_to(outside)
    (inside / "sub" / "again").symlink_to(inside)
    (inside / "alias.toml").symlink_to("good.toml")
    done = command("lint", "inside")
    assert done.status == 0
    assert "1 setup: nothing found." in done.words
    assert "Passed over: 2 links out of the folder." in done.words


@pytest.mark.parametrize("name", [".hidden/bad.toml", ".bad.toml", "BAD.TOML", "escaped.toml"])
def test_no_setup_hides_by_its_name_or_its_keys(command: Command, folder: Path, name: str) -> None:
    Path(name).parent.mkdir(exist_ok=True)
    every_key = re.compile(r"^(\[*)([a-z])([a-z-]*+)(?=[ .\]])", re.MULTILINE)
    text = every_key.sub(lambda key: f'{key[1]}"\\u{ord(key[2]):04x}{key[3]}"', HAZARD)
    Path(name).write_text(text if name == "escaped.toml" else HAZARD, encoding="utf-8")
    assert command("lint", ".").words.count("[hold-bypassed]") == 1
    Path(".git").mkdir()
    Path(name).rename(".git/bad.toml")
    assert command("lint", ".").status == 2, "what is git's own is no part of the work tree"


@pytest.mark.parametrize(
    "text", ["[format]\nindent = 2\n", "[start]\n", 'extends = "base.toml"\n', "[field]\nformat = 1"]
)
def test_the_files_of_others_are_theirs(command: Command, folder: Path, text: str) -> None:
    Path("x.toml").write_text(text, encoding="utf-8")
    assert command("lint", "--only-setups", "x.toml").words.startswith("0 setups: nothing was checked.")
    assert command("lint", "x.toml").status == 1, "named, it is taken for a setup"


@pytest.mark.parametrize(
    "key",
    [
        "[ craft ]", '[\t"craft"\t]', '"craft".x = 1', "'craft' = {}", "craft . name = 1", "\ufeffcraft = {}", "[[ claims ]]",
        '["\\u0063raft"]', '"\\U00000063raft" = {}', "  craft.x = 1", "[ craft . pulse ]", '"cr\\u0061ft" . x = 1', "['craft']",
    ],
)  # fmt: skip
def test_a_quick_look_passes_over_no_setup(key: str) -> None:
    """Whatever a reading takes for a setup, the pattern that goes before it lets through by any one of its keys."""
    for end in ("\n", "\r\n"):
        assert files.holds_setup(parsed_document(f"{key}{end}[field]{end}".encode()))
        assert files.may_be_setup(f"x = 1{end}{key}{end}".encode() if key[0] != "\ufeff" else f"{key}{end}".encode())


def test_a_shared_part_is_one_by_what_extends_it(command: Command, folder: Path) -> None:
    """One table without a format is anybody's; that a setup extends it makes it ours, and that setup is linted with it."""
    hold = HAZARD[HAZARD.index("[switches.hold]") :].split("[", 2)[1]
    Path("radio.toml").write_text(f"[{hold}", encoding="utf-8")
    assert "Passed over: 1 other" in command("lint", "--only-setups", "radio.toml").words
    text = '"e\\u0078tends" = "radio.toml"\n' + HAZARD.replace(f"[{hold}", "")
    Path("x.toml").write_text(text, encoding="utf-8")
    assert "[hold-bypassed]" in command("lint", "--only-setups", "radio.toml").out


def test_what_is_passed_over_is_counted_by_reason_and_listed_on_request(command: Command, folder: Path) -> None:
    Path("good.toml").write_text(REFERENCE, encoding="utf-8")
    Path("other.toml").write_text("[project]\n", encoding="utf-8")
    Path("large.toml").write_text("[lock]\n" + "#" * 1_000_001 + "\n" + HAZARD, encoding="utf-8")
    Path("dangling.toml").symlink_to("nowhere.toml")
    os.mkfifo("pipe.toml")
    counted = "1 other TOML file, not a setup; 1 file too large to be a setup; 1 link that leads nowhere; 1 name that is no file"
    brief, whole = command("lint", "."), command("lint", "--verbose", ".")
    assert f"Passed over: {counted}." in brief.words
    assert "dangling" not in brief.out
    assert {"dangling.toml: link that leads nowhere", "large.toml: file too large to be a setup"} <= {
        line.strip().removeprefix("./") for line in whole.out.splitlines()
    }
    listed = json.loads(command("lint", "--format", "json", ".").out)["passed-over"]
    assert {"file": "./pipe.toml", "because": "no-file"} in listed
    for form in ("markdown", "sarif", "junit"):
        assert "1 link that leads nowhere" in command("lint", "--format", form, ".").words


@pytest.mark.parametrize("at", [0, 11, None])
def test_a_setup_made_too_large_is_no_other_file(command: Command, folder: Path, at: int | None) -> None:
    where = len(HAZARD) if at is None else at
    Path("large.toml").write_text(HAZARD[:where] + "#\n" * 500_001 + HAZARD[where:], encoding="utf-8")
    assert "[not-a-setup]" in command("lint", ".").out


def test_a_merge_that_was_left_undone_is_one_finding(command: Command, folder: Path) -> None:
    held = HAZARD[HAZARD.index("[overrides.held]") : HAZARD.index("[overrides.rescue-power]")]
    both = f"<<<<<<< ours\n{held}=======\n{held}>>>>>>> theirs\n"
    Path("x.toml").write_text(HAZARD.replace(held, both), encoding="utf-8")
    done = command("lint", ".")
    assert re.findall(r"^\./x.*", done.out, re.MULTILINE) == [
        f"./x.toml:{HAZARD[: HAZARD.index(held)].count(chr(10)) + 1}:1: caution: A merge was left undone: from this line on "
        "two versions of the file stand side by side. [not-toml]"
    ]
    Path("x.toml").write_text(f'note = """\n{both}"""\n', encoding="utf-8")
    assert "merge" not in command("lint", "x.toml").out, "inside a text it is text"


@pytest.mark.parametrize("name", [b"a\x1b[2J.toml", b"caf\xe9.toml", "日本.toml".encode()])
@pytest.mark.parametrize("form", ["text", "json"])
def test_odd_file_names(command: Command, folder: Path, name: bytes, form: str) -> None:
    Path(os.fsdecode(name)).write_text(HAZARD, encoding="utf-8")
    done = command("lint", "--format", form, ".")
    assert done.status == 1
    assert "\x1b" not in done.out
    done.out.encode()


def test_a_fault_of_ours_is_told_and_stops_no_other_file(
    command: Command, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Path("a.toml").write_text(REFERENCE, encoding="utf-8")
    Path("b.toml").write_text(HAZARD, encoding="utf-8")
    real = library.lint_text

    def fails(text: bytes, **options: object) -> object:
        if options["name"] == "a.toml":
            raise RecursionError("too deep")
        return real(text, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(library, "lint_text", fails)
    done = command("lint", "a.toml", "b.toml")
    assert done.status == 2
    assert "a.toml: this is a fault of setuplint, please report it: RecursionError: too deep" in done.err
    assert "[hold-bypassed]" in done.out


@pytest.mark.slow
@pytest.mark.parametrize("form", ["text", "json"])
def test_many_files_in_several_processes_give_the_same_as_one_by_one(
    command: Command, folder: Path, monkeypatch: pytest.MonkeyPatch, form: str
) -> None:
    for number in range(12):
        Path(f"{number:03}.toml").write_text(HAZARD if number % 3 == 0 else REFERENCE, encoding="utf-8")
    Path("loop.toml").symlink_to("loop.toml")
    alone = command("lint", "--format", form, *sorted(os.listdir()))
    monkeypatch.setattr(lint_run, "MANY", 5)
    monkeypatch.setattr(lint_run, "CHUNK", 2)
    assert command("lint", "--format", form, *sorted(os.listdir())) == alone
    assert alone.status == 2


def test_start_up_brings_in_nothing_that_a_lint_does_not_need(folder: Path) -> None:
    Path("good.toml").write_text(REFERENCE, encoding="utf-8")
    code = "import sys; from setuplint.cli import main; main(['lint', 'good.toml']); print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, env=environment(), check=True)
    loaded = set(done.stdout.decode().splitlines()[-1].split())
    assert "setuplint.library" in loaded
    heavy = {
        "networkx",
        "pydantic",
        "tomli_w",
        "numpy",
        "difflib",
        "concurrent.futures",
        "asyncio",
    }
    assert loaded & heavy == set()


def test_an_installed_lint_brings_in_little_of_pythons_own_library(folder: Path) -> None:
    Path("good.toml").write_text(REFERENCE, encoding="utf-8")
    Path("heads.py").write_text(heads_written(), encoding="utf-8")
    Path("shape.py").write_text(format_written(), encoding="utf-8")
    slow = "{'typing', 'pathlib', 'tomllib', 'json', 'datetime', 'threading', 'unicodedata', 'dataclasses', 'inspect'}"
    code = f"""
import heads, shape, sys
sys.modules["setuplint.book.prepared_heads"], sys.modules["setuplint.setup.prepared_format"] = heads, shape
from setuplint.book import rulebook
rulebook._is_in_checkout = lambda: False
from setuplint.cli import main
main(["lint", "good.toml"])
print(*{slow} & set(sys.modules))
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, env=environment(), check=True)
    assert b"checked" in done.stdout
    assert done.stdout.decode().splitlines()[-1] == ""


@pytest.mark.slow
def test_same_output_under_any_hash_seed(examples_as_json: Ran) -> None:
    assert process("lint", "--format", "json", "examples", seed="4242", cwd=ROOT) == examples_as_json
    assert examples_as_json.status == 1, examples_as_json.err
    assert len(json.loads(examples_as_json.out)["findings"]) > 5


def test_an_interrupt_ends_it_quietly(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object, **__: object) -> object:
        raise KeyboardInterrupt

    monkeypatch.setattr(library, "lint_text", interrupted)
    done = command("lint", "-", stdin=HAZARD.encode())
    assert (done.status, done.out, done.err) == (130, "", "")


def test_a_reader_that_stops_early_is_no_traceback(folder: Path) -> None:
    Path("bad.toml").write_text(HAZARD, encoding="utf-8")
    child = subprocess.Popen(
        [sys.executable, "-m", "setuplint", "lint", "bad.toml"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment(),
    )
    assert child.stdout is not None
    child.stdout.close()
    assert child.stderr is not None
    assert child.stderr.read() == b""
    child.stderr.close()
    assert child.wait() == 2


@pytest.mark.quick(1)
@pytest.mark.parametrize(("changed", "coloured"), [({}, True), ({"NO_COLOR": "1"}, False), ({"TERM": "dumb"}, False)])
def test_colour_only_on_a_terminal_that_wants_it(folder: Path, changed: dict[str, str], coloured: bool) -> None:
    Path("bad.toml").write_text(HAZARD, encoding="utf-8")
    assert "\x1b" not in process("lint", "bad.toml").out
    ours, theirs = pty.openpty()
    child = subprocess.Popen(
        [sys.executable, "-m", "setuplint", "lint", "bad.toml"],
        stdin=subprocess.DEVNULL,
        stdout=theirs,
        env=environment(**changed),
    )
    os.close(theirs)
    printed = b""
    while True:
        try:
            more = os.read(ours, 65536)
        except OSError:
            break
        if not more:
            break
        printed += more
    os.close(ours)
    assert child.wait() == 1
    assert (b"\x1b[1;31mdanger\x1b[0m" in printed) is coloured


def test_largest_file_is_what_is_said(folder: Path, command: Command) -> None:
    padded = HAZARD + "#" * (files.LARGEST - len(HAZARD.encode()))
    Path("x.toml").write_text(padded, encoding="utf-8")
    assert "[hold-bypassed]" in command("lint", "x.toml").out
    Path("x.toml").write_text(padded + "#", encoding="utf-8")
    assert "more than 1,000,000 bytes" in command("lint", "x.toml").out


def test_version(command: Command) -> None:
    done = command("--version")
    assert done.status == 0
    assert done.out.startswith("setuplint ")


def test_the_day_reaches_the_rules(command: Command, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Path("x.toml").write_text(REFERENCE, encoding="utf-8")
    real, seen = library.lint_text, []

    def noted(text: bytes, **options: object) -> object:
        seen.append(options["today"])
        return real(text, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(library, "lint_text", noted)
    command("lint", "x.toml", "--today", "2027-04-01")
    command("lint", "x.toml")
    assert seen == [date(2027, 4, 1), None]
