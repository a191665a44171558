"""The card of `new --readings-page` in a browser: it asks for the same places as the command, and saves what was read."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

import setuplint
from setuplint.interview.readings import read_readings
from setuplint.interview.terms import decimal_text
from setuplint.pages.interview_page import readings_page
from setuplint.setup.model import Setup
from tests.browsers import kept_page, left_and_opened_again, opened
from tests.interview.read_examples import Place, outputs_at, planned, readings_file, switches_of

ROOT = Path(__file__).parent.parent.parent


def key_of(place: Place) -> str:
    words = [f"{name}={at}" for name, at in place[0].items()] + [f"{n}={decimal_text(x)}" for n, x in place[1].items()]
    return " ".join(words) or "rest"


def filled_in(setup: Setup, places: list[Place]) -> str:
    """What the page keeps on a device once everything was read."""
    reads = {key_of(p): {name: decimal_text(y) for name, y in outputs_at(setup, p).items()} for p in places}
    kept = {
        "craft": [["", setup.craft.rotor]],
        "switches": [[s.name, s.kind, ", ".join(s.positions), s.use] for s in switches_of(setup)],
        "channels": [[c.name, c.drives, str(c.number or "")] for c in setup.channels.values()],
        "reads": reads,
    }
    return json.dumps(kept)


@pytest.mark.quick(1)
@pytest.mark.parametrize("name", ["kestrel", "lapwing", "wren"])
def test_it_saves_what_the_command_takes(browser: Browser, tmp_path: Path, name: str) -> None:
    setup = setuplint.load(ROOT / "examples" / f"{name}.toml").model
    places = planned(setup)
    (tmp_path / "card.html").write_text(readings_page(), encoding="utf-8")
    kept = kept_page(browser)
    kept.show((tmp_path / "card.html").as_uri())
    page = kept.page
    page.evaluate("kept => localStorage.setItem('setuplint-readings', kept)", filled_in(setup, places))
    left_and_opened_again(page)
    assert page.locator("#state").inner_text() == f"{len(places)} of {len(places)} places are read."
    with page.expect_download() as download:
        page.get_by_role("button", name="Save the readings").click()
    download.value.save_as(tmp_path / "readings.toml")
    saved = read_readings((tmp_path / "readings.toml").read_text(encoding="utf-8"), "saved")
    expected = read_readings(readings_file(setup, places), "expected")
    assert (saved.switches, saved.channels, saved.places) == (expected.switches, expected.channels, expected.places)


def test_it_is_filled_in_by_hand_on_a_telephone(browser: Browser, tmp_path: Path) -> None:
    page, wrong = opened(browser, tmp_path / "card.html", readings_page(), viewport={"width": 360, "height": 740})
    assert page.locator("#state").inner_text() == "0 of 30 places are read.", "nine, and three for each of seven"
    for _ in range(2):
        page.locator("#switches button").first.click()
    assert page.locator("#state").inner_text() == "0 of 12 places are read."
    first = page.locator("#places fieldset").first
    assert first.locator("legend").inner_text() == (
        "1 of 12: all switches at rest; sticks at rest, the throttle at the bottom."
    )
    legends = page.locator("#places legend").all_inner_texts()
    assert all(words.count("throttle") <= 1 for words in legends), "a stick is at one place"
    assert legends[-1].endswith("idle-up; throttle at the top, aileron right, elevator forward, rudder right.")
    first.get_by_label("motor").fill("fast")
    assert first.get_by_label("motor").get_attribute("aria-invalid") == "true"
    for channel, reading in (
        ("motor", "0 of 100"),
        ("pitch", "-20 %"),
        ("roll", "1500 µs"),
        ("nose", "0"),
        ("tail", "0"),
    ):
        first.get_by_label(channel).fill(reading)
    assert page.locator("#state").inner_text() == "1 of 12 places are read."
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    left_and_opened_again(page)
    assert page.locator("#places fieldset").first.get_by_label("roll").input_value() == "1500 µs"
    assert wrong == []
