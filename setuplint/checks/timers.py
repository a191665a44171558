"""The flight timer: whether it ends in time, and whether it counts."""

from __future__ import annotations

from collections.abc import Iterator
from math import floor

from setuplint.book.asking import Asking
from setuplint.checks import amend
from setuplint.checks.battery import counting_timers, lacking_key, number_words
from setuplint.findings import Edit, Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.model import Timer


def unreadable_tables(ask: Asking, *kinds: str) -> list[tuple[str, ...]]:
    """The parts of some kinds that cannot be read, each once."""
    return sorted({tuple(map(str, path[:2])) for path in ask.setup.broken if path and path[0] in kinds})


def flight_timers(ask: Asking) -> list[Timer] | None:
    """The timers with voice, tone or vibration; None, and noted, where some timer cannot be read. Beside one that counts in
    flight those that never do are none."""
    unread = unreadable_tables(ask, "timers")
    for path in unread:
        ask.missing(*path)
    if unread:
        return None
    heard = [t for t in ask.setup.timers.values() if t.audible]
    return heard if len(heard) == 1 else counting_timers(ask) or heard


def flight_time_too_long(ask: Asking) -> Iterator[Finding]:
    """The flight timer with the fewest seconds takes more than its share of the capacity at hover current."""
    timers = flight_timers(ask)
    if not timers or ask.unread("craft", "power") or ask.setup.is_engine:
        return
    battery = ask.setup.battery
    capacity, current = battery.capacity_mah, battery.hover_current_a
    if lacking_key(ask, "capacity-mah", "hover-current-a") or capacity is None or current is None:
        return
    timer = min(timers, key=lambda t: t.seconds)
    most = ask.limit("capacity")
    used = timer.seconds * current * 1000 / 3600
    if used * 100 <= capacity * most:
        return
    longest = floor(capacity * most / 100 * 3600 / 1000 / current)
    yield ask.finding(
        timer.name,
        f"timer {timer.name} ends after {number_words(timer.seconds)} s: at {number_words(current)} A, as in a hover, that takes "
        f"{round(used)} mAh, and {number_words(most)} % of {number_words(capacity)} mAh is "
        f"{number_words(capacity * most / 100)} mAh, or "
        f"{longest} s",
        ("timers", timer.name, "seconds"),
        related=[
            Place(("battery", "capacity-mah"), "the capacity"),
            Place(("battery", "hover-current-a"), "the current"),
        ],
        status="advice",
        edit=Edit(("timers", timer.name, "seconds"), str(longest)) if longest else None,
    )


def timer_stops_in_flight(ask: Asking) -> Iterator[Finding]:
    """Flying, and no flight timer counts."""
    timers = flight_timers(ask)
    running = [t.runs for t in timers or () if t.runs is not None]
    if not timers or len(running) < len(timers):
        return
    case = ask.find(f.both(f.Predicate("flying"), *(f.Not(runs) for runs in running)))
    if case is None:
        return
    names = [t.name for t in timers]
    mode = f" in mode {case.evaluation.mode}" if case.evaluation.mode else ""
    hold = ask.setup.intent.hold
    runs = amend.formula_edit(("timers", names[0], "runs"), f.negation(hold)) if hold is not None else None
    stands = "timer {} stands" if len(names) == 1 else "timers {} stand"
    yield ask.finding(
        ", ".join(names),
        f"{stands.format(' and '.join(names))} still while the craft flies{mode}: the end comes too late by that time",
        ("timers", names[0], "runs"),
        case,
        related=[Place(("timers", name, "runs"), "this one does not run either") for name in names[1:]],
        edit=runs if len(names) == 1 else None,
    )
