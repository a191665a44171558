"""Setups of one radio, linted together: who speaks, what is said, and what is not compared."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import setuplint
from setuplint.findings import Finding
from tests.checks.linted import TEXT
from tests.rules.edits import edited

RULE = "rescue-elsewhere"
UP = {"switches.up": {"kind": "momentary"}}


def texts(*edits: dict[str, Any]) -> dict[str, str]:
    """Setups called a.toml, b.toml and so on, each the reference setup with edits."""
    return {f"{'abcdef'[n]}.toml": edited(TEXT, {"craft.name": f"Craft {n}", **edit}) for n, edit in enumerate(edits)}


def said(*edits: dict[str, Any]) -> dict[str, list[Finding]]:
    reports = setuplint.lint_together(texts(*edits), only=[RULE])
    return {report.name: list(report.findings) for report in reports if report.findings}


def bail(when: str = "bail is pulled") -> dict[str, Any]:
    return {
        "switches.bail": {"kind": "momentary"},
        "intent.rescue": when,
        "overrides.rescue-power.when": when,
        "overrides.rescue-level.when": when,
    }


def test_the_odd_one_out_speaks_wherever_it_stands() -> None:
    for odd in range(3):
        found = said(*(bail() if n == odd else {} for n in range(3)))
        assert list(found) == [f"{'abc'[odd]}.toml"]
    (finding,) = found["c.toml"]
    assert finding.message == (
        "on radio blue, the rescue is called by bail to pulled (position 2) here, and by save to pulled (position 2) in "
        "Craft 0 (a.toml) and 1 more"
    )
    assert (finding.subject, finding.primary.path) == ("rescue", ("intent", "rescue"))


def test_of_two_the_second_speaks() -> None:
    assert list(said({}, bail())) == ["b.toml"]


def test_nothing_is_compared_without_a_radio_or_between_radios() -> None:
    assert said({"craft.radio": "red"}, bail()) == {}
    reports = setuplint.lint_together({"a.toml": edited(TEXT, {}, ("craft.radio",)), **texts({}, bail())}, only=[RULE])
    assert [len(r.findings) for r in reports] == [0, 1]


def test_modes_of_one_name_are_compared_and_others_are_not() -> None:
    turned = {"switches.flight.positions": ["idle-up-2", "idle-up-1", "normal"]}
    assert [x.subject for x in said({}, turned)["b.toml"]] == ["mode normal"]


def test_meaning_is_compared_not_spelling() -> None:
    """The same movement through a condition and a latch that the release resets."""
    latched = {"conditions.saving": {"when": "save is pulled", "until": "save is released"}, **bail("saving")}
    assert said({}, latched) == {}


def test_what_calls_it_only_while_another_sprung_switch_is_held_is_no_way() -> None:
    """Save alone does nothing there, so a hand that knows save finds nothing; without bail no one movement calls it."""
    assert [
        x.subject for x in said({}, bail("bail is pulled or (up is pulled and save is pulled)") | UP)["b.toml"]
    ] == ["rescue"]
    assert said({}, bail("save is pulled and bail is pulled")) == {}


def test_a_waiver_of_it_is_not_unneeded_where_nothing_was_compared() -> None:
    waiver = {"waivers": [{"rule": RULE, "reason": "a borrowed transmitter"}], **bail()}
    alone = setuplint.lint_text(texts(waiver)["a.toml"], today=date(2026, 1, 1))
    assert [x.rule for x in alone.findings] == []
    second = setuplint.lint_together(texts({}, waiver), today=date(2026, 1, 1))[1]
    assert ([x.rule for x in second.findings], [x.rule for x in second.waived]) == ([], [RULE])


def test_files_are_linted_together_in_their_order(tmp_path: Path) -> None:
    for name, text in texts({}, bail()).items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    reports = setuplint.lint_together([tmp_path / "b.toml", tmp_path / "a.toml"])
    assert [(Path(r.name).name, len(r.findings)) for r in reports] == [("b.toml", 0), ("a.toml", 1)]


def test_what_is_no_setup_is_in_nobodys_way() -> None:
    reports = setuplint.lint_together({"x.toml": "radio = ", "y.toml": b"\xff", **texts({}, bail())}, only=[RULE])
    assert [x.rule for x in reports[-1].findings] == [RULE]


def test_two_that_differ_are_told_though_a_third_is_like_both() -> None:
    either = bail("bail is pulled or save is pulled")
    for odd, edits in (("b", ({}, bail(), either)), ("c", ({}, either, bail())), ("c", (either, {}, bail()))):
        found = said(*edits)
        assert list(found) == [f"{odd}.toml"]
        assert "is called by bail to pulled (position 2) here, and by save to pulled" in found[f"{odd}.toml"][0].message
    left, right = ({"switches.save.place": place} for place in ("left", "right"))
    assert list(said(left, {}, right)) == ["c.toml"]
