"""`setuplint soften`: five points, what smoothing makes of them, and into a setup whole or not at all."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

import setuplint
from tests.cli.running import REFERENCE, ROOT, Command

FIRECREST = (ROOT / "examples" / "firecrest.toml").read_text(encoding="utf-8")
KESTREL = (ROOT / "examples" / "kestrel.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("hover", ["16", "+16 %", "58 of 100", "1580 µs", "1580us", "16,0"])
def test_the_hover_is_understood_as_it_is_printed(command: Command, hover: str) -> None:
    done = command("soften", hover, "--slope", "0.5")
    assert done.status == 0
    assert "points = [[-100, -100], [-50, -9], [0, 16], [50, 41], [100, 100]]" in done.out
    assert "curve +16 % (58 of 100, 1580 µs)" in done.out
    assert "The slope at the hover is 0.5," in done.words


def test_what_an_unknown_smoothing_may_do_is_said_of_each(command: Command) -> None:
    done = command("soften", "16", "--smoothing", "unknown", "--ends", "-90", "100")
    assert done.status == 0
    assert "monotone: smoothed, never beyond its points. The slope at the hover is 0.6" in done.words
    assert "natural: smoothed as a natural spline. The slope at the hover is 0.43" in done.words, "by scipy too"
    assert "[-100, -90]" in done.out


def test_a_slope_that_softens_nothing_is_named(command: Command) -> None:
    said = "sharper than a straight line, which has 1"
    assert said in command("soften", "16", "--slope", "1.01").words
    assert said not in command("soften", "16", "--slope", "1").words


def test_one_channel_with_another_rate_in_a_mode_is_one_channel(command: Command) -> None:
    text = REFERENCE.replace(
        "[modes.normal]", '[modes.low]\nwhen = "flight is normal and throttle < -50"\n[modes.normal]', 1
    )
    text = text.replace('curve = "pitch-calm"\n', 'curve = "pitch-calm"\nin.low = { rate = 130 }\n', 1)
    done = command("soften", "--of", "-", "pitch-calm", stdin=text.encode())
    assert done.status == 2
    assert "pitch hovers on it with different slopes in its modes (1 and 1.3 times the curve's own)" in done.err


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        ((), "HOVER is needed"),
        (("steep",), "'steep' is not an output from -150 to 150"),
        (("16", "--slope", "1.7"), "puts the fourth point at 101, beyond the end"),
        (("16", "--slope", "0"), "above 0"),
        (("16", "--smoothing", "monoton"), "did you mean monotone?"),
        (("16", "--of", "x.toml", "hover"), "x.toml has no curve hover; did you mean hover-soft?"),
        (("--of", "x.toml", "spool-flat"), "curve spool-flat: the setup does not say where it hovers"),
        (("--of", "none.toml", "hover"), "cannot read none.toml"),
        (("--of", "x.toml", "hover-soft", "--write", "x.toml", "hover-soft"), "one of the two"),
    ],
)
def test_refused(command: Command, folder: Path, words: tuple[str, ...], complaint: str) -> None:
    Path("x.toml").write_text(REFERENCE, encoding="utf-8")
    done = command("soften", *words)
    assert done.status == 2
    assert complaint in done.err
    assert Path("x.toml").read_text(encoding="utf-8") == REFERENCE


def test_into_a_file_with_all_else_kept(command: Command, folder: Path) -> None:
    Path("x.toml").write_text("\ufeff" + KESTREL, encoding="utf-8")
    shown = command("soften", "--slope", "0.5", "--of", "x.toml", "motor-normal")
    assert "+points = [[-100, -100], [-50, -5], [0, 20], [50, 45], [100, 88]]" in shown.out
    assert Path("x.toml").read_text(encoding="utf-8") == "\ufeff" + KESTREL
    done = command("soften", "--slope", "0.5", "--write", "x.toml", "motor-normal")
    assert done.status == 0
    assert "A lint of it finds nothing new." in done.words
    old = "[[-100, -100], [-50, -14], [0, 20], [50, 49], [100, 88]]"
    new = "[[-100, -100], [-50, -5], [0, 20], [50, 45], [100, 88]]"
    assert Path("x.toml").read_text(encoding="utf-8") == "\ufeff" + KESTREL.replace(old, new)
    assert "has these points already" in command("soften", "--slope", "0.5", "--write", "x.toml", "motor-normal").out


def test_what_travel_does_is_reckoned_with(command: Command, folder: Path) -> None:
    """At a travel of 80 % the curve needs 15 for an output of 12, and a slope of 0.75 for 0.6; it is then no pulse."""
    text = FIRECREST.replace('curve = "hover-soft"\n', 'curve = "hover-soft"\ntravel = [100, 80]\n')
    Path("x.toml").write_text(text, encoding="utf-8")
    done = command("soften", "--write", "x.toml", "hover-soft")
    assert "points = [[-100, -100], [-50, -22.5], [0, 15], [50, 52.5], [100, 100]]" in done.out
    assert "so they are no pulses" in done.words
    assert "µs" not in done.out
    trial = setuplint.load("x.toml").model
    assert trial.curves["hover-soft"].points[2] == (0, 15)


def test_a_smoothing_that_is_given_is_written_too(command: Command, folder: Path) -> None:
    Path("x.toml").write_text(FIRECREST, encoding="utf-8")
    command("soften", "--smoothing", "natural", "--write", "x.toml", "hover-soft")
    curve = setuplint.load("x.toml").model.curves["hover-soft"]
    assert curve.smoothing == "natural"
    assert curve.points[1][1] == Fraction("-24.67"), "1.5 * 36.67 / 50 - 0.5 is 0.6, as in test_soften"


def test_what_lint_would_say_is_said(command: Command, folder: Path) -> None:
    Path("x.toml").write_text(FIRECREST, encoding="utf-8")
    words = ("--slope", "0.2", "--smoothing", "none", "--ends", "-150", "150", "--of", "x.toml", "hover-soft")
    assert "Mind: then curve-steep-outside reports" in command("soften", *words).words
