"""Try it here: lenses, the state that they show, and stepping on from there."""

from __future__ import annotations

import asyncio
import re
from typing import Any

import pytest
from lsprotocol import types as lsp

import setuplint
from setuplint.plain.evaluate import evaluate
from setuplint.plain.state import State
from setuplint.setup.smoothings import possible

from .conftest import GRAVE, REFERENCE, ROOT, Editor

pytestmark = pytest.mark.asyncio(loop_scope="session")


async def run(editor: Editor, command: str, **asked: Any) -> Any:
    given = {"uri": editor.uri, "quietly": True, **asked}
    return await editor.client.workspace_execute_command_async(lsp.ExecuteCommandParams(command, [given]))


async def tried(editor: Editor, **asked: Any) -> Any:
    return await run(editor, "setuplint.try", **asked)


def outputs(found: Any) -> dict[str, tuple[str, str]]:
    return {each["channel"]: (each["text"], each["decided-by"]) for each in found["outputs"]}


async def test_lenses_stand_over_modes_overrides_and_intents(editor: Editor) -> None:
    editor.open("# 🚁\n" + REFERENCE)
    found = await editor.client.text_document_code_lens_async(lsp.CodeLensParams(editor.id))
    lines = editor.text.split("\n")
    titles = {each.command.title: lines[each.range.start.line] for each in found or [] if each.command}
    assert titles["try mode idle-up here"] == "[modes.idle-up]"
    assert titles["try override held here"] == "[overrides.held]"
    assert titles["try intent rescue here"].startswith("rescue = ")
    (first,) = [title for title in titles if "rules decided" in title]
    assert titles[first] == "# 🚁"
    for each in found or []:
        assert each.command is not None
        if each.command.command == "setuplint.try":
            assert "error" not in await run(editor, each.command.command, **each.command.arguments[0])  # type: ignore[index]


async def test_a_state_is_shown_as_the_evaluator_has_it(editor: Editor) -> None:
    editor.open(GRAVE)
    found = await tried(editor, kind="override", name="rescue-power")
    assert found["steps"] == ["pull save"]
    assert outputs(found)["motor"] == ("+55 % (77.5 of 100, 1775 µs)", "rescue-power")
    found = await tried(editor, kind="override", name="rescue-power", moves={"hold": "on"})
    assert found["steps"] == ["pull save", "put hold on"]
    assert outputs(found)["motor"] == ("+55 % (77.5 of 100, 1775 µs)", "rescue-power")
    found = await tried(editor, kind="override", name="rescue-power", moves=[{"hold": "on"}, {"save": "released"}])
    assert outputs(found)["motor"] == ("-100 % (0 of 100, 1000 µs)", "held")
    found = await tried(editor, kind="mode", name="idle-up", moves=[{"throttle": 12.5, "pack": 20}])
    assert found["mode"] == "idle-up"
    assert found["alarms"] == ["land-now"]
    assert found["controls"]["throttle"] == 12.5
    setup = setuplint.load_text(GRAVE).model
    held = found["controls"]
    state = State(
        {name: held[name] for name in setup.switches},
        {name: setuplint.library._exact(held[name]) for name in setup.sticks},
        {name: setuplint.library._exact(held[name]) for name in setup.sensors},
        setuplint.library._exact(held["pack"]) / 6,
    )
    seen = evaluate(setup, state)
    assert {each["channel"]: each["output"] for each in found["outputs"]} == {
        name: float(put) for name, put in seen.outputs.items() if put is not None
    }


async def test_memory_counts_from_step_to_step(editor: Editor) -> None:
    editor.open((ROOT / "examples" / "hazards" / "rescue-toggled.toml").read_text(encoding="utf-8"))
    names = [each for each in setuplint.load_text(editor.text).model.conditions.values() if each.toggles]
    assert names
    found = await tried(editor, kind="intent", name="rescue")
    assert names[0].name in found["conditions"]
    button = next(
        each for each in found["next"] if next(iter(each["move"])) in editor.text and "let go" in each["title"]
    )
    ((control, where),) = button["move"].items()
    press = next(p for p in setuplint.load_text(editor.text).model.switches[control].positions if p != where)
    again = await tried(editor, kind="intent", name="rescue", moves=[{control: where}])
    assert names[0].name in again["conditions"]  # let go: it stays
    again = await tried(editor, kind="intent", name="rescue", moves=[{control: where}, {control: press}])
    assert names[0].name not in again["conditions"]


async def test_every_switch_can_be_stepped_through(editor: Editor) -> None:
    editor.open(REFERENCE)
    found = await tried(editor, kind="mode", name="normal")
    moves = [each["move"] for each in found["next"]]
    assert {"flight": "idle-up-1"} in moves
    assert {"flight": "idle-up-2"} in moves
    assert {"hold": "on"} in moves
    assert {next(iter(move)) for move in moves[:4]} == {"flight", "hold", "save", "rates"}
    assert next(each["title"] for each in found["next"] if each["move"] == {"hold": "on"}) == "put hold on"


async def test_a_smoothing_that_nobody_knows_is_said(editor: Editor) -> None:
    """What each may give, and as what the state was found."""
    soft = "points = [[-100, -100], [-60, -100], [-20, -100], [0, 90], [100, 100]]\nsmoothing = 'unknown'\n"
    editor.open(re.sub(r"(?<=\[curves.hover-soft\]\n)points.*\nsmoothing = \S+", soft, REFERENCE))
    found = await tried(editor, kind="mode", name="normal", moves=[{"throttle": -80}])
    assert found["smoothing"]["hover-soft"] == "monotone"
    (motor,) = [each for each in found["outputs"] if each["channel"] == "motor"]
    assert motor["output"] == -100
    assert [motor["by-smoothing"][kind]["text"].split()[0] for kind in possible("unknown")] == [
        "-100",
        "-100",
        "-85.76",
    ]
    assert "motor -100 % (0 of 100, 1000 µs) if smoothed as monotone or cardinal, -85.76 % (7.12" in found["text"]
    assert "if smoothed" not in str([each for each in found["outputs"] if each["channel"] != "motor"])


async def test_each_curve_is_smoothed_for_itself(editor: Editor) -> None:
    soft = "points = [[-100, -100], [-60, -100], [-20, -100], [0, 90], [100, 100]]\nsmoothing = 'unknown'\n"
    text = re.sub(r"(?<=\[curves.hover-soft\]\n)points.*\nsmoothing = \S+", soft, REFERENCE)
    mixed = "mix = [{ from = 'rudder', curve = 'aside' }]\n"
    text = text.replace("[channels.motor]\n", f"[curves.aside]\n{soft}[channels.motor]\n{mixed}", 1)
    editor.open(text)
    found = await tried(editor, kind="mode", name="normal", moves=[{"throttle": -10, "rudder": -10}])
    (motor,) = [each for each in found["outputs"] if each["channel"] == "motor"]
    ways = motor["by-smoothing"]
    assert len(ways) == 9
    assert ways["monotone (hover-soft) and natural (aside)"] == ways["natural (hover-soft) and monotone (aside)"]


async def test_names_with_hyphens(editor: Editor) -> None:
    editor.open(REFERENCE.replace("switches.hold]", "switches.hold-it]").replace("hold is", "hold-it is"))
    found = await tried(editor, kind="intent", name="rescue", moves=[{"hold-it": "on"}])
    assert found["controls"]["hold-it"] == "on"


async def test_an_editor_that_shows_choices_steps_with_them(editor: Editor) -> None:
    editor.open(REFERENCE)
    await editor.told()
    client = editor.client
    client.asked.clear()
    client.chooses[:] = ["pull save", "put hold on", "close"]
    await tried(editor, kind="mode", name="normal", quietly=False)
    for _ in range(500):
        if len(client.asked) == 3 and not client.chooses:
            break
        await asyncio.sleep(0.02)
    assert ["pull save" in each.message for each in client.asked] == [False, True, True]
    assert "motor +55 % (77.5 of 100, 1775 µs) by rescue-power" in client.asked[1].message
    assert "motor -100 % (0 of 100, 1000 µs) by held" in client.asked[2].message
    assert [each.title for each in client.asked[0].actions or []][-1] == "close"


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"kind": "override", "name": "nothing"}, "there is no override nothing"),
        ({"kind": "intent", "name": "stop"}, "in no state that can be reached"),
        ({"kind": "mode", "name": "normal", "moves": {"hold": "up"}}, "hold has the positions off, on"),
        ({"kind": "mode", "name": "normal", "moves": {"throttle": 300}}, "a number from -100 to 100"),
        ({"kind": "mode", "name": "normal", "moves": {"wing": 3}}, "there is no control wing"),
        ({"kind": "mode", "name": "normal", "moves": 7}, "moves is a list"),
        ({"uri": "file:///nowhere.toml", "kind": "mode", "name": "normal"}, "is not an open set-up"),
    ],
)
async def test_what_cannot_be_tried_says_why(editor: Editor, asked: dict[str, Any], says: str) -> None:
    editor.open(REFERENCE)
    assert says in (await tried(editor, **asked))["error"]


async def test_the_summary_says_what_was_not_judged_and_the_caution(editor: Editor) -> None:
    editor.open(REFERENCE.replace("hover-throttle = 16", "# hover-throttle = 16"))
    lenses = await editor.client.text_document_code_lens_async(lsp.CodeLensParams(editor.id))
    titles = [each.command.title for each in lenses or [] if each.command]
    assert any("not judged" in title for title in titles)
    found = await run(editor, "setuplint.summary")
    text = " ".join(found["text"].split())
    assert "craft.hover-throttle is not given" in text
    assert "not a clearance to fly" in text


async def test_pages_are_of_the_open_text(editor: Editor) -> None:
    editor.open(GRAVE)
    report = await run(editor, "setuplint.page", of="report")
    assert report["name"] == "Wagtail 470"
    assert "priority 50 beats 10" in report["html"]
    card = await run(editor, "setuplint.page", of="bench-card")
    assert "Mend it first: a card shows what the file says" in card["html"]
    assert (await run(editor, "setuplint.page", of="sheet"))["html"].count("<table") > 5
    assert "pages of report, bench-card, sheet" in (await run(editor, "setuplint.page", of="poem"))["error"]
    editor.open(REFERENCE)
    assert "Nothing found." in (await run(editor, "setuplint.page", of="report"))["html"]
    editor.open(REFERENCE.replace("priority = 100", "priority = "))
    assert "cannot be read" in (await run(editor, "setuplint.page", of="report"))["error"]
    assert "not an open setup" in (await run(editor, "setuplint.page", of="sheet", uri="file:///none.toml"))["error"]
