"""The bench card's page in a real browser: nothing leaves it, nothing of a file is obeyed, everyone can read and print it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

import setuplint
from setuplint.bench.stages import bench_card
from setuplint.pages.card_paper import card_paper
from setuplint.pages.card_text import card_text
from setuplint.pages.papers import paper_text
from tests.browsers import opened
from tests.report.test_page import HOSTILE, ROOT

EXAMPLES = [ROOT / "examples" / name for name in ("reference.toml", "lapwing.toml", "hazards/rescue-beats-hold.toml")]
_pages: dict[Path, str] = {}


def made(setup: setuplint.Setup, name: str, warning: str = "") -> str:
    card = bench_card(setup.model)
    return paper_text(card_paper(card_text(card, setup.texts.values, name, "2026-11-25", warning), card), "html")


def page_of(path: Path) -> str:
    if path not in _pages:
        _pages[path] = made(setuplint.load(path), path.name, "Lint of this file: 1 danger.")
    return _pages[path]


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_axe_finds_nothing_and_nothing_leaves_it(browser: Browser, written: Path, path: Path, scheme: str) -> None:
    page, said = opened(browser, written, page_of(path), color_scheme=scheme, bypass_csp=True)
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert said == []


@pytest.mark.slow
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_box_can_be_ticked_without_a_script(browser: Browser, written: Path, path: Path) -> None:
    page, said = opened(browser, written, page_of(path), java_script_enabled=False)
    boxes = page.get_by_role("checkbox", name=re.compile("Box")).all()
    assert len(boxes) == int(re.findall(r"(\d+) boxes", page.locator("header").inner_text())[0])
    for each in boxes:
        each.check()
    assert page.locator("input:checked").count() == len(boxes)
    assert not page.locator(".script:visible").count()
    assert page.get_by_label("to repeat after any change").count() == 10
    assert said == []


@pytest.mark.slow
@pytest.mark.parametrize("width", [320, 380, 1100])
def test_no_page_is_wider_than_its_window(browser: Browser, written: Path, width: int) -> None:
    page, _ = opened(browser, written, page_of(EXAMPLES[1]), viewport={"width": width, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.slow
def test_a_step_that_many_channels_show_is_said_once_on_a_telephone(browser: Browser, written: Path) -> None:
    """With what is heard, and a number of it beside each reading."""
    of = page_of(ROOT / "examples" / "heron.toml")
    page, _ = opened(browser, written, of, viewport={"width": 360, "height": 800})
    first, gone = (page.locator("article:has(.long)").nth(n).inner_text() for n in (0, 1))
    assert first.count("give the receiver its own supply") == 1
    assert "says “steady”" in first
    assert "1. Switch the transmitter off" in gone
    labels = "[...document.querySelectorAll('.long')][1].querySelectorAll('tbody td')"
    shown = page.evaluate(f"[...{labels}].map((each) => getComputedStyle(each, '::before').content)")
    assert shown == ['"1. "', '"2. "'] * 6


@pytest.mark.slow
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_it_prints_on_a4_and_nothing_is_cut_off(browser: Browser, written: Path, path: Path) -> None:
    page, _ = opened(browser, written, page_of(path), viewport={"width": 688, "height": 900})
    page.emulate_media(media="print")
    paper = "[...document.querySelectorAll('.wide')].filter(each => each.scrollWidth > each.clientWidth + 1).length"
    assert page.evaluate(paper) == 0  # 688 px is what is left of 210 mm between the margins
    end = "[...document.querySelectorAll('.end, .end > *')].map((each) => getComputedStyle(each).breakBefore)"
    assert set(page.evaluate(end)) == {"avoid"}  # so that no page has a signature alone
    pdf = page.pdf(prefer_css_page_size=True)
    boxes = re.findall(rb"/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]", pdf)
    assert {(round(float(w)), round(float(h))) for w, h in boxes} <= {(595, 842), (596, 842)}


@pytest.mark.slow
def test_what_a_file_says_is_text(browser: Browser, written: Path) -> None:
    name = "<u>x</u>.toml"
    setup = setuplint.load_text(HOSTILE, name)
    of = written_of(name)
    page, said = opened(browser, written, of)
    assert said == []
    assert page.locator("img, i, u").count() == 0
    assert page.locator("script").count() == 3  # the data, what is filled in, and the style for sunlight
    assert page.locator("h1").inner_text() == f"{setup.model.craft.name}: bench card"
    assert "\u202e" not in page.content()


def written_of(name: str) -> str:
    return made(setuplint.load_text(HOSTILE, name), name)
