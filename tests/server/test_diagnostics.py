"""What is told of a text: where, with what, and how it behaves while somebody types."""

from __future__ import annotations

import asyncio

import pytest
from lsprotocol import types as lsp

import setuplint
from setuplint.server.scheduling import PATIENCE, PAUSE
from tests import once

from .conftest import GRAVE, REFERENCE, ROOT, Editor

pytestmark = pytest.mark.asyncio(loop_scope="session")
UTF_8_TOO = True
READING = {"not-toml", "not-a-setup", "unknown-name", "name-clash", "value-out-of-range"}


async def test_a_hazard_is_told_where_it_is_with_the_parts_of_its_case(editor: Editor) -> None:
    editor.open(GRAVE)
    (told,) = await editor.told()
    assert (told.code, told.severity, told.source) == ("hold-bypassed", lsp.DiagnosticSeverity.Error, "setuplint")
    assert editor.marked(told.range) == "[overrides.rescue-power]"
    assert "put hold on, pull save: the motor channel gives +55 % (77.5 of 100, 1775 µs)" in told.message
    related = {each.message: editor.marked(each.location.range) for each in told.related_information or []}
    assert related["put hold on"] == "[switches.hold]"
    assert related["pull save"] == "[switches.save]"
    assert related["what calls hold"] == '"hold is on"'
    assert all(each.location.uri == editor.uri for each in told.related_information or [])
    editor.write(REFERENCE)
    assert await editor.told() == []


async def test_a_status_says_found_not_judged_and_not_decided_together(editor: Editor) -> None:
    editor.open(GRAVE)
    await editor.told()
    text, found, *still_open = editor.client.status[editor.uri]
    assert (text, found.danger, still_open) == ("1 danger", 1, [0, 0])
    editor.write(REFERENCE.replace("hover-throttle = 16", ""))
    await editor.told()
    count = len(setuplint.lint_text(editor.text).not_judged)
    assert count
    text, found, *still_open = editor.client.status[editor.uri]
    assert (text, found.danger, still_open) == (f"nothing found, {count} not judged", 0, [count, 0])
    for emptied, words, dangers in (("", "1 caution", 0), ("[project]\n", "no setup", 0)):
        editor.write(emptied)
        await editor.told()
        text, found, *still_open = editor.client.status[editor.uri]
        assert (text, found.danger, still_open) == (words, dangers, [0, 0])


async def test_more_than_two_hundred_findings_of_a_rule_are_counted(editor: Editor) -> None:
    unused = "".join(f'[conditions.spare-{n}]\nwhen = "hold is on"\n' for n in range(203))
    editor.open(f"{REFERENCE}\n{unused}")
    told = [each for each in await editor.told() if each.code == "part-unused"]
    assert [each.message for each in told[200:]] == ["and 3 more of part-unused"]
    text, found, *_ = editor.client.status[editor.uri]
    assert found.notice == 203
    assert text.endswith("; hidden: 3 of the findings only counted")


async def test_where_memory_matters_the_steps_are_told(editor: Editor) -> None:
    editor.open((ROOT / "examples" / "hazards" / "rescue-latched.toml").read_text(encoding="utf-8"))
    (told,) = [each for each in await editor.told() if each.code == "rescue-not-momentary"]
    steps = [each.message for each in told.related_information or [] if each.message.startswith("step ")]
    assert steps == [
        "step 1: switch on with hold on and save pulled: motor -100 % (0 of 100)",
        "step 2: put hold off, let go of save: motor +72 % (86 of 100)",
    ]


@pytest.mark.quick(8)
@pytest.mark.parametrize("path", sorted((ROOT / "examples" / "hazards").glob("*.toml")), ids=lambda path: path.stem)
async def test_what_is_told_is_what_a_lint_says(editor: Editor, path: object) -> None:
    text = path.read_text(encoding="utf-8")  # type: ignore[attr-defined]
    editor.open(text)
    said = once.lint_text(text).findings
    assert await editor.rules() == [finding.rule for finding in said]
    where = [editor.offset(told.range.start) for told in await editor.told()]
    report = once.lint_text(text)
    assert where == [report.where(finding.primary).span.start for finding in said]


async def test_an_unfinished_line_makes_nothing_come_or_go(editor: Editor) -> None:
    """Typed letter by letter, in the midst of it: the hazard stays, nothing else speaks but of the line itself."""
    editor.open(GRAVE)
    assert await editor.rules() == ["hold-bypassed"]
    line = '[alarms.second]\nwhen = "pack < 21.9"\nvoice = "soon"\nrepeat = 5\n'
    head, tail = GRAVE.split("[alarms.pack-gone]")
    before = {"hold-bypassed"}  # what was found in the last text that could be read
    for end in range(1, len(line)):
        editor.write(f"{head}{line[:end]}\n[alarms.pack-gone]{tail}")
        told = await editor.told()
        read = setuplint.load_text(editor.text)
        (hazard,) = [each for each in told if each.code == "hold-bypassed"]
        assert editor.marked(hazard.range) == "[overrides.rescue-power]", line[:end]
        if read.problems or read.document.problems:
            assert before <= {each.code for each in told} <= READING | before, line[:end]
        else:
            before = {str(each.code) for each in told}


async def test_what_is_changed_elsewhere_counts_while_a_line_is_broken(editor: Editor) -> None:
    editor.open(GRAVE)
    await editor.told()
    editor.replace('voice = "normal"', 'voice = "normal')
    assert await editor.rules() == ["hold-bypassed", "not-toml"]
    editor.replace("priority = 10 ", "priority = 100 ")
    await editor.settles(["not-toml"])
    editor.replace("priority = 100 ", "priority = 10 ")
    await editor.settles(["hold-bypassed", "not-toml"])
    told = [each.message for each in await editor.told() if "the rest is judged as it was before" in each.message]
    assert len(told) == 1
    assert told[0].startswith("This text is not closed")
    assert editor.client.status[editor.uri][0] == "unfinished, judged as it was before: 1 danger, 1 caution"


async def test_a_change_after_a_while_is_told_once_with_what_it_makes(editor: Editor) -> None:
    """What was found before is not told of the new text first, as it is where somebody types on and on."""
    editor.open(GRAVE)
    await editor.told()
    await asyncio.sleep(PATIENCE + 0.1)
    editor.write(REFERENCE)
    await editor.told()
    told = [list(each.diagnostics) for each in editor.client.history if each.uri == editor.uri and each.version == 2]
    assert told == [[]]


async def test_comments_and_layout_move_what_is_told(editor: Editor) -> None:
    editor.open(GRAVE)
    (before,) = await editor.told()
    editor.write("# first\n\n" + GRAVE)
    (after,) = await editor.told()
    assert after.range.start.line == before.range.start.line + 2
    assert after.message == before.message
    assert [each.location.range.start.line for each in after.related_information or []] == [
        each.location.range.start.line + 2 for each in before.related_information or []
    ]


async def test_places_beside_characters_beyond_ascii(editor: Editor) -> None:
    """Also line ends that are none for LSP, and a byte-order mark."""
    note = "# 🚁 ünd\u2028\x85𝔵\n"
    text = "\ufeff" + GRAVE.replace("format = 1\n", f"{note}format = 1\n")
    text = text.replace('when = "save is pulled"', '"when" = "save is pulld" # 🚁', 1)
    editor.open(text.replace("save is pulld", "save is pulled"))
    assert await editor.rules() == ["hold-bypassed"]
    editor.replace("save is pulled", "save is pulld")
    (wrong,) = [each for each in await editor.told() if each.code == "unknown-name"]
    assert editor.marked(wrong.range) == "pulld"
    editor.write(text.replace('voice = "normal"', 'voice = "🚁🚁", x = 1'))
    (wrong,) = [each for each in await editor.told() if each.code == "not-toml"]
    assert wrong.range.start.line == editor.at('voice = "🚁🚁"').line
    assert "\n" in wrong.message  # with what to do
    assert 'voice = "🚁🚁"' + editor.marked(wrong.range) in editor.text


async def test_what_is_wrong_elsewhere_stays_while_a_line_is_broken(editor: Editor) -> None:
    """At once, before the text is read as a setup; of the broken line that alone is told."""
    editor.open(REFERENCE.replace('when = "hold is on"', 'when = "hold is onn"', 1))
    assert "unknown-name" in await editor.rules()
    elsewhere = await editor.rules()
    editor.replace('voice = "normal"', 'voice = "normal')
    assert sorted(await editor.rules()) == sorted(["not-toml", *elsewhere])
    editor.replace('voice = "normal', 'voice = "normal"')
    assert await editor.rules() == elsewhere
    editor.replace('"hold is onn"', '"hold is onn')
    rules = await editor.rules()
    assert "not-toml" in rules
    assert "unknown-name" not in rules


async def test_other_toml_files_are_left_alone(editor: Editor) -> None:
    editor.open('[project]\nname = "x"\nbroken =\n')
    assert await editor.told() == []
    editor.write("")
    assert await editor.told() == []
    for text in ("[format]\nindent = 2\n", "[start]\n", "[field]\n", 'extends = "base.toml"\n'):
        editor.write(text)
        assert await editor.told() == []
        at = editor.position(len(text))
        assert await editor.client.text_document_completion_async(lsp.CompletionParams(editor.id, at)) is None
        editor.write(text + "broken =\n")  # what was there before was no setup either
        assert await editor.told() == []
    editor.write("format = 1\n[craft]\nbroken =\n")
    assert "not-toml" in await editor.rules()


@pytest.mark.parametrize(
    "text", ["[start]\nrequires = true\n", "format = 1\n[tool.x]\nwhen = 3\n", "[project]\nbroken =\n"]
)
async def test_nothing_of_ours_is_said_in_other_toml_files(editor: Editor, text: str) -> None:
    """Neither before nor after it was a beginning of one of ours."""
    client, start = editor.client, lsp.Position(1, 2)
    for before in ("", "format = 1\n"):
        editor.open(before)
        await editor.told()
        editor.write(text)
        whole = lsp.Range(lsp.Position(0, 0), editor.position(len(text)))
        context = lsp.CodeActionContext([])
        at = {"text_document": editor.id, "position": start}
        assert not await client.text_document_completion_async(lsp.CompletionParams(**at))
        assert await editor.told() == []
        assert not await client.text_document_hover_async(lsp.HoverParams(**at))
        assert not await client.text_document_definition_async(lsp.DefinitionParams(**at))
        assert not await client.text_document_code_action_async(lsp.CodeActionParams(editor.id, whole, context))
        assert not await client.text_document_code_lens_async(lsp.CodeLensParams(editor.id))
        assert not await client.text_document_inlay_hint_async(lsp.InlayHintParams(editor.id, whole))
        assert not await client.text_document_document_symbol_async(lsp.DocumentSymbolParams(editor.id))
        assert not await client.text_document_folding_range_async(lsp.FoldingRangeParams(editor.id))
        tokens = await client.text_document_semantic_tokens_full_async(lsp.SemanticTokensParams(editor.id))
        assert tokens is not None
        assert not tokens.data
        editor.close()
    editor.open("")


@pytest.mark.parametrize(
    ("text", "rules"),
    [
        ("", ["not-a-setup"]),
        ("# nothing\n", ["not-a-setup"]),
        (GRAVE.replace("[craft]", "[cra\0ft]"), ["not-toml"]),
        (GRAVE + "#" * 1_000_000, ["not-toml"]),
    ],
    ids=["empty", "comments", "null byte", "too large"],
)
async def test_of_what_can_not_be_read_at_all_that_alone_is_told(editor: Editor, text: str, rules: list[str]) -> None:
    editor.open(GRAVE)
    assert await editor.rules() == ["hold-bypassed"]
    editor.write(text)
    await asyncio.sleep(PAUSE + 0.2)
    assert await editor.rules() == rules
    editor.write(GRAVE)
    assert await editor.rules() == ["hold-bypassed"]
    if "craft" in text or len(text) > len(GRAVE):
        editor.close()
        editor.open(text)
        assert await editor.rules() == rules


async def test_waivers_hide_and_their_end_is_announced(editor: Editor) -> None:
    waiver = '\n[[waivers]]\nrule = "hold-bypassed"\nreason = "tried"\nuntil = 2999-01-01\n'
    editor.open(GRAVE + waiver)
    assert await editor.told() == []
    editor.write(GRAVE + waiver.replace("2999", "2001"))
    assert sorted(await editor.rules()) == ["hold-bypassed", "waiver-expired"]


async def test_the_choices_of_a_repository_hold(editor: Editor) -> None:
    folder = editor.path.parent
    (folder / ".git").mkdir()
    text = REFERENCE.replace('when = "pack < 21.6"', 'when = "pack < 20.4"')
    (folder / "setuplint.toml").write_text("[limits]\nvoltage-alarm-below-floor.floor-lipo = 3.5\n")
    editor.open(text, save=True)
    assert "voltage-alarm-below-floor" in await editor.rules()
    (folder / "setuplint.toml").write_text("[limits]\nvoltage-alarm-below-floor.floor-lipo = 3.3\n")
    editor.save()
    editor.write(text)
    assert "voltage-alarm-below-floor" not in await editor.rules()
    (folder / "setuplint.toml").write_text("limits = 3\n")
    editor.save()
    editor.write(text + "\n")
    assert (await editor.rules())[0] == "setuplint.toml"


async def test_a_shared_part_is_read_as_it_stands_in_the_editor(editor: Editor) -> None:
    shared = '[switches.hold]\nkind = "two-position"\n'
    own = GRAVE.replace("format = 1\n", 'format = 1\nextends = "radio.toml"\n').replace(
        '[switches.hold]\nkind = "two-position"\npositions = ["off", "on"]\n', ""
    )
    other = Editor(editor.client, editor.path.parent / "radio.toml")
    editor.path.write_text(own, encoding="utf-8")
    other.open(shared, save=True)
    editor.open(own)
    assert await editor.rules() == ["hold-bypassed"]
    (told,) = await editor.told()
    places = {each.message: each.location.uri for each in told.related_information or []}
    assert places["put hold on"] == other.uri
    count = len(editor.client.history)
    other.write(shared + 'positions = ["off", "up"]\n')
    for _ in range(300):
        if [p for p in editor.client.history[count:] if p.uri == editor.uri]:
            break
        await asyncio.sleep(0.02)
    assert "unknown-name" in {each.code for each in editor.client.published[editor.uri].diagnostics}
    other.close()


async def test_a_shared_part_that_was_missing_is_read_once_it_is_opened(editor: Editor) -> None:
    """Though nobody said that there is such a file now."""
    own = REFERENCE.replace("format = 1\n", 'format = 1\nextends = "radio.toml"\n')
    editor.open(own, save=True)
    assert await editor.rules() == ["not-a-setup"]
    other = Editor(editor.client, editor.path.parent / "radio.toml")
    other.open('[knobs.tail]\nplace = "left"\n', save=True)
    await editor.settles([])
    other.close()
