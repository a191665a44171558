"""`setuplint compare`: two files, and a work tree against a revision of git's."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

from setuplint.cli import main

ROOT = Path(__file__).parent.parent.parent
REFERENCE = (ROOT / "examples" / "reference.toml").read_text()
RAISED = REFERENCE.replace("value = 55\n", "value = 60\n")
RENAMED = REFERENCE.replace("hold is", "stopper is").replace("[switches.hold]", "[switches.stopper]")
GRAVE = REFERENCE.replace("priority = 100", "priority = 10")
DIPS = """\
motor: +55 % (77.5 of 100, 1775 µs) before, +60 % (80 of 100, 1800 µs) now
    (override rescue-power)
    where:    hold off, save pulled
    try:      with hold off, pull save
"""


def git(folder: Path, *words: str) -> None:
    name = ("-c", "user.name=A pilot", "-c", "user.email=pilot@example.invalid", "-c", "commit.gpgsign=false")
    subprocess.run(["git", "-C", folder, *name, *words], check=True, capture_output=True)


@pytest.fixture
def repository(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """One commit with a setup, and a TOML file that is none."""
    monkeypatch.chdir(tmp_path)
    git(tmp_path, "init", "-q")
    (tmp_path / "wagtail.toml").write_text(REFERENCE)
    (tmp_path / "other.toml").write_text("[tool]\nx = 1\n")
    git(tmp_path, "add", "-A")
    git(tmp_path, "commit", "-qm", "One")
    return tmp_path


@pytest.fixture
def two(tmp_path: Path) -> tuple[str, str]:
    (tmp_path / "old.toml").write_text(REFERENCE)
    (tmp_path / "new.toml").write_text(RAISED)
    return str(tmp_path / "old.toml"), str(tmp_path / "new.toml")


def test_numbers_that_are_motor_outputs_are_on_all_scales(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    old, new = tmp_path / "old.toml", tmp_path / "new.toml"
    old.write_text(REFERENCE)
    changed = REFERENCE.replace("hover-throttle = 16", "hover-throttle = 15")
    new.write_text(changed.replace("\nmotor = -100 ", "\nmotor = -98 ").replace("\npitch = 0\n", "\npitch = 1\n"))
    main(["compare", str(old), str(new)])
    said = " ".join(capsys.readouterr().out.replace("\u00a0", " ").split())
    assert "craft: hover-throttle: +16 % (58 of 100, 1580 µs) before, +15 % (57.5 of 100, 1575 µs) now" in said
    assert "channel motor: failsafe: -100 % (0 of 100, 1000 µs) before, -98 % (1 of 100, 1010 µs) now" in said
    assert "channel pitch: failsafe: 0 before, 1 now" in said


def test_two_files(two: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", *two]) == 1
    said = capsys.readouterr().out
    assert f"{two[0]} -> {two[1]}: 1 difference.".replace(" ", "") in "".join(said.split())
    assert DIPS in said
    assert "A clean result is not a" in said


def test_the_same_is_status_0_and_says_what_was_proved(
    two: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["compare", two[0], two[0]]) == 0
    assert "Proved the same in all" in capsys.readouterr().out


def test_a_renamed_switch_is_no_change_and_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name, text in (("old", REFERENCE), ("new", RENAMED)):
        (tmp_path / f"{name}.toml").write_text(text)
    assert main(["compare", str(tmp_path / "old.toml"), str(tmp_path / "new.toml")]) == 0
    assert "Renamed: switch hold is stopper now. That is not a change." in capsys.readouterr().out


def test_json_has_the_change_with_its_states_and_a_case(
    two: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["compare", "--format", "json", *two]) == 1
    said = json.loads(capsys.readouterr().out)
    (change,) = said["comparisons"][0]["changes"]
    assert (change["subject"], change["before"], change["now"]) == ("motor", 55, 60)
    assert change["witness"] == {"hold": "off", "save": "pulled"}
    assert change["where"][0]["positions"] == {"hold": ["off"], "save": ["pulled"]}
    assert said["summary"]["differing"] == 1


def test_a_hazard_that_is_gained_and_one_that_is_gone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    old, new = tmp_path / "old.toml", tmp_path / "new.toml"
    old.write_text(REFERENCE)
    new.write_text(GRAVE)
    assert main(["compare", str(old), str(new)]) == 1
    gained = capsys.readouterr().out
    assert "Hazards gained:" in gained
    assert "[hold-bypassed]" in gained
    assert main(["compare", str(new), str(old)]) == 1
    assert "Hazards gone:" in capsys.readouterr().out


def test_fail_on_looks_at_hazards_gained_alone(two: tuple[str, str], tmp_path: Path) -> None:
    assert main(["compare", "--fail-on", "notice", *two]) == 0
    (tmp_path / "grave.toml").write_text(GRAVE)
    assert main(["compare", "--fail-on", "danger", two[0], str(tmp_path / "grave.toml")]) == 1
    assert main(["compare", "--fail-on", "danger", str(tmp_path / "grave.toml"), two[0]]) == 0


@pytest.mark.parametrize("paths", [["one.toml"], ["a.toml", "b.toml", "c.toml"], ["no.toml", "nope.toml"]])
def test_what_cannot_be_compared_is_trouble(paths: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", *paths]) == 2
    assert capsys.readouterr().err.startswith("setuplint: ")


def test_what_could_not_be_compared_is_not_the_same(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The pitch is not described before, and never could be told apart from what is now."""
    old, new = tmp_path / "old.toml", tmp_path / "new.toml"
    old.write_text(REFERENCE.replace("from = 42\n", ""))
    new.write_text(REFERENCE)
    assert main(["compare", str(old), str(new)]) in (1, 2)
    assert "Not compared: channel tail-gain" in capsys.readouterr().out


def test_since_a_revision(repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", "--since", "HEAD"]) == 0
    assert capsys.readouterr().out == "No setup has changed.\n"
    (repository / "wagtail.toml").write_text(RAISED)
    (repository / "other.toml").write_text("[tool]\nx = 2\n")
    assert main(["compare", "--since", "HEAD"]) == 1
    said = capsys.readouterr().out
    assert "wagtail.toml (HEAD) -> wagtail.toml: 1 difference." in said
    assert "other.toml" not in said


def test_since_follows_a_moved_file_and_sees_new_and_gone_ones(
    repository: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    git(repository, "mv", "wagtail.toml", "moved.toml")
    (repository / "grave.toml").write_text(GRAVE)
    assert main(["compare", "--since", "HEAD"]) == 1
    said = capsys.readouterr().out
    assert "wagtail.toml (HEAD) -> moved.toml: the same behaviour." in said
    assert "grave.toml is new: 1 danger" in said
    git(repository, "add", "-A")
    git(repository, "commit", "-qm", "Two")
    (repository / "grave.toml").unlink()
    assert main(["compare", "--since", "HEAD"]) == 1
    assert "grave.toml (HEAD) is gone." in capsys.readouterr().out


def test_since_in_a_folder_and_for_some_paths(
    repository: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (repository / "wagtail.toml").write_text(RAISED)
    (repository / "sub").mkdir()
    monkeypatch.chdir(repository / "sub")
    assert main(["compare", "--since", "HEAD", ".."]) == 1
    assert "../wagtail.toml (HEAD) -> ../wagtail.toml: 1 difference." in capsys.readouterr().out
    assert main(["compare", "--since", "HEAD", "."]) == 2
    assert "there is no setup among ., and there was none" in capsys.readouterr().err


def test_before_the_first_commit_everything_is_new(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    git(tmp_path, "init", "-q")
    (tmp_path / "wagtail.toml").write_text(REFERENCE)
    git(tmp_path, "add", "-A")
    assert main(["compare", "--since", "HEAD", "--fail-on", "caution"]) == 0
    assert "wagtail.toml is new" in capsys.readouterr().out
    (tmp_path / "wagtail.toml").write_text(GRAVE)
    assert main(["compare", "--since", "HEAD", "--fail-on", "caution"]) == 1
    assert main(["compare", "--since", "HEAD~1"]) == 2


@pytest.mark.parametrize("revision", ["nope", "--output=x", "HEAD:wagtail.toml", ""])
def test_since_no_revision_is_trouble(repository: Path, revision: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", f"--since={revision}", "--format", "json"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err == f"setuplint: {revision!r} is not a revision of this repository\n"
    assert sorted(p.name for p in repository.iterdir() if p.name != ".git") == ["other.toml", "wagtail.toml"]


def test_since_outside_a_repository_is_trouble(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))
    assert main(["compare", "--since", "HEAD"]) == 2
    assert "not a git repository" in capsys.readouterr().err


def test_since_runs_nothing_that_the_repository_asks_for(repository: Path, tmp_path: Path) -> None:
    """Attributes and the work tree's own settings may name programs for a diff: they are not run."""
    git(repository, "config", "diff.evil.textconv", "touch ran;cat")
    git(repository, "config", "diff.evil.command", "touch ran")
    git(repository, "config", "diff.external", "touch ran")
    (repository / ".gitattributes").write_text("*.toml diff=evil\n")
    (repository / "wagtail.toml").write_text(RAISED)
    assert main(["compare", "--since", "HEAD"]) == 1
    assert not (repository / "ran").exists()


SHARED = """\
format = 1
[switches.hold]
kind = "two-position"
positions = ["off", "on"]
[sensors.link]
reads = "link-quality"
[modes.normal]
when = "hold is off"
voice = "normal"
"""


@pytest.fixture
def club(repository: Path) -> Path:
    """A repository with a part that two set-ups share."""
    own = REFERENCE.replace("format = 1\n", 'format = 1\nextends = "parts/radio.toml"\n')
    own = own.replace('[switches.hold]\nkind = "two-position"\npositions = ["off", "on"]\n', "")
    own = own.replace('[sensors.link]\nreads = "link-quality"\n', "")
    (repository / "parts").mkdir()
    (repository / "parts" / "radio.toml").write_text(SHARED.replace(SHARED[SHARED.index("[modes") :], ""))
    for name in ("wagtail", "second"):
        (repository / f"{name}.toml").write_text(own)
    git(repository, "add", "-A")
    git(repository, "commit", "-qm", "A shared part")
    return repository


def test_since_sees_through_a_shared_part(club: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Only the part has changed; what extends it is compared with what extended it before."""
    assert main(["compare", "--since", "HEAD"]) == 0
    capsys.readouterr()
    part = club / "parts" / "radio.toml"
    part.write_text(part.read_text().replace('positions = ["off", "on"]', 'positions = ["on", "off"]'))
    assert main(["compare", "--since", "HEAD", "parts"]) == 1
    said = capsys.readouterr().out
    assert "The same in 2 setups (second.toml, wagtail.toml):" in said
    assert "switch hold: positions: off, on before, on, off now" in said
    assert "radio.toml:" not in said
    assert "2 setups compared" in said


def test_a_set_up_that_moves_into_a_shared_part_is_the_same(club: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", "--since", "HEAD~1"]) == 1  # second.toml is new
    said = capsys.readouterr().out
    assert "wagtail.toml (HEAD~1) -> wagtail.toml: the same behaviour." in said
    (club / "old.toml").write_text(REFERENCE)
    assert main(["compare", "old.toml", "wagtail.toml"]) == 0


def test_a_part_of_a_revision_is_never_read_through_a_link(club: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (club / "parts" / "radio.toml").unlink()
    (club / "parts" / "radio.toml").symlink_to("/etc/hostname")
    git(club, "add", "-A")
    git(club, "commit", "-qm", "A link")
    (club / "wagtail.toml").write_text((club / "wagtail.toml").read_text() + "# more\n")
    main(["compare", "--since", "HEAD"])
    assert Path("/etc/hostname").read_text().strip() not in capsys.readouterr().out


def test_markdown_is_for_a_pull_request(repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = GRAVE.replace('voice = "land now"', 'voice = "<b>@club</b> [x](http://y)"')
    (repository / "wagtail.toml").write_text(text)
    assert main(["compare", "--since", "HEAD", "--format", "markdown"]) == 1
    said = capsys.readouterr().out
    assert said.startswith("## What the craft do differently\n")
    assert "**Hazards gained**" in said
    assert "- **danger** wagtail.toml:" in said
    assert "<br>where: hold on, save pulled" in said
    assert "<details><summary>Everything else</summary>" in said
    assert "<b>" not in said
    assert "@club" not in said
    assert "A clean result is not a clearance to fly" in said


@pytest.mark.slow
def test_markdown_keeps_within_a_comment(repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for number in range(100):
        grave = GRAVE.replace("value = 55\n", f"value = {20 + number / 10}\n")  # what is the same is told once
        (repository / f"new-{number:03}.toml").write_text(grave)
    rule = 'signal = "notice"\ntitle = "{}"\nwhy = "a test"\nremedy = "a test"\nnever = "output motor > 101"\n'
    (repository / "rules").mkdir()
    for number in range(40):
        (repository / "rules" / f"calm-{number}.toml").write_text(rule.format("&" * 100))
    (repository / "setuplint.toml").write_text('rules = ["rules"]\n')
    assert main(["compare", "--since", "HEAD", "--format", "markdown"]) == 1
    said = capsys.readouterr().out
    assert said.startswith("## What setups are judged by: 40 changes.\n")
    assert len(said.encode()) < 65_536
    assert "100 setups compared, 100 of them not the same." in said
    assert "of them are not shown, to save space" in said


def test_hazards_are_those_of_the_clubs_own_limits(repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A stricter floor makes a hazard of what ours lets pass, in both revisions: it is neither gained nor gone."""
    (repository / "setuplint.toml").write_text("[limits]\nhover-too-sharp.slope = 0.4\n")
    (repository / "wagtail.toml").write_text(RAISED)
    main(["compare", "--since", "HEAD", "--format", "json"])
    (found,) = json.loads(capsys.readouterr().out)["comparisons"]
    assert (found["gained"], found["lost"], found["kept"]) == ([], [], 1)


UNREAD = {"another format": REFERENCE.replace("format = 1", "format = 2"), "a word": 'format = "1"\n', "empty": "",
          "somebody else's": "[tool]\nx = 1\n"}  # fmt: skip


@pytest.mark.parametrize("there", UNREAD)
def test_what_is_not_read_is_not_the_same(there: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "wagtail.toml").write_text(REFERENCE)
    (tmp_path / "other.toml").write_text("format = 3\n")
    (tmp_path / "unread.toml").write_text(UNREAD[there])
    unread, good, other = (str(tmp_path / name) for name in ("unread.toml", "wagtail.toml", "other.toml"))
    assert main(["compare", unread, unread]) == 2
    assert "what the craft does could not be compared" in " ".join(capsys.readouterr().out.split())
    assert main(["compare", "--fail-on", "danger", unread, other]) == 2, "also where the mistake is another"
    assert main(["compare", "--fail-on", "danger", good, unread]) == 1, "rules about danger were judged before"
    assert main(["compare", "--fail-on", "danger", unread, good]) == 0
    assert main(["trace", unread]) == 2
