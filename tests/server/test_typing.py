"""Broken texts, by themselves: what stands while a line is typed, in every example and at every line of it."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from setuplint.book import rulebook
from setuplint.server.analysis import Analysis, full_analysis, quick_analysis
from setuplint.server.parsed import ParsedText
from setuplint.server.repair import line_changes, repaired

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
FROM_LOADING = rulebook.names_asked("loading")
TYPED = ["rescue-beats-hold", "no-start-check", "weak-rescue", "travel-cut", "rescue-latched", "muted-alarm"]


def parsed(text: str) -> ParsedText:
    return ParsedText(text, "typed.toml")


def judged(analysis: Analysis) -> set[tuple[str, str]]:
    return {(x.rule, x.subject) for x in analysis.findings if x.rule not in FROM_LOADING}


@pytest.mark.slow
@pytest.mark.parametrize("name", TYPED)
def test_nothing_flickers_while_a_line_is_typed_or_taken_away(name: str) -> None:
    """What is found with the line and without it is told in between, at once and after a pause; nothing else is."""
    chance = random.Random(name)
    text = (EXAMPLES / "hazards" / f"{name}.toml").read_text(encoding="utf-8")
    lines = text.split("\n")
    whole = full_analysis(parsed(text))
    assert whole.findings
    tried = 0
    for number in chance.sample(range(len(lines)), 20):
        line = lines[number]
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        gone = parsed("\n".join([*lines[:number], "", *lines[number + 1 :]]))
        without = full_analysis(gone) if gone.is_readable else quick_analysis(gone, whole)
        assert without is not None
        for end in chance.sample(range(1, len(line) + 1), min(4, len(line))):
            broken = parsed("\n".join([*lines[:number], line[:end], *lines[number + 1 :]]))
            if broken.is_readable:
                continue
            tried += 1
            for before in (without, whole):
                quick, later = quick_analysis(broken, before), full_analysis(broken, before)
                assert quick is not None
                for found in (quick, later):
                    assert judged(whole) & judged(without) <= judged(found) <= judged(whole) | judged(without), line[
                        :end
                    ]
                    assert {x.rule for x in found.findings} & FROM_LOADING
    assert tried > 20


def test_a_place_moves_with_its_text() -> None:
    """Also where the heading that it is at is what is being typed."""
    text = (EXAMPLES / "hazards" / "rescue-beats-hold.toml").read_text(encoding="utf-8")
    before = full_analysis(parsed(text))
    broken = parsed("# one line more\n" + text.replace("[overrides.rescue-power]", "[overrides.rescue-po"))
    now = quick_analysis(broken, before)
    assert now is not None
    (hazard,) = [x for x in now.findings if x.rule == "hold-bypassed"]
    where = now.report.where(hazard.primary)
    assert where.document.line_text(where.start[0]) == "[overrides.rescue-po"


def test_only_broken_lines_are_taken_back() -> None:
    old = '[craft]\nname = "a"\nkind = "helicopter"\n[switches.s]\nkind = "momentary"\n'
    new = '[craft]\nname = "b"\nkind = "heli\n# new\n[switches.s]\nkind = "momentary"\nplace = \n'
    again = repaired(parsed("format = 1\n" + new), parsed("format = 1\n" + old))
    assert again is not None
    assert again.own.values["craft"] == {"name": "b"}
    assert again.own.values["switches"]["s"] == {"kind": "momentary"}
    assert line_changes(old.split("\n"), new.split("\n")) == [(1, 3, 1, 4), (5, 5, 6, 7)]


def test_a_heading_that_is_broken_is_taken_back_with_all_that_rests_on_it() -> None:
    text = (EXAMPLES / "reference.toml").read_text(encoding="utf-8")
    before = parsed(text)
    again = repaired(parsed(text.replace("[switches.hold]", "[switches.hol]").replace("= 16 ", "= 17 ")), before)
    assert again is None or "hold" in again.own.values["switches"]
