"""A finding in time: its run in the explorer, on the bench card, and by the command that shows it."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

import setuplint
from setuplint.cli import main
from setuplint.pages.report import report_page
from tests.browsers import opened

REFERENCE = (Path(__file__).parents[2] / "examples" / "reference.toml").read_text(encoding="utf-8")
LINGERS = """[conditions.was-normal]
when = "flight is normal"
stays = 600
[overrides.spool-power]
channel = "motor"
value = 45
when = "was-normal and not (flight is normal)"
priority = 150
"""
KICKS = """[conditions.save-long]
when = "save is pulled"
after = 2
[conditions.kick]
when = "save is pulled and not save-long"
[overrides.kick-power]
channel = "motor"
value = 80
when = "kick"
priority = 150
"""
RUNS = {
    LINGERS: [
        ("0 s: switch on with hold on", "-100 %"),
        ("1 s: put flight to idle-up-1", "+45 %"),
        ("601 s: was-normal goes off", "-100 %"),
    ],
    KICKS: [
        ("0 s: switch on with hold on and save pulled", "+80 %"),
        ("2 s: save-long goes on; kick goes off", "-100 %"),
    ],
}
EACH = pytest.mark.parametrize("more", list(RUNS), ids=["lingers", "kicks"])


@pytest.fixture
def file(more: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(tmp_path)
    Path("wagtail.toml").write_text(REFERENCE + more, encoding="utf-8")
    return "wagtail.toml"


def motor(page: Page) -> str:
    rows = dict(row.split("\t")[:2] for row in page.locator("#outputs").inner_text().split("\n"))
    return rows["motor"].partition(" (")[0]


@pytest.mark.slow
@EACH
def test_the_explorer_plays_the_run(browser: Browser, written: Path, file: str, more: str) -> None:
    report = setuplint.lint(file, config=False)
    number = next(n for n, finding in enumerate(report.findings) if finding.timing is not None)
    page, said = opened(browser, written, report_page(report, setuplint.load(file).model), apart="clock")
    page.clock.install()
    page.locator(f"button[data-finding='{number}']").click()
    played = []
    for _ in RUNS[more]:
        played.append((page.locator("#run [aria-current]").inner_text(), motor(page)))
        page.clock.run_for(1500)
    assert played == RUNS[more]
    for words, gives in RUNS[more]:
        page.get_by_role("button", name=words, exact=True).click()
        assert motor(page) == gives
        assert words in page.locator("#said").inner_text()
    page.locator("input[name='switch-rates'][value='full']").check()  # from here on all settles
    assert motor(page) == "-100 %"
    page.locator("#still").click()
    assert page.locator("#run li").count() == 0
    assert said == []


@EACH
def test_the_command_of_the_finding_shows_it(file: str, more: str, capsys: pytest.CaptureFixture[str]) -> None:
    main(["lint", file])
    printed = " ".join(capsys.readouterr().out.split())
    found = re.search(r"To see it: (setuplint trace .*?) (Why|Advice):", printed)
    assert found
    assert main(shlex.split(found.group(1))[1:]) == 0
    gives = next(gives for _, gives in RUNS[more] if gives != "-100 %")
    assert re.search(rf"motor +{re.escape(gives)}", capsys.readouterr().out)


@pytest.mark.slow
@EACH
def test_the_card_has_a_box_with_the_run_and_its_times(
    file: str, more: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["bench-card", file, "--format", "json"]) == 0
    (run,) = json.loads(capsys.readouterr().out)["runs"]
    assert run["rule"] == "hold-bypassed"
    seen = [(row["at"], row["do"], row["readings"]["motor"]) for row in run["rows"]]
    words = [(words.partition(" s: "), float(gives.removesuffix(" %"))) for words, gives in RUNS[more]]
    assert seen == [(float(at), do, gives) for (at, _, do), gives in words]
    assert [row["danger"] for row in run["rows"]] == [gives > 0 for _, _, gives in seen]
    for form in ("markdown", "html"):
        assert main(["bench-card", file, "--format", form]) == 0
        out = capsys.readouterr().out
        assert "What lint found in time" in out
        assert run["rows"][-1]["do"] in out


def test_a_card_without_such_a_finding_has_no_runs(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (tmp_path / "wagtail.toml").write_text(REFERENCE, encoding="utf-8")
    assert main(["bench-card", str(tmp_path / "wagtail.toml")]) == 0
    assert "in time" not in capsys.readouterr().out
