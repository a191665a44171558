"""The server as an editor runs it: one process for all tests, asked over the wire, with positions in either encoding."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import AsyncIterator, Sequence
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio
import pytest_lsp
from lsprotocol import types as lsp
from pytest_lsp import ClientServerConfig, LanguageClient, client_capabilities

ROOT = Path(__file__).parent.parent.parent
REFERENCE = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")
NOWHERE = ROOT / "docs"  # a workspace without setups
GRAVE = REFERENCE.replace("priority = 100", "priority = 10")
REFRESHED = [
    lsp.WORKSPACE_CODE_LENS_REFRESH,
    lsp.WORKSPACE_INLAY_HINT_REFRESH,
    lsp.WORKSPACE_SEMANTIC_TOKENS_REFRESH,
]
COMMAND = [sys.executable, "-m", "setuplint", "serve"]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What is not as the protocol has it fails."""
    for item in items:
        if item.nodeid.startswith("tests/server/"):
            item.add_marker(pytest.mark.filterwarnings("error::pytest_lsp.LspSpecificationWarning"))


class Client(LanguageClient):
    """Keeps what is published with its version, and chooses from messages what it was told to."""

    def __init__(self) -> None:
        super().__init__()
        self.units = "utf-16"
        self.published: dict[str, lsp.PublishDiagnosticsParams] = {}
        self.status: dict[str, tuple[Any, ...]] = {}
        self.history: list[lsp.PublishDiagnosticsParams] = []
        self.registered: list[str] = []
        self.refreshed: list[str] = []
        self.chooses: list[str] = []
        self.asked: list[lsp.ShowMessageRequestParams] = []


def client() -> Client:
    made = Client()

    @made.feature(lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)
    def published(params: lsp.PublishDiagnosticsParams) -> None:
        made.published[params.uri] = params
        made.history.append(params)

    @made.feature("$/setuplint/status")
    def status(params: Any) -> None:
        made.status[params.uri] = tuple(params)[
            2:6
        ]  # text, found, not-judged and not-decided: pygls gives these no names

    @made.feature(lsp.CLIENT_REGISTER_CAPABILITY)
    def registered(params: lsp.RegistrationParams) -> None:
        made.registered += [each.method for each in params.registrations]

    @made.feature(lsp.WINDOW_WORK_DONE_PROGRESS_CREATE)
    def shows_progress(params: lsp.WorkDoneProgressCreateParams) -> None:
        pass

    def refreshed(method: str) -> None:
        made.feature(method)(lambda *_: made.refreshed.append(method))

    for method in REFRESHED:
        refreshed(method)

    @made.feature(lsp.WINDOW_LOG_MESSAGE)
    def logged(params: lsp.LogMessageParams) -> None:
        made.log_messages.append(params)

    @made.feature(lsp.WINDOW_SHOW_MESSAGE_REQUEST)
    def asked(params: lsp.ShowMessageRequestParams) -> lsp.MessageActionItem | None:
        made.asked.append(params)
        return lsp.MessageActionItem(made.chooses.pop(0)) if made.chooses else None

    return made


SERVER = ClientServerConfig(server_command=COMMAND, client_factory=client)


async def started(client: Client, encoding: str) -> lsp.InitializeResult:
    capabilities = client_capabilities("visual-studio-code")
    assert capabilities.general is not None
    capabilities.general.position_encodings = [encoding]
    assert capabilities.workspace is not None
    capabilities.workspace.inlay_hint = lsp.InlayHintWorkspaceClientCapabilities(refresh_support=True)
    client.units = encoding
    found = await client.initialize_session(lsp.InitializeParams(capabilities, root_uri=NOWHERE.as_uri()))
    assert found.capabilities.position_encoding == encoding
    return found


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Positions are in UTF-16; in UTF-8 too where a module says so. (test_cursor has all of the arithmetic.)"""
    if "server" in metafunc.fixturenames:
        wide = [pytest.param("utf-8", marks=pytest.mark.slow)] if hasattr(metafunc.module, "UTF_8_TOO") else []
        metafunc.parametrize("server", ["utf-16", *wide], indirect=True, scope="session")


@pytest_lsp.fixture(config=SERVER, scope="session")
async def server(request: pytest.FixtureRequest, lsp_client: LanguageClient) -> AsyncIterator[None]:
    assert isinstance(lsp_client, Client)
    await started(lsp_client, request.param)
    yield
    await lsp_client.shutdown_session()


class Editor:
    """One file in an editor."""

    def __init__(self, client: Client, path: Path) -> None:
        self.client, self.path = client, path
        self.uri = path.as_uri()
        self.version = 0
        self.text = ""

    @property
    def id(self) -> lsp.TextDocumentIdentifier:
        return lsp.TextDocumentIdentifier(self.uri)

    def open(self, text: str, *, save: bool = False) -> None:
        if save:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self.path.write_text(text, encoding="utf-8")
        self.text, self.version = text, 1
        self.client.text_document_did_open(
            lsp.DidOpenTextDocumentParams(lsp.TextDocumentItem(self.uri, "toml", 1, text))
        )

    def close(self) -> None:
        self.client.text_document_did_close(lsp.DidCloseTextDocumentParams(self.id))

    def save(self) -> None:
        self.path.write_text(self.text, encoding="utf-8")
        self.client.text_document_did_save(lsp.DidSaveTextDocumentParams(self.id))

    def write(self, text: str) -> None:
        """The whole text at once."""
        self.text = text
        self.change(lsp.TextDocumentContentChangeWholeDocument(text))

    def replace(self, old: str, new: str) -> None:
        """The first of some words, as a change of just these."""
        start = self.text.index(old)
        place = lsp.Range(self.position(start), self.position(start + len(old)))
        self.text = self.text[:start] + new + self.text[start + len(old) :]
        self.change(lsp.TextDocumentContentChangePartial(place, new))

    def change(self, *changes: Any) -> None:
        self.version += 1
        item = lsp.VersionedTextDocumentIdentifier(self.version, self.uri)
        self.client.text_document_did_change(lsp.DidChangeTextDocumentParams(item, list(changes)))

    async def told(self) -> list[lsp.Diagnostic]:
        """What is told of the newest version."""
        for _ in range(3000):
            found = self.client.published.get(self.uri)
            if found is not None and found.version == self.version:
                return list(found.diagnostics)
            await asyncio.sleep(0.01)
        raise AssertionError(f"nothing was told of version {self.version}")

    async def rules(self) -> list[str]:
        return [str(each.code) for each in await self.told()]

    async def settles(self, rules: Sequence[str]) -> None:
        """Until just these rules speak: what is told of a broken text is judged again after a pause."""
        for _ in range(500):
            if await self.rules() == list(rules):
                return
            await asyncio.sleep(0.02)
        raise AssertionError(f"{await self.rules()}, not {list(rules)}")

    def position(self, offset: int) -> lsp.Position:
        before = self.text[:offset]
        row = before.rpartition("\n")[2]
        return lsp.Position(before.count("\n"), size(row, self.client.units))

    def at(self, words: str, inside: int = 0) -> lsp.Position:
        """The position of the first of some words."""
        return self.position(self.text.index(words) + inside)

    def offset(self, position: lsp.Position) -> int:
        rows = self.text.split("\n")
        return sum(len(row) + 1 for row in rows[: position.line]) + len(
            cut(rows[position.line], position.character, self.client.units)
        )

    def marked(self, place: lsp.Range) -> str:
        """The text of a range."""
        return self.text[self.offset(place.start) : self.offset(place.end)]

    def put(self, edits: Sequence[Any]) -> str:
        """The text with edits, as an editor makes them."""
        text = self.text
        for edit in sorted(edits, key=lambda each: -self.offset(each.range.start)):
            text = text[: self.offset(edit.range.start)] + edit.new_text + text[self.offset(edit.range.end) :]
        return text


def size(row: str, units: str) -> int:
    return len(row.encode("utf-16-le")) // 2 if units == "utf-16" else len(row.encode())


def cut(row: str, count: int, units: str) -> str:
    """The first characters of a row; an error where that is inside of one."""
    return (
        row.encode("utf-16-le")[: count * 2].decode("utf-16-le") if units == "utf-16" else row.encode()[:count].decode()
    )


@pytest_asyncio.fixture(loop_scope="session")
async def editor(server: Client, tmp_path: Path) -> AsyncIterator[Editor]:
    """A file that is not on the disk until it is saved."""
    made = Editor(server, tmp_path / "wagtail.toml")
    yield made
    made.close()
