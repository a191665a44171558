"""Code actions: remedies that were tried, softer curves, waivers, what is missing."""

from __future__ import annotations

from pathlib import Path

import pytest
from lsprotocol import types as lsp

import setuplint
from setuplint.book import rulebook
from setuplint.findings import Finding
from setuplint.fixes import remedies
from setuplint.formats.terminal import FIXED_SPACE, plain
from setuplint.server.code_actions import MOST_TRIED
from tests import once
from tests.rules.edits import example_text

from .conftest import GRAVE, REFERENCE, ROOT, Editor

pytestmark = pytest.mark.asyncio(loop_scope="session")
UTF_8_TOO = True
HAZARDS = sorted((ROOT / "examples" / "hazards").glob("*.toml"))


async def offered(editor: Editor, place: lsp.Range, only: list[str] | None = None) -> dict[str, lsp.CodeAction]:
    asked = lsp.CodeActionParams(editor.id, place, lsp.CodeActionContext([], only=only))  # type: ignore[arg-type]
    found = await editor.client.text_document_code_action_async(asked)
    return {each.title: each for each in found or [] if isinstance(each, lsp.CodeAction)}


def done(editor: Editor, action: lsp.CodeAction) -> str:
    assert action.edit is not None
    assert action.edit.changes is not None
    return editor.put(action.edit.changes[editor.uri])


async def test_a_remedy_is_a_quick_fix_that_was_tried(editor: Editor) -> None:
    editor.open(GRAVE)
    (told,) = await editor.told()
    found = await offered(editor, told.range)
    first = next(iter(found.values()))
    assert first.is_preferred
    assert first.kind == lsp.CodeActionKind.QuickFix
    assert [each.code for each in first.diagnostics or []] == ["hold-bypassed"]
    text = done(editor, first)
    assert once.lint_text(text).findings == ()
    assert text.count("#") == GRAVE.count("#")


@pytest.mark.quick(8)
@pytest.mark.parametrize("path", HAZARDS, ids=lambda path: path.stem)
async def test_every_mechanical_remedy_of_the_examples(editor: Editor, path: Path) -> None:
    """Each is offered where its finding is; those that are preferred take it away and bring nothing new."""
    text = "# 🚁 é\n" + path.read_text(encoding="utf-8")
    editor.open(text)
    told = await editor.told()
    report = once.lint_text(text)
    for finding, diagnostic in zip(report.findings, told, strict=True):
        found = await offered(editor, diagnostic.range, ["quickfix"])
        sets = [title for title in found if title.startswith("set ")]
        if finding.edit is not None:
            assert [title for title in sets if f"= {finding.edit.value}" in title]
        for action in found.values():
            if action.is_preferred and action.title.startswith("set "):
                after = once.lint_text(done(editor, action))
                left = {(x.rule, x.subject) for x in after.findings}
                assert left < {(x.rule, x.subject) for x in report.findings}


def by_the_command(text: str, finding: Finding) -> str | None:
    """What `lint --fix` has against a remedy, "" where it applies it; None where it comes after another of its rule."""
    lint = once.lint_text
    found = remedies(text.encode(), lint(text), lint, {finding.rule}, lambda data: setuplint.load_text(data).model)
    if len([each for each in lint(text).findings if each.rule == finding.rule]) > 1:
        return None
    return next((offer.because for offer in found.offered if offer.finding.subject == finding.subject), "")


@pytest.mark.slow
async def test_what_is_preferred_is_what_the_command_applies(editor: Editor) -> None:
    """Of remedies in the rules' own examples and in the hazards; the others say what speaks against them."""
    texts = [path.read_text(encoding="utf-8") for path in HAZARDS]
    texts += [
        example_text(each)
        for name in rulebook.rules()
        for each in rulebook.page(name).examples
        if each.speaks and not each.beside
    ]
    seen = {True: 0, False: 0}
    first = editor
    some = texts[::10] if editor.client.units == "utf-8" else texts[1::10]  # it takes seconds
    for number, text in enumerate(some):
        found = [each for each in once.lint_text(text).findings if each.edit is not None]
        if not found:
            continue
        editor = Editor(first.client, first.path.with_name(f"{number}.toml"))
        editor.open(text)
        told = {(each.code, each.message): each for each in await editor.told()}
        for finding in found:
            (place,) = [each.range for key, each in told.items() if key[0] == finding.rule and fits(key[1], finding)]
            because = by_the_command(text, finding)
            actions = await offered(editor, place, ["quickfix"])
            mine = [x for x in actions.values() if x.title.startswith("set ") and about(x, finding)]
            if because is None or not mine:
                continue
            (action,) = mine
            assert bool(action.is_preferred) == (not because), (action.title, because)
            assert not because or action.title.endswith(f"({because})")
            seen[not because] += 1
        editor.close()
    first.open(REFERENCE)
    assert seen[True] > 3
    assert seen[False] > 3


def fits(message: str, finding: Finding) -> bool:
    return message.startswith(plain(finding.message).replace(FIXED_SPACE, " "))


def about(action: lsp.CodeAction, finding: Finding) -> bool:
    (told,) = action.diagnostics or []
    return told.code == finding.rule and fits(told.message, finding)


async def test_many_remedies_at_once_are_not_all_tried(editor: Editor) -> None:
    alarm = '[alarms.a{0}]\nwhen = "hold is on and throttle > {0}"\n'
    editor.open(REFERENCE + "".join(alarm.format(n) for n in range(MOST_TRIED + 3)))
    assert (await editor.rules()).count("alarm-silent") == MOST_TRIED + 3
    whole = lsp.Range(lsp.Position(0, 0), editor.position(len(editor.text)))
    for left in (3, 0):  # asked again, those that were tried are known
        titles = [title for title in await offered(editor, whole) if title.startswith("set ")]
        assert len(titles) == MOST_TRIED + 3
        assert len([title for title in titles if "not tried" in title]) == left


async def test_a_curve_can_be_softened_at_its_hover(editor: Editor) -> None:
    editor.open(REFERENCE)
    at = editor.at("[0, 16]", 2)
    found = await offered(editor, lsp.Range(at, at), ["refactor"])
    title = "soften hover-soft: slope 0.5 at the hover of 16 %"
    assert title in found
    assert "soften hover-soft: slope 0.6 at the hover of 16 %" not in found  # it has that
    text = done(editor, found[title])
    assert "points = [[-100, -100], [-50, -9], [0, 16], [50, 41], [100, 100]]" in text  # RULES.md, Softening
    assert not await offered(editor, lsp.Range(at, at), ["quickfix"])


async def test_a_waiver_with_its_reason_left_to_write(editor: Editor) -> None:
    editor.open(GRAVE)
    (told,) = await editor.told()
    found = await offered(editor, told.range)
    action = found["waive hold-bypassed of rescue-power (the reason is left to write)"]
    text = done(editor, action)
    assert text.endswith('\n[[waivers]]\nrule = "hold-bypassed"\non = ["rescue-power"]\nreason = ""\n')
    assert {x.rule for x in once.lint_text(text).findings} >= {"not-a-setup"}  # a reason is needed
    editor.write(text.replace('reason = ""', 'reason = "tried on the bench"'))
    assert await editor.told() == []


async def test_of_another_format_no_waiver_is_offered(editor: Editor) -> None:
    editor.open(REFERENCE.replace("format = 1", "format = 2", 1))
    (told,) = await editor.told()
    assert told.code == "not-a-setup"
    assert not [title for title in await offered(editor, told.range) if title.startswith("waive")]


async def test_what_may_not_be_waived_is_not_offered(editor: Editor) -> None:
    folder = editor.path.parent
    (folder / ".git").mkdir()
    (folder / "setuplint.toml").write_text('never-waive = ["danger"]\n')
    editor.open(GRAVE, save=True)
    (told,) = await editor.told()
    assert not [title for title in await offered(editor, told.range) if title.startswith("waive")]


@pytest.mark.parametrize(
    ("old", "new", "title", "declared"),
    [
        ("save is pulled", "bail is pulled", "create the switch bail", {"bail": ("released", "pulled")}),
        ("save is pulled", "bail is up", "create the switch bail", {"bail": ("up", "middle", "down")}),
        ("save is pulled", "bail is wide", "create the switch bail", {"bail": ("off", "wide")}),
        ('when = "pack-low"', 'when = "tired"', "create the condition tired", {}),
    ],
)
async def test_a_missing_part_is_made(
    editor: Editor, old: str, new: str, title: str, declared: dict[str, tuple[str, ...]]
) -> None:
    editor.open(REFERENCE.replace(old, new))
    unknown = next(each for each in await editor.told() if each.code == "unknown-name")
    found = await offered(editor, unknown.range)
    assert title in found
    text = done(editor, found[title])
    read = setuplint.load_text(text)
    assert not [problem for problem in read.problems if problem.rule == "unknown-name"]
    for name, positions in declared.items():
        assert read.model.switches[name].positions == positions


async def test_the_name_that_was_meant(editor: Editor) -> None:
    editor.open(REFERENCE.replace("hold is on", "hlod is on", 1))
    unknown = next(each for each in await editor.told() if each.code == "unknown-name")
    found = await offered(editor, unknown.range)
    assert found["write hold"].is_preferred
    assert done(editor, found["write hold"]) == REFERENCE


async def test_what_stands_in_a_shared_part_is_not_changed_from_elsewhere(editor: Editor) -> None:
    (editor.path.parent / "radio.toml").write_text('[switches.hold]\nkind = "two-position"\n')
    own = '[switches.hold]\nkind = "two-position"\npositions = ["off", "on"]\n'
    editor.open(GRAVE.replace("format = 1\n", 'format = 1\nextends = "radio.toml"\n').replace(own, ""))
    (told,) = await editor.told()
    for action in (await offered(editor, told.range)).values():
        assert action.edit is not None
        assert (action.edit.changes or {}).keys() == {editor.uri}
