"""Alarms: whether they are heard, and told apart."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations_with_replacement

from setuplint.book.asking import Asking
from setuplint.checks.battery import number_words, pack_alarms
from setuplint.checks.charge import charge_sensors, growing_comparisons, pack_watchers
from setuplint.checks.listening import LINK, PACK, SUPPLY, listens, named_kinds, unreadable_alarms, warns_of
from setuplint.findings import Edit, Finding, Place
from setuplint.setup.model import Alarm, Path

KINDS = {"pack": PACK, "receiver's supply": SUPPLY, "link": LINK}
CAUSES = {
    "pack": (*PACK, "charge-used", "current"),
    "receiver's supply": SUPPLY,
    "link": LINK,
    "rotor's speed": ("rotor-speed",),
    "temperature": ("temperature",),
}


def alarm_once(ask: Asking) -> Iterator[Finding]:
    """An alarm for the pack, the receiver's supply or the link that does not repeat, or too seldom."""
    ask.unread("alarms")
    sole = sole_charge_alarm(ask)
    for alarm in ask.setup.alarms.values():
        named = named_kinds(ask.setup, alarm)
        about = [what for what, kinds in KINDS.items() if named.intersection(kinds)]
        about = ["pack", *about] if alarm == sole else about
        for because in unreadable_alarms(ask.setup, alarm):
            ask.not_judged(because, alarm.name)
        if about and "repeat" in alarm.lost:
            ask.missing("alarms", alarm.name)
        if not about or "repeat" in alarm.lost:
            continue
        most = ask.limit("repeat-link" if "link" in about else "repeat")
        if 0 < alarm.repeat <= most:
            continue
        how = (
            f"repeats only every {number_words(alarm.repeat)} s" if alarm.repeat else "sounds once and does not repeat"
        )
        given = ("alarms", alarm.name, "repeat")
        place: Path = given if given in ask.setup.declared else ("alarms", alarm.name)
        own = [kind for what in about for kind in KINDS[what]]
        verb = "is for" if alarm == sole or warns_of(ask.setup, alarm, own) else "names"
        yield ask.finding(
            alarm.name,
            f"alarm {alarm.name} {verb} the {' and the '.join(about)} and {how}: every {number_words(most)} s is the least",
            place,
            edit=Edit(given, number_words(most)),
        )


def sole_charge_alarm(ask: Asking) -> Alarm | None:
    """The last of the alarms of the charge used, where these are all that tells of the pack and none of them repeats."""
    if any(timer.audible for timer in ask.setup.timers.values()) or pack_alarms(ask):
        return None
    found = pack_watchers(ask)
    if any(0 < alarm.repeat <= ask.limit("repeat") for alarm in found):
        return None
    growing = (each for sensor in charge_sensors(ask) for each in growing_comparisons(ask, found, sensor))
    last = max(growing, key=lambda each: each.atom.number, default=None)
    return None if last is None else last.alarm


def alarm_voice_shared(ask: Asking) -> Iterator[Finding]:
    """Two alarms with the same words listen to different kinds of sensors. One finding for each but the first."""
    ask.unread("alarms")
    said: dict[str, list[Alarm]] = {}
    for alarm in ask.setup.alarms.values():
        words = heard_words(alarm.voice)
        if "voice" in alarm.lost:
            ask.missing("alarms", alarm.name, "voice", subject=alarm.name)
        elif words:
            said.setdefault(words, []).append(alarm)
    for alike in said.values():
        for alarm, other in differing(ask, alike):
            yield shared_voice(ask, alarm, other, free=heard_words(alarm.name.replace("-", " ")) not in said)


def heard_words(voice: str | None) -> str:
    """Without what nobody hears: spaces and capitals."""
    return " ".join((voice or "").casefold().split())


def differing(ask: Asking, alike: Sequence[Alarm]) -> Iterator[tuple[Alarm, Alarm]]:
    """The alarms that listen to other kinds than one before, and share none, each with the first of these; noted where that is
    not known. There may be thousands, about a handful of things: they are compared by what they are about, not one by one."""
    groups: dict[tuple[frozenset[str], bool], list[Alarm]] = {}  # by their causes, and whether there may be more
    for alarm in alike:
        mine, unsure = frozenset(cause_words(ask, alarm)), bool(unreadable_alarms(ask.setup, alarm))
        sure = (some[0] for (others, more), some in groups.items() if mine and others and not (more or mine & others))
        other = None if unsure else next(sure, None)
        if other is not None:
            yield alarm, other
        groups.setdefault((mine, unsure), []).append(alarm)
    for (one, some), (two, others) in combinations_with_replacement(groups.items(), 2):
        if (one[1] or two[1]) and not one[0] & two[0] and (one != two or len(some) > 1):
            for each in (*some, *others):
                for because in unreadable_alarms(ask.setup, each):
                    ask.not_judged(because, each.name)


def cause_words(ask: Asking, alarm: Alarm) -> list[str]:
    """What an alarm is about, by the sensors that it compares with numbers."""
    return [cause for cause, kinds in CAUSES.items() if listens(ask.setup, alarm, kinds)]


def shared_voice(ask: Asking, alarm: Alarm, first: Alarm, free: bool) -> Finding:
    """`free`: nobody says the alarm's own name."""
    mine, other = (" and the ".join(cause_words(ask, each)) for each in (alarm, first))
    place = ("alarms", alarm.name, "voice")
    return ask.finding(
        alarm.name,
        f"alarm {alarm.name} says “{alarm.voice}” of the {mine}, and alarm {first.name} says the same of the {other}: they "
        "cannot be told apart by ear",
        place,
        related=[Place(("alarms", first.name, "voice"), "the same words")],
        edit=Edit(place, f'"{alarm.name.replace("-", " ")}"') if free else None,
    )
