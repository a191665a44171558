"""The rule book: what every rule's file has, and that the loader refuses what is no rule."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from setuplint.book import rule_file, rulebook
from setuplint.book.needs import is_key

RULE = """\
signal = "danger"
title = "A title"
why = "What happens."
remedy = "What to do."
never = "hold called and rotor driven"
limits.longest = { value = 0.5, unit = "s", basis = "practice" }

[[sources]]
basis = "published"
says = "so"
where = "there"

[[examples]]
speaks = true
edit = { "overrides.held.priority" = 10 }
"""


@pytest.mark.parametrize("name", rulebook.rules())
def test_head_alone_says_what_the_whole_file_says(name: str) -> None:
    """`read_rule` also refuses unknown keys, missing ones, wrong types and formulas that do not parse."""
    text = (rulebook.folder() / f"{name}.toml").read_text(encoding="utf-8")
    head, book = rule_file.read_rule(text, name).rule, rulebook.rules()[name]
    shared = {key: limit for key, limit in book.limits.items() if limit.home}
    assert replace(head, limits={**head.limits, **shared}) == book


@pytest.mark.parametrize("name", rulebook.rules())
def test_rule_has_sources_and_examples_of_both_kinds(name: str) -> None:
    page = rulebook.page(name)
    assert page.sources
    assert sum(example.speaks for example in page.examples) >= 2
    assert sum(not example.speaks for example in page.examples) >= 2


@pytest.mark.parametrize("name", rulebook.rules())
def test_words_are_short_and_plain(name: str) -> None:
    rule = rulebook.rules()[name]
    assert len(rule.title) <= 70
    assert not rule.title.endswith(".")
    for text in (rule.why, rule.remedy):
        assert len(text) <= 420
        assert text[0].isupper()
        assert text.endswith(".")
        assert "  " not in text
        assert "\n" not in text


def test_what_rules_need_are_keys_of_a_setup() -> None:
    assert [key for rule in rulebook.rules().values() for key in rule.needs if not is_key(key)] == []
    assert [key for key in ("nosuch.key", "craft.x", "craft.name.x", "modes.*.voce", "") if is_key(key)] == []


def test_rules_are_sorted_and_cannot_be_changed() -> None:
    assert list(rulebook.rules()) == sorted(rulebook.rules())
    with pytest.raises(TypeError):
        rulebook.rules()["new"] = rulebook.rules()["hold-slow"]  # type: ignore[index]


def test_nothing_below_the_head_is_read_at_start_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "ours.toml").write_text(RULE.replace("[[sources]]", "[[sources]]\nbroken ="), encoding="utf-8")
    monkeypatch.setattr(rulebook, "folder", lambda: tmp_path)
    assert list(rulebook.rules.__wrapped__()) == ["ours"]


def test_a_page_that_is_not_there_names_the_near_ones() -> None:
    with pytest.raises(KeyError) as caught:
        rulebook.page("hold-bypased")
    name, near = caught.value.args
    assert name == "hold-bypased"
    assert near[0] == "hold-bypassed"


def test_rules_stand_beside_the_package_in_a_checkout() -> None:
    assert rulebook.folder() == Path(__file__).parents[2] / "rules"


def test_rules_stand_inside_an_installed_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another package's `rules` beside ours is not taken for them: there is no pyproject.toml."""
    (tmp_path / "rules").mkdir()
    monkeypatch.setattr(rulebook, "PACKAGE", tmp_path / "setuplint")
    assert rulebook.folder() == tmp_path / "setuplint" / "rules"


def test_a_rule_is_read_whole() -> None:
    page = rule_file.read_rule(RULE, "ours")
    assert page.rule.never == "hold called and rotor driven"
    assert page.rule.limits["longest"] == rule_file.Limit(Fraction(1, 2), "s", "practice")
    assert page.sources == (rule_file.Source("published", "so", "there"),)
    assert page.examples == (rule_file.Example(True, {"overrides.held.priority": 10}),)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('signal = "danger"', 'signal = "warning"', "signal is one of danger, caution, notice, not warning"),
        ('signal = "danger"', "signal = 1", "signal of a rule is a text"),
        ('title = "A title"', "", "a rule lacks title"),
        ('title = "A title"', 'title = " "', "not an empty one"),
        ('title = "A title"', 'title = "A title"\nexec = "rm"', "a rule has no key exec"),
        (
            'never = "hold called',
            'always = "hold called"\nnever = "hold called',
            "exactly one of never, always and check",
        ),
        ("never = ", "# never = ", "exactly one of never, always and check, not 0"),
        ("and rotor driven", "and and rotor", "never: "),
        ("limits.longest = {", "limits.longest = 1 #", "is a table of value, unit and basis"),
        ("value = 0.5", 'value = "0.5"', "is a number"),
        ("value = 0.5", "value = true", "is a number"),
        ("value = 0.5", "value = nan", "is a number"),
        ("value = 0.5", "value = 1e999999", "is a number"),
        ("value = 0.5, ", "", "is a number"),
        ('unit = "s", ', "", "lacks unit"),
        ('basis = "practice"', 'basis = "guess"', "basis is one of published, practice, memory"),
        ('where = "there"', "", "a published source says where"),
        ('basis = "published"', 'basis = "memory"', "and no other does"),
        ('says = "so"', 'says = "so"\nseen = true', "a source has no key seen"),
        ("[[sources]]", "[sources]", "sources is a list of tables"),
        ("speaks = true", "speaks = 1", "speaks of an example is true or false"),
        ("speaks = true", 'speaks = true\ntext = ""', "either a text or edits"),
        ("edit = {", "# edit = {", "either a text or edits"),
        ('edit = { "overrides.held.priority" = 10 }', "edit = {}", "edit of an example is a table"),
        ("speaks = true", 'speaks = true\nalso = ["x"]', "an example has no key also"),
        ('title = "A title"', 'title = "A title"\nneeds = "craft.radio"', "needs of a rule is a list of words"),
        ('title = "A title"', 'title = "A title"\nasked = "last"', "asked is one of loading, first, afterwards"),
        ('title = "A title"', 'title = "A title"\nasked = "loading"', "exactly one of never, always and check"),
        ('title = "A title"', 'title = "A title"\nsince = "2026"', "since of a rule is the year of an edition"),
        ('title = "A title"', 'title = "A title"\nwas = { next = {} }', "was of a rule is a table"),
        ('title = "A title"', 'title = "A title"\nwas = { 2026 = { why = "x" } }', "was.2026 has no key why"),
        ('basis = "practice" }', 'basis = "practice", stricter = "less" }', "stricter is one of lower, higher"),
        ("[[examples]]", "[[examples]", "not TOML"),
        ("speaks = true", "speaks = true\nspoken = [" + "[" * 5000 + "]" * 5001, "not TOML"),
        ("speaks = true", "speaks = true\nspoken = " + "9" * 5000, "not TOML"),
        ("speaks = true", "speaks = true\n" + "a." * 20000 + "a = 1", "more than 20,000 characters"),
    ],
)
def test_what_is_no_rule_is_refused(old: str, new: str, message: str) -> None:
    assert old in RULE
    with pytest.raises(rule_file.BookError) as caught:
        rule_file.read_rule(RULE.replace(old, new, 1), "ours")
    assert message in str(caught.value)
    assert str(caught.value).startswith("ours: ")
