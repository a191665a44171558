"""Definition, references, highlights and rename: through formulas, and across shared parts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from lsprotocol import types as lsp

import setuplint
from tests import once

from .conftest import REFERENCE, ROOT, Editor

pytestmark = pytest.mark.asyncio(loop_scope="session")
UTF_8_TOO = True
NOTE = REFERENCE.replace('voice = "normal"', 'voice = "🚁 ünd" # 𝔵')


async def defined(editor: Editor, words: str, inside: int) -> list[str]:
    found = await editor.client.text_document_definition_async(
        lsp.DefinitionParams(editor.id, editor.at(words, inside))
    )
    assert isinstance(found, list)
    lines = editor.text.split("\n")
    return [lines[each.range.start.line] for each in found if isinstance(each, lsp.Location)]


@pytest.mark.parametrize(
    ("words", "inside", "line"),
    [
        ('when = "hold is on"', 9, "[switches.hold]"),
        ('when = "hold is on"', 16, 'positions = ["off", "on"]'),
        ('channel = "attitude"', 12, "[channels.attitude]"),
        ('curve = "hover-soft"', 12, "[curves.hover-soft]"),
        ('from = "throttle"', 10, "[sticks.throttle]"),
        ("in.idle-up = {", 4, "[modes.idle-up]"),
        ("mode is idle-up and", 10, "[modes.idle-up]"),
        ("output attitude > 0", 9, "[channels.attitude]"),
        ('when = "pack-low"', 10, "[conditions.pack-low]"),
        ("soft = 60", 1, 'positions = ["soft", "full"]'),
        ("motor = -100", 1, "[channels.motor]"),
        ("idle-up-1 = -100", 1, 'positions = ["normal", "idle-up-1", "idle-up-2"]'),
    ],
)
async def test_definition(editor: Editor, words: str, inside: int, line: str) -> None:
    editor.open(NOTE)
    (found,) = await defined(editor, words, inside)
    assert found.split("#")[0].strip() == line


async def test_usual_positions_lead_to_their_switch(editor: Editor) -> None:
    editor.open(NOTE.replace('positions = ["off", "on"]\n', ""))
    assert await defined(editor, 'when = "hold is on"', 16) == ["[switches.hold]"]


async def test_references_are_all_places_that_are_meant_and_no_others(editor: Editor) -> None:
    editor.open(NOTE)
    where = editor.at('when = "hold is on"', 9)
    context = lsp.ReferenceContext(include_declaration=True)
    found = await editor.client.text_document_references_async(lsp.ReferenceParams(context, editor.id, where))
    meant = re.findall(r"\bhold\b(?= is)|(?<=switches\.)hold\b", re.sub(r"#.*", "", NOTE))
    assert len(found or []) == len(meant) > 4
    assert {editor.marked(each.range) for each in found or []} == {"hold"}
    context = lsp.ReferenceContext(include_declaration=False)
    fewer = await editor.client.text_document_references_async(lsp.ReferenceParams(context, editor.id, where))
    assert len(fewer or []) == len(meant) - 1
    marks = await editor.client.text_document_document_highlight_async(lsp.DocumentHighlightParams(editor.id, where))
    assert [each.kind for each in marks or []].count(lsp.DocumentHighlightKind.Write) == 1
    assert len(marks or []) == len(meant)


async def renamed(editor: Editor, words: str, inside: int, name: str) -> dict[str, list[lsp.TextEdit]]:
    asked = lsp.RenameParams(editor.id, editor.at(words, inside), name)
    found = await editor.client.text_document_rename_async(asked)
    assert found is not None
    assert found.changes is not None
    return {uri: list(edits) for uri, edits in found.changes.items()}


def parts(text: str) -> Iterator[tuple[str, str, str]]:
    """Every part that can be renamed: its kind, its name, and its heading."""
    for table, name in re.findall(r"^\[([a-z]+)\.([a-z0-9-]+)\]", text, re.MULTILINE):
        if table != "sticks":
            yield table, name, f"[{table}.{name}]"


@pytest.mark.slow
@pytest.mark.parametrize("path", ["reference.toml", "lapwing.toml", "hazards/rescue-latched.toml"])
async def test_a_rename_changes_no_meaning(editor: Editor, path: str) -> None:
    """One part after the other: the set-up then does what it did, and the old name is nowhere."""
    text = (ROOT / "examples" / path).read_text(encoding="utf-8").replace("\n", "# 🚁 é\n", 1)
    editor.open(text)
    findings = [(x.rule, x.message) for x in once.lint_text(text).findings]
    for table, name, heading in [*parts(text)][:: 6 if path == "lapwing.toml" else 1]:
        changes = await renamed(editor, heading, heading.index(".") + 1, "wholly-new")
        again = editor.put(changes[editor.uri])
        new = setuplint.load_text(again)
        assert not new.problems, heading
        assert name not in (new.document.values.get(table) or {})
        assert "wholly-new" in new.document.values[table]
        assert [(x.rule, x.message.replace("wholly-new", name)) for x in once.lint_text(again).findings] == findings, (
            heading
        )
        if path == "reference.toml":
            written = [change for change in once.changes(text, again) if not change.subject.startswith("claim ")]
            assert not written, heading  # a claim that names the part is another text


async def test_a_position_is_renamed_with_its_switch_alone(editor: Editor) -> None:
    editor.open(NOTE)
    changes = await renamed(editor, "flight is normal", 11, "calm")
    text = editor.put(changes[editor.uri])
    assert 'positions = ["calm", "idle-up-1", "idle-up-2"]' in text
    assert "[modes.normal]" in text
    assert "values = { calm = 100" in text
    assert not setuplint.load_text(text).problems


async def test_names_written_more_than_once_and_in_quotes(editor: Editor) -> None:
    text = REFERENCE.replace(
        'in.idle-up = { curve = "pitch-wide" }', 'in.idle-up.curve = "pitch-wide"\nin."idle-up".ramp-up = 1.0'
    )
    text += '\n[[waivers]]\nrule = "mode-jump"\non = ["idle-up"]\nreason = "x"\n'
    editor.open(text)
    changes = await renamed(editor, "[modes.idle-up]", 8, "sport")
    again = editor.put(changes[editor.uri])
    assert 'in.sport.curve = "pitch-wide"\nin."sport".ramp-up = 1.0' in again
    assert 'on = ["sport"]' in again
    assert not setuplint.load_text(again).problems


@pytest.mark.parametrize(
    ("words", "inside", "name", "why"),
    [
        ('when = "hold is on"', 9, "save", "there is a “save” already"),
        ('when = "hold is on"', 9, "pack", "there is a “pack” already"),
        ('when = "hold is on"', 9, "rudder", "is one of the sticks"),
        ('when = "hold is on"', 9, "Hold", "lower-case"),
        ('when = "hold is on"', 9, "is", "is a word of the format"),
        ('when = "hold is on"', 9, "", "lower-case"),
        ('when = "hold is on"', 16, "off", "has a position “off” already"),
        ('from = "throttle"', 10, "gas", "one of the four sticks"),
        ('curve = "hover-soft"', 12, "straight", "is a word of the format"),
    ],
)
async def test_a_rename_that_would_be_wrong_says_why(
    editor: Editor, words: str, inside: int, name: str, why: str
) -> None:
    editor.open(REFERENCE)
    with pytest.raises(Exception, match=why):
        await renamed(editor, words, inside, name)


async def test_what_can_be_renamed_is_told_first(editor: Editor) -> None:
    editor.open(NOTE)
    asked = lsp.PrepareRenameParams(editor.id, editor.at('when = "hold is on"', 9))
    found = await editor.client.text_document_prepare_rename_async(asked)
    assert isinstance(found, lsp.PrepareRenamePlaceholder)
    assert (editor.marked(found.range), found.placeholder) == ("hold", "hold")
    asked = lsp.PrepareRenameParams(editor.id, editor.at('from = "throttle"', 10))
    with pytest.raises(Exception, match="four sticks"):
        await editor.client.text_document_prepare_rename_async(asked)
    asked = lsp.PrepareRenameParams(editor.id, editor.at("soft-start", 1))
    assert await editor.client.text_document_prepare_rename_async(asked) is None


def club(folder: Path) -> dict[str, Path]:
    """Two set-ups in folders of their own that extend one shared part."""
    (folder / ".git").mkdir()
    hold = '[switches.hold]\nkind = "two-position"\npositions = ["off", "on"]\n'
    files = {"radio": folder / "club" / "radio.toml"}
    files["radio"].parent.mkdir()
    files["radio"].write_text(f"# 🚁\n{hold}", encoding="utf-8")
    own = REFERENCE.replace("format = 1\n", 'format = 1\nextends = "../club/radio.toml"\n').replace(hold, "")
    for name in ("one", "two"):
        files[name] = folder / name / "wagtail.toml"
        files[name].parent.mkdir()
        files[name].write_text(own, encoding="utf-8")
    return files


async def test_through_shared_parts(editor: Editor, tmp_path: Path) -> None:
    files = club(tmp_path)
    one = Editor(editor.client, files["one"])
    one.open(files["one"].read_text(encoding="utf-8"))
    assert await one.told() == []
    where = one.at('when = "hold is on"', 9)
    found = await one.client.text_document_definition_async(lsp.DefinitionParams(one.id, where))
    assert isinstance(found, list)
    assert [each.uri for each in found if isinstance(each, lsp.Location)] == [files["radio"].as_uri()]
    context = lsp.ReferenceContext(include_declaration=True)
    places = await one.client.text_document_references_async(lsp.ReferenceParams(context, one.id, where))
    by_file = [each.uri for each in places or []]
    assert by_file.count(files["radio"].as_uri()) == 1
    assert by_file.count(files["one"].as_uri()) == by_file.count(files["two"].as_uri()) > 3
    changes = await renamed(one, 'when = "hold is on"', 9, "stopper")
    assert changes.keys() == {path.as_uri() for path in files.values()}
    for path in files.values():
        there = Editor(editor.client, path)
        there.text = path.read_text(encoding="utf-8")
        path.write_text(there.put(changes[path.as_uri()]), encoding="utf-8")
    for name in ("one", "two"):
        report = setuplint.lint(files[name])
        assert report.findings == ()
        assert "stopper" in setuplint.load(files[name]).model.switches
    assert "[switches.stopper]" in files["radio"].read_text(encoding="utf-8")
    one.close()


async def test_from_the_shared_part_itself(editor: Editor, tmp_path: Path) -> None:
    files = club(tmp_path)
    radio = Editor(editor.client, files["radio"])
    radio.open(files["radio"].read_text(encoding="utf-8"))
    assert await radio.told() == []
    changes = await renamed(radio, "[switches.hold]", 12, "stopper")
    assert changes.keys() == {path.as_uri() for path in files.values()}
    with pytest.raises(Exception, match=r"there is a “save” already, in \[switches\]"):
        await renamed(radio, "[switches.hold]", 12, "save")
    radio.close()
