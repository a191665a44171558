"""Completion: by place, also where the text is broken at the cursor; and what it puts there."""

from __future__ import annotations

import pytest
from lsprotocol import types as lsp

import setuplint
from setuplint.server.analysis import full_analysis, quick_analysis
from setuplint.server.open_files import OpenFile
from setuplint.server.place_requests import completion_list
from setuplint.server.server import new_session

from .conftest import REFERENCE, Editor

pytestmark = pytest.mark.asyncio(loop_scope="session")


async def offered(editor: Editor, typed: str, rest: str = "") -> dict[str, lsp.CompletionItem]:
    """What is offered at the end of what is typed, at the end of the reference."""
    editor.open(REFERENCE)
    await editor.told()
    editor.write(REFERENCE + typed + rest)
    at = editor.position(len(REFERENCE) + len(typed))
    found = await editor.client.text_document_completion_async(lsp.CompletionParams(editor.id, at))
    assert isinstance(found, lsp.CompletionList)
    return {item.label: item for item in found.items}


@pytest.mark.parametrize(
    ("typed", "holds", "lacks"),
    [
        ('\n[overrides.x]\nwhen = "hold is ', {"on", "off", "not"}, {"hold", "lost"}),
        ('\n[overrides.x]\nwhen = "hold is not ', {"on", "off"}, {"hold", "not"}),
        ('\n[overrides.x]\nwhen = "mode is ', {"normal", "idle-up"}, {"hold"}),
        ('\n[overrides.x]\nwhen = "', {"hold", "save", "pack", "throttle", "pack-low", "mode is", "not"}, {"output"}),
        ('\n[overrides.x]\nwhen = "hold is on and ', {"hold", "save", "pack-low"}, {"and"}),
        ('\n[overrides.x]\nwhen = "hold is on ', {"and", "or"}, {"hold"}),
        ('\n[overrides.x]\nwhen = "not (', {"hold", "pack-low"}, {"and"}),
        ('\n[overrides.x]\nwhen = "pack ', {"<", ">", "<=", ">=", "is lost"}, {"hold"}),
        ('\n[overrides.x]\nwhen = "pack is ', {"lost"}, {"on"}),
        ('\n[overrides.x]\nwhen = "pa', {"pack", "pack-low"}, set()),
        ('\n[overrides.x]\nchannel = "', {"motor", "pitch"}, {"hold"}),
        ("\n[overrides.x]\nchannel = ", {"motor", "pitch"}, {"hold"}),
        ("\n[overrides.x]\n", {"channel", "value", "at-least", "at-most", "when", "priority"}, {"voice"}),
        ("\n[trainer]\n", {"lent", "sticks"}, {"when"}),
        ('\n[trainer]\nlent = "', {"hold", "save", "pack-low"}, {"output"}),
        ('\n[trainer]\nsticks = ["', {"aileron", "rudder"}, {"rates"}),
        ("\n[packs.winter]\n", {"cells", "capacity-mah"}, {"kind"}),
        ("\n[receiver-supply]\nkind = ", {"regulator", "nimh"}, {"lipo4"}),
        ("\n[sensors.s]\n", {"reads", "cells", "shown"}, set()),
        ('\n[overrides.x]\nchannel = "motor"\n', {"value", "when", "priority"}, {"channel"}),
        ('\n[channels.y]\ncurve = "', {"hover-soft", "straight"}, {"motor"}),
        ('\n[channels.y]\ndrives = "', {"motor", "gyro-gain"}, {"true"}),
        ("\n[channels.y]\nreversed = ", {"true", "false"}, {"motor"}),
        ("\n[channels.y]\nfrom = ", {"throttle", "aileron", "flight", "rates"}, {"pack"}),
        ("\n[channels.y]\nin.", {"normal", "idle-up"}, {"rate"}),
        ("\n[channels.y]\nin.idle-up = { ", {"curve", "rate", "ramp-up"}, {"number", "drives"}),
        ('\n[channels.y]\nin.idle-up = { curve = "', {"pitch-wide"}, {"rate"}),
        ('\n[channels.y]\nrate = { switch = "', {"rates", "hold"}, {"throttle"}),
        ('\n[channels.y]\nrate = { switch = "rates", at = { ', {"soft", "full"}, {"on"}),
        ('\n[channels.y]\nfrom = "flight"\nvalues = { ', {"normal", "idle-up-1"}, {"on"}),
        ('\n[channels.y]\nmix = [{ from = "rudder" },\n  { fr', {"from", "rate", "expo"}, {"number"}),
        ("\n[switches.s]\nkind = ", {"momentary", "selector"}, {"true"}),
        ('\n[sensors.s]\nreads = "', {"pack-voltage", "link-quality"}, set()),
        ('\n[[claims]]\nnever = "', {"rotor driven", "hold called", "output", "hold"}, {"and"}),
        ('\n[[claims]]\nnever = "output ', {"motor", "pitch"}, {"hold"}),
        ('\n[[claims]]\nnever = "output motor ', {"<", ">="}, {"hold", "runs"}),
        ('\n[[claims]]\nnever = "', {"motor follows"}, {"aileron follows"}),
        ('\n[[claims]]\nnever = "motor ', {"follows", "runs"}, {"and", "throttle"}),
        ('\n[[claims]]\nnever = "rescue called and sprung ', {"switches released"}, {"called"}),
        ('\n[[claims]]\nnever = "hold ', {"is", "called"}, {"runs"}),
        ('\n[[claims]]\nnever = "motor follows ', {"throttle"}, {"motor", "hold"}),
        ('\n[overrides.x]\nwhen = "motor ', {"and"}, {"follows"}),
        ('\n[overrides.x]\nwhen = """\nhold is on\nand save is ', {"pulled"}, {"channel", "value"}),
        ('\n[overrides.x]\nwhen = """\n  ho', {"hold", "save"}, {"channel", "value"}),
        ('\n[overrides.x]\nwhen = """hold is on"""\n', {"channel", "value"}, {"hold", "when"}),
        ('\n[[claims]]\nbecause = """\n', set(), {"never", "hold"}),
        ('\n[channels.y]\nfrom = "flight"\nvalues = { normal = 3, ', {"idle-up-1"}, {"normal"}),
        ('\n[channels.y]\nmix = [{ from = "rudder", ', {"rate"}, {"from"}),
        ('\n[channels.y]\nmix = [{ from = "rudder" }, { ', {"rate", "from"}, set()),
        ('\n[trainer]\nsticks = ["rudder", "', {"aileron"}, {"rudder"}),
        ("\n[", {"channels", "overrides", "failsafe", "claims"}, {"format"}),
        ("\n[[", {"claims", "waivers"}, {"channels"}),
        ("\n[channels.motor.in.", {"normal", "idle-up"}, {"motor"}),
        ("\n[sticks.", {"throttle", "rudder"}, {"motor"}),
        ('\n[[waivers]]\nrule = "', {"hold-bypassed", "mode-jump"}, {"hold"}),
        ("\n[[waivers]]\n", {"rule", "on", "reason", "until"}, {"voice"}),
        ("\n# hold is ", set(), {"on", "hold"}),
        ('\n[alarms.x]\nvoice = "', set(), {"hold", "on"}),
    ],
)
async def test_by_place(editor: Editor, typed: str, holds: set[str], lacks: set[str]) -> None:
    found = await offered(editor, typed, "\n[timers.other]\nseconds = 5\n")
    assert holds <= found.keys()
    assert not lacks & found.keys()


async def test_failsafe_offers_channels_that_have_no_entry(editor: Editor) -> None:
    editor.open(REFERENCE)
    await editor.told()
    editor.replace("[failsafe] ", "[failsafe]\n \n# ")
    at = editor.position(editor.text.index("[failsafe]") + len("[failsafe]\n"))
    found = await editor.client.text_document_completion_async(lsp.CompletionParams(editor.id, at))
    assert isinstance(found, lsp.CompletionList)
    assert [item.label for item in found.items] == ["tail-gain"]


@pytest.mark.parametrize(
    ("typed", "label", "text"),
    [
        ('\n[overrides.x]\nwhen = "pack-l', "pack-low", '\n[overrides.x]\nwhen = "pack-low'),
        ('\n[channels.y]\ncurve = "hover-s', "hover-soft", '\n[channels.y]\ncurve = "hover-soft'),
        ("\n[channels.y]\ncurve = hov", "hover-soft", '\n[channels.y]\ncurve = "hover-soft"'),
        ("\n[craft", "craft", "\n[craft]"),
        ("\n[cl", "claims", "\n[[claims]]"),
        ("\n[switches.s]\nki", "kind", "\n[switches.s]\nkind = "),
        ("\n[[cl", "claims", "\n[[claims]]"),
        ("\n[over", "overrides", "\n[overrides."),
    ],
)
async def test_what_is_taken_replaces_what_was_typed(editor: Editor, typed: str, label: str, text: str) -> None:
    """Names have hyphens, of which editors make two words: the place is told."""
    found = await offered(editor, typed)
    edit = found[label].text_edit
    assert isinstance(edit, lsp.TextEdit)
    assert editor.put([edit]) == REFERENCE + text
    assert label.startswith(typed.split()[-1].strip('"[').split(".")[-1])


@pytest.mark.parametrize(
    ("typed", "label", "text"),
    [
        ('\n[overrides.x]\nwhen = "ho|ld is on"\n', "save", '\n[overrides.x]\nwhen = "save is on"\n'),
        ('\n[overrides.x]\nwhen = "hold is |on"\n', "off", '\n[overrides.x]\nwhen = "hold is off"\n'),
        ('\n[overrides.x]\nwhen = "hold is |on"\n', "not", '\n[overrides.x]\nwhen = "hold is not on"\n'),
        ('\n[[claims]]\nnever = "sprung sw|itches released"\n', "switches released",
         '\n[[claims]]\nnever = "sprung switches released"\n'),
        ('\n[[claims]]\nnever = "output p|itch > 0"\n', "motor", '\n[[claims]]\nnever = "output motor > 0"\n'),
        ('\n[overrides.x]\nchannel = "mo|tor" # x\n', "pitch", '\n[overrides.x]\nchannel = "pitch" # x\n'),
        ("\n[overrides.x]\nchannel = mo|tor\n", "pitch", '\n[overrides.x]\nchannel = "pitch"\n'),
        ("\n[fail|safe]\n", "craft", "\n[craft]\n"),
        ("\n[cur|ves.soft]\n", "modes", "\n[modes.soft]\n"),
        ("\n[[wai|vers]]\n", "claims", "\n[[claims]]\n"),
        ("\n[channels.y]\nin.no|rm = { rate = 5 }\n", "idle-up", "\n[channels.y]\nin.idle-up = { rate = 5 }\n"),
        ("\n[channels.y]\nin.| = 5\n", "normal", "\n[channels.y]\nin.normal = 5\n"),
    ],
)  # fmt: skip
async def test_in_the_middle_of_a_word_all_of_it_is_replaced(editor: Editor, typed: str, label: str, text: str) -> None:
    before, after = typed.split("|")
    found = await offered(editor, before, after)
    assert editor.put([found[label].text_edit]) == REFERENCE + text


@pytest.mark.parametrize("typed", ["ro", "", "rotor", "rot"])
async def test_a_key_in_front_of_its_value_is_replaced_alone(editor: Editor, typed: str) -> None:
    text = REFERENCE.replace('rotor = "collective"', f'{typed}{"" if typed == "rotor" else "r"} = "collective"')
    assert text != REFERENCE or typed == "rotor"
    editor.open(text)
    params = lsp.CompletionParams(editor.id, editor.at(' = "collective"', -1 if typed == "rot" else 0))
    found = await editor.client.text_document_completion_async(params)
    assert isinstance(found, lsp.CompletionList)
    item = next(item for item in found.items if item.label == "rotor")
    assert editor.put([item.text_edit]) == REFERENCE


async def test_keys_that_are_needed_come_first_and_say_what_they_are(editor: Editor) -> None:
    found = await offered(editor, "\n[overrides.x]\n")
    first = sorted(found.values(), key=lambda item: item.sort_text or "")[:3]
    assert {item.label for item in first} == {"channel", "value", "when"}
    assert "Unit: %" in str(found["value"].documentation)


async def test_names_of_a_part_that_is_broken_are_still_offered(editor: Editor) -> None:
    editor.open(REFERENCE)
    await editor.told()
    broken = REFERENCE.replace("[switches.hold]", "[switches.hold") + '\n[overrides.x]\nwhen = "hold is '
    editor.write(broken)
    at = editor.position(len(broken))
    found = await editor.client.text_document_completion_async(lsp.CompletionParams(editor.id, at))
    assert isinstance(found, lsp.CompletionList)
    assert {"on", "off"} <= {item.label for item in found.items}


async def test_a_setup_written_by_taking_what_is_offered_can_be_read(editor: Editor) -> None:
    """From nothing: a heading, its keys and values, each taken from what is offered."""
    editor.open("format = 1\n")
    for typed, label in (
        ("\n[sw", "switches"),
        ("hold]\nki", "kind"),
        ("tw", "two-position"),
        ("\n[[cl", "claims"),
        ("\nne", "never"),
        ('"hold ', "is"),
        ("", "on"),
        (" an", "and"),
        ("rot", "rotor driven"),
    ):
        editor.write(editor.text + typed)
        at = editor.position(len(editor.text))
        found = await editor.client.text_document_completion_async(lsp.CompletionParams(editor.id, at))
        assert isinstance(found, lsp.CompletionList)
        item = next(item for item in found.items if item.label == label)
        editor.write(editor.put([item.text_edit]))
    editor.write(editor.text + '"\n')
    read = setuplint.load_text(editor.text)
    assert not read.document.problems
    assert not read.problems
    assert list(read.model.switches) == ["hold"]


async def test_the_first_heading_is_completed_before_anything_was_judged(editor: Editor) -> None:
    editor.open("format = 1\n\n[sw")
    params = lsp.CompletionParams(editor.id, editor.position(len(editor.text)))
    found = await editor.client.text_document_completion_async(params)
    assert isinstance(found, lsp.CompletionList)
    assert "switches" in {item.label for item in found.items}


@pytest.mark.parametrize(
    ("before", "text", "offered"),
    [
        ("format = 1\n", "[start]\nrequires = true\nre", set()),
        (REFERENCE, "[", set()),
        (REFERENCE, "[project]\n[sw", set()),
        (REFERENCE, "[switches]\n[sw", {"switches"}),
        ("format = 1\n", "format = 1\n[sw", {"switches"}),
    ],
)
async def test_the_same_is_offered_before_and_after_a_text_is_judged(before: str, text: str, offered: set[str]) -> None:
    session, uri = new_session(), "file:///nowhere/typed.toml"
    file = session.files.by_uri[uri] = OpenFile(uri, before, 1)
    file.analysis = full_analysis(session.files.parsed(file))
    file.text, file.edits = text, 1
    last = text.count("\n")
    at = lsp.Position(last, len(text.split("\n")[last]))
    for _ in range(2):
        found = await completion_list(session, lsp.CompletionParams(lsp.TextDocumentIdentifier(uri), at))
        labels = {item.label for item in found.items} if found is not None else set()
        assert (offered <= labels) if offered else not labels
        file.analysis = quick_analysis(session.files.parsed(file), file.analysis)


async def test_files_that_may_be_extended(editor: Editor) -> None:
    folder = editor.path.parent
    (folder / ".git").mkdir()
    (folder / "shared").mkdir()
    (folder / "shared" / "radio.toml").write_text('[switches.hold]\nkind = "two-position"\n')
    (folder / "other.toml").write_text(REFERENCE)
    (folder / "setuplint.toml").write_text('fail-on = "notice"\n')
    for typed in ("extends = ", 'extends = "', 'extends = "sh'):
        editor.open(f"format = 1\n{typed}\n[craft]\n", save=True)
        at = editor.position(len("format = 1\n") + len(typed))
        found = await editor.client.text_document_completion_async(lsp.CompletionParams(editor.id, at))
        assert isinstance(found, lsp.CompletionList)
        assert [item.label for item in found.items] == ["shared/radio.toml"]
        editor.close()


async def test_what_a_waiver_may_be_on(editor: Editor) -> None:
    """The subjects of what its rule says now."""
    silent = "".join(f'[alarms.{name}]\nwhen = "hold is on"\n' for name in ("one", "two"))
    editor.open(REFERENCE + silent)
    assert (await editor.rules()).count("alarm-silent") == 2
    start = '\n[[waivers]]\nrule = "alarm-silent"\non = ['
    for typed, labels in (("", ["one", "two"]), ('"one", ', ["two"]), ('"one", "t', ["two"])):
        editor.write(REFERENCE + silent + start + typed + "]\n")
        at = editor.position(len(REFERENCE + silent + start + typed))
        found = await editor.client.text_document_completion_async(lsp.CompletionParams(editor.id, at))
        assert isinstance(found, lsp.CompletionList)
        assert [item.label for item in found.items] == labels
