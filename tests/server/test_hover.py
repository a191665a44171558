"""Hover: what is told of names, numbers, curves, keys, rules and findings."""

from __future__ import annotations

import re

import pytest
from lsprotocol import types as lsp

from tests.club.made import claim, write

from .conftest import GRAVE, REFERENCE, ROOT, Editor

pytestmark = pytest.mark.asyncio(loop_scope="session")
NOTE = REFERENCE.replace('voice = "normal"', 'voice = "🚁 ünd" # 𝔵')


async def hovered(editor: Editor, words: str, inside: int) -> tuple[str, str]:
    """What is told, and the part of the text that it is of."""
    found = await editor.client.text_document_hover_async(lsp.HoverParams(editor.id, editor.at(words, inside)))
    assert found is not None
    assert found.range is not None
    assert isinstance(found.contents, lsp.MarkupContent)
    return found.contents.value, editor.marked(found.range)


@pytest.mark.parametrize(
    ("words", "inside", "about", "says"),
    [
        ("[overrides.held]", 11, "held", ["demands -100 % of motor", "beats rescue-power"]),
        ("[overrides.rescue-power]", 11, "rescue-power", ["is beaten by held"]),
        (
            "hold is on",
            1,
            "hold",
            ["switch hold", "two-position", "rests at off", "used by intent hold, override held"],
        ),
        ("hold is on", 8, "on", ["position on", "of switch hold"]),
        ("[switches.save]", 12, "save", ["momentary, springs back"]),
        ("pack < 21.6", 1, "pack", ["sensor pack", "reads pack-voltage in V", "condition pack-low"]),
        ("[modes.idle-up]", 8, "idle-up", ["asked 2. of 2", "aerobatic"]),
        ("[conditions.pack-low]", 13, "pack-low", ["held for 1.5 s", "used by alarm land-now"]),
        ("[sticks.throttle]", 9, "throttle", ["-100 to +100 %, rests at -100 %", "trim up to 0 %"]),
        ("[alarms.land-now]", 9, "land-now", ["every 5 s"]),
        ("hover-throttle", 2, "hover-throttle", ["output in a steady hover", "Unit: %", "From -150 to 150"]),
        ("chemistry", 2, "chemistry", ["how low a loaded cell may go", "One of: lipo, lihv, li-ion, life."]),
        ("shown = true", 2, "shown", ["on the transmitter's screen"]),
        ("[timers.flight]", 9, "flight", ["timer flight", "270 s, 4 min 30 s", "counts while `runs` holds"]),
        ("attitude > 0", 11, "0", ["0 % (1500 µs) of attitude"]),
        ("[-50, -14]", 2, "-50", ["**points**: Input. Unit: %", "hovers at +16", "```text"]),
        ("[battery]", 3, "battery", ["The flight pack"]),
    ],
)
async def test_names_and_keys(editor: Editor, words: str, inside: int, about: str, says: list[str]) -> None:
    editor.open(NOTE)
    told, of = await hovered(editor, words, inside)
    assert of.strip('"') == about
    for each in says:
        assert each in told


async def test_a_channel_has_its_exact_range_over_every_state_in_each_mode(editor: Editor) -> None:
    editor.open(NOTE)
    told, _ = await hovered(editor, "[channels.motor]", 11)
    assert "drives motor, number 2" in told
    assert "taken by held, then rescue-power" in told
    assert "- in normal: -100 % (0 of 100, 1000 µs) to +100 % (100 of 100, 2000 µs)" in told
    assert "- in idle-up: -100 % (0 of 100, 1000 µs) to +55 % (77.5 of 100, 1775 µs)" in told


async def test_a_threshold_is_told_in_volts_a_cell_and_charge(editor: Editor) -> None:
    editor.open(NOTE)
    told, of = await hovered(editor, "pack < 21.6", 8)
    assert of == "21.6"
    assert "**3.6 V a cell**, 21.6 V for this pack of 6" in told
    assert "over the floor of a loaded cell, 3.3 V" in told
    assert "of the charge is left" in told
    assert "in a hover, where the current takes 0.09 V of it" in told
    told, _ = await hovered(editor, "link < 60", 8)
    assert "60 %, as link reads link-quality" in told
    told, _ = await hovered(editor, "throttle < -95", 12)
    assert "-95 % of the travel of throttle" in told


async def test_a_curve_is_drawn_with_its_slope_at_the_hover(editor: Editor) -> None:
    editor.open(NOTE)
    told, _ = await hovered(editor, "[curves.hover-soft]", 10)
    assert "monotone smoothing" in told
    assert "hovers at +16 with the stick at 0 %, slope 0.6 there" in told
    assert told.count("●") > 20
    editor.write(
        NOTE.replace("[[-100, -100], [-50, -14], [0, 16], [50, 46], [100, 100]]", "[[-100, -100], [0, 16], [100, 100]]")
    )
    editor.write(editor.text.replace('smoothing = "monotone"', 'smoothing = "none"'))
    told, _ = await hovered(editor, "[curves.hover-soft]", 10)
    assert "slope 1.16 below and 0.84 above there" in told  # RULES.md: straight halves of h = 16


async def test_a_waivers_rule_is_its_page(editor: Editor) -> None:
    editor.open(REFERENCE + '\n[[waivers]]\nrule = "mode-jump"\nreason = "x"\n')
    told, of = await hovered(editor, 'rule = "mode-jump"\nreason', 9)
    assert of == "mode-jump"
    assert "Meaning:" in told
    assert "Remedy:" in told


async def test_predicates_of_claims(editor: Editor) -> None:
    editor.open(REFERENCE)
    told, of = await hovered(editor, "sprung switches released", 10)
    assert of == "sprung switches released"
    assert "every momentary switch is at its first position" in told


async def test_why_a_finding_matters(editor: Editor) -> None:
    editor.open(GRAVE)
    await editor.told()
    told, _ = await hovered(editor, "[overrides.rescue-power]", 13)
    assert "*Why.* With the hold on" in told
    assert "*Remedy.* " in told


async def test_nothing_that_a_stranger_writes_is_markup(editor: Editor) -> None:
    place = 'place = "![x](https://example.invalid/a.png) <img src=x> ``` @all"'
    editor.open(REFERENCE.replace('place = "left shoulder"', place))
    told, _ = await hovered(editor, "[switches.flight]", 12)
    assert "example.invalid" in told
    assert not re.search(r"(?<!\\)[\[\]!`]", told.replace("!\\[", ""))
    assert "<img" not in told


@pytest.mark.quick(4)
@pytest.mark.parametrize("path", sorted((ROOT / "examples").glob("*.toml")), ids=lambda path: path.stem)
async def test_anywhere_in_any_example(editor: Editor, path: object) -> None:
    """No place makes an error; keys and names are told of, comments are not."""
    text = path.read_text(encoding="utf-8")  # type: ignore[attr-defined]
    editor.open(text)
    told = 0
    for offset in range(0, len(text), 23):
        found = await editor.client.text_document_hover_async(lsp.HoverParams(editor.id, editor.position(offset)))
        told += found is not None
    assert told > len(text) / 23 / 4


async def test_a_club_s_rules_in_a_waiver(editor: Editor) -> None:
    """Its own, and ours with its limits; both are offered too."""
    folder = editor.path.parent
    write(folder, {"club-rules/too-strong.toml": claim()})
    (folder / ".git").mkdir()
    limits = 'rules = ["club-rules"]\n[limits]\nhold-slow.longest = 0.4\n'
    (folder / "setuplint.toml").write_text(limits)
    waivers = "".join(f'[[waivers]]\nrule = "{name}"\nreason = "x"\n' for name in ("too-strong", "hold-slow"))
    editor.open(REFERENCE + waivers, save=True)
    await editor.told()
    told, of = await hovered(editor, '"too-strong"', 3)
    assert "The club says so." in told
    assert of == "too-strong"
    told, _ = await hovered(editor, '"hold-slow"', 3)
    assert "0.4 s" in told
    at = editor.at('"too-strong"', 1)
    found = await editor.client.text_document_completion_async(lsp.CompletionParams(editor.id, at))
    assert isinstance(found, lsp.CompletionList)
    assert {"too-strong", "hold-slow"} <= {item.label for item in found.items}
