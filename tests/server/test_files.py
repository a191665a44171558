"""Files that a text names: links to them, their move; parts of all files; all remedies at once."""

from __future__ import annotations

from pathlib import Path

import pytest
from lsprotocol import types as lsp

import setuplint
from setuplint.fixes import remedies
from tests.club.made import claim, write

from .conftest import GRAVE, REFERENCE, ROOT, Editor
from .test_actions import done, offered

pytestmark = pytest.mark.asyncio(loop_scope="session")
UTF_8_TOO = True
SHARED = '[switches.hold]\nkind = "two-position"\n'
OWN = REFERENCE.replace("format = 1\n", 'format = 1 # 🚁\n"extends" = "shared/radio.toml" # 🚁\n').replace(
    '[switches.hold]\nkind = "two-position"\npositions = ["off", "on"]\n', ""
)


def folder_with(folder: Path, **texts: str) -> None:
    (folder / ".git").mkdir()
    write(folder, {f"{name}.toml": text for name, text in {"shared/radio": SHARED, **texts}.items()})


def asked(editor: Editor, words: str) -> lsp.DefinitionParams:
    return lsp.DefinitionParams(editor.id, editor.at(words, 2))


async def test_what_a_setup_extends_is_a_link(editor: Editor) -> None:
    folder_with(editor.path.parent)
    shared = (editor.path.parent / "shared" / "radio.toml").as_uri()
    editor.open(OWN, save=True)
    (link,) = await editor.client.text_document_document_link_async(lsp.DocumentLinkParams(editor.id)) or []
    assert (editor.marked(link.range), link.target) == ("shared/radio.toml", shared)
    (place,) = await editor.client.text_document_definition_async(asked(editor, "shared/radio")) or []  # type: ignore[misc]
    assert place.uri == shared


@pytest.mark.parametrize("path", ["../outside.toml", "shared/none.toml", "/etc/hosts.toml", "shared/.git/x.toml"])
async def test_no_link_leads_to_nowhere_or_out_of_the_repository(editor: Editor, path: str) -> None:
    folder_with(editor.path.parent)
    (editor.path.parent.parent / "outside.toml").write_text(SHARED)
    editor.open(OWN.replace("shared/radio.toml", path), save=True)
    await editor.told()
    assert not await editor.client.text_document_document_link_async(lsp.DocumentLinkParams(editor.id))
    assert not await editor.client.text_document_definition_async(asked(editor, path))


async def test_a_folder_of_rules_leads_to_its_rules(editor: Editor) -> None:
    folder = editor.path.parent
    folder_with(folder, **{"club-rules/too-strong": claim()})
    config = Editor(editor.client, folder / "setuplint.toml")
    config.open('rules = ["club-rules", "../none"]\n')
    (place,) = await editor.client.text_document_definition_async(asked(config, "club-rules")) or []  # type: ignore[misc]
    assert place.uri == (folder / "club-rules" / "too-strong.toml").as_uri()
    assert not await editor.client.text_document_definition_async(asked(config, "../none"))
    config.close()
    editor.open(REFERENCE)


@pytest.mark.parametrize(
    ("old", "new", "name"),
    [
        ("shared/radio.toml", "shared/blue.toml", "shared/blue.toml"),
        ("shared/radio.toml", "radio.toml", "radio.toml"),
        ("wagtail.toml", "craft/big/wagtail.toml", "../../shared/radio.toml"),
        ("wagtail.toml", "whimbrel.toml", ""),
        ("shared/radio.toml", "shared/radio.txt", ""),
    ],
)
async def test_where_a_file_moves_the_names_go_along(editor: Editor, old: str, new: str, name: str) -> None:
    """In setups that are open with changes, and in those that are not."""
    folder = editor.path.parent
    folder_with(folder, other=OWN)
    editor.open(OWN, save=True)
    editor.write("# 🚁\n" + OWN)
    move = lsp.FileRename((folder / old).as_uri(), (folder / new).as_uri())
    found = await editor.client.workspace_will_rename_files_async(lsp.RenameFilesParams([move]))
    changes = dict(found.changes or {}) if found is not None else {}
    if not name:
        assert not changes
        return
    assert editor.put(changes.pop(editor.uri)) == editor.text.replace("shared/radio.toml", name)
    assert list(changes) == ([(folder / "other.toml").as_uri()] if old.startswith("shared") else [])


@pytest.mark.parametrize(
    ("radio", "name"),
    [("craft/shared/radio.toml", ""), ("craft/radio.toml", "radio.toml"), ("radio.toml", "../radio.toml")],
)
async def test_files_that_move_together_are_named_once(editor: Editor, radio: str, name: str) -> None:
    folder = editor.path.parent
    folder_with(folder)
    editor.open(OWN, save=True)
    moved = {"wagtail.toml": "craft/wagtail.toml", "shared/radio.toml": radio}
    moves = [lsp.FileRename((folder / old).as_uri(), (folder / new).as_uri()) for old, new in moved.items()]
    found = await editor.client.workspace_will_rename_files_async(lsp.RenameFilesParams(moves))
    changes = found.changes or {} if found is not None else {}
    written = [each.new_text for edits in changes.values() for each in edits]
    assert written == ([name] if name else [])


async def test_parts_of_all_setups_are_found_by_their_names(editor: Editor) -> None:
    editor.open(REFERENCE.replace("rescue-level", "rescue-flat"))
    found = await editor.client.workspace_symbol_async(lsp.WorkspaceSymbolParams("RESCUE-"))
    places = {(each.name, each.location.uri) for each in found or []}
    assert ("rescue-flat", editor.uri) in places
    assert ("rescue-level", (ROOT / "examples" / "reference.toml").as_uri()) in places
    assert not await editor.client.workspace_symbol_async(lsp.WorkspaceSymbolParams("no part has this name"))


async def test_all_remedies_at_once_are_what_the_command_applies(editor: Editor) -> None:
    text = "# 🚁\n" + GRAVE.replace("motor = -100 ", "motor = -20 ")
    editor.open(text)
    await editor.told()
    whole = lsp.Range(lsp.Position(0, 0), lsp.Position(0, 0))
    (action,) = (await offered(editor, whole, ["source.fixAll"])).values()
    assert action.kind == "source.fixAll.setuplint"
    by_the_command = remedies(
        text.encode(), setuplint.lint_text(text), setuplint.lint_text, load=lambda data: setuplint.load_text(data).model
    )
    assert by_the_command.applied
    assert done(editor, action).encode() == by_the_command.data
    assert not await offered(editor, whole, ["source.organizeImports"])
    assert not [title for title in await offered(editor, whole) if "each proved" in title]
    editor.write(REFERENCE)
    assert not await offered(editor, whole, ["source.fixAll"])
