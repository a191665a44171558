"""Broken texts, by themselves: what stands while a line is typed, in every example and at every line of it."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from setuplint.book import rulebook
from setuplint.server.analysis import Analysis, full_analysis, quick_analysis
from setuplint.server.club_choices import ClubChoices
from setuplint.server.inlay_hints import inlay_hints
from setuplint.server.open_files import OpenFile, OpenFiles
from setuplint.server.outline import folds, outline
from setuplint.server.parsed import ParsedText
from setuplint.server.positions import Lines
from setuplint.server.repair import line_changes, repaired
from setuplint.server.semantic_tokens import encoded_tokens
from setuplint.setup import loaded_texts
from setuplint.source import Document
from tests.setup.test_kept_parts import EDITS, SEED, versions

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
GRAVE = EXAMPLES / "hazards" / "rescue-beats-hold.toml"
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
    assert again is not None
    assert "hold" in again.own.values["switches"]
    assert again.own.values["craft"]["hover-throttle"] == 17


BREAKS = {
    "a heading renamed": ("[switches.rates]", "[switches.rate]"),
    "a heading deleted": ("\n[failsafe]", "\n#"),
    "a declaration deleted": ('[sensors.link]\nreads = "link-quality"', ""),
    "a use renamed": ("in.idle-up = {", "in.idleup = {"),
}


@pytest.mark.parametrize("of", BREAKS)
def test_a_name_that_leads_nowhere_silences_nothing(of: str) -> None:
    """A hazard that is made or mended while a line rests on what is gone is told or gone, though no line of it is broken."""
    safe = (EXAMPLES / "reference.toml").read_text(encoding="utf-8")
    old, new = BREAKS[of]
    grave = safe.replace("priority = 100", "priority = 10", 1)
    assert old in safe
    assert grave != safe
    for start, end, rules in ((safe, grave, ["hold-bypassed"]), (grave, safe, [])):
        before = full_analysis(parsed(start))
        for text in (start.replace(old, new, 1), end.replace(old, new, 1)):
            assert not parsed(text).is_readable
            before = full_analysis(parsed(text), before)
        assert [rule for rule, _ in judged(before)] == rules


def test_a_hazard_beside_a_line_that_is_taken_back_is_told() -> None:
    """The heading is taken back alone, not with the points below it."""
    safe = (EXAMPLES / "reference.toml").read_text(encoding="utf-8")
    old, new = "[curves.hover-soft]\npoints = [[-100, -100]", "[curves.softer]\npoints = [[-100, -60]"
    assert old in safe
    before = full_analysis(parsed(safe))
    assert judged(full_analysis(parsed(safe.replace(old, new)), before)) == {("motor-on-at-low-stick", "motor")}


def test_where_nothing_mends_a_broken_text_it_is_judged_as_lint_does() -> None:
    """A heading and a use of its name: whichever comes back alone leaves as many mistakes."""
    safe = (EXAMPLES / "reference.toml").read_text(encoding="utf-8")
    text = safe.replace("[switches.hold]", "[switches.other]").replace('requires = "hold', 'requires = "other')
    before = full_analysis(parsed(safe))
    found = full_analysis(parsed(text), before)
    assert not found.is_carried
    assert shown(found) == shown(full_analysis(parsed(text)))
    assert found.last_readable is before


def shown(analysis: Analysis) -> list[object]:
    return [(finding, analysis.report.where(finding.primary).span) for finding in analysis.findings]


def beside(text: ParsedText) -> list[object]:
    """Names, colours, symbols, folds and hints; nothing that is kept holds on to an earlier text."""
    own = text.own
    for table in own.kept.by_values.values() if own.kept is not None else ():
        assert not any(isinstance(each, Document) for each in flat(table.made))
    names = [(each.name, each.span, each.path, each.declares) for each in text.occurrences]
    colours = encoded_tokens(text, Lines(text.text), 300, 1_500), encoded_tokens(text, Lines(text.text))
    symbols = outline(own)
    return [names, colours, symbols, folds(own, symbols), list(inlay_hints(text))]


def test_what_is_kept_of_a_table_does_not_grow_with_the_keys() -> None:
    """Below a heading that is refused the table before it ends elsewhere at each key."""
    text = GRAVE.read_text(encoding="utf-8").replace("\n[switches", '\n[craft]\nname = "{}"\n[switches', 1)
    again: ParsedText | None = None
    counts = []
    for n in range(1, 9):
        again = ParsedText(text.replace("{}", "a" * n), "typed.toml", None, None, again)
        beside(again)
        assert again.own.kept is not None
        counts.append(sum(len(table.made) for table in again.own.kept.by_piece.values() if table is not None))
    assert counts == counts[:1] * 8


def flat(made: object) -> Iterator[object]:
    yield made
    if isinstance(made, dict):
        made = list(made.values())
    for each in made if isinstance(made, list | tuple) else ():
        yield from flat(each)


@pytest.mark.quick(1)
@pytest.mark.parametrize("name", ["rescue-beats-hold", "rescue-latched"])
def test_what_is_shown_hangs_on_no_earlier_version(name: str) -> None:
    """Of tables that were kept the same is shown as of a text that is read afresh, at every version of it."""
    text = (EXAMPLES / "hazards" / f"{name}.toml").read_text(encoding="utf-8")
    kept: Analysis | None = None
    fresh: Analysis | None = None
    judged_texts = 0
    for version in versions(text, random.Random(f"{SEED} {name}"), EDITS // 4):
        again = ParsedText(version, "typed.toml", None, None, kept.parsed if kept is not None else None)
        kept = quick_analysis(again, kept) or full_analysis(again, kept)
        fresh = quick_analysis(parsed(version), fresh) or full_analysis(parsed(version), fresh)
        assert shown(kept) == shown(fresh), version
        plain = parsed(version)
        plain.texts = loaded_texts(version, "typed.toml")  # whose tables are not kept
        assert beside(again) == beside(plain), version
        judged_texts += kept.basis is None
    assert judged_texts > 5


def test_a_table_that_is_begun_is_where_what_it_lacks_is_told() -> None:
    """Though nothing stands in it yet, and what was found is the same."""
    text = EXAMPLES.joinpath("reference.toml").read_text(encoding="utf-8").partition("\n[intent]")[0]
    before = full_analysis(parsed(text))
    begun = full_analysis(parsed(f"{text}\n[intent]\n"), before)
    places = [[x.primary.path for x in of.findings if x.rule == "hold-missing"] for of in (before, begun)]
    assert places == [[()], [("intent",)]]


def test_what_was_read_of_a_club_before_it_changed_is_not_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Also where a thread is about to note it when the change comes."""
    files = OpenFiles()
    file = OpenFile((EXAMPLES / "reference.toml").as_uri(), "", 1)
    read = []

    def choices(path: str | None, texts: Mapping[str, str]) -> ClubChoices:
        read.append(path)
        if len(read) == 1:
            files.config_changed()
        return ClubChoices(error=f"reading {len(read)}")

    monkeypatch.setattr("setuplint.server.open_files.club_choices", choices)
    assert [files.club(file).error for _ in range(3)] == ["reading 1", "reading 2", "reading 2"]
