"""A real editor, code-server, with the extension in it, in a browser."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, FrameLocator, Locator, Page, TimeoutError

from tests.programs import code_server

PATIENCE = 60_000  # milliseconds: the machine may be busy
QUIET = {
    "security.workspace.trust.startupPrompt": "never",
    "telemetry.telemetryLevel": "off",
    "update.mode": "none",
    "workbench.startupEditor": "none",
    "workbench.tips.enabled": False,
}


class Editor:
    """One that runs on `folder`, with what is installed in `extensions`. `started` names the servers that were run in it, by
    their programs."""

    def __init__(self, home: Path, folder: Path, extensions: Path) -> None:
        self.home, self.folder = home, folder
        self.log = home / "started"
        self.command = [*code_server(), "--config", str(home / "none.yaml"), "--user-data-dir", str(home / "data")]
        self.command += ["--extensions-dir", str(extensions), "--disable-telemetry", "--disable-update-check"]
        self.command += ["--auth", "none"]
        self.environment = {k: v for k, v in os.environ.items() if k not in ("PORT", "VSCODE_IPC_HOOK_CLI")}
        self.environment["EXTENSIONS_GALLERY"] = '{"serviceUrl": ""}'  # nothing is asked for elsewhere

    def install(self, package: Path) -> None:
        given = [*self.command, "--install-extension", str(package)]
        done = subprocess.run(given, env=self.environment, capture_output=True, text=True, timeout=120)
        assert "successfully installed" in done.stdout, done.stdout + done.stderr

    def program(self, path: Path, command: list[str]) -> Path:
        """A server at that path, which puts its name into the log and then is `command`."""
        path.parent.mkdir(parents=True, exist_ok=True)
        words = " ".join(f"'{word}'" for word in command)
        path.write_text(f"#!/bin/sh\necho {path} >> {self.log}\nexec {words}\n", encoding="utf-8")
        path.chmod(0o755)
        return path

    def settings(self, **given: Any) -> None:
        """Of the machine that it runs on: where a program lies is taken from there alone, and from the user's own settings only
        by a window that has not yet heard which settings are a machine's."""
        for place, values in (("User", QUIET), ("Machine", given)):
            path = self.home / "data" / place / "settings.json"
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(json.dumps(values), encoding="utf-8")

    @property
    def started(self) -> list[str]:
        return self.log.read_text(encoding="utf-8").splitlines() if self.log.exists() else []

    @contextmanager
    def opened(self, browser: Browser, *, trusted: bool) -> Iterator[Workbench]:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            address = f"127.0.0.1:{free.getsockname()[1]}"
        run = [*self.command, "--bind-addr", address, *(["--disable-workspace-trust"] if trusted else [])]
        with (self.home / "server.log").open("wb") as log:
            process = subprocess.Popen(run, env=self.environment, stdout=log, stderr=log, start_new_session=True)
        try:
            wait_until(lambda: answers(f"http://{address}/healthz"))
            page = browser.new_page(viewport={"width": 1700, "height": 950})
            page.set_default_timeout(PATIENCE)
            page.goto(f"http://{address}/?folder={self.folder}")
            try:
                yield Workbench(page)
            except Exception as error:
                error.add_note(f"servers started: {self.started}; on the screen:\n{page.inner_text('body')}")
                raise
            page.close()
        finally:
            os.killpg(process.pid, signal.SIGTERM)
            process.wait()


def wait_until(holds: Callable[[], bool]) -> None:
    until = time.monotonic() + PATIENCE / 1000
    while not holds():
        assert time.monotonic() < until
        time.sleep(0.2)


def shown(what: Locator) -> bool:
    """In a few seconds."""
    try:
        what.wait_for(timeout=PATIENCE / 20)
    except TimeoutError:
        return False
    return True


def answers(address: str) -> bool:
    try:
        urllib.request.urlopen(address, timeout=5)
    except OSError:
        return False
    return True


class Workbench:
    """What a person does in it."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.text = page.locator(".editor-instance .view-lines").first

    def open(self, name: str) -> None:
        self.page.get_by_role("treeitem", name=name).dblclick()
        self.page.locator(f".tab.active[data-resource-name='{name}']").wait_for()
        self.text.wait_for()

    def go_to(self, line: int, column: int) -> None:
        """A page that was pressed before may take the focus after the text has it: there is no line to go to then."""
        there = self.status(re.compile(rf"^Ln {line}, Col {column}$"))
        asked = self.page.locator(".quick-input-widget input")
        for _ in range(20):
            self.text.click()
            self.page.keyboard.press("Control+g")
            asked.fill(f":{line}:{column}")
            asked.press("Enter")
            if shown(there):
                return
            self.page.keyboard.press("Escape")
        raise AssertionError(f"it does not go to line {line}, column {column}")

    def command(self, title: str) -> None:
        self.page.keyboard.press("F1")
        self.page.locator(".quick-input-widget input").wait_for()
        self.page.keyboard.type(title)
        self.page.locator(".quick-input-list-entry", has_text=title).first.click()

    def lens(self, words: str) -> Locator:
        return self.page.locator(".codelens-decoration a", has_text=words)

    def press_until(self, button: Locator, holds: Callable[[], bool]) -> None:
        """The editor draws its lenses anew now and then: a press between down and up is then lost, as a person's is."""
        for _ in range(4):
            button.click()
            until = time.monotonic() + PATIENCE / 4000
            while not holds() and time.monotonic() < until:
                self.page.wait_for_timeout(100)
            if holds():
                return

    def status(self, words: str | re.Pattern[str]) -> Locator:
        return self.page.locator(".statusbar-item", has_text=words)

    def wait_for_words_behind(self, words: str) -> None:
        """Of a line: they are no text, but content of its style."""
        script = """words => [...document.querySelectorAll('.view-line span')].some(each =>
            getComputedStyle(each, '::after').content.replaceAll('\\u00a0', ' ').includes(words))"""
        self.page.wait_for_function(script, arg=words)

    def beside(self) -> FrameLocator:
        """The page that is shown beside the text."""
        return self.page.frame_locator("iframe.webview.ready").last.frame_locator("#active-frame")
