"""Of a whole text: its outline, folds, colours and what is shown beside it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from lsprotocol import types as lsp

from .conftest import REFERENCE, ROOT, Editor

pytestmark = pytest.mark.asyncio(loop_scope="session")
NOTE = REFERENCE.replace('voice = "normal"', 'voice = "🚁 ünd" # 𝔵').replace(
    'when = "hold is on"', '"when" = "hold is on"'
)
EVERY = sorted((ROOT / "examples").rglob("*.toml"))
LEGEND = ("keyword", "variable", "enumMember", "namespace", "operator", "number", "function", "property", "macro")


async def test_outline(editor: Editor) -> None:
    editor.open(NOTE)
    found = await editor.client.text_document_document_symbol_async(lsp.DocumentSymbolParams(editor.id))
    symbols = [each for each in found or [] if isinstance(each, lsp.DocumentSymbol)]
    under = {each.name: [(part.name, part.detail) for part in each.children or []] for each in symbols}
    assert under["overrides"] == [("held", "motor"), ("rescue-power", "motor"), ("rescue-level", "attitude")]
    assert under["craft"] == []
    assert [each.name for each in symbols][:4] == ["craft", "battery", "sticks", "switches"]
    heads = [editor.marked(part.selection_range) for each in symbols for part in each.children or []]
    assert "[overrides.held]" in heads


@pytest.mark.parametrize("path", EVERY, ids=lambda path: path.stem)
async def test_an_outline_is_nested_and_folds_are_of_more_than_a_line(editor: Editor, path: Path) -> None:
    editor.open(path.read_text(encoding="utf-8"))
    found = await editor.client.text_document_document_symbol_async(lsp.DocumentSymbolParams(editor.id))

    def inside(symbols: Sequence[object], start: int, end: int) -> None:
        for each in symbols:
            assert isinstance(each, lsp.DocumentSymbol)
            first, last = editor.offset(each.range.start), editor.offset(each.range.end)
            assert start <= first < last <= end
            assert first <= editor.offset(each.selection_range.start) <= editor.offset(each.selection_range.end) <= last
            inside(each.children or [], first, last)
            start = last

    inside(found or [], 0, len(editor.text))
    folds = await editor.client.text_document_folding_range_async(lsp.FoldingRangeParams(editor.id))
    assert folds
    assert all(each.start_line < each.end_line for each in folds)


async def marked(editor: Editor) -> list[tuple[str, str, bool]]:
    """Every token: its text, its type, whether it declares."""
    found = await editor.client.text_document_semantic_tokens_full_async(lsp.SemanticTokensParams(editor.id))
    assert found is not None
    tokens = []
    line = character = 0
    for n in range(0, len(found.data), 5):
        down, right, size, kind, modifiers = found.data[n : n + 5]
        line, character = line + down, right if down else character + right
        start, end = (editor.offset(lsp.Position(line, at)) for at in (character, character + size))
        tokens.append((editor.text[start:end], LEGEND[kind], bool(modifiers)))
    return tokens


async def test_words_of_formulas_have_their_colours(editor: Editor) -> None:
    editor.open(NOTE)
    found = await marked(editor)
    claim = [
        ("mode", "keyword"),
        ("is", "keyword"),
        ("idle-up", "namespace"),
        ("and", "keyword"),
        ("output", "keyword"),
    ]
    claim += [("attitude", "property"), (">", "operator"), ("0", "number"), ("and", "keyword")]
    claim += [("sprung", "function"), ("switches", "function"), ("released", "function")]
    plain = [(text, kind) for text, kind, _ in found]
    assert any(plain[n : n + len(claim)] == claim for n in range(len(plain)))
    assert ("hold", "variable", True) in found
    assert ("on", "enumMember", False) in found
    assert ("pack-low", "macro", False) in found
    where = lsp.Range(lsp.Position(0, 0), lsp.Position(40, 0))
    part = await editor.client.text_document_semantic_tokens_range_async(
        lsp.SemanticTokensRangeParams(editor.id, where)
    )
    assert part is not None
    assert 0 < len(part.data) < len(found) * 5


async def test_colours_of_a_formula_that_is_being_typed(editor: Editor) -> None:
    editor.open(NOTE + '\n[overrides.x]\nwhen = "hold is on and ((save is ?? pack <"\n')
    found = await marked(editor)
    assert [text for text, _, _ in found][-9:] == ["hold", "is", "on", "and", "(", "(", "save", "is", "pack", "<"][-9:]


async def hinted(editor: Editor) -> dict[str, list[str]]:
    """What is shown, by the text of the line up to it."""
    whole = lsp.Range(lsp.Position(0, 0), lsp.Position(10_000, 0))
    found: dict[str, list[str]] = {}
    for each in await editor.client.text_document_inlay_hint_async(lsp.InlayHintParams(editor.id, whole)) or []:
        before = editor.text[: editor.offset(each.position)].rpartition("\n")[2]
        found.setdefault(before, []).append(str(each.label))
    return found


async def test_what_is_shown_beside_the_text(editor: Editor) -> None:
    editor.open(NOTE)
    found = await hinted(editor)
    assert found['when = "pack < 21.6'] == ["= 3.6 V a cell"]
    assert found["motor = -100"] == ["= 1000 µs, 0 of 100"]
    assert found["attitude = 100"] == ["= 2000 µs"]
    assert found["value = 55"] == ["= 1775 µs, 77.5 of 100"]
    assert found["hover-throttle = 16"] == ["= 1580 µs, 58 of 100"]
    assert found["[channels.motor]"] == ["taken by held, then rescue-power"]
    editor.write(NOTE.replace("priority = 100", "priority = 10").replace("cells = 6", "cells = 3"))
    found = await hinted(editor)
    assert found["[channels.motor]"] == ["taken by rescue-power, then held"]
    assert found['when = "pack < 21.6'] == ["= 7.2 V a cell"]


async def test_the_pulse_is_of_what_comes_out(editor: Editor) -> None:
    """After reversal, travel, sub-trim and limits, by the craft's own pulse."""
    text = NOTE.replace(
        'number = 2\ndrives = "motor"', 'number = 2\ndrives = "motor"\ntravel = [100, 50]\nsub-trim = 2'
    )
    editor.open(text.replace("[battery]", "pulse = { centre = 1520, per-percent = 4 }\n[battery]", 1))
    found = await hinted(editor)
    assert found["value = 55"] == ["= 1638 µs, 64.75 of 100"]  # 55 / 2 + 2 = 29.5; 1520 + 4 * 29.5
