"""What an editor should not do, and what it may: the server neither dies nor lies, and keeps quiet."""

from __future__ import annotations

import asyncio
import json
import random
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from lsprotocol import types as lsp

import setuplint
from setuplint.server.parsed import ParsedText

from .conftest import GRAVE, REFERENCE, ROOT, Editor
from .wire import Wire

over_the_wire = pytest.mark.asyncio(loop_scope="session")
UTF_8_TOO = True
CLAIM = REFERENCE + '\n[[claims]]\nnever = "hold called and motor runs"\nbecause = "of the blades"\n'
PIECES = [
    "a",
    "\n",
    '"',
    "🚁",
    "é",
    "= 1",
    "[x]",
    "",
    "hold",
    "\t",
    "# c",
    "\r\n",
    "\u2028",
    "}",
    "[[claims]]\n",
    "'''",
    "\\",
    "and ",
]


@pytest.mark.slow
@over_the_wire
@pytest.mark.parametrize("seed", [7, 8])
async def test_two_thousand_random_edits(editor: Editor, seed: int) -> None:
    """At random places, many at once, with characters beyond ASCII: then the text is what the edits make of it. Told from then
    on is what a lint says of that very text."""
    chance = random.Random(seed)
    text = REFERENCE.replace('voice = "normal"', 'voice = "🚁 ünd" # 𝔵')
    editor.open(text)
    for _ in range(100):
        changes: list[Any] = []
        for _ in range(20):
            start = chance.randrange(len(text) + 1)
            end = min(len(text), start + chance.choice([0, 0, 0, 1, 2, 5, 40]))
            if text[start - 1 : start + 1] == "\r\n" or text[end - 1 : end + 1] == "\r\n":
                continue  # no editor's cursor stands within a line end
            piece = chance.choice(PIECES)
            where = lsp.Range(place(editor, text, start), place(editor, text, end))
            changes.append(lsp.TextDocumentContentChangePartial(where, piece))
            text = text[:start] + piece + text[end:]
        editor.change(*changes)
        if chance.random() < 0.2:
            at = place(editor, text, chance.randrange(len(text) + 1))
            await editor.client.text_document_hover_async(lsp.HoverParams(editor.id, at))
            await editor.client.text_document_completion_async(lsp.CompletionParams(editor.id, at))
            await editor.client.text_document_semantic_tokens_full_async(lsp.SemanticTokensParams(editor.id))
            await editor.client.text_document_document_symbol_async(lsp.DocumentSymbolParams(editor.id))
    editor.text = text
    await editor.told()
    editor.close()
    editor.version += 1
    again = Editor(editor.client, editor.path)
    again.open(text)  # the text as we have it, told again: the same as of the text that the server has made
    first = await again.told()
    said = {x.rule for x in setuplint.lint_text(text).findings} if ParsedText(text, "x").is_setup else set()
    assert {str(each.code) for each in first} == said
    again.write(REFERENCE)
    assert await again.told() == []


def place(editor: Editor, text: str, offset: int) -> lsp.Position:
    """A position as LSP has lines: they end with \\n, \\r\\n or \\r."""
    rows = text[:offset].replace("\r\n", "\n").replace("\r", "\n").split("\n")
    units = len(rows[-1].encode("utf-16-le")) // 2 if editor.client.units == "utf-16" else len(rows[-1].encode())
    return lsp.Position(len(rows) - 1, units)


@over_the_wire
async def test_edits_in_parts_come_to_the_text_that_is_meant(editor: Editor) -> None:
    """A hazard is put together out of edits beside characters of two units, in one change."""
    editor.open(REFERENCE.replace("[overrides.held]", "# 🚁🚁 é\n[overrides.held]"))
    await editor.told()
    at = editor.at("priority = 100", len("priority = 1"))
    line = editor.at("# 🚁🚁 é", 4)
    editor.change(
        lsp.TextDocumentContentChangePartial(lsp.Range(line, line), "\u2028x\n# "),
        lsp.TextDocumentContentChangePartial(
            lsp.Range(lsp.Position(at.line + 1, at.character), lsp.Position(at.line + 1, at.character + 1)), ""
        ),
    )
    assert await editor.rules() == ["hold-bypassed"]


@over_the_wire
async def test_versions_may_do_what_they_like(editor: Editor) -> None:
    editor.open(REFERENCE)
    await editor.told()
    for version, text, rules in ((-5, GRAVE, ["hold-bypassed"]), (-5, REFERENCE, []), (3, GRAVE, ["hold-bypassed"])):
        editor.version = version - 1
        count = len(editor.client.history)
        editor.write(text)
        for _ in range(500):
            if any(p.uri == editor.uri for p in editor.client.history[count:]):
                break
            await asyncio.sleep(0.01)
        assert await editor.rules() == rules


@over_the_wire
async def test_files_that_vanish(editor: Editor) -> None:
    folder = editor.path.parent
    (folder / "radio.toml").write_text('[switches.hold]\nkind = "two-position"\n')
    own = '[switches.hold]\nkind = "two-position"\npositions = ["off", "on"]\n'
    editor.open(REFERENCE.replace("format = 1\n", 'format = 1\nextends = "radio.toml"\n').replace(own, ""), save=True)
    assert await editor.told() == []
    (folder / "radio.toml").unlink()
    editor.path.unlink()
    folder.rmdir()
    editor.replace('voice = "normal"', 'voice = "calm"')
    assert [x.message for x in await editor.told() if x.code == "not-a-setup"]
    params = lsp.DidChangeWatchedFilesParams([lsp.FileEvent(editor.uri, lsp.FileChangeType.Deleted)])
    editor.client.workspace_did_change_watched_files(params)
    editor.write(REFERENCE)
    assert await editor.told() == []


@over_the_wire
async def test_what_is_not_open_is_not_told_of(editor: Editor) -> None:
    other = lsp.TextDocumentIdentifier("file:///nowhere/at-all.toml")
    start = lsp.Position(0, 0)
    client = editor.client
    assert await client.text_document_hover_async(lsp.HoverParams(other, start)) is None
    assert not await client.text_document_definition_async(lsp.DefinitionParams(other, start))
    assert not await client.text_document_code_lens_async(lsp.CodeLensParams(other))
    assert not await client.text_document_document_symbol_async(lsp.DocumentSymbolParams(other))
    change = lsp.TextDocumentContentChangeWholeDocument("x")
    item = lsp.VersionedTextDocumentIdentifier(1, other.uri)
    client.text_document_did_change(lsp.DidChangeTextDocumentParams(item, [change]))
    client.text_document_did_close(lsp.DidCloseTextDocumentParams(other))
    editor.open(GRAVE)
    assert await editor.rules() == ["hold-bypassed"]
    editor.client.published.clear()
    editor.open(REFERENCE)  # again, without a close
    assert await editor.told() == []


@over_the_wire
async def test_a_text_without_a_file(editor: Editor) -> None:
    client = editor.client
    uri = "untitled:Untitled-1"
    client.text_document_did_open(lsp.DidOpenTextDocumentParams(lsp.TextDocumentItem(uri, "toml", 1, GRAVE)))
    for _ in range(500):
        if uri in client.published:
            break
        await asyncio.sleep(0.01)
    assert [each.code for each in client.published[uri].diagnostics] == ["hold-bypassed"]
    at = lsp.Position(0, 2)
    assert await client.text_document_hover_async(lsp.HoverParams(lsp.TextDocumentIdentifier(uri), at)) is not None
    client.text_document_did_close(lsp.DidCloseTextDocumentParams(lsp.TextDocumentIdentifier(uri)))


@over_the_wire
async def test_places_that_are_none(editor: Editor) -> None:
    editor.open(REFERENCE)
    for line, character in ((99_999, 99_999), (3, 99_999), (99_999, 0)):
        at = lsp.Position(line, character)
        where = lsp.Range(at, lsp.Position(line + 5, 0))
        client = editor.client
        await client.text_document_hover_async(lsp.HoverParams(editor.id, at))
        await client.text_document_completion_async(lsp.CompletionParams(editor.id, at))
        await client.text_document_definition_async(lsp.DefinitionParams(editor.id, at))
        await client.text_document_code_action_async(lsp.CodeActionParams(editor.id, where, lsp.CodeActionContext([])))
        await client.text_document_inlay_hint_async(lsp.InlayHintParams(editor.id, where))
    end = lsp.Position(99_999, 0)
    editor.change(lsp.TextDocumentContentChangePartial(lsp.Range(end, end), "\n# at the end\n"))
    assert await editor.told() == []


@over_the_wire
async def test_unknown_requests_and_commands_are_refused(editor: Editor) -> None:
    editor.open(GRAVE)
    with pytest.raises(Exception, match=r"(?i)method not found"):
        await editor.client.protocol.send_request_async("setuplint/nothing", {})
    with pytest.raises(Exception, match="not defined"):
        await editor.client.workspace_execute_command_async(lsp.ExecuteCommandParams("setuplint.nothing", []))
    editor.client.protocol.notify("setuplint/nothing", {})
    found = await editor.client.workspace_execute_command_async(lsp.ExecuteCommandParams("setuplint.try", ["x"]))
    assert "error" in found  # type: ignore[operator]
    assert await editor.rules() == ["hold-bypassed"]


@over_the_wire
async def test_older_work_is_given_up(editor: Editor) -> None:
    """Fifty changes in a row: the newest is told, and of those between at most a few."""
    editor.open(REFERENCE)
    await editor.told()
    count = len(editor.client.history)
    for n in range(50):
        editor.write((GRAVE if n % 2 else REFERENCE) + f"# {n}\n")
    assert await editor.rules() == ["hold-bypassed"]
    told = [p.version for p in editor.client.history[count:] if p.uri == editor.uri]
    assert told == sorted(told, key=lambda version: version or 0)
    assert len(told) < 40


@pytest.mark.slow
def test_nothing_is_written_to_standard_error_whatever_comes() -> None:
    wire = Wire()
    told = wire.open(GRAVE)
    assert [each["code"] for each in told["diagnostics"]] == ["hold-bypassed"]
    assert "relatedInformation" not in told["diagnostics"][0]  # this client does not show them
    wire.raw(b"{ this is not JSON")
    wire.raw(b"[]")
    wire.raw(b'{"jsonrpc": "2.0", "method": "textDocument/didChange", "params": {"wrong": 1}}')
    wire.notify("$/setTrace", {"value": "verbose"})
    assert wire.request("textDocument/hover", {"wrong": 1}, 7)["error"]["code"] == -32602
    assert wire.request("textDocument/foldingRange", {"textDocument": {"uri": told["uri"]}}, 8)["result"]
    wire.raw(b'{"jsonrpc": "2.0", "id": 9, "method": "shutdown"}', head=b"content-length:")
    assert wire.answer(9)["result"] is None
    wire.notify("exit", None)
    assert wire.end(properly=False) == (0, b"")


@pytest.mark.parametrize("path", ["a%00b", "\ud800"])
def test_a_path_that_no_system_has_takes_nothing_from_other_files(path: str) -> None:
    wire = Wire()
    odd = f"file:///tmp/none/{path}.toml"
    assert [each["code"] for each in wire.open(GRAVE, odd)["diagnostics"]] == ["hold-bypassed"]
    told = wire.open(GRAVE)
    assert [each["code"] for each in told["diagnostics"]] == ["hold-bypassed"]
    at = GRAVE[: GRAVE.index("[switches.hold]")].count("\n")
    for number, uri in enumerate((told["uri"], odd), start=3):
        asked = {"textDocument": {"uri": uri}, "position": {"line": at, "character": 11}, "newName": "kept"}
        assert "result" in wire.request("textDocument/rename", asked, number)
    moved = {"files": [{"oldUri": told["uri"], "newUri": odd}, {"oldUri": odd, "newUri": told["uri"]}]}
    assert "result" in wire.request("workspace/willRenameFiles", moved, 5)
    assert "result" in wire.request("workspace/symbol", {"query": "hold"}, 6)
    assert wire.end() == (0, b"")


@pytest.mark.slow
def test_an_editor_gets_what_it_can_show() -> None:
    """Before the start nothing; text instead of Markdown, and symbols one after the other, where it does not say more."""
    wire = Wire(start=False)
    uri = "file:///tmp/none/wagtail.toml"
    line, column = next(
        (n, row.index("hold called")) for n, row in enumerate(CLAIM.split("\n")) if "hold called" in row
    )
    asked = {"textDocument": {"uri": uri}, "position": {"line": line, "character": column}}
    assert wire.request("textDocument/hover", asked, 2)["error"]["code"] == -32002
    wire.start()
    wire.open(CLAIM, uri)
    shown = wire.request("textDocument/hover", asked, 3)["result"]["contents"]
    assert shown == {
        "kind": "plaintext",
        "value": "hold called: the formula of [intent] hold holds; without one, never",
    }
    symbols = wire.request("textDocument/documentSymbol", {"textDocument": {"uri": uri}}, 4)["result"]
    assert {"name", "kind", "location"} <= symbols[0].keys()
    assert [each["name"] for each in symbols if each.get("containerName") == "overrides"] == [
        "held",
        "rescue-power",
        "rescue-level",
    ]
    assert wire.end() == (0, b"")


@pytest.mark.slow
def test_what_comes_after_a_shutdown_is_refused() -> None:
    wire = Wire()
    wire.request("shutdown", None, 5)
    assert wire.request("textDocument/foldingRange", {"textDocument": {"uri": "x:y"}}, 6)["error"]["code"] == -32600
    wire.notify("exit", None)
    assert wire.process.wait(timeout=120) == 0


@pytest.mark.slow
def test_an_end_without_a_shutdown_says_so() -> None:
    wire = Wire()
    assert wire.end(properly=False) == (1, b"")


@pytest.mark.slow
def test_it_ends_when_the_editor_is_gone() -> None:
    wire = Wire()
    wire.open(REFERENCE)
    assert wire.process.stdin is not None
    wire.process.stdin.close()
    wire.process.wait(timeout=120)
    assert wire.process.stderr is not None
    assert wire.process.stderr.read() == b""


@pytest.mark.slow
def test_it_ends_when_nobody_reads_any_longer() -> None:
    wire = Wire()
    wire.open(REFERENCE)
    assert wire.process.stdout is not None
    assert wire.process.stderr is not None
    wire.process.stdout.close()
    wire.ask("textDocument/hover", {"textDocument": {"uri": "x:y"}, "position": {"line": 0, "character": 0}}, 7)
    assert wire.process.wait(timeout=120) == 1
    assert wire.process.stderr.read() == b""


def test_a_cancelled_request_is_answered_as_such_and_stops_nothing() -> None:
    wire = Wire()
    told = wire.open(REFERENCE)
    document = {"uri": told["uri"]}
    for number in range(20, 40):
        wire.ask("textDocument/hover", {"textDocument": document, "position": {"line": 80, "character": 12}}, number)
        wire.notify("$/cancelRequest", {"id": number})
    wire.notify("$/cancelRequest", {"id": 12345})
    for number in range(20, 40):
        found = wire.answer(number)
        assert "result" in found or found["error"]["code"] == -32800
    assert wire.request("textDocument/hover", {"textDocument": document, "position": {"line": 2, "character": 2}}, 50)
    assert wire.end() == (0, b"")


@pytest.mark.slow
def test_a_text_made_to_be_hard_does_not_keep_the_server_from_answering() -> None:
    """A text of the greatest size, one that is nested, and one long line."""
    wire = Wire()
    for text in (
        "format = 1\n" + "x" * 1_200_000,
        "a = " + "[" * 50_000,
        "[" * 30_000,
        "format = 1\n" + "a." * 30_000 + "b = 1",
    ):
        wire.open(text, f"file:///tmp/none/{len(text)}.toml")
    assert [each["code"] for each in wire.open(GRAVE)["diagnostics"]] == ["hold-bypassed"]
    assert wire.end() == (0, b"")


@pytest.mark.slow
def test_the_server_is_an_extra_and_says_what_is_missing(tmp_path: Path) -> None:
    """Without pygls: one line, and what to install."""
    (tmp_path / "pygls.py").write_text("raise ModuleNotFoundError('pygls', name='pygls')\n")
    script = (
        f"import sys; sys.path.insert(0, {str(tmp_path)!r}); from setuplint.cli import main; sys.exit(main(['serve']))"
    )
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 2
    assert done.stderr.strip() == "setuplint: pygls is missing: pip install 'setuplint[editor]'"


@pytest.mark.slow
def test_no_other_command_imports_the_server() -> None:
    script = (
        "import sys; from setuplint.cli import main; main(['lint', 'examples/reference.toml']);"
        "print([name for name in sys.modules if name.split('.')[0] in ('pygls', 'lsprotocol', 'cattrs', 'asyncio')])"
    )
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True)
    assert done.stdout.splitlines()[-1] == "[]"


@pytest.mark.slow
def test_old_requests_are_given_up() -> None:
    """All but those of the last text, where they come faster than they can be answered."""
    wire = Wire()
    uri = wire.open(GRAVE)["uri"]
    messages: list[dict[str, Any]] = []
    start = {"line": 0, "character": 0}
    for key in range(20):
        change = {"range": {"start": start, "end": start}, "text": "# x\n"}
        item = {"uri": uri, "version": key + 2}
        messages.append(
            {"method": "textDocument/didChange", "params": {"textDocument": item, "contentChanges": [change]}}
        )
        for number, method in enumerate(("documentSymbol", "foldingRange", "codeLens")):
            params = {"textDocument": {"uri": uri}}
            messages.append({"id": 100 + 3 * key + number, "method": f"textDocument/{method}", "params": params})
        params = {"textDocument": {"uri": uri}, "position": {"line": key, "character": 0}}
        messages.append({"id": 500 + key, "method": "textDocument/completion", "params": params})
    wire.raw(*(json.dumps({"jsonrpc": "2.0", **each}).encode() for each in messages))
    answers: dict[int, Any] = {}
    while len(answers) < 80:
        found = wire.receive()
        if "id" in found and "method" not in found:
            answers[found["id"]] = found.get("error", {}).get("code", "answered")
    assert [answers[number] for number in (157, 158, 159, 519)] == ["answered"] * 4
    assert {answers[number] for number in range(100, 140)} == {-32801}
    assert {answers[number] for number in range(500, 510)} == {-32801}
    assert wire.end() == (0, b"")
