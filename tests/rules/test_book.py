"""The rule book: every rule has its file, with the right signal word, and the loader refuses what is no rule."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from setuplint.book import rulebook

# Rules and their signal words, in the order of the rule book's own tables.
SIGNALS = {
    "not-toml": "caution",
    "not-a-setup": "caution",
    "not-decided": "caution",
    "unknown-name": "caution",
    "name-clash": "caution",
    "condition-loop": "caution",
    "condition-constant": "notice",
    "part-unused": "notice",
    "channel-clash": "caution",
    "value-out-of-range": "caution",
    "claim-broken": "caution",
    "waiver-expired": "caution",
    "waiver-unneeded": "notice",
    "mode-gap": "caution",
    "mode-unreachable": "notice",
    "mode-unannounced": "notice",
    "mode-jump": "notice",
    "idle-up-stops": "caution",
    "override-conflict": "caution",
    "override-shadowed": "notice",
    "override-stuck": "caution",
    "hold-missing": "danger",
    "hold-bypassed": "danger",
    "stop-bypassed": "danger",
    "hold-idles": "danger",
    "hold-slow": "danger",
    "hold-springs-back": "danger",
    "hold-two-moves": "caution",
    "hold-shared": "notice",
    "hold-freezes-controls": "caution",
    "start-impossible": "caution",
    "start-unguarded": "danger",
    "start-without-hold": "notice",
    "start-in-idle-up": "danger",
    "motor-on-at-low-stick": "danger",
    "trim-lifts-motor": "danger",
    "rescue-not-momentary": "danger",
    "rescue-incomplete": "caution",
    "rescue-too-weak": "caution",
    "rescue-not-level": "caution",
    "rescue-lowers-power": "notice",
    "rescue-too-strong": "notice",
    "rescue-slow": "caution",
    "rescue-two-moves": "caution",
    "rescue-shared": "caution",
    "rescue-release-drop": "notice",
    "rescue-elsewhere": "notice",
    "lift-before-level": "notice",
    "curve-unordered": "caution",
    "curve-not-monotonic": "caution",
    "curve-overshoot": "notice",
    "curve-short-of-full": "notice",
    "hover-too-sharp": "notice",
    "curve-flat-at-hover": "notice",
    "hover-off-centre": "notice",
    "curve-steep-outside": "notice",
    "output-clipped": "notice",
    "rate-dead": "notice",
    "expo-harsh": "notice",
    "motor-lags": "caution",
    "gyro-gain-lost": "caution",
    "voltage-alarm-missing": "caution",
    "voltage-alarm-below-floor": "caution",
    "cell-count-mismatch": "caution",
    "alarm-once": "caution",
    "voltage-alarm-always": "notice",
    "voltage-alarm-nervous": "notice",
    "voltage-alarm-late": "notice",
    "voltage-warns-late": "notice",
    "alarm-order": "notice",
    "flight-time-too-long": "notice",
    "receiver-alarm-below-floor": "caution",
    "alarm-silent": "notice",
    "alarm-at-rest": "notice",
    "link-alarm-missing": "notice",
    "sensor-loss-unheard": "notice",
    "timer-stops-in-flight": "notice",
    "failsafe-missing": "caution",
    "failsafe-runs-motor": "danger",
    "failsafe-not-level": "caution",
    "failsafe-wastes-rotor": "caution",
    "failsafe-untested": "notice",
}

# Not in the rule book's tables: added for what an examiner would find on the bench (DEVELOPERS.md).
SIGNALS |= {"alarm-never-sounds": "caution", "mode-voice-shared": "notice"}

LIMITS = {
    ("hold-slow", "longest"): ("0.5", "s"),
    ("start-in-idle-up", "within"): ("2", "s"),
    ("mode-jump", "motor"): ("25", "point"),
    ("mode-jump", "collective"): ("15", "point"),
    ("mode-jump", "ramp"): ("1", "s"),
    ("rescue-lowers-power", "drop"): ("5", "point"),
    ("rescue-too-strong", "most"): ("90", "%"),
    ("rescue-release-drop", "drop"): ("15", "point"),
    ("rescue-incomplete", "over-hover"): ("10", "point"),
    ("rescue-too-weak", "over-hover"): ("10", "point"),
    ("rescue-slow", "over-hover"): ("10", "point"),
    ("rescue-slow", "level"): ("0.3", "s"),
    ("rescue-slow", "motor"): ("1", "s"),
    ("curve-not-monotonic", "turn"): ("0.01", "point"),
    ("curve-overshoot", "beyond-points"): ("2", "point"),
    ("curve-overshoot", "full"): ("100", "%"),
    ("curve-short-of-full", "full"): ("90", "%"),
    ("hover-too-sharp", "slope"): ("1", "point a point of stick"),
    ("hover-too-sharp", "around"): ("20", "% of stick"),
    ("curve-flat-at-hover", "slope"): ("0.2", "point a point of stick"),
    ("curve-flat-at-hover", "around"): ("10", "% of stick"),
    ("hover-off-centre", "off-centre"): ("30", "% of stick"),
    ("curve-steep-outside", "slope"): ("3", "point a point of stick"),
    ("output-clipped", "servo"): ("100", "% of a servo's travel"),
    ("expo-harsh", "most"): ("60", "%"),
    ("expo-harsh", "least"): ("-15", "%"),
    ("motor-lags", "around"): ("10", "point"),
    ("motor-lags", "longest"): ("0.2", "s"),
    ("gyro-gain-lost", "least"): ("15", "point"),
    ("voltage-alarm-missing", "capacity"): ("80", "%"),
    ("voltage-alarm-below-floor", "floor-lipo"): ("3.3", "V"),
    ("voltage-alarm-below-floor", "floor-lihv"): ("3.3", "V"),
    ("voltage-alarm-below-floor", "floor-li-ion"): ("3", "V"),
    ("voltage-alarm-below-floor", "floor-life"): ("2.8", "V"),
    ("cell-count-mismatch", "full-lipo"): ("4.2", "V"),
    ("cell-count-mismatch", "full-lihv"): ("4.35", "V"),
    ("cell-count-mismatch", "full-li-ion"): ("4.2", "V"),
    ("cell-count-mismatch", "full-life"): ("3.65", "V"),
    ("alarm-once", "repeat"): ("10", "s"),
    ("alarm-once", "repeat-link"): ("5", "s"),
    ("voltage-alarm-nervous", "resting-lipo"): ("3.75", "V"),
    ("voltage-alarm-nervous", "resting-lihv"): ("3.8", "V"),
    ("voltage-alarm-nervous", "resting-li-ion"): ("3.5", "V"),
    ("voltage-alarm-nervous", "resting-life"): ("3.15", "V"),
    ("voltage-alarm-nervous", "peak-after"): ("2", "s"),
    ("voltage-alarm-late", "reserve"): ("30", "s"),
    ("voltage-alarm-late", "way-down"): ("10", "s"),
    ("voltage-alarm-late", "wait"): ("5", "s"),
    ("flight-time-too-long", "capacity"): ("80", "%"),
    ("receiver-alarm-below-floor", "floor"): ("4.8", "V"),
    ("failsafe-wastes-rotor", "collective"): ("5", "%"),
}

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
also = ["override-conflict"]
"""


@pytest.mark.parametrize(("name", "signal"), SIGNALS.items())
def test_rule_has_its_file_and_signal_word(name: str, signal: str) -> None:
    rule = rulebook.rules()[name]
    assert (rule.name, rule.signal) == (name, signal)


@pytest.mark.parametrize("name", rulebook.rules())
def test_head_alone_says_what_the_whole_file_says(name: str) -> None:
    """`read_rule` also refuses unknown keys, missing ones, wrong types and formulas that do not parse."""
    assert rulebook.page(name).rule == rulebook.rules()[name]


@pytest.mark.parametrize("name", rulebook.rules())
def test_rule_has_sources_and_examples_of_both_kinds(name: str) -> None:
    page = rulebook.page(name)
    assert page.sources
    assert sum(example.speaks for example in page.examples) >= 2
    assert sum(not example.speaks for example in page.examples) >= 2


@pytest.mark.parametrize("name", rulebook.rules())
def test_a_check_is_named_after_its_rule(name: str) -> None:
    rule = rulebook.rules()[name]
    assert rule.check in (None, name.replace("-", "_"))


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


def test_limits_are_those_of_the_rule_book() -> None:
    found = {
        (rule.name, key): (limit.value, limit.unit)
        for rule in rulebook.rules().values()
        if rule.name in SIGNALS
        for key, limit in rule.limits.items()
    }
    assert found == {key: (Fraction(value), unit) for key, (value, unit) in LIMITS.items()}


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
    monkeypatch.setattr(rulebook, "__file__", str(tmp_path / "setuplint" / "checks" / "book.py"))
    assert rulebook.folder() == tmp_path / "setuplint" / "rules"


def test_a_rule_is_read_whole() -> None:
    page = rulebook.read_rule(RULE, "ours")
    assert page.rule.never == "hold called and rotor driven"
    assert page.rule.limits["longest"] == rulebook.Limit(Fraction(1, 2), "s", "practice")
    assert page.sources == (rulebook.Source("published", "so", "there"),)
    assert page.examples == (rulebook.Example(True, {"overrides.held.priority": 10}, also=("override-conflict",)),)


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
        ('also = ["override-conflict"]', 'also = "override-conflict"', "also of an example is a list of words"),
        ("[[examples]]", "[[examples]", "not TOML"),
        ("speaks = true", "speaks = true\nspoken = [" + "[" * 5000 + "]" * 5001, "not TOML"),
        ("speaks = true", "speaks = true\nspoken = " + "9" * 5000, "not TOML"),
        ("speaks = true", "speaks = true\n" + "a." * 20000 + "a = 1", "more than 20,000 characters"),
    ],
)
def test_what_is_no_rule_is_refused(old: str, new: str, message: str) -> None:
    assert old in RULE
    with pytest.raises(rulebook.BookError) as caught:
        rulebook.read_rule(RULE.replace(old, new, 1), "ours")
    assert message in str(caught.value)
    assert str(caught.value).startswith("ours: ")
