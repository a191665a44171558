"""setuplint.toml: what it says, and one clear message with a place for whatever is wrong in it."""

from __future__ import annotations

import os
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from setuplint.book.club_rules import RuleText
from setuplint.club import nearest
from setuplint.club.config import Config, ConfigError, read_config
from tests.club.made import claim, write

WHOLE = """\
edition = 2026                 # the rule set's year
fail-on = "notice"
rules = ["club-rules"]
never-waive = ["danger", "mode-jump", "too-strong"]
baseline = "known.jsonl"

[limits]
hold-slow.longest = 0.4
"rescue-slow.level" = 0.25
voltage-alarm-below-floor = { floor-lipo = 3.4, floor-lihv = 3.4 }
"""


PIECES = [
    *(
        "edition",
        "fail-on",
        "rules",
        "limits",
        "never-waive",
        "[limits]",
        "=",
        "= [",
        "]",
        "{",
        "}",
        ".",
        ",",
        "\n",
        '"',
    ),
    *("2026", "1e999999999", "nan", "true", '"danger"', '"../x"', "hold-slow", "longest", "0.4", "1979-05-27", "x"),
]


def read(club: Path, text: str) -> Config:
    (club / "setuplint.toml").write_text(text, encoding="utf-8")
    (found,) = nearest.config_files(str(club / "wagtail.toml"))
    return read_config(found)


def refused(club: Path, text: str) -> str:
    with pytest.raises(ConfigError) as caught:
        read(club, text)
    return str(caught.value)


def test_everything_that_there_is(club: Path) -> None:
    write(club, {"club-rules/too-strong.toml": claim()})
    rule = RuleText(os.path.realpath("club-rules/too-strong.toml"), "club-rules/too-strong.toml", claim().encode())
    assert read(club, WHOLE) == Config(
        "setuplint.toml",
        2026,
        "notice",
        (os.path.realpath("club-rules"),),
        (
            ("hold-slow", "longest", Fraction(2, 5)),
            ("rescue-slow", "level", Fraction(1, 4)),
            ("voltage-alarm-below-floor", "floor-lipo", Fraction(17, 5)),
            ("voltage-alarm-below-floor", "floor-lihv", Fraction(17, 5)),
        ),
        frozenset(("danger", "mode-jump", "too-strong")),
        os.path.realpath("known.jsonl"),
        (rule,),
    )


def test_an_empty_one_leaves_everything_open(club: Path) -> None:
    assert read(club, "# nothing\n") == Config("setuplint.toml")


def test_its_name_is_relative_to_where_one_is(club: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(club.parent)
    assert read(club, "").name == os.path.join("club", "setuplint.toml")
    (club / "a").mkdir()
    monkeypatch.chdir(club / "a")
    assert read(club, "").name == str(club / "setuplint.toml")


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ('fail_on = "danger"', "1:1", "unknown key “fail_on”; did you mean fail-on?"),
        ("\ncolour = 1", "2:1", "unknown key “colour”; its keys are edition, fail-on, rules, limits, never-waive, baseline and "
         "require-record"),
        ("edition = 2027", "1:11", "knows no edition after 2026; use a newer version of it"),
        ("edition = 99999999999999999999", "1:11", "knows no edition after 2026"),
        ("edition = 2025", "1:11", "there is no edition 2025; there is 2026"),
        ('edition = "2026"', "1:11", "edition is a year like 2026, without quotes"),
        ("edition = true", "1:11", "edition is a year like 2026"),
        ("edition = 2026.0", "1:11", "edition is a year like 2026"),
        ('fail-on = "never"', "1:11", "fail-on is danger, caution or notice"),
        ('fail-on = ["danger"]', "1:11", "fail-on is danger, caution or notice"),
        ('rules = "club-rules"', "1:9", "rules is a list of folders"),
        ("rules = [1]", "1:10", "a folder of rules is a text"),
        ('rules = [""]', "1:10", "a folder of rules is a text"),
        ('rules = ["nowhere"]', "1:10", "there is no folder “nowhere”"),
        ('rules = ["wagtail.toml"]', "1:10", "there is no folder"),
        ('rules = [\n  "../rules"]', "2:3", "leads out of the repository"),
        ('rules = ["a/../../.."]', "1:10", "leads out of the repository"),
        ('rules = ["/etc"]', "1:10", "leads out of the repository"),
        ('rules = ["a\\u0000b"]', "1:10", "a folder of rules is a text"),
        ("rules = ['club\\rules']", "1:10", "“club\\rules”: a path has / between its folders; write “club/rules”"),
        ("baseline = 'old\\known.jsonl'", "1:12", "a path has / between its folders; write “old/known.jsonl”"),
        ("limits = 3", "1:10", "limits is a table of RULE.LIMIT = NUMBER"),
        ("[limits]\nhold-slo.longest = 0.4", "2:1", "there is no rule “hold-slo” with limits; did you mean hold-slow?"),
        ("[limits]\nhold-slow.most = 0.4", "2:11", "hold-slow has no limit “most”; its limits: longest"),
        ("[limits]\nhold-slow = 0.4", "2:1", "write hold-slow.longest = NUMBER; its limits: longest"),
        ("[limits]\nhold-slow = {}", "2:1", "write hold-slow.longest = NUMBER"),
        ("[limits]\nmode-unreachable = 1", "2:1", "mode-unreachable has no limit “”; its limits: none"),
        ("[limits]\nmode-unreachable.x = 1", "2:18", "mode-unreachable has no limit “x”; its limits: none"),
        ("[limits]\n'hold-slow.longest' = 'x'", "2:23", "a limit is a number"),
        ("[limits]\nhold-slow.longest = true", "2:21", "a limit is a number"),
        ("[limits]\nhold-slow.longest = nan", "2:21", "a limit is a number"),
        ("[limits]\nhold-slow.longest = 1e999999999", "2:21", "a limit is a number"),
        ("[limits]\nhold-slow.longest = { a = 1 }", "2:21", "a limit is a number"),
        ("[limits]\nhold-slow.longest = -0.1", "2:21", "hold-slow.longest is not negative"),
        ("[limits]\nhold-slow.longest = 0.4\n'hold-slow.longest' = 0.3", "3:1", "stands here twice"),
        ("[limits]\nhold-slow.longest = 0.6", "2:21", "keeps people from being hurt, and a club can only tighten it"),
        ("[limits]\nstart-in-idle-up.within = 1", "2:27", "keeps people from being hurt"),
        ("[limits]\nmode-jump.motor = 25.01", "2:19", "which is 25 point: a club can only tighten; a setup may waive"),
        ("[limits]\nvoltage-alarm-below-floor.floor-lipo = 3.2", "2:40", "this loosens"),
        ("[limits]\nvoltage-alarm-below-floor.floor-lipo = 4.3", "2:40", "is under a full cell's 4.2 V"),
        ("[limits]\ncell-count-mismatch.full-lipo = 4.1", "2:33", "cannot be changed"),
        ('never-waive = "danger"', "1:15", "never-waive is a list"),
        ('never-waive = ["dangers"]', "1:16", "“dangers” is neither a rule nor a signal word; did you mean danger?"),
        ("never-waive = [{}]", "1:16", "this is neither a rule nor a signal word"),
        ("edition = ", "1:9", "There is no value after this"),
        ("= 1\n[[", "1:1", ""),
        ('"\\u001b[2J" = 1', "1:1", "unknown key"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_with_its_place(text: str, place: str, words: str, club: Path) -> None:
    message = refused(club, text)
    assert message.startswith(f"setuplint.toml:{place}"), message
    assert words in message
    assert "\n" not in message
    assert message.isprintable()


def test_the_first_place_comes_first_and_the_others_are_counted(club: Path) -> None:
    message = refused(club, 'edition = 1\nfail-on = "x"\ncolour = 1\n')
    assert message.startswith("setuplint.toml:1:11: ")
    assert message.endswith("(and 2 more)")


def test_the_same_number_as_ours_is_no_loosening(club: Path) -> None:
    assert read(club, "limits.hold-slow.longest = 0.50").limits == (("hold-slow", "longest", Fraction(1, 2)),)


def test_a_broken_rule_of_the_club_is_said_where_its_folder_is_named(club: Path) -> None:
    write(club, {"club-rules/x.toml": claim(formula="output motor >")})
    message = refused(club, 'rules = ["club-rules"]')
    assert message.startswith(
        "setuplint.toml:1:9: club-rules/x.toml:5:23: never: the formula ends where a number is expected"
    )


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("hold-slow", claim(), "there is a rule hold-slow already"),
        ("Shouting", claim(), "lower-case words"),
        ("danger", claim(), "lower-case words"),
        ("x", claim().replace("never = ", "check = "), "a check would be code"),
        ("x", claim() + "\n[limits.a]\nvalue = 1\nunit = 's'\nbasis = 'practice'\n", "no limits"),
        ("x", "a = '" + "x" * 30_000 + "'", "more than 20,000 characters"),
        ("x", "since = 2026\n" + claim(), "club-rules/x.toml:1:1: editions are the book's"),
        ("x", "was.2025 = { signal = 'notice' }\n" + claim(), "editions are the book's"),
        ("x", "asked = 'first'\n" + claim(), "is asked in its turn"),
        ("x", "said-by = ['hold-slow', 'nosuch']\n" + claim(), "x.toml:1:25: there is no rule nosuch"),
        ("x", "needs = ['nosuch.key']\n" + claim(), "x.toml:1:10: nosuch.key is no key of a setup"),
    ],
)
def test_what_is_no_claim_is_refused(name: str, text: str, words: str, club: Path) -> None:
    write(club, {f"club-rules/{name}.toml": text})
    assert words in refused(club, 'rules = ["club-rules"]')


def test_a_limit_of_a_claim_is_refused(club: Path) -> None:
    write(club, {"club-rules/x.toml": claim()})
    assert "a club's rule has no limits" in refused(club, 'rules = ["club-rules"]\nlimits.x.a = 1')


def test_links_lead_nowhere_outside(club: Path) -> None:
    outside = club.parent / "outside"
    write(outside, {"x.toml": claim(), "setuplint.toml": ""})
    (club / "linked").symlink_to(outside)
    assert "leads out of the repository" in refused(club, 'rules = ["linked"]')
    (club / "club-rules").mkdir()
    (club / "club-rules" / "x.toml").symlink_to(outside / "x.toml")
    assert "this link leads out of the folder" in refused(club, 'rules = ["club-rules"]')
    (club / "setuplint.toml").unlink()
    (club / "setuplint.toml").symlink_to(outside / "setuplint.toml")
    with pytest.raises(ConfigError, match="a link that leads out of the repository"):
        read_config(nearest.given_config(str(club / "setuplint.toml")))


def test_a_link_that_leads_in_circles_or_nowhere(club: Path) -> None:
    (club / "loop").symlink_to(club / "loop")
    assert "“loop”" in refused(club, 'rules = ["loop"]')
    (club / "setuplint.toml").unlink()
    (club / "setuplint.toml").symlink_to("setuplint.toml")
    with pytest.raises(ConfigError, match="cannot be read"):
        read_config(nearest.given_config("setuplint.toml"))


def test_what_is_no_file_is_not_waited_for(club: Path) -> None:
    os.mkfifo(club / "setuplint.toml")
    with pytest.raises(ConfigError, match="it is not a file"):
        read_config(nearest.given_config("setuplint.toml"))
    (club / "setuplint.toml").unlink()
    (club / "club-rules").mkdir()
    os.mkfifo(club / "club-rules" / "x.toml")
    assert "not a file" in refused(club, 'rules = ["club-rules"]')
    (club / "setuplint.toml").unlink()
    (club / "setuplint.toml").mkdir()
    with pytest.raises(ConfigError, match="it is not a file"):
        read_config(nearest.given_config("setuplint.toml"))


def test_too_large_and_too_many(club: Path) -> None:
    assert "longer" in refused(club, "#" * 1_000_001)
    write(club, {f"club-rules/r{number}.toml": claim() for number in range(501)})
    assert "more than 500 rules" in refused(club, 'rules = ["club-rules"]')


@pytest.mark.slow
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=200)
@given(st.text() | st.lists(st.sampled_from(PIECES)).map(" ".join))
def test_any_text_is_read_or_refused_in_one_line(club: Path, text: str) -> None:
    why = ""
    try:
        read(club, text.encode(errors="replace").decode())
    except ConfigError as error:
        why = str(error)
    assert not why or why.startswith("setuplint.toml:")
    assert "\n" not in why
