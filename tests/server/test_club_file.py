"""setuplint.toml in the editor: what is wrong in it, with places; completion, hover, the word that was meant."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
import pytest_asyncio
from lsprotocol import types as lsp

from setuplint.club import nearest
from setuplint.club.config import ConfigError, read_config
from tests.club.made import claim, write

from .conftest import GRAVE, Client, Editor

pytestmark = pytest.mark.asyncio(loop_scope="session")
GOOD = """\
# 🚁 ü
edition = 2026
fail-on = "notice"
rules = ["club-rules"]
never-waive = ["danger", "mode-jump", "too-strong"]

[limits]
hold-slow.longest = 0.4
"rescue-slow.level" = 0.25
"""


@pytest_asyncio.fixture(loop_scope="session")
async def config(server: Client, tmp_path: Path) -> AsyncIterator[Editor]:
    """A setuplint.toml in a work tree with a club's rule."""
    (tmp_path / ".git").mkdir()
    write(tmp_path, {"club-rules/too-strong.toml": claim(), "wagtail.toml": GRAVE, "none/x.txt": ""})
    made = Editor(server, tmp_path / "setuplint.toml")
    yield made
    made.close()


async def test_a_good_one_is_told_nothing_of(config: Editor) -> None:
    config.open(GOOD)
    assert await config.told() == []


@pytest.mark.parametrize(
    ("old", "new", "place", "says"),
    [
        ("fail-on =", 'a = "🚁"\nfail-om =', "fail-om", "did you mean fail-on?"),
        ('"notice"', '"grave" # 🚁', '"grave"', "fail-on is danger, caution or notice, in quotes"),
        ("2026", "2031", "2031", "no edition after"),
        ("2026", '"2026"', '"2026"', "edition is a year"),
        ('"club-rules"', '"../club-rules"', '"../club-rules"', "leads out of the repository"),
        ('"club-rules"', '"klub"', '"klub"', "there is no folder"),
        ('"danger"', '"dangre"', '"dangre"', "did you mean danger?"),
        ('"mode-jump"', '"mode-jmp"', '"mode-jmp"', "did you mean mode-jump?"),
        ("0.4", "0.9", "0.9", "a club can only tighten it"),
        ("hold-slow.longest", "hold-slow.longst", "longst", "its limits: longest"),
        ('"rescue-slow.level"', '"rescue-slo.level"', '"rescue-slo.level"', "did you mean rescue-slow?"),
        ("= 0.4", "= ", "=", "There is no value after this `=`."),
    ],
)
async def test_each_mistake_at_its_place(config: Editor, old: str, new: str, place: str, says: str) -> None:
    config.open(GOOD)
    await config.told()
    config.replace(old, new)
    found = [each for each in await config.told() if says in each.message]
    assert [config.marked(each.range) for each in found] == [place]
    assert {each.code for each in found} == {"setuplint.toml"}
    config.save()
    with pytest.raises(ConfigError):
        read_config(nearest.given_config(str(config.path)))


async def test_all_are_told_while_a_line_is_unfinished(config: Editor) -> None:
    """And nothing that rests on the line which cannot be read."""
    config.open(GOOD.replace("0.4", "0.9"))
    (limit,) = await config.told()
    config.replace('["club-rules"]', '["club-ru')
    unfinished, same = await config.told()
    assert config.marked(unfinished.range) == '"club-ru'
    assert same.message == limit.message


async def test_set_ups_are_told_of_it_and_judged_by_it_once_it_is_saved(config: Editor) -> None:
    config.open(GOOD.replace("0.4", "0.9"), save=True)
    setup = Editor(config.client, config.path.parent / "wagtail.toml")
    setup.open(GRAVE)
    assert await setup.rules() == ["setuplint.toml", "hold-bypassed"]
    config.replace("0.9", "0.4")
    assert await config.told() == []
    assert await setup.rules() == ["setuplint.toml", "hold-bypassed"]  # the command would say the same
    config.save()
    await setup.settles(["hold-bypassed", "too-strong"])
    setup.close()


async def offered(config: Editor, typed: str, rest: str = "") -> dict[str, lsp.CompletionItem]:
    config.open(typed + rest)
    at = config.position(len(typed))
    found = await config.client.text_document_completion_async(lsp.CompletionParams(config.id, at))
    assert isinstance(found, lsp.CompletionList)
    return {item.label: item for item in found.items}


@pytest.mark.parametrize(
    ("typed", "rest", "holds", "lacks"),
    [
        ("", "", {"edition", "fail-on", "rules", "never-waive", "[limits]"}, {"format"}),
        ("edition = 2026\nfa", "", {"fail-on", "rules"}, {"edition"}),
        ("fail-on = ", "", {"danger", "caution", "notice"}, {"hold-slow"}),
        ('fail-on = "', "", {"danger"}, {"hold-slow"}),
        ("edition = ", "", {"2026"}, {"danger"}),
        ('never-waive = ["danger", "', '"]\n', {"caution", "hold-slow"}, {"danger"}),
        ('rules = ["club-rules"]\nnever-waive = ["', '"]\n', {"danger", "too-strong"}, set()),
        ("rules = [", "", {"club-rules"}, {"none", ".git"}),
        ("[", "", {"limits"}, {"craft"}),
        ("[limits.", "", {"hold-slow", "hold-bypassed"}, {"hold-missing"}),
        ("[limits]\n", "", {"hold-slow.longest", "voltage-alarm-below-floor.floor-lipo"}, {"edition", "longest"}),
        ("[limits]\nhold-sl", "\nx = 🚁", {"hold-slow.longest"}, set()),
        ("[limits]\nhold-slow.", "", {"longest"}, {"level"}),
        ("[limits.rescue-slow]\n", "", {"level", "motor", "over-hover"}, {"longest"}),
        ("[limits]\nhold-slow.longest = ", "", {"0.5"}, set()),
    ],
)
async def test_completion(config: Editor, typed: str, rest: str, holds: set[str], lacks: set[str]) -> None:
    found = await offered(config, typed, rest)
    assert found.keys() >= holds
    assert not found.keys() & lacks
    assert all(item.documentation for label, item in found.items() if label in holds and label != "club-rules")


@pytest.mark.parametrize(
    ("typed", "takes", "more"),
    [
        ("# 🚁\nfail", "fail-on", '"danger"'),
        ("fail-on = ", "notice", ""),
        ("never-waive = ", "danger", ""),
        ("[lim", "limits", "\n"),
        ("[limits]\n", "hold-slow.longest", "0.4"),
        ('[limits]\n"hold', "hold-slow.longest", "0.4"),
        ("rules = ", "club-rules", ""),
    ],
)
async def test_what_is_taken_makes_a_good_file(config: Editor, typed: str, takes: str, more: str) -> None:
    item = (await offered(config, typed))[takes]
    config.write(config.put([item.text_edit]) + more)
    assert await config.told() == [], config.text


@pytest.mark.parametrize(
    ("words", "inside", "about", "says"),
    [
        ("fail-on", 1, "fail-on", "The least signal word"),
        ("edition", 1, "edition", "rule set's year"),
        ('"danger"', 2, '"danger"', "someone can be hurt"),
        ('"mode-jump"', 4, '"mode-jump"', "mode-jump: notice"),
        ('"too-strong"', 4, '"too-strong"', "The club says so."),
        ('"club-rules"', 4, '"club-rules"', "Too strong"),
        ("hold-slow", 4, "hold-slow", "hold-slow: danger"),
        ("longest", 4, "longest", "Unit: s. A club's is at most ours, 0.5."),
        ('"rescue-slow.level"', 4, '"rescue-slow.level"', "rescue-slow: caution"),
        ("0.4", 1, "0.4", "at most ours, 0.5"),
    ],
)
async def test_hover(config: Editor, words: str, inside: int, about: str, says: str) -> None:
    config.open(GOOD)
    found = await config.client.text_document_hover_async(lsp.HoverParams(config.id, config.at(words, inside)))
    assert found is not None
    assert found.range is not None
    assert isinstance(found.contents, lsp.MarkupContent)
    assert says in found.contents.value
    assert config.marked(found.range) == about


async def test_the_word_that_was_meant(config: Editor) -> None:
    config.open(GOOD.replace('"mode-jump"', '"mode-jmp"'))
    (told,) = await config.told()
    asked = lsp.CodeActionParams(config.id, told.range, lsp.CodeActionContext([]))
    (action,) = await config.client.text_document_code_action_async(asked) or []
    assert isinstance(action, lsp.CodeAction)
    assert action.edit is not None
    assert action.edit.changes is not None
    assert config.put(action.edit.changes[config.uri]) == GOOD


async def test_nothing_else_is_told_of_it(config: Editor) -> None:
    """No lenses, hints or outlines as of a set-up, and no rename."""
    config.open(GOOD + "[craft]\nmotor-off = 3\n")
    await config.told()
    whole = lsp.Range(lsp.Position(0, 0), lsp.Position(99, 0))
    assert not await config.client.text_document_code_lens_async(lsp.CodeLensParams(config.id))
    assert not await config.client.text_document_inlay_hint_async(lsp.InlayHintParams(config.id, whole))


async def test_what_one_further_out_is_stricter_about_is_told(server: Client, tmp_path: Path, config: Editor) -> None:
    """And a setup below is judged by both."""
    write(tmp_path, {"setuplint.toml": "limits.hold-slow.longest = 0.3\nrules = ['club-rules']"})
    inner = Editor(server, tmp_path / "craft" / "setuplint.toml")
    (tmp_path / "craft").mkdir()
    inner.open("limits.hold-slow.longest = 0.4\nlimits.rescue-slow.level = 0.2\n")
    (told,) = await inner.told()
    assert told.message.startswith("hold-slow.longest = 0.4 does not count: 0.3 holds by ")
    assert inner.marked(told.range) == "0.4"
    inner.save()
    setup = Editor(server, tmp_path / "craft" / "kestrel.toml")
    setup.open(GRAVE)
    assert "too-strong" in {each.code for each in await setup.told()}
    setup.close()
    inner.close()
