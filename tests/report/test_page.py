"""The report's page in a real browser: nothing leaves it, nothing of a file is obeyed, everyone can read it."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

import setuplint
from setuplint.cli import main
from setuplint.pages.report import report_page
from tests import once
from tests.browsers import kept_page, opened

ROOT = Path(__file__).parent.parent.parent
EXAMPLES = [
    path for path in sorted((ROOT / "examples").glob("*.toml")) if "[craft]" in path.read_text(encoding="utf-8")
]
HAZARDS = sorted((ROOT / "examples" / "hazards").glob("*.toml"))
ASKED = [*EXAMPLES[:2], ROOT / "examples" / "reference.toml", *HAZARDS[::6]]
HOSTILE = """\
format = 1
[craft]
name = '</title><script>document.title="taken"</script><b x="x()">'
rotor = "fixed"
motor-off = -95
[switches.hold]
kind = "two-position"
place = "<img src=x onerror=document.title='taken'>"
[switches.save]
kind = "momentary"
positions = ["</script><script>document.title='taken'</script>", "&lt;i&gt;"]
[modes.normal]
voice = "\\u202Eevil"
[channels.motor]
drives = "motor"
from = "throttle"
[overrides.held]
channel = "motor"
value = 20
when = "hold is on"
[intent]
hold = "hold is on"
"""


@cache
def page_of(path: Path) -> str:
    return report_page(once.lint(path), setuplint.load(path).model)


@pytest.mark.quick(1)
@pytest.mark.parametrize("path", ASKED, ids=lambda path: path.stem)
def test_no_request_leaves_the_page_and_nothing_complains(browser: Browser, written: Path, path: Path) -> None:
    page, said = opened(browser, written, page_of(path))
    assert page.locator("#explorer").is_visible()
    assert said == []


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", ASKED[::2], ids=lambda path: path.stem)
def test_axe_finds_nothing(browser: Browser, written: Path, path: Path, scheme: str) -> None:
    """axe-core, contrast by WCAG 2.2 AA included."""
    page, _ = opened(browser, written, page_of(path), color_scheme=scheme, bypass_csp=True)
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def test_what_a_file_says_is_text(browser: Browser, written: Path) -> None:
    name = "<u>x</u>.toml"
    report, setup = setuplint.lint_text(HOSTILE, name), setuplint.load_text(HOSTILE, name)
    page, said = opened(browser, written, report_page(report, setup.model))
    assert said == []
    assert page.title().startswith("</title><script>document.title=")
    assert page.locator("h1").inner_text() == setup.model.craft.name
    assert page.locator("b, i, u, img").count() == 0
    assert page.locator("script").count() == 3  # the data, the explorer, and what keeps the style for sunlight
    assert "\u202e" not in page.content()


def test_the_policy_allows_the_pages_own_script_alone(browser: Browser, written: Path) -> None:
    text = page_of(HAZARDS[0]).replace("</main>", "<script>document.title = 'taken'</script></main>")
    page, said = opened(browser, written, text)
    assert page.title() != "taken"
    assert any("Content Security Policy" in each for each in said)


@pytest.mark.slow
def test_it_can_be_read_without_a_script(browser: Browser, written: Path) -> None:
    path = ROOT / "examples" / "hazards" / "rescue-beats-hold.toml"
    page, _ = opened(browser, written, page_of(path), java_script_enabled=False)
    assert page.locator(".finding h3").inner_text().startswith("DANGER")
    assert page.locator("#curves svg").count() > 0
    assert not page.locator("#explorer").is_visible()
    assert page.locator("button:visible").count() == 0


@pytest.mark.slow
@pytest.mark.parametrize("path", ASKED, ids=lambda path: path.stem)
def test_every_link_leads_somewhere(browser: Browser, written: Path, path: Path) -> None:
    page, _ = opened(browser, written, page_of(path), reduced_motion="reduce")
    targets = page.eval_on_selector_all("a", "links => links.map(link => link.getAttribute('href') || '')")
    assert targets
    for target in dict.fromkeys(targets):
        assert target.startswith("#")
        page.locator(f"a[href='{target}']").first.click()
        assert page.locator(target).count() == 1
        assert page.locator(target).is_visible()


@pytest.mark.slow
def test_it_prints_on_a4_without_what_only_a_screen_can_do(browser: Browser, written: Path) -> None:
    page, _ = opened(browser, written, page_of(ROOT / "examples" / "hazards" / "rescue-beats-hold.toml"))
    page.emulate_media(media="print")
    assert page.locator("button:visible").count() == 0
    assert not page.locator("nav").is_visible()
    pdf = page.pdf(prefer_css_page_size=True)
    boxes = re.findall(rb"/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]", pdf)
    assert boxes
    assert {(round(float(w)), round(float(h))) for w, h in boxes} <= {(595, 842), (596, 842)}


@pytest.mark.slow
def test_several_set_ups_have_an_index(browser: Browser, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert main(["report", str(EXAMPLES[0]), str(HAZARDS[0]), "--out", str(out)]) == 0
    kept = kept_page(browser)
    kept.show((out / "index.html").as_uri())
    page = kept.page
    links = [link.get_attribute("href") for link in page.locator("td a, th a").all()]
    assert len(links) == 2
    assert all((out / str(link)).is_file() for link in links)


@pytest.mark.parametrize(
    "words", [["no.toml"], [str(EXAMPLES[0]), str(HAZARDS[0])], [str(ROOT / "setuplint"), "--out", "x"]]
)
def test_what_cannot_be_reported(words: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["report", *words]) == 2
    assert list(tmp_path.iterdir()) == []
