"""The page of `new --page`, used in a browser as a pilot does: by fields and keys, and with what comes out of it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.browsers import kept_page, left_and_opened_again
from tests.cli.running import ROOT, process
from tests.cli.test_new_asks import WAGTAIL, typed


@pytest.fixture
def made(tmp_path: Path) -> Path:
    done = process("new", "--page", "first.html", "--kind", "helicopter", cwd=tmp_path)
    assert done.status == 0, done.err
    return tmp_path / "first.html"


@pytest.fixture
def page(browser: Browser, made: Path) -> Iterator[Page]:
    """At the width of a telephone. It asks for nothing, and its script makes no mistake."""
    kept = kept_page(browser, viewport={"width": 360, "height": 740})
    kept.show(made.as_uri())
    yield kept.page
    assert [each for each in kept.said if not each.startswith(("file:", "blob:"))] == []


def field_of(key: str) -> str:
    return "#q-" + key.replace("_", "-").replace(" ", "-")


def fill(page: Page, replies: dict[str, str]) -> None:
    for key, reply in replies.items():
        field = page.locator(field_of(key))
        if field.evaluate("field => field.tagName") == "SELECT":
            field.select_option({"y": "yes", "n": "no"}.get(reply, reply))
        else:
            field.fill(reply)


def saved(page: Page, button: str, to: Path) -> str:
    with page.expect_download() as download:
        page.get_by_role("button", name=button).click()
    path = to / download.value.suggested_filename
    download.value.save_as(path)
    return path.read_text(encoding="utf-8")


@pytest.mark.slow
def test_what_it_writes_is_what_the_command_writes(page: Page, tmp_path: Path) -> None:
    fill(page, WAGTAIL)
    text = saved(page, "Save the setup", tmp_path)
    lines = "".join(f"{line}\n" for line in typed(WAGTAIL)).encode()
    done = process("new", "asked.toml", "--ask", stdin=lines, cwd=tmp_path)
    assert done.status == 0, done.err
    assert (tmp_path / "asked.toml").read_text(encoding="utf-8") == text
    assert (tmp_path / "wagtail-470.toml").exists()
    assert page.locator("#file").inner_text().strip() == text.strip()
    assert "are not known, and left out" in page.locator("#state").inner_text()


@pytest.mark.slow
def test_its_answers_are_a_draft_of_the_command(page: Page, tmp_path: Path) -> None:
    fill(page, WAGTAIL)
    draft = json.loads(saved(page, "Save the answers", tmp_path))
    assert draft["replies"] == {**WAGTAIL, "kind": "helicopter", "pack_sensor": "yes", "link_sensor": "yes"}
    done = process("new", "wagtail-470.toml", "--ask", stdin=b"yes\n" + b"\n" * 60, cwd=tmp_path)
    assert done.status == 0, done.out + done.err
    assert done.err.count("What is the craft called") == 0


def test_what_is_wrong_is_said_beside_it_and_nothing_is_written(page: Page) -> None:
    save = page.get_by_role("button", name="Save the setup")
    assert save.is_disabled()
    assert "1 question is needed" in page.locator("#state").inner_text()
    fill(page, {"rotor": "fixed", "motor_off": "0"})
    field = page.locator(field_of("motor_off"))
    assert field.get_attribute("aria-invalid") == "true"
    said = page.locator("#" + str(field.get_attribute("aria-describedby")))
    assert "0 on a scale from 0 to 100 is -100 here" in said.inner_text()
    assert save.is_disabled()
    field.fill("0 of 100")
    assert said.inner_text() == "= -100 % (0 of 100, 1000 µs)"
    assert save.is_enabled()
    assert page.locator(field_of("idle_up idle-up")).count() == 0, "what is not asked of this craft is not there"


def test_questions_come_and_go_with_the_answers_and_the_cursor_stays(page: Page) -> None:
    fill(page, {"rotor": "collective"})
    modes = page.locator(field_of("modes"))
    modes.click()
    page.keyboard.type("normal, wind")
    assert page.evaluate("document.activeElement.id") == "q-modes"
    assert page.locator(field_of("idle_up wind")).is_visible()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "q-flight-switch", (
        "what comes next is next by the keyboard too"
    )
    modes.fill("normal")
    assert not page.locator(field_of("idle_up wind")).is_visible()
    assert "wind" not in page.locator("#file").inner_text()


def test_a_part_that_comes_late_stands_in_its_place(page: Page) -> None:
    fill(page, {"rotor": "fixed", "stabilised": "yes"})
    legends = page.locator("legend:visible")
    assert "Swashplate" not in legends.all_inner_texts()
    page.reload()  # what is asked from the beginning is not all that can be asked
    fill(page, {"stabilised": "no"})
    named = legends.all_inner_texts()
    assert named.index("Rescue") + 1 == named.index("Swashplate") == named.index("Pack and telemetry") - 1


def test_answers_are_there_again_after_the_page_was_left(page: Page) -> None:
    fill(page, {"rotor": "fixed", "name": "Wren <b>9</b>"})
    left_and_opened_again(page)
    assert page.locator(field_of("name")).input_value() == "Wren <b>9</b>"
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Start again").click()
    assert page.locator(field_of("name")).input_value() == ""
    assert page.locator(field_of("kind")).input_value() == "helicopter", "what the command was given stays"


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_everyone_can_use_it(page: Page, scheme: str) -> None:
    page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    fill(page, {"rotor": "collective", "motor_off": "0", "modes": "normal, idle up"})
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def test_a_page_is_no_setup_and_nothing_is_written_over(tmp_path: Path) -> None:
    (tmp_path / "mine.html").write_text("mine", encoding="utf-8")
    done = process("new", "--page", "mine.html", cwd=tmp_path)
    assert done.status == 2
    assert "mine.html is there already" in done.err
    assert (ROOT / "setuplint" / "pages" / "interview.js").is_file()
