"""A real browser, Debian's chromium, and pages in it that are opened again and again: a new one takes ten times as long."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Literal

import pytest
from playwright.sync_api import Browser, Page, Request, ViewportSize, sync_playwright

from tests.programs import program


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    found = program("chromium")
    with sync_playwright() as player:
        opened = player.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield opened
        opened.close()


KEPT = "Object.entries(localStorage).sort()"
PUT_AWAY = "(kept) => { localStorage.clear(); for (const [key, value] of kept) localStorage.setItem(key, value); }"


class KeptPage:
    """A page, and what went wrong in what it shows, or left it. A test that leaves more behind than what the page stores, or how
    it is shown, closes it, or keeps it apart."""

    def __init__(self, page: Page) -> None:
        self.page, self.url = page, "about:blank"
        self.said: list[str] = []
        page.on("console", lambda message: self.said.append(message.text))
        page.on("pageerror", lambda error: self.said.append(str(error)))
        page.on("request", self._asks)

    def _asks(self, request: Request) -> None:
        if request.url != self.url:
            self.said.append(request.url)

    def clear(self) -> None:
        if self.url != "about:blank":
            self.page.evaluate("localStorage.clear()")
        self.said = []

    def show(self, url: str) -> None:
        self.url = url
        self.page.goto(url)


_kept: dict[tuple[Browser, str, str], KeptPage] = {}


def kept_page(
    browser: Browser,
    *,
    apart: str = "",
    viewport: ViewportSize | None = None,
    color_scheme: Literal["light", "dark"] = "light",
    reduced_motion: Literal["reduce", "no-preference"] = "no-preference",
    **options: bool,
) -> KeptPage:
    """A page of a window of such options, in which nothing is shown or stored yet. `apart` names one that others do not use."""
    key = browser, apart, repr(sorted(options.items()))
    if key in _kept and not _kept[key].page.is_closed():
        _kept[key].clear()
    else:
        _kept[key] = KeptPage(browser.new_page(**options))  # type: ignore[arg-type]
    page = _kept[key].page
    page.set_viewport_size(viewport or {"width": 1280, "height": 720})
    page.emulate_media(media="null", color_scheme=color_scheme, reduced_motion=reduced_motion)
    return _kept[key]


def opened(browser: Browser, written: Path, text: str, **options: Any) -> tuple[Page, list[str]]:
    """The page, and what went wrong or left it."""
    written.write_text(text, encoding="utf-8")
    kept = kept_page(browser, **options)
    kept.show(written.as_uri())
    return kept.page, kept.said


def left_and_opened_again(page: Page) -> None:
    """A browser that gets no time loses what a page put away just before it was left, for good: a page of two lines shows it,
    however long one waits. It is put away again then; what a page itself forgets, or does not take up, stays so."""
    kept = page.evaluate(KEPT)
    for _ in range(5):
        page.reload()
        if page.evaluate(KEPT) == kept:
            return
        page.evaluate(PUT_AWAY, kept)
