"""What a setup rests on, changed in the editor: its club's choices, the baseline, shared parts."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest
from lsprotocol import types as lsp

from setuplint.book.rule_file import Example
from setuplint.club import examples
from setuplint.club.baseline import Baseline
from setuplint.server.analysis import Analysis
from setuplint.server.open_files import OpenFile, OpenFiles
from setuplint.server.scheduling import Scheduler
from setuplint.server.unopened import MOST_USERS
from tests import once
from tests.club.made import claim, write

from .conftest import GRAVE, REFERENCE, REFRESHED, Client, Editor

pytestmark = pytest.mark.asyncio(loop_scope="session")
LOW = REFERENCE.replace('when = "pack < 21.6"', 'when = "pack < 20.4"')
FLOOR = "[limits]\nvoltage-alarm-below-floor.floor-lipo = "
RULE = "voltage-alarm-below-floor"


def in_repository(folder: Path, **texts: str) -> None:
    (folder / ".git").mkdir()
    write(folder, {f"{name}.toml": text for name, text in texts.items()})


async def until(editor: Editor, rule: str, there: bool) -> None:
    for _ in range(500):
        found = editor.client.published.get(editor.uri)
        if found is not None and (rule in {each.code for each in found.diagnostics}) == there:
            return
        await asyncio.sleep(0.02)
    raise AssertionError([each.code for each in editor.client.published[editor.uri].diagnostics])


async def test_a_club_s_choices_count_as_they_are_typed(editor: Editor) -> None:
    """While they can be read; a broken line, a mistake and the end of the editing leave what is on the disk."""
    in_repository(editor.path.parent, setuplint=f"{FLOOR}3.3\n")
    config = Editor(editor.client, editor.path.parent / "setuplint.toml")
    editor.open(LOW, save=True)
    assert RULE not in await editor.rules()
    config.open(f"{FLOOR}3.3\n")
    config.write(f"{FLOOR}3.5\n")
    await until(editor, RULE, True)
    for broken in (f"{FLOOR}\n", f"{FLOOR}9\n"):
        config.write(broken)
        await until(editor, RULE, False)
        config.write(f"{FLOOR}3.5\n")
        await until(editor, RULE, True)
    config.close()
    await until(editor, RULE, False)


async def test_what_is_in_the_baseline_is_marked_as_known(editor: Editor) -> None:
    folder = editor.path.parent
    in_repository(folder, setuplint='baseline = "known.jsonl"\n')
    (finding,) = once.lint_text(GRAVE).findings
    known = Baseline(str(folder / "known.jsonl"), [Baseline.entry("wagtail.toml", finding)])
    editor.open(GRAVE, save=True)
    assert (await editor.rules())[0] == "setuplint.toml"  # there is no such file
    (folder / "known.jsonl").write_text(known.text(), encoding="utf-8")
    editor.save()
    editor.write(GRAVE + "\n")
    (told,) = await editor.told()
    assert (told.code, told.severity) == ("hold-bypassed", lsp.DiagnosticSeverity.Hint)
    assert told.message.endswith("Known: this danger is in the baseline.")
    assert editor.client.status[editor.uri][0] == "nothing found; hidden: 1 in the baseline"
    editor.write(GRAVE.replace("rescue-power", "rescue-lift"))
    (told,) = await editor.told()
    assert told.severity == lsp.DiagnosticSeverity.Error


def watched(server: Client, *changed: Editor) -> None:
    """The editor says that they are others on the disk."""
    events = [lsp.FileEvent(each.uri, lsp.FileChangeType.Changed) for each in changed]
    server.workspace_did_change_watched_files(lsp.DidChangeWatchedFilesParams(events))


async def leaves(user: Editor, text: str | None) -> None:
    """It rests on the shared part no longer, as it is on the disk now: nothing is told of it."""
    if text is None:
        user.path.unlink()
    else:
        user.path.write_text(text, encoding="utf-8")
    watched(user.client, user)
    await until(user, "unknown-name", False)


async def test_setups_that_are_not_open_are_judged_with_their_shared_part(server: Client, tmp_path: Path) -> None:
    shared = '[switches.hold]\nkind = "two-position"\npositions = ["off", "on"]\n'
    own = REFERENCE.replace("format = 1\n", 'format = 1\nextends = "radio.toml"\n').replace(shared, "")
    in_repository(tmp_path, radio=shared, wagtail=own, whimbrel=own, other=REFERENCE)
    radio, wagtail, whimbrel = (Editor(server, tmp_path / f"{name}.toml") for name in ("radio", "wagtail", "whimbrel"))
    whimbrel.open(own)
    radio.open(shared)
    assert await radio.told() == []
    radio.write(shared.replace('"on"', '"up"'))
    await until(wagtail, "unknown-name", True)
    await until(whimbrel, "unknown-name", True)
    assert (tmp_path / "other.toml").as_uri() not in server.published
    whimbrel.close()
    await asyncio.sleep(0.2)
    await until(whimbrel, "unknown-name", True)  # it still does not fit
    wagtail.open(own.replace("hold is on", "hold is up"))
    assert "unknown-name" not in await wagtail.rules()
    wagtail.close()
    await asyncio.sleep(0.2)
    await until(wagtail, "unknown-name", True)  # as it is on the disk
    await leaves(whimbrel, None)
    await leaves(wagtail, REFERENCE)
    write(tmp_path, {"wagtail.toml": own, "whimbrel.toml": own})
    watched(server, wagtail)
    await until(wagtail, "unknown-name", True)
    radio.write(shared)
    await until(wagtail, "unknown-name", False)
    radio.write(shared.replace('"on"', '"up"'))
    await until(wagtail, "unknown-name", True)
    radio.close()
    await until(wagtail, "unknown-name", False)
    await until(whimbrel, "unknown-name", False)


async def test_a_club_s_rule_is_read_and_tried_as_it_is_typed(editor: Editor) -> None:
    """What keeps it from being one, where; whether it speaks as its examples say; its words. Beside it, nothing."""
    folder = editor.path.parent
    in_repository(folder, setuplint='rules = ["club-rules"]\n', **{"club-rules/too-strong": claim()})
    rule = Editor(editor.client, folder / "club-rules" / "too-strong.toml")
    loud = '[[examples]]\nspeaks = true\nedit = { "overrides.held.value" = 80 }\n'
    mute = loud.replace("true", "false").replace("80", "20")
    formula = "hold called and output motor > 60"
    rule.open(claim(formula) + loud + mute)
    assert [each.message for each in await rule.told()] == []
    await asyncio.sleep(1.5)
    assert [each.message for each in await rule.told()] == []
    rule.replace("motor > 60", "motor >> 60")
    (told,) = await rule.told()
    assert rule.marked(told.range).startswith(">")
    rule.replace("motor >> 60", "motor > 95")  # that is more than the example has
    await rule.settles(["club-rule"])
    (told,) = await rule.told()
    assert told.range.start == rule.at("[[examples]]")
    assert told.message == "it should find something, and is silent"
    rule.replace("signal = ", "signl = ")
    (told,) = await rule.told()
    assert "signl" in told.message
    rule.write(claim(formula).replace("output motor > 60", "output "))
    at = rule.at('output "', len("output "))
    found = await rule.client.text_document_completion_async(lsp.CompletionParams(rule.id, at))
    assert isinstance(found, lsp.CompletionList)
    assert "motor" in {each.label for each in found.items}
    rule.write(claim(formula))
    for words, meaning in (
        ("hold called", "`[intent] hold` holds"),
        ("never =", "in no moment"),
        ("basis", "practice"),
    ):
        shown = await rule.client.text_document_hover_async(lsp.HoverParams(rule.id, rule.at(words, 2)))
        assert shown is not None
        assert meaning in shown.contents.value  # type: ignore[union-attr]
    rule.close()
    editor.open(claim())
    assert await editor.told() == []


async def test_a_club_s_rule_counts_as_it_is_typed(editor: Editor) -> None:
    """While it is one; broken, the saved one stands, and that is said where it is broken."""
    folder = editor.path.parent
    saved, typed = claim("hold called and output motor > 60"), claim("hold called and output motor > 40")
    in_repository(folder, setuplint='rules = ["club-rules"]\n', **{"club-rules/too-strong": saved})
    rule = Editor(editor.client, folder / "club-rules" / "too-strong.toml")
    editor.open(GRAVE, save=True)
    assert await editor.rules() == ["hold-bypassed"]
    rule.open(typed)
    await until(editor, "too-strong", True)
    rule.replace("never", "nevr")
    await until(editor, "too-strong", False)
    told = [each.message for each in await rule.told()]
    assert [words.endswith("judged by it as it was saved)") for words in told] == [True]
    rule.write(typed)
    await until(editor, "too-strong", True)
    rule.close()
    await until(editor, "too-strong", False)


async def test_names_in_a_club_s_rule_are_those_of_its_set_ups(editor: Editor) -> None:
    """Of the safe reference and of its examples: what they are, what may come, and what none of them has."""
    folder = editor.path.parent
    in_repository(folder, setuplint='rules = ["club-rules"]\n', **{"club-rules/too-strong": claim()})
    rule = Editor(editor.client, folder / "club-rules" / "too-strong.toml")
    lamp = (
        '[[examples]]\nspeaks = true\nedit = { "switches.lamp.kind" = "two-position", "overrides.held.value" = 80 }\n'
    )
    rule.open(claim("hold called and output moter > 60 and lamp is on and throttle < 200") + lamp)
    await rule.settles(["club-rule"] * 4)
    told = {rule.marked(each.range): each.message for each in await rule.told()}
    assert told["moter"].startswith("there is no channel “moter” in the reference set-up or in an example")
    assert told["moter"].endswith("did you mean motor?")
    assert "it goes from -100 to 100" in told["200"]
    assert "lamp" not in told
    for words, meaning in (
        ("lamp is", "in example 1:\n\n**switch lamp**"),
        ("throttle <", "in the safe reference set-up:"),
    ):
        shown = await rule.client.text_document_hover_async(lsp.HoverParams(rule.id, rule.at(words, 2)))
        assert shown is not None
        assert shown.contents.value.startswith(meaning)  # type: ignore[union-attr]
    rule.write(claim("hold called and ") + lamp)
    at = rule.at("hold called and ", len("hold called and "))
    found = await rule.client.text_document_completion_async(lsp.CompletionParams(rule.id, at))
    assert {"lamp", "save", "output", "motor runs"} <= {each.label for each in found.items}  # type: ignore[union-attr]
    rule.close()


async def test_examples_are_given_up_where_the_rule_is_typed_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    example = '[[examples]]\nspeaks = true\nedit = { "overrides.held.value" = 80 }\n'
    text = claim("hold called and output motor > 60") + 3 * example
    in_repository(tmp_path, setuplint='rules = ["club-rules"]\n', **{"club-rules/too-strong": text})
    rule = OpenFile((tmp_path / "club-rules" / "too-strong.toml").as_uri(), text, 1)
    outcome, tried, shown = examples.outcome, list[Example](), list[Analysis]()

    def typed_on(name: str, example: Example, lint: examples.Lint) -> examples.Outcome:
        tried.append(example)
        rule.edits += len(tried) == 1
        return outcome(name, example, lint)

    monkeypatch.setattr(examples, "outcome", typed_on)
    files = OpenFiles()
    files.by_uri[rule.uri] = rule
    scheduler = Scheduler(files, lambda _, analysis: shown.append(analysis), lambda _, error: pytest.fail(str(error)))
    scheduler.changed(rule)
    task = scheduler.states[rule.uri].task
    assert task is not None
    await task
    assert len(tried) == 1 + 3
    assert shown[-1].parsed is files.parsed(rule)


async def test_what_stands_beside_a_text_is_asked_for_again_where_its_shared_part_changed(editor: Editor) -> None:
    shared = '[switches.hold]\nkind = "two-position"\npositions = ["off", "on"]\n'
    own = REFERENCE.replace("format = 1\n", 'format = 1\nextends = "radio.toml"\n').replace(shared, "")
    in_repository(editor.path.parent, radio=shared)
    radio = Editor(editor.client, editor.path.parent / "radio.toml")
    radio.open(shared)
    await radio.told()
    editor.open(own, save=True)
    await editor.told()
    await asyncio.sleep(0.2)
    del editor.client.refreshed[:]
    editor.write(own + "# more\n")
    await editor.told()
    assert not editor.client.refreshed  # the editor knows of its own changes
    radio.write(shared + "# more\n")
    await radio.told()
    await asyncio.sleep(0.3)
    assert not editor.client.refreshed  # that says nothing else
    radio.write(shared.replace('"on"', '"up"'))
    await until(editor, "unknown-name", True)
    await asyncio.sleep(0.2)
    assert sorted(set(editor.client.refreshed)) == sorted(REFRESHED)
    radio.close()


async def test_how_many_setups_are_left_out_is_logged(server: Client, tmp_path: Path) -> None:
    own = 'format = 1\nextends = "radio.toml"\n[craft]\nname = "x"\n'
    shared = '[switches.hold]\nkind = "two-position"\n'
    in_repository(tmp_path, radio=shared, **{f"craft-{n:02}": own for n in range(MOST_USERS + 3)})
    radio = Editor(server, tmp_path / "radio.toml")
    radio.open(shared)
    assert await radio.told() == []
    for _ in range(300):
        if server.log_messages and "3 more setups extend radio.toml" in server.log_messages[-1].message:
            break
        await asyncio.sleep(0.02)
    assert "3 more setups extend radio.toml" in server.log_messages[-1].message
    radio.close()
