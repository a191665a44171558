"""Editions: an upgrade does not fail what passed before, where setuplint.toml names one."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

import setuplint
from setuplint.book import rule_file, rulebook
from setuplint.book.choices import Choices
from setuplint.book.editions import as_of, editions
from setuplint.book.rule_file import Rule
from setuplint.club.choosing import choices
from setuplint.club.config import Config
from setuplint.findings import NEWEST
from tests.club.made import HAZARD


def book() -> dict[str, Rule]:
    """Five rules, in editions of our own."""
    since = {"hold-slow": 2026, "hold-bypassed": 2026, "mode-gap": 2026, "part-unused": 2027, "mode-jump": 2029}
    found = {name: replace(rulebook.rules()[name], since=year) for name, year in since.items()}
    found["newer"] = replace(found["mode-gap"], name="newer", since=None)
    return found


WAS = {
    "hold-slow": {2026: {"limits": {"longest": Decimal("0.6")}}, 2028: {"limits": {"longest": Decimal("0.55")}}},
    "hold-bypassed": {2028: {"never": "hold called and motor runs", "signal": "caution"}},
    "mode-gap": {2028: {"never": "mode is x"}},
}


def test_ours_are_those_of_the_book() -> None:
    assert max(editions()) == NEWEST
    assert {rule.name for rule in rulebook.rules().values() if rule.since is None} == set(), "all are in an edition"


def test_a_rule_comes_with_its_edition() -> None:
    left = {year: as_of(year, book()).left_out for year in (2026, 2027, 2028, 2029)}
    assert left == {
        2026: {"part-unused", "mode-jump", "newer"},
        2027: {"mode-jump", "newer"},
        2028: {"mode-jump", "newer"},
        2029: {"newer"},
    }


def test_what_was_widened_is_as_it_was() -> None:
    rules = {name: replace(rule, was=WAS.get(name, {})) for name, rule in book().items()}
    longest = {year: as_of(year, rules).rules["hold-slow"].limits["longest"].value for year in (2026, 2027, 2029)}
    assert longest == {2026: Fraction("0.6"), 2027: Fraction("0.55"), 2029: Fraction("0.5")}, "the earliest counts"
    before, now = (as_of(year, rules).rules for year in (2028, 2029))
    assert (before["hold-bypassed"].never, before["hold-bypassed"].signal) == ("hold called and motor runs", "caution")
    assert now["hold-bypassed"] == rules["hold-bypassed"]
    assert (before["mode-gap"].check, before["mode-gap"].never) == (None, "mode is x"), "a check that was a claim"
    assert editions(rules) == [2026, 2027, 2028, 2029]


FIRST = rulebook.names_asked("first")


def test_what_is_left_out_does_not_speak_and_its_waiver_is_not_called_unneeded() -> None:
    text = f'{HAZARD}[[waivers]]\nrule = "hold-bypassed"\nreason = "x"\n'
    for left_out in ({"hold-bypassed"}, {"hold-bypassed", *FIRST}):
        report = setuplint.lint_text(text, choices=Choices(left_out=frozenset(left_out)))
        assert (report.findings, report.waived) == ((), ())
    whole = setuplint.lint_text(text)
    assert [x.rule for x in whole.waived] == ["hold-bypassed"]
    assert whole.rules - report.rules == 1 + len(FIRST)


def test_a_mistake_that_an_edition_does_not_know_is_none() -> None:
    text = HAZARD.replace('voice = "land now"', "voice = 7")
    names = [x.rule for x in setuplint.lint_text(text).findings]
    assert "not-a-setup" in names
    report = setuplint.lint_text(text, choices=Choices(left_out=frozenset({"not-a-setup"})))
    assert "not-a-setup" not in [x.rule for x in report.findings]


@pytest.mark.parametrize(("edition", "pinned"), [(None, False), (2026, True)])
def test_a_report_says_by_which_it_is(edition: int | None, pinned: bool) -> None:
    made = choices(Config("setuplint.toml", edition))
    report = setuplint.lint_text(HAZARD, choices=made)
    assert (report.edition, report.pinned, report.config) == (2026, pinned, "setuplint.toml")
    assert (setuplint.lint_text(HAZARD).edition, setuplint.lint_text(HAZARD).config) == (NEWEST, "")


def test_a_clubs_rule_may_have_the_name_of_one_that_comes_later(tmp_path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    from tests.club.made import claim, write

    later = {
        name: replace(rule, since=2027 if name == "mode-jump" else 2026) for name, rule in rulebook.rules().items()
    }
    monkeypatch.setattr(rulebook, "rules", lambda: later)
    write(tmp_path, {"mode-jump.toml": claim("output motor > 101")})
    made = choices(Config("setuplint.toml", 2026), [tmp_path])
    assert made.rules["mode-jump"].never == "output motor > 101"
    assert "mode-jump" not in made.left_out
    with pytest.raises(rule_file.BookError, match="there is a rule mode-jump already"):
        choices(Config("setuplint.toml"), [tmp_path])
