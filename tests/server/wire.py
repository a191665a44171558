"""A server of its own, and messages by hand."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

from .conftest import COMMAND, ROOT


class Wire:
    """The server as a process."""

    def __init__(self, *, start: bool = True, **options: Any) -> None:
        self.process = subprocess.Popen(
            COMMAND, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT, **options
        )
        self.passed: dict[Any, dict[str, Any]] = {}  # answers that came before one that was waited for, by their ids
        if start:
            self.start()

    def start(self, capabilities: Any = None, root: Path | None = None) -> dict[str, Any]:
        """What it says of itself."""
        uri = None if root is None else root.as_uri()
        asked = {"processId": None, "rootUri": uri, "capabilities": capabilities or {}}
        found = self.request("initialize", asked)
        self.notify("initialized", {})
        return found

    def raw(self, *bodies: bytes, head: bytes = b"Content-Length: ") -> None:
        """Messages, all at once."""
        assert self.process.stdin is not None
        self.process.stdin.write(b"".join(b"%b%d\r\n\r\n%b" % (head, len(body), body) for body in bodies))
        self.process.stdin.flush()

    def notify(self, method: str, params: Any) -> None:
        self.raw(json.dumps({"jsonrpc": "2.0", "method": method, "params": params}).encode())

    def request(self, method: str, params: Any, number: int = 1) -> dict[str, Any]:
        self.passed.pop(number, None)
        self.ask(method, params, number)
        return self.answer(number)

    def ask(self, method: str, params: Any, number: int) -> None:
        self.raw(json.dumps({"jsonrpc": "2.0", "id": number, "method": method, "params": params}).encode())

    def answer(self, number: int) -> dict[str, Any]:
        """Of requests that are given up, the later may be answered first."""
        while number not in self.passed:
            found = self.receive()
            if "method" not in found:
                self.passed[found.get("id")] = found
        return self.passed.pop(number)

    def receive(self) -> dict[str, Any]:
        assert self.process.stdout is not None
        size = 0
        while (line := self.process.stdout.readline()).strip():
            if line.lower().startswith(b"content-length:"):
                size = int(line.split(b":")[1])
        found: dict[str, Any] = json.loads(self.process.stdout.read(size))
        return found

    def open(self, text: str, uri: str = "file:///tmp/none/wagtail.toml") -> dict[str, Any]:
        item = {"uri": uri, "languageId": "toml", "version": 1, "text": text}
        self.notify("textDocument/didOpen", {"textDocument": item})
        while (found := self.receive()).get("method") != "textDocument/publishDiagnostics":
            pass
        params: dict[str, Any] = found["params"]
        return params

    def end(self, *, properly: bool = True) -> tuple[int, bytes]:
        """Its status, and what it wrote to standard error; standard input stays open until it has ended."""
        if properly:
            self.request("shutdown", None, 999)
        self.notify("exit", None)
        status = self.process.wait(timeout=120)
        assert self.process.stderr is not None
        return status, self.process.stderr.read()
