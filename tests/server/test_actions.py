"""Code actions: remedies that were tried, softer curves, waivers, what is missing."""

from __future__ import annotations

from pathlib import Path

import pytest
from lsprotocol import types as lsp

import setuplint

from .conftest import GRAVE, REFERENCE, ROOT, Editor

pytestmark = pytest.mark.asyncio(loop_scope="module")
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
    assert setuplint.lint_text(text).findings == ()
    assert text.count("#") == GRAVE.count("#")


@pytest.mark.parametrize("path", HAZARDS, ids=lambda path: path.stem)
async def test_every_mechanical_remedy_of_the_examples(editor: Editor, path: Path) -> None:
    """Each is offered where its finding is; those that are preferred take it away and bring nothing new."""
    text = "# 🚁 é\n" + path.read_text(encoding="utf-8")
    editor.open(text)
    told = await editor.told()
    report = setuplint.lint_text(text)
    for finding, diagnostic in zip(report.findings, told, strict=True):
        found = await offered(editor, diagnostic.range, ["quickfix"])
        sets = [title for title in found if title.startswith("set ")]
        if finding.edit is not None:
            assert [title for title in sets if f"= {finding.edit.value}" in title]
        for action in found.values():
            if action.is_preferred and action.title.startswith("set "):
                after = setuplint.lint_text(done(editor, action))
                left = {(x.rule, x.subject) for x in after.findings}
                assert left < {(x.rule, x.subject) for x in report.findings}


async def test_a_curve_can_be_softened_at_its_hover(editor: Editor) -> None:
    editor.open(REFERENCE)
    at = editor.at("[0, 24]", 2)
    found = await offered(editor, lsp.Range(at, at), ["refactor"])
    title = "soften hover-soft: slope 0.5 at the hover of 24 %"
    assert title in found
    assert "soften hover-soft: slope 0.6 at the hover of 24 %" not in found  # it has that
    text = done(editor, found[title])
    assert "points = [[-100, -100], [-50, -1], [0, 24], [50, 49], [100, 100]]" in text  # RULES.md, Softening
    assert not await offered(editor, lsp.Range(at, at), ["quickfix"])


async def test_a_waiver_with_its_reason_left_to_write(editor: Editor) -> None:
    editor.open(GRAVE)
    (told,) = await editor.told()
    found = await offered(editor, told.range)
    action = found["waive hold-bypassed of rescue-power (the reason is left to write)"]
    text = done(editor, action)
    assert text.endswith('\n[[waivers]]\nrule = "hold-bypassed"\non = ["rescue-power"]\nreason = ""\n')
    assert {x.rule for x in setuplint.lint_text(text).findings} >= {"not-a-setup"}  # a reason is needed
    editor.write(text.replace('reason = ""', 'reason = "tried on the bench"'))
    assert await editor.told() == []


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
        ("panic is pulled", "save is pulled", "create the switch save", {"save": ("released", "pulled")}),
        ("panic is pulled", "save is up", "create the switch save", {"save": ("up", "middle", "down")}),
        ("panic is pulled", "save is wide", "create the switch save", {"save": ("off", "wide")}),
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
