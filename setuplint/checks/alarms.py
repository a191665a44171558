"""Alarms: whether they are heard."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.book.asking import Asking
from setuplint.checks.battery import number_words
from setuplint.checks.listening import LINK, PACK, SUPPLY, named_kinds, unreadable_alarms
from setuplint.findings import Edit, Finding
from setuplint.setup.model import Path

KINDS = {"pack": PACK, "receiver's supply": SUPPLY, "link": LINK}


def alarm_once(ask: Asking) -> Iterator[Finding]:
    """An alarm for the pack, the receiver's supply or the link that does not repeat, or too seldom."""
    if ask.broken("alarms"):
        ask.missing("alarms")
    for alarm in ask.setup.alarms.values():
        named = named_kinds(ask.setup, alarm)
        about = [what for what, kinds in KINDS.items() if named.intersection(kinds)]
        if ask.broken("alarms", alarm.name):
            ask.missing("alarms", alarm.name)
            continue
        for because in unreadable_alarms(ask.setup, alarm):
            ask.not_judged(because, alarm.name)
        if not about:
            continue
        most = ask.limit("repeat-link" if "link" in about else "repeat")
        if 0 < alarm.repeat <= most:
            continue
        how = (
            f"repeats only every {number_words(alarm.repeat)} s" if alarm.repeat else "sounds once and does not repeat"
        )
        given = ("alarms", alarm.name, "repeat")
        place: Path = given if given in ask.setup.declared else ("alarms", alarm.name)
        yield ask.finding(
            alarm.name,
            f"alarm {alarm.name} is for the {' and the '.join(about)} and {how}: every {number_words(most)} s is the least",
            place,
            edit=Edit(given, number_words(most)),
        )
