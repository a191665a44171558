"""A club's limits: which way is stricter is checked on the examples of the rules themselves."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from fractions import Fraction
from functools import cache
from typing import Any

import pytest

import setuplint
from setuplint.book import rule_file, rulebook
from setuplint.book.choices import Choices
from setuplint.club.limits import objection, sharing, tightened
from setuplint.library import lint_loaded
from tests.rules.edits import REFERENCE, beside_text, edited, example_text

RULES = rulebook.rules()
EVERY = {f"{rule.name}.{name}": limit for rule in RULES.values() for name, limit in rule.limits.items()}
SMALLER = {key for key, limit in EVERY.items() if limit.stricter == "lower"}
GREATER = {key for key, limit in EVERY.items() if limit.stricter == "higher"}
# No number of these makes a rule speak of more setups and of none the less.
FIXED = {f"cell-count-mismatch.full-{chemistry}" for chemistry in ("lipo", "lihv", "li-ion", "life")} | {
    "motor-lags.around",
    "curve-overshoot.full",
    "control-dead.alike",
    "control-reversed.alike",
    *(f"voltage-alarm-below-floor.careful-{chemistry}" for chemistry in ("lipo", "lihv", "li-ion", "life")),
    *(f"{rule}.aloft" for rule in ("idle-up-stops", "rescue-incomplete", "rescue-not-level", "rescue-too-weak")),
}


TEXT = REFERENCE.read_text(encoding="utf-8")


def pack(chemistry: str, cell: float) -> str:
    """The reference setup with another chemistry, warned at that voltage of each of its six cells."""
    return edited(TEXT, {"battery.chemistry": chemistry, "conditions.pack-low.when": f"pack < {6 * cell:g}"})


def supply(kind: str, cell: float) -> str:
    """The reference setup with two cells for the receiver, warned at that voltage of each."""
    alarm = {"when": f"supply < {2 * cell:g}", "voice": "receiver", "repeat": 5}
    changes = {"receiver-supply": {"kind": kind, "cells": 2}, "sensors.supply": {"reads": "receiver-voltage"}}
    return edited(TEXT, {**changes, "alarms.supply-low": alarm})


# Limits that the examples of their rules do not come close to, each with a setup that does.
UNMOVED_TEXTS = [
    ("voltage-alarm-below-floor.floor-lihv", pack("lihv", 3.4), "3.5"),
    ("voltage-alarm-below-floor.floor-life", pack("life", 2.9), "3.0"),
    ("voltage-alarm-nervous.resting-li-ion", pack("li-ion", 3.2), "3.25"),
    ("voltage-alarm-nervous.resting-life", pack("life", 2.9), "2.95"),
    ("receiver-alarm-below-floor.floor-lipo", supply("lipo", 3.4), "3.5"),
    ("receiver-alarm-below-floor.floor-lihv", supply("lihv", 3.4), "3.5"),
    ("receiver-alarm-below-floor.floor-life", supply("life", 3.0), "3.1"),
    ("motor-off-doubtful.highest-engine", edited(TEXT, {"craft.power": "engine", "craft.motor-off": -55}), "-60"),
    ("value-doubtful.current", edited(TEXT, {"battery.capacity-mah": 900, "battery.hover-current-a": 250}), "200"),
    ("value-doubtful.small-pack", edited(TEXT, {"battery.capacity-mah": 1100, "battery.hover-current-a": 400}), "1200"),
    ("value-doubtful.timer", edited(TEXT, {"timers.short": {"seconds": 25, "voice": "land"}}), "30"),
]
UNMOVED = {key for key, _, _ in UNMOVED_TEXTS}


def test_limits_that_a_club_may_change_are_there_and_have_one_way_that_is_stricter() -> None:
    assert set(EVERY) - SMALLER - GREATER == FIXED


def stricter(key: str) -> Iterator[Fraction]:
    """As much as there is, and a little."""
    ours = EVERY[key].value
    by = abs(ours)
    if key in SMALLER:
        yield from (min(ours - by, Fraction(0)), ours - by / 50)
    else:
        yield from (min(ours * 2, Fraction("4.1")) if "floor-li" in key else ours + by * 10, ours + by / 50)


@cache
def texts(rules: tuple[str, ...]) -> dict[tuple[str, int], str]:
    """The examples of rules that are one setup."""
    pages = {rule: rulebook.page(rule).examples for rule in rules}
    return {
        (rule, number): example_text(example)
        for rule, examples in pages.items()
        for number, example in enumerate(examples)
        if beside_text(example) is None
    }


def spoken(over: Mapping[Any, str], rules: Collection[str], changed: Mapping[str, rule_file.Rule] = RULES) -> set[Any]:
    """On which of the texts one of the rules speaks."""
    by = Choices(changed)
    return {key for key, text in over.items() if lint_loaded(loaded(text), None, by, only=rules).findings}


loaded = cache(setuplint.load_text)


@cache
def spoken_as_it_is(rules: tuple[str, ...]) -> set[Any]:
    """On which of their own texts they speak without a club's limits."""
    return spoken(texts(rules), rules)


def concerned(key: str) -> tuple[str, ...]:
    """The rules in which a limit is."""
    rule, _, limit = key.partition(".")
    return tuple(sharing(RULES, rule, limit))


def with_limit(key: str, value: Fraction) -> dict[str, rule_file.Rule]:
    rule, _, limit = key.partition(".")
    return tightened(RULES, [(rule, limit, value)])


@pytest.mark.quick(1)
@pytest.mark.parametrize("key", [key for key in sorted(SMALLER | GREATER) if key.startswith(concerned(key)[0] + ".")])
def test_stricter_loses_nothing_and_much_stricter_finds_more(key: str) -> None:
    rule, _, limit = key.partition(".")
    rules = concerned(key)
    before = spoken_as_it_is(rules)
    speaking = {name: text for name, text in texts(rules).items() if name in before}
    silent = {name: text for name, text in texts(rules).items() if name not in before}
    more = False
    for value in stricter(key):
        if objection(RULES, rule, limit, value):
            assert limit.startswith("floor-"), "beyond a full cell"
            continue
        by = with_limit(key, value)
        assert all(with_limit(f"{other}.{limit}", value) == by for other in rules)
        assert spoken(speaking, rules, by) == before, f"{key} = {float(value)}"
        more = more or any(spoken({name: text}, rules, by) for name, text in silent.items())
    assert more != (key in UNMOVED)


@pytest.mark.parametrize(("key", "text", "value"), UNMOVED_TEXTS)
def test_those_that_no_example_is_close_to(key: str, text: str, value: str) -> None:
    rule = key.partition(".")[0]
    assert spoken({1: text}, [rule]) == set()
    assert spoken({1: text}, [rule], with_limit(key, Fraction(value))) == {1}


def test_a_timer_that_ends_later_than_the_club_wants_is_no_reason_to_do_without_an_alarm() -> None:
    key = "voltage-alarm-missing.capacity"
    timed = next(x for x in rulebook.page("voltage-alarm-missing").examples if "battery.capacity-mah" in x.edit)
    for value, open_rules in ((Fraction(80), 0), (Fraction(75), 1)):
        by = Choices(with_limit(key, value))
        report = setuplint.lint_text(example_text(timed), only=["voltage-alarm-missing"], choices=by)
        assert (report.findings, len(report.not_judged)) == ((), open_rules)


@pytest.mark.parametrize("key", sorted(EVERY))
def test_looser_is_refused_with_its_reason(key: str) -> None:
    rule, _, limit = key.partition(".")
    by = Fraction(1, 100) * (1 if key in SMALLER else -1)
    why = objection(RULES, rule, limit, EVERY[key].value + by)
    assert ("keeps people from being hurt" in why) == (RULES[rule].signal == "danger")
    assert why
    if key in SMALLER | GREATER:
        assert objection(RULES, rule, limit, EVERY[key].value) == ""


def test_a_message_has_the_clubs_number() -> None:
    text = example_text(next(x for x in rulebook.page("voltage-alarm-below-floor").examples if not x.speaks))
    before = setuplint.lint_text(text).findings
    rules = tightened(RULES, [("voltage-alarm-below-floor", "floor-lipo", Fraction("3.7"))])
    report = setuplint.lint_text(text, choices=Choices(rules))
    (finding,) = [x for x in report.findings if x not in before]
    assert (finding.rule, "3.7 V" in finding.message) == ("voltage-alarm-below-floor", True)
    assert RULES["voltage-alarm-below-floor"].limits["floor-lipo"].value == Fraction("3.3"), "ours is as it was"
