"""In a real editor: a hazard is typed, seen, tried and mended; other files and strangers' programs are left alone."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

import setuplint

from .conftest import ROOT
from .workbench import PATIENCE, Editor, wait_until

pytestmark = pytest.mark.slow
REFERENCE = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")
LINES = REFERENCE.split("\n")
RESCUE = LINES.index("[overrides.rescue-power]") + 1
COMMAND = [sys.executable, "-m", "setuplint", "serve"]
CARGO = '[package]\nname = "x"\nwhen = "a and b"\n'
expect.set_options(timeout=PATIENCE)


@pytest.fixture
def editor(extensions: Path, tmp_path: Path) -> Editor:
    folder = tmp_path / "work"
    folder.mkdir()
    (folder / "wagtail.toml").write_text(REFERENCE, encoding="utf-8")
    (folder / "Cargo.toml").write_text(CARGO, encoding="utf-8")
    return Editor(tmp_path / "home", folder, extensions)


def test_a_hazard_that_is_not_open_is_listed_once(editor: Editor, browser: Browser) -> None:
    (editor.folder / "grave.toml").write_text(REFERENCE.replace("priority = 100", "priority = 10"), encoding="utf-8")
    server = editor.program(editor.home / "bin" / "setuplint", COMMAND)
    editor.settings(**{"setuplint.server.path": str(server)})
    with editor.opened(browser, trusted=True) as bench:
        bench.open("wagtail.toml")
        bench.page.keyboard.press("Control+Shift+M")
        listed = bench.page.locator(".markers-panel .monaco-list-row", has_text="Throttle hold does not stop the motor")
        expect(listed).to_have_count(1)
        bench.page.wait_for_timeout(4000)  # the editor asks again two seconds later, and waits for what is new
        bench.page.get_by_role("treeitem", name="grave.toml", exact=True).dblclick()
        bench.status("1 danger").wait_for()
        bench.page.wait_for_timeout(500)
        expect(listed).to_have_count(1, timeout=1)  # at once, not when the editor asks again


def test_a_hazard_is_typed_seen_tried_and_mended(editor: Editor, browser: Browser) -> None:
    server = editor.program(editor.home / "bin" / "setuplint", COMMAND)
    editor.settings(**{"setuplint.server.path": str(server), "files.autoSave": "afterDelay"})
    with editor.opened(browser, trusted=True) as bench:
        bench.open("Cargo.toml")
        bench.open("wagtail.toml")
        bench.lens("nothing found").wait_for()
        bench.go_to(RESCUE + 4, len("priority = ") + 1)
        bench.page.keyboard.press("Shift+End")
        bench.page.keyboard.type("150")
        expect(bench.status("1 danger")).to_be_visible()
        expect(bench.page.locator(".squiggly-error")).to_have_count(1)

        # The report stands beside, and follows the cursor and what is tried.
        bench.go_to(RESCUE, 5)
        bench.lens("Try override rescue-power").wait_for()
        bench.command("Setuplint: Show the Report Beside")
        report = bench.beside()
        said = report.locator("#said")
        expect(report.locator("article.setuplint-here")).to_contain_text(
            "though held is on too: priority 150 beats 100"
        )
        bench.press_until(bench.lens("Try override rescue-power"), lambda: said.inner_text() != "")
        expect(said).to_have_text("override rescue-power: pull save.")

        # Its words and its state stay when the page is made again.
        bench.go_to(RESCUE + 4, len("priority = 150") + 1)
        for key in ("Space", "Backspace"):
            report.locator("body").evaluate("body => { body.dataset.before = 'yes' }")
            bench.page.keyboard.press(key)
            expect(report.locator("body:not([data-before])")).to_have_count(1)
            expect(said).to_have_text("override rescue-power: pull save.")
        expect(report.locator("#outputs tr", has_text="motor")).to_contain_text("+55 % (77.5 of 100, 1775 µs)")
        bench.wait_for_words_behind("now decides motor: +55 % (77.5 of 100)")
        report.locator("#controls fieldset", has_text="hold").get_by_label("on", exact=True).check()
        expect(report.locator("#outputs tr", has_text="motor")).to_contain_text("rescue-power")

        # The remedy is taken. The page has it at once, and the explorer stands as it stood: now the hold decides.
        bench.go_to(RESCUE, 5)
        bench.page.keyboard.press("Control+.")
        bench.page.locator(".action-widget .action.focused", has_text="set overrides.held.priority = 151").wait_for()
        bench.page.keyboard.press("Enter")
        expect(bench.status("nothing found")).to_be_visible()
        expect(report.locator("#findings")).to_contain_text("Nothing found.")
        expect(report.locator("#outputs tr", has_text="motor")).to_contain_text("held")
        bench.wait_for_words_behind("now decides motor: -100 % (0 of 100)")

        # The card follows too, and what is ticked on it stays when the page is made again.
        bench.command("Setuplint: Show the Bench Card Beside")
        card = bench.beside()
        expect(card.locator(".setuplint-here")).to_contain_text("rescue-power")
        card.locator("input[type=checkbox]").nth(2).check()
        expect(bench.status("nothing found")).to_be_visible()
        bench.go_to(RESCUE + 4, len("priority = 150") + 1)
        bench.page.keyboard.type("  # noted")
        expect(card.locator("#count")).to_contain_text("1 of ")
        wait_until(lambda: "# noted" in (editor.folder / "wagtail.toml").read_text(encoding="utf-8"))
    saved = (editor.folder / "wagtail.toml").read_text(encoding="utf-8")
    mended = REFERENCE.replace("priority = 100 ", "priority = 151 ")
    assert saved == mended.replace("priority = 50", "priority = 150  # noted", 1)
    assert setuplint.lint_text(saved).findings == ()
    assert editor.started == [str(server)]


def test_other_files_start_no_server(editor: Editor, browser: Browser) -> None:
    server = editor.program(editor.home / "bin" / "setuplint", COMMAND)
    editor.settings(**{"setuplint.server.path": str(server)})
    with editor.opened(browser, trusted=True) as bench:
        bench.open("Cargo.toml")
        bench.page.wait_for_timeout(6000)
        assert (editor.started, bench.page.locator(".codelens-decoration").count()) == ([], 0)
        bench.open("wagtail.toml")
        bench.lens("nothing found").wait_for()
    assert editor.started == [str(server)]


def test_a_page_says_why_it_is_empty(editor: Editor, browser: Browser) -> None:
    editor.settings(**{"setuplint.server.path": str(editor.program(editor.home / "bin" / "setuplint", ["false"]))})
    with editor.opened(browser, trusted=True) as bench:
        bench.open("wagtail.toml")
        wait_until(lambda: bool(editor.started))
        bench.command("Setuplint: Show the Report Beside")
        expect(bench.beside().locator("p")).to_contain_text("the server does not answer: ")


def test_a_workspace_that_is_not_trusted_runs_nothing_of_its_own(editor: Editor, browser: Browser) -> None:
    """Its settings and its .venv have programs of their own. One is found that the user has: in the last place of all, the
    extension's own environment, or on the PATH of whoever runs this."""
    traps = [editor.program(editor.folder / name, COMMAND) for name in ("trap", ".venv/bin/setuplint")]
    (editor.folder / ".vscode").mkdir()
    named = json.dumps({"setuplint.server.path": str(traps[0]), "setuplint.python": str(traps[0])})
    (editor.folder / ".vscode" / "settings.json").write_text(named, encoding="utf-8")
    own = f"data/User/globalStorage/setuplint.setuplint/server-{setuplint.__version__}/bin/setuplint"
    editor.program(editor.home / own, COMMAND)
    editor.settings()
    with editor.opened(browser, trusted=False) as bench:
        bench.open("wagtail.toml")
        bench.lens("nothing found").wait_for()
        expect(bench.page.locator(".statusbar-item", has_text="Restricted Mode")).to_be_visible()
    assert not {str(trap) for trap in traps} & set(editor.started)
