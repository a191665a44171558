"""alarm-once: what an alarm is for decides how often it must come again."""

from __future__ import annotations

from typing import Any

import pytest

from setuplint.checks import alarms
from setuplint.checks.alarms import cause_words
from tests.checks.linted import linted, said, unjudged


@pytest.mark.parametrize(
    ("when", "repeat", "speaks"),
    [
        ("pack-low", 10, False),
        ("pack-low", 10.1, True),
        ("pack-low and link < 50", 5, False),
        ("pack-low and link < 50", 5.1, True),
        ("link is lost", 5.1, True),
        ("receiver < 5", 10, False),
        ("receiver < 5", 0, True),
        ("receiver is lost", 11, True),
        ("mode is idle-up", 0, False),
        ("throttle > 90", 0, False),
    ],
)
def test_limits(when: str, repeat: float, speaks: bool) -> None:
    edit: dict[str, Any] = {
        "sensors.receiver": {"reads": "receiver-voltage", "shown": True},
        "alarms.x": {"when": when, "tone": True, "repeat": repeat},
    }
    assert [finding.subject for finding in said("alarm-once", edit)] == ["x"] * speaks


def test_through_a_chain_of_conditions_and_a_latch_s_reset() -> None:
    edit = {
        "conditions.warned": {"when": "hold is off", "until": "not pack-low"},
        "conditions.late": {"when": "warned", "stays": 3},
        "alarms.x": {"when": "late", "tone": True},
    }
    assert [finding.subject for finding in said("alarm-once", edit)] == ["x"]


def test_message_place_and_edit() -> None:
    (finding,) = said("alarm-once", {"alarms.link-weak.repeat": 30})
    assert finding.message == "alarm link-weak is for the link and repeats only every 30 s: every 5 s is the least"
    assert finding.primary.path == ("alarms", "link-weak", "repeat")
    assert finding.edit is not None
    assert (finding.edit.path, finding.edit.value) == (("alarms", "link-weak", "repeat"), "5")
    (finding,) = said("alarm-once", remove=("alarms.pack-gone.repeat",))
    assert (
        finding.message
        == "alarm pack-gone is for the pack and sounds once and does not repeat: every 10 s is the least"
    )
    assert finding.primary.path == ("alarms", "pack-gone")


def test_a_repeat_that_cannot_be_read_is_not_taken_for_none() -> None:
    report = linted({"alarms.land-now.repeat": "often"}, only=["alarm-once"])
    assert report.findings == ()
    assert [note.because for note in report.not_judged] == ["alarms.land-now cannot be read"]


def test_a_condition_that_cannot_be_read_may_be_about_anything() -> None:
    report = linted({"conditions.pack-low.when": "pack <"}, only=["alarm-once"])
    assert report.findings == ()
    assert [(note.subject, note.because) for note in report.not_judged] == [
        ("land-now", "conditions.pack-low cannot be read")
    ]


def test_thousands_of_conditions_on_each_other_are_walked_once_each() -> None:
    edit: dict[str, Any] = {"conditions.c0": {"when": "pack < 20"}}
    for n in range(1, 1500):
        edit[f"conditions.c{n}"] = {"when": f"c{n - 1} or (c{n - 1} and hold is on)"}
    edit["alarms.x"] = {"when": "c1499", "tone": True}
    from setuplint.checks.listening import named_kinds
    from setuplint.setup import loaded_setup
    from tests.checks.linted import TEXT
    from tests.rules.edits import edited

    _, setup, _ = loaded_setup(edited(TEXT, edit), "x")
    assert named_kinds(setup, setup.alarms["x"]) == {"pack-voltage"}


def test_the_same_words_of_different_things() -> None:
    edit = {"alarms.link-weak": {"when": "link < 60", "voice": "Land now", "repeat": 2}}
    (finding,) = said("alarm-voice-shared", edit)
    assert finding.message == (
        "alarm link-weak says “Land now” of the link, and alarm land-now says the same of the pack: they cannot be told apart "
        "by ear"
    )
    assert finding.edit is not None
    assert (finding.edit.path, finding.edit.value) == (("alarms", "link-weak", "voice"), '"link weak"')


def test_of_three_alarms_each_is_held_against_all_before_it() -> None:
    edit = {
        "alarms.both": {"when": "link < 60 or pack < 21", "voice": "land now", "repeat": 2},
        "alarms.weak": {"when": "link < 50", "voice": "land now", "repeat": 2},
    }
    (finding,) = said("alarm-voice-shared", edit)
    assert finding.subject == "weak"
    assert "alarm land-now says the same of the pack" in finding.message


def test_no_words_are_offered_that_another_alarm_says() -> None:
    edit = {
        "alarms.link-weak": {"when": "link < 60", "voice": "Land now", "repeat": 2},
        "alarms.told": {"when": "link < 50", "voice": "link  Weak", "repeat": 2},
    }
    (finding,) = said("alarm-voice-shared", edit)
    assert (finding.subject, finding.edit) == ("link-weak", None)


def test_what_an_alarm_listens_to_that_is_not_known_may_be_what_they_share() -> None:
    edit = {"alarms.link-weak": {"when": "link < 60 or mystery", "voice": "land now", "repeat": 2}}
    assert unjudged("alarm-voice-shared", edit) == ["alarms.link-weak.when names “mystery”, which nothing declares"]
    shared = {"alarms.link-weak": {"when": "link < 60 or pack < 20 or mystery", "voice": "land now", "repeat": 2}}
    assert unjudged("alarm-voice-shared", shared) == []
    alone = {"alarms.link-weak": {"when": "link < 60 or mystery", "voice": "the link", "repeat": 2}}
    assert unjudged("alarm-voice-shared", alone) == []
    unread = {"alarms.link-weak": {"when": "link < 60", "voice": 5, "repeat": 2}}
    assert unjudged("alarm-voice-shared", unread) == ["alarms.link-weak.voice cannot be read"]


GONE = ("sensors.pack", "alarms.land-now", "alarms.pack-gone", "conditions.pack-low")
USED = {"sensors.used": {"reads": "charge-used"}, "alarms.used-up": {"when": "used > 2000", "voice": "charge"}}


def test_the_last_alarm_of_the_charge_repeats_where_nothing_else_tells_of_the_pack() -> None:
    alone = (*GONE, "timers.flight")
    half = {"alarms.half": {"when": "used > 1000", "voice": "half"}}
    for edit in (USED, {**USED, **half}, {**half, **USED}):
        (finding,) = said("alarm-once", edit, alone)
        assert finding.message.startswith("alarm used-up is for the pack and sounds once")
    assert said("alarm-once", {**half, **USED, "alarms.used-up.repeat": 10}, alone) == []
    assert said("alarm-once", USED) == [], "the voltage has its own"
    assert said("alarm-once", USED, GONE) == [], "there is a timer too"


def test_what_only_asks_whether_the_link_is_heard_is_named_and_not_for_it() -> None:
    hot = {"sensors.esc": {"reads": "temperature"}, "alarms.hot": {"when": "esc > 90 and link >= 20", "tone": True}}
    (finding,) = said("alarm-once", hot)
    assert finding.message.startswith("alarm hot names the link and sounds once")
    (finding,) = said("link-alarm-missing", hot, ("alarms.link-weak",))
    assert finding.message.startswith("link reads the radio link, and no alarm sounds for it")
    for when in ("not link >= 20", "esc > 90 or link is lost", "latched"):
        edit = {**hot, "conditions.latched": {"when": "link < 20", "until": "link > 60"}, "alarms.hot.when": when}
        assert said("link-alarm-missing", edit, ("alarms.link-weak",)) == [], when


def test_voices_are_compared_by_what_they_are_about_not_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Thousands may say the same words, of few things."""
    asked = []

    def counted(*given: Any) -> list[str]:
        asked.append(given)
        return cause_words(*given)

    monkeypatch.setattr(alarms, "cause_words", counted)
    edit: dict[str, Any] = {
        f"alarms.x{n}": {"when": f"pack < {n / 10}", "voice": "look out", "repeat": 3} for n in range(40)
    }
    edit["alarms.y"] = {"when": "link < 50", "voice": "look out", "repeat": 3}
    (finding,) = said("alarm-voice-shared", edit)
    assert (finding.subject, "alarm x0 says the same" in finding.message) == ("y", True)
    assert len(asked) < 100
