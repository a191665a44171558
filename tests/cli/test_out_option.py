"""`setuplint lint --out`: one run, several outputs, each whole or not there; and nothing in one that a host's log obeys."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.running import HAZARD, REFERENCE, Command, environment

FORMS = ("text", "json", "sarif", "junit", "markdown")
WAIVER = '\n[[waivers]]\nrule = "hold-bypassed"\nreason = "tried"\n'


def test_one_run_writes_what_each_format_alone_would(command: Command, folder: Path) -> None:
    Path("bad.toml").write_text(HAZARD, encoding="utf-8")
    alone = {form: command("lint", "--format", form, "bad.toml").out for form in FORMS}
    outs = [word for form in FORMS[1:] for word in ("--out", f"{form}:made/{form}")]
    for place in range(0, len(outs) + 1, 2):
        done = command("lint", "bad.toml", *outs[:place], "--out", "text:-", *outs[place:])
        assert (done.status, done.out) == (1, alone["text"])
        for form in FORMS[1:]:
            assert Path("made", form).read_text(encoding="utf-8") == alone[form]
    Path("bad.toml").write_text(REFERENCE, encoding="utf-8")
    again = command("lint", "bad.toml", *outs)  # over what is ours
    assert (again.status, again.out, again.err) == (0, "", "")
    assert json.loads(Path("made/json").read_text())["findings"] == []


@pytest.mark.parametrize("there", [REFERENCE, "my notes\n"])
def test_what_somebody_wrote_stays(command: Command, folder: Path, there: str) -> None:
    Path("x.toml").write_text(there, encoding="utf-8")
    Path("good.toml").write_text(REFERENCE, encoding="utf-8")
    done = command("lint", "good.toml", "--out", "json:other", "--out", "text:x.toml")
    assert (done.status, done.err) == (
        2,
        "setuplint: x.toml is there already, and no output of lint: move it away, or give another name\n",
    )
    assert Path("x.toml").read_text(encoding="utf-8") == there
    assert not Path("other").exists()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no /dev/full here")
@pytest.mark.parametrize("shown", ["text:- --out json:made.json", "json:made.json --out text:-"])
def test_what_cannot_be_finished_is_not_there(folder: Path, shown: str) -> None:
    Path("bad.toml").write_text(HAZARD, encoding="utf-8")
    words = f"-m setuplint lint bad.toml --out {shown} --out sarif:made.sarif >/dev/full"
    done = subprocess.run(
        ["sh", "-c", f'exec "$0" {words}', sys.executable],
        env=environment(), cwd=folder, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 2
    assert sorted(path.name for path in folder.iterdir()) == ["bad.toml"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--out", "text"), "FORMAT:PATH"),
        (("--out", "yaml:x"), "FORMAT:PATH"),
        (("--out", "text:-", "--format", "json"), "beside --out write --out json:-"),
        (("--out", "text:-", "--out", "json:-"), "two outputs cannot both go to -"),
        (("--out", "text:a/../x", "--out", "json:x"), "two outputs cannot both go to x"),
        (("--out", "text:x", "--fix"), "--fix shows text"),
        (("--only-new",), "--only-new goes with SARIF"),
        (("--format", "markdown", "--link-to", "javascript:x"), "--link-to takes an address"),
    ],
)
def test_what_does_not_go_together_is_trouble(
    command: Command, folder: Path, words: tuple[str, ...], said: str
) -> None:
    Path("bad.toml").write_text(HAZARD, encoding="utf-8")
    done = command("lint", "bad.toml", *words)
    assert done.status == 2
    assert said in done.err


def test_only_new_leaves_out_of_sarif_what_is_known_or_open(command: Command, folder: Path) -> None:
    Path("x.toml").write_text(
        re.sub("(?m)^motor-off.*", "", HAZARD) + WAIVER + "[switches.spare]\nkind = 1\n", encoding="utf-8"
    )
    whole, new = (
        json.loads(command("lint", "--format", "sarif", *words, "x.toml").out)["runs"][0]
        for words in ((), ("--only-new",))
    )
    kinds = {(each["kind"], bool(each["suppressions"])) for each in whole["results"]}
    assert {("open", False), ("fail", True), ("fail", False)} <= kinds
    assert {(each["kind"], bool(each["suppressions"])) for each in new["results"]} == {("fail", False)}
    assert new["invocations"] == whole["invocations"], "what is left out is counted all the same"
    prints = [each["partialFingerprints"]["setuplint/v1"] for each in whole["results"]]
    assert len(set(prints)) == len(prints)


def test_markdown_links_to_the_lines(command: Command, folder: Path) -> None:
    (folder / ".git").mkdir()
    Path("my craft").mkdir()
    Path("my craft/x.toml").write_text(HAZARD, encoding="utf-8")
    address = "https://host.example/club/setups/blob/abc"
    out = command("lint", ".", "--format", "markdown", "--link-to", f"{address}/").out
    assert f"[`./my craft/x.toml:74:1`](<{address}/my%20craft/x.toml#L74>)" in out
    assert out.count("](<") == 3, "the finding, and the places that it is related to"
    assert "](<" not in command("lint", ".", "--format", "markdown").out


def obeyed(text: str) -> list[str]:
    """Lines that a host's log takes for commands."""
    return [line for line in text.splitlines() if line.lstrip().startswith("::") or re.search(r"##\w*\[", line)]


@pytest.mark.quick(2)
@pytest.mark.parametrize("form", FORMS)
def test_no_output_begins_a_log_command(command: Command, folder: Path, form: str) -> None:
    said = 'message = """\n::error::x ##[error]y ##vso[task]z\n  ::set-env::\n"""\n'
    names = ["::error::a.toml", "##[group]b.toml", ":"]
    for name in names:
        words = HAZARD.replace('rule = "', f'{said}rule = "') + said + '\n[modes."::warning::x"]\n# ##[debug]\n'
        Path(name).write_text(words, encoding="utf-8")
    done = command("lint", *names, "::warning::none", "--format", form)
    assert obeyed(done.out) == obeyed(done.err) == []
    if form == "json":
        assert "##[group]b.toml" in json.dumps(json.loads(done.out)), "the escape is JSON's own"
    assert obeyed(command("lint", "x\n::stop-commands::y", "--::error::\n::z").err) == []
    assert obeyed(command("compare", *names[:2]).out) == []


def test_a_file_is_no_option(command: Command, folder: Path) -> None:
    """A hook gives the names of a commit's files: one that is called as an option is, would choose the judge."""
    Path("bad.toml").write_text(HAZARD, encoding="utf-8")
    Path("--fail-on=danger.toml").write_text(HAZARD, encoding="utf-8")
    Path("-h.toml").write_text(HAZARD, encoding="utf-8")
    Path("--no-waivers").touch()
    for name in ("--fail-on=danger.toml", "-h.toml", "--no-waivers"):
        done = command("lint", "--only-setups", name, "bad.toml")
        assert (done.status, done.err) == (
            2, f"setuplint: {name} is a file too: give it as ./{name}, or give it another name\n"
        )  # fmt: skip
    assert command("lint", "--", "--fail-on=danger.toml").status == 1
