"""“Soften this curve”: on every curve that something hovers on, for what the channel then does, and only if that is softer."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from lsprotocol import types as lsp

import setuplint
from setuplint.formats.patch import edited_text as edited
from setuplint.pages.softening import hover_points, softer_curves
from setuplint.setup.file_sources import Folder
from setuplint.setup.model import Setup

from .conftest import REFERENCE, ROOT, Editor
from .test_actions import done, offered

EXAMPLES = [path for path in sorted((ROOT / "examples").glob("*.toml")) if path.stem != "club-radio"]
HOVERING = {
    "bittern": {"carburettor", "pitch-calm"},
    "firecrest": {"hover-soft"},
    "goshawk": {"pitch-calm"},  # a governor has its throttle
    "heron": {"lift"},
    "kestrel": {"motor-normal", "pitch-normal", "pitch-wind", "pitch-glide"},
    "lapwing": {"motor-soft", "pitch-calm", "pitch-wind"},
    "plover": {"spin", "calm"},  # extends the club's radio
    "reference": {"hover-soft", "pitch-calm"},
    "wren": set(),  # no curves
}
wire = pytest.mark.asyncio(loop_scope="session")


def model(text: str, path: Path | None = None) -> Setup:
    return setuplint.load_text(text, "x.toml", Folder(path) if path else None).model


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_curve_of_the_examples(path: Path) -> None:
    """The craft then hovers at mid-stick, with the slope that the title says, and softer than before."""
    text = path.read_text(encoding="utf-8")
    setup, document = model(text, path), setuplint.load(path).document
    assert {name for name in setup.curves if list(softer_curves(setup, name))} == HOVERING[path.stem]
    for name in HOVERING[path.stem]:
        before = max(each.slope or 0 for each in hover_points(setup, name))
        for found in softer_curves(setup, name):
            slope = Fraction(found.title.partition("slope ")[2].split()[0])
            after = edited(document, found.edit)
            assert after is not None
            again = model(after, path)
            hovering = list(hover_points(again, name))
            assert hovering
            if setup.curves[name].smoothing != "unknown":
                assert all(abs((each.slope or 0) - slope) < Fraction(1, 100) for each in hovering)
            assert slope < before
            assert abs(again.curves[name].points[2][1] - hovering[0].demand) < Fraction(1, 100)
            assert not [x for x in softer_curves(again, name) if f"slope {float(slope):g} " in x.title]


def titles(text: str, name: str = "hover-soft") -> list[str]:
    return [each.title for each in softer_curves(model(text), name)]


SEVEN = "points = [[-100, -100], [-60, -30], [-30, -5], [0, 16], [30, 40], [60, 70], [100, 100]]"
FIVE = "points = [[-100, -100], [-50, -14], [0, 16], [50, 46], [100, 100]]"


def test_curves_of_other_counts_say_what_becomes_of_their_points() -> None:
    assert FIVE in REFERENCE
    seven = titles(REFERENCE.replace(FIVE, SEVEN))
    assert seven
    assert all(each.endswith(", 5 points in place of 7") for each in seven)
    three = titles(REFERENCE.replace(FIVE, "points = [[-100, -100], [0, 16], [100, 100]]"))
    assert three
    assert all(each.endswith(", 5 points in place of 3") for each in three)
    assert not any("in place of" in each for each in titles(REFERENCE))


@pytest.mark.parametrize(
    "text",
    [
        REFERENCE.replace("hover-throttle = 16", "# hover-throttle = 16"),  # not known
        REFERENCE.replace("hover-throttle = 16", "hover-throttle = 100"),  # at an end
        REFERENCE.replace('curve = "hover-soft"', ""),  # nobody flies it
        REFERENCE.replace("rotor = ", "governed-above = 20\nrotor = "),
        REFERENCE.replace('drives = "motor"', 'drives = "other"'),
        REFERENCE.replace(FIVE, "points = [[-100, 16], [100, 16]]"),
        REFERENCE.replace("[modes.normal]", "[modes.normal]\naerobatic = true"),
    ],
)
def test_where_nothing_hovers_on_it_nothing_is_offered(text: str) -> None:
    assert text != REFERENCE
    assert titles(text) == []


@pytest.mark.parametrize(
    ("line", "at_middle"),
    [
        ("reversed = true", -16),
        ("travel = [100, 80]", 20),
        ("sub-trim = 4", 12),
        ("mix = [{ from = 3 }]", 13),
        ("rate = 80", 16),
        ("expo = 30", 16),
    ],
)
def test_the_hover_is_of_the_output_not_of_the_curve(line: str, at_middle: int) -> None:
    text = REFERENCE.replace("number = 2\n", f"number = 2\n{line}\n")
    if line == "reversed = true":
        text = text.replace(FIVE, "points = [[-100, 100], [0, -30], [100, -100]]")
    assert text != REFERENCE
    found = [x for x in softer_curves(model(text), "hover-soft") if "slope 0.4 " in x.title]
    after = edited(setuplint.load_text(text).document, found[0].edit)
    assert after is not None
    assert model(after).curves["hover-soft"].points[2] == (0, at_middle)
    (hovering,) = hover_points(model(after), "hover-soft")
    assert hovering.slope is not None
    assert abs(hovering.slope - Fraction(2, 5)) < Fraction(1, 50)


@wire
async def test_what_it_brings_is_said(editor: Editor) -> None:
    editor.open((ROOT / "examples" / "heron.toml").read_text(encoding="utf-8"))
    await editor.told()
    at = editor.at("[curves.lift]", 9)
    found = await offered(editor, lsp.Range(at, at), ["refactor"])
    assert found.keys() == {
        f"soften lift: slope 0.{tenths} at the hover of -14 %, 5 points in place of 6 (then trim-lifts-motor reports motor)"
        for tenths in (4, 5)
    }


@wire
async def test_it_is_offered_where_a_channel_names_the_curve(editor: Editor) -> None:
    editor.open("# 🚁\n" + REFERENCE)
    at = editor.at('curve = "hover-soft"', 12)
    found = await offered(editor, lsp.Range(at, at), ["refactor"])
    text = done(editor, found["soften hover-soft: slope 0.5 at the hover of 16 %"])
    assert "points = [[-100, -100], [-50, -9], [0, 16], [50, 41], [100, 100]]" in text
    editor.replace("hover-throttle = 16", "hover-throttle = ")  # broken: what it brings cannot be told
    assert await offered(editor, lsp.Range(at, at), ["refactor"]) == {}
