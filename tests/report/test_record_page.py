"""What is filled in on a sheet and a card: by touch on a telephone, kept on the device, cleared, and given out as a record."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page

import setuplint
from setuplint.bench.stages import bench_card
from setuplint.book.record_file import read_record
from setuplint.pages.papers import paper_text
from setuplint.pages.sheet import sheet_paper, whole_sheet
from setuplint.setup.fingerprint import fingerprint
from tests.browsers import left_and_opened_again, opened
from tests.report.test_card_page import made as card_page
from tests.report.test_everyone import SCROLLED
from tests.report.test_page import ROOT, page_of

REFERENCE = ROOT / "examples" / "reference.toml"
BEATEN = ROOT / "examples" / "hazards" / "rescue-beats-hold.toml"
SETUP = setuplint.load(REFERENCE)
STEPS = bench_card(SETUP.model).steps
BOXES = len(STEPS)
ENDS = next(
    step.number for step in STEPS if step.key == "ends" and step.subject == "aileron"
)  # its second row is +100 %
PHONE: dict[str, Any] = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}
KEPT = "document.getElementById('count').textContent"


@cache
def card() -> str:
    return card_page(SETUP, "club/reference.toml")


@cache
def sheet() -> str:
    of = whole_sheet(SETUP.model, "club/reference.toml", "2026-11-25")
    return paper_text(sheet_paper(of, SETUP.model), "html")


def page_in(context: BrowserContext, path: Path, text: str) -> Page:
    path.write_text(text, encoding="utf-8")
    page = context.new_page()
    page.goto(path.as_uri())
    return page


def record_of(page: Page) -> Any:
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save it as a file").tap()
    assert saved.value.suggested_filename == "reference.record.json"
    return json.loads(saved.value.path().read_text(encoding="utf-8"))


def test_what_is_filled_in_by_touch_stays_and_comes_out_as_a_record(browser: Browser, tmp_path: Path) -> None:
    context = browser.new_context(**PHONE)
    page = page_in(context, tmp_path / "card.html", card())
    first, later, roll = "Box 1 done", f"Box {ENDS + 1} done", f"roll, line 2 of box {ENDS}: reads"
    page.get_by_label(first, exact=True).tap()
    page.get_by_label(later).tap()
    page.get_by_label(later).tap()
    page.get_by_role("button", name=f"otherwise in box {ENDS}").tap()
    page.get_by_label(f"Box {ENDS} done").tap()
    page.get_by_label(roll).fill("-58.5")  # which takes the tick away
    page.locator("[data-measured='craft.hover-throttle']").fill("18")
    page.get_by_label("Checked by").fill("Ana <b>")
    page.get_by_label("On", exact=True).fill("2026-11-28")
    assert page.evaluate(KEPT) == f"1 of {BOXES} ticked, kept on this device"
    left_and_opened_again(page)
    assert page.get_by_label(first, exact=True).is_checked()
    assert page.get_by_label(roll).input_value() == "-58.5"

    read_back = page_in(context, tmp_path / "sheet.html", sheet())  # the same setup: one record
    read_back.get_by_label("Channels, motor: reads as here").tap()
    read_back.get_by_label("Flight modes, 2. idle-up: reads otherwise").fill("no voice")
    told = record_of(read_back)
    read_back.close()
    assert told["sheet"] == [
        {"row": "channels/motor", "done": True, "read": ""},
        {"row": "modes/2. idle-up", "done": False, "read": "no voice"},
    ]
    assert [(box["box"], box["done"], box["readings"]) for box in told["boxes"]] == [
        (1, True, []),
        (ENDS, False, [{"row": 2, "channel": "roll", "read": -58.5}]),
    ]
    assert told["measured"] == {"craft.hover-throttle": 18}
    check = setuplint.check_record(SETUP, read_record(json.dumps(told).encode(), "x.record.json"))
    assert (check.proved, check.unknown, [each.agrees for each in check.differing]) == ((1,), (), [False])
    assert (told["record"], told["by"], told["on"], told["scale"]) == (1, "Ana <b>", "2026-11-28", "percent")
    assert (told["craft"], told["fingerprint"]) == ("Wagtail 470", fingerprint(SETUP.model))

    left_and_opened_again(page)
    assert record_of(page) == told
    clear = page.locator("#clear")
    clear.tap()
    assert page.get_by_label(first, exact=True).is_checked()  # one press is a thumb's mistake
    clear.tap()
    assert not page.get_by_label(first, exact=True).is_checked()
    left_and_opened_again(page)
    assert page.evaluate(KEPT) == f"0 of {BOXES} ticked, kept on this device"
    assert (record_of(page)["boxes"], record_of(page)["measured"]) == ([], {})
    context.close()


@pytest.mark.slow
@pytest.mark.parametrize("made", [sheet, card], ids=["sheet", "card"])
def test_what_is_typed_is_not_cut_off(browser: Browser, written: Path, made: Callable[[], str]) -> None:
    page, _ = opened(browser, written, made())
    sizes = """(kind) => [...document.querySelectorAll(`input.blank${kind}`)].map((each) =>
      [each.clientHeight, each.clientWidth].map((size) => size / parseFloat(getComputedStyle(each).fontSize)))"""
    assert min(tall for tall, _ in page.evaluate(sizes, "")) >= 1.5
    assert min(wide for _, wide in page.evaluate(sizes, "[type=date]")) >= 9


@pytest.mark.slow
@pytest.mark.parametrize(("made", "bar"), [("sheet", ".kept"), ("card", ".kept"), ("report", ".live")])
def test_what_the_keyboard_reaches_is_not_under_a_bar(browser: Browser, written: Path, made: str, bar: str) -> None:
    """WCAG 2.4.11: of what has the focus, something is seen."""
    text = {"sheet": sheet, "card": card, "report": lambda: page_of(BEATEN)}[made]()
    window: Any = {"width": 360, "height": 740}
    page, _ = opened(browser, written, text, viewport=window, has_touch=True, reduced_motion="reduce")
    hidden = """(bar) => { const here = document.activeElement.getBoundingClientRect();
      const under = here.top >= document.querySelector(bar).getBoundingClientRect().top;
      return under && document.activeElement.tagName === "INPUT"; }"""
    seen = []
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate(hidden, bar):
            seen.append(page.evaluate("document.activeElement.outerHTML"))
    assert seen == []


@pytest.mark.slow
def test_the_text_can_be_copied_where_no_page_may(browser: Browser, tmp_path: Path) -> None:
    context = browser.new_context(**PHONE)
    context.add_init_script("Object.defineProperty(navigator, 'clipboard', { value: undefined })")
    page = page_in(context, tmp_path / "card.html", card())
    page.get_by_label("Box 1 done", exact=True).tap()
    page.get_by_role("button", name="Copy it").tap()
    marked = page.evaluate(
        "document.getElementById('text').value.slice(document.getElementById('text').selectionStart)"
    )
    assert [box["box"] for box in json.loads(marked)["boxes"]] == [1]
    assert "the text is marked below" in page.locator("#said").inner_text()
    context.close()


@pytest.mark.slow
def test_a_browser_that_keeps_nothing_says_so(browser: Browser, tmp_path: Path) -> None:
    context = browser.new_context(**PHONE)
    context.add_init_script("Object.defineProperty(window, 'localStorage', { get() { throw new Error('no'); } })")
    page = page_in(context, tmp_path / "card.html", card())
    page.get_by_label("Box 1 done", exact=True).tap()
    assert page.evaluate(KEPT).startswith(f"1 of {BOXES} ticked; NOT KEPT")
    assert [box["box"] for box in record_of(page)["boxes"]] == [1]
    context.close()


@pytest.mark.slow
@pytest.mark.parametrize("style", ["light", "dark", "sunlight"])
@pytest.mark.parametrize("width", [360, 800, 1280])
@pytest.mark.parametrize("made", ["sheet", "card", "report"])
def test_every_page_in_every_style_at_every_width(
    browser: Browser, written: Path, made: str, width: int, style: str
) -> None:
    """axe finds nothing, nothing scrolls sideways on a telephone, and what a thumb meets there is large enough."""
    text = {"sheet": sheet, "card": card, "report": lambda: page_of(BEATEN)}[made]()
    scheme: Any = "dark" if style == "dark" else "light"
    window = {"width": width, "height": 800}
    page, _ = opened(
        browser, written, text, viewport=window, has_touch=width == 360, color_scheme=scheme, bypass_csp=True
    )
    if style == "sunlight":
        page.get_by_label("High contrast").check()
        left_and_opened_again(page)
        assert page.get_by_label("High contrast").is_checked()
    if made == "card":
        page.get_by_role("button", name="otherwise in box").first.click()
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    if width == 360:
        assert page.evaluate(SCROLLED) == []
        small = "each => each.offsetParent && Math.min(each.offsetHeight, each.offsetWidth) < 24"  # WCAG 2.5.8
        assert page.evaluate(f"[...document.querySelectorAll('button, input, select')].filter({small}).length") == 0
