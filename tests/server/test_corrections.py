"""What was meant by a line that cannot be read: offered where it helps, and put where it belongs."""

from __future__ import annotations

import pytest
from lsprotocol import types as lsp

from .conftest import REFERENCE, Editor
from .test_actions import done, offered

pytestmark = pytest.mark.asyncio(loop_scope="session")
NOTED = REFERENCE.replace("number = 2", "number = 2   # 🚁 “zwei”")


@pytest.mark.parametrize(
    ("right", "wrong", "title"),
    [
        ("hover-throttle = 16", "hover-throtle = 16", "write hover-throttle"),
        ("hover-throttle = 16", "Hover_Throttle = 16", "write hover-throttle"),
        ("capacity-mah", "capacity", "write capacity-mah"),
        ("[switches.", "[swiches.", "write switches"),
        ("[craft]", "[Craft]", "write craft"),
        ('"momentary"', '"momentry"', "write momentary"),
        ("attitude = 100\n", 'attitude = "kep"\n', "write keep"),
        ("at-least = 50", "at-laest = 50", "write at-least"),
        ("in.idle-up = { curve = \"spool-flat\"", "in.idel-up = { curve = \"spool-flat\"", "write idle-up"),
        ('"momentary"', "momentary", 'write "momentary"'),
        ('requires = "hold is on and flight is normal and throttle < -95"',
         "requires = hold is on and flight is normal and throttle < -95",
         'write "hold is on and flight is normal and throttle < -95"'),
        ('{ curve = "spool-flat", ramp', "{ curve = spool-flat, ramp", 'write "spool-flat"'),
        ('voice = "normal"', 'voice = "normal', 'write "normal"'),
        ("number = 2 ", 'number = "2" ', "write 2"),
        ("cells = 6", "cells = 6S", "write 6"),
        ("after = 1.5", "after = 1,5", "write 1.5"),
        ("ramp-up = 2.0 }", "ramp-up = 2.0", 'write { curve = "spool-flat", ramp-up = 2.0 }'),
        ("[sensors.pack]", "[sensors.pack", "write [sensors.pack]"),
        ("format = 1\n", "", "write format = 1"),
        ("priority = 100 ", "priority = 1OO ", "write 100"),
        ("priority = 100 ", "priority = l0o ", "write 100"),
        ("value = -100", "value = -IO0", "write -100"),
        ("pack < 21.6", "pack < 2I.6", "write 21.6"),
        ("priority = 100 ", "priority: 100 ", "write priority = 100"),
        ('drives = "collective"', "drives: collective", 'write drives = "collective"'),
        ("[overrides.held]", "[overrides.Held]", "write held"),
        ('"three-position"', '"3-position"', "write three-position"),
        ('from = "aileron"', 'from = "roll"', "write aileron"),
        ('when = "flight is normal"', 'when = "normal"', "write flight is normal"),
        ('when = "flight is normal"', 'when = "flight == normal"', "write is"),
        ('hold = "hold is on" ', 'hold = "hold on" ', "write is on"),
        ("pack < 21.6", "pack below 21.6", "write <"),
        ("[switches.hold]", "[switches hold]", "write [switches.hold]"),
        ("[100, 80]]", "[100, 80]", "write [[-100, -20], [0, 30], [100, 80]]"),
        ("level = { channel = \"attitude\", at-least = 50 }", "level = { channel = \"attitude\", at-least = 50",
         'write { channel = "attitude", at-least = 50 }'),
    ],
)  # fmt: skip
async def test_what_was_meant(editor: Editor, right: str, wrong: str, title: str) -> None:
    assert right in NOTED
    text = NOTED.replace(right, wrong)
    editor.open(text)
    for _ in range(len(text)):
        actions = {
            name: action
            for each in await editor.told()
            for name, action in (await offered(editor, each.range, ["quickfix"])).items()
        }
        assert title in actions, (list(actions), [x.message for x in await editor.told()])
        assert actions[title].is_preferred
        text = done(editor, actions[title])
        if text.replace('attitude = "keep"', "attitude = 100") == NOTED:
            return
        assert wrong in text  # it stood in several lines
        editor.write(text)
    raise AssertionError(text)


async def test_what_is_written_ends_its_line_as_the_text_does(editor: Editor) -> None:
    text = NOTED.replace("\n", "\r\n")
    editor.open(text.removeprefix("format = 1\r\n"))
    (told,) = await editor.told()
    actions = await offered(editor, told.range, ["quickfix"])
    assert done(editor, actions["write format = 1"]) == text


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ('reads = "pack-voltage"', 'reads = "voltage-of-all"'),
        ('"pack < 21.6"', '"pack < 21.6 A"'),
        ("format = 1", "format = 2"),
        ("sprung switches released", "sprung switches let go"),
        ("priority = 100 ", "priority = 1S "),
        ("priority = 100 ", "priority = 1Z0 "),
        ("priority = 100 ", "priority = 3O% "),
        ("seconds = 270", "seconds = 27o"),
        ("throttle < -95", "throttle < -9S"),
    ],
)
async def test_where_it_cannot_be_told_nothing_is_offered(editor: Editor, right: str, wrong: str) -> None:
    assert right in REFERENCE
    editor.open(REFERENCE.replace(right, wrong))
    told = await editor.told()
    assert told
    whole = lsp.Range(lsp.Position(0, 0), editor.position(len(editor.text)))
    assert not [title for title in await offered(editor, whole) if title.startswith("write")]


async def test_a_list_over_several_lines_is_closed_at_its_end(editor: Editor) -> None:
    points = "[[-100, -20], [0, 30], [100, 80]]"
    assert points in REFERENCE
    editor.open(REFERENCE.replace(points, "[\n  [-100, -20],\n  [0, 30],\n  [100, 80]  # the top"))
    (told,) = await editor.told()
    (action,) = (await offered(editor, told.range, ["quickfix"])).values()
    assert done(editor, action) == REFERENCE.replace(points, "[\n  [-100, -20],\n  [0, 30],\n  [100, 80]]  # the top")


async def test_what_was_meant_stands_in_the_diagnostic(editor: Editor) -> None:
    editor.open(REFERENCE.replace("priority = 100 ", "priority = 1OO ").replace("hold is on", "hlod is on", 1))
    messages = [each.message.split("\n") for each in await editor.told()]
    assert ["Did you mean 100?"] in [lines[1:] for lines in messages]
    assert ["there is no switch “hlod”", "Did you mean hold?"] in messages
