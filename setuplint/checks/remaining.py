"""How long the pack still lasts from an alarm's threshold on: arithmetic on sag and on the charge of published cells."""

from __future__ import annotations

from fractions import Fraction
from math import floor as whole

from setuplint.book.asking import Asking
from setuplint.checks import cells
from setuplint.named_tuple import NamedTuple

FULL = "cell-count-mismatch"  # whose limits are the voltages of full cells
BELOW = "voltage-alarm-below-floor"  # whose limits are the careful voltages
LATE = "voltage-alarm-late"  # whose limits are the seconds that are to be left
SECONDS_AN_HOUR_OVER_MILLI = Fraction(3600, 1000)  # mAh / A to seconds


class Reserve(NamedTuple):
    """Seconds of hover from an alarm's threshold to the floor, by published cells, and those left once it has waited."""

    seconds: Fraction  # the median's
    least: Fraction
    most: Fraction
    after: Fraction  # of the median's, once it has waited
    left: cells.ChargeLeft  # charge when the threshold is reached, and at the floor
    at_floor: cells.ChargeLeft


class Longest(NamedTuple):
    """The most seconds of hover that there can be, whatever the resistance, and those left once it has waited."""

    seconds: Fraction
    after: Fraction


def sag_of(ask: Asking, current: Fraction) -> Fraction | None:
    """What a current takes from a cell's voltage: I times R a cell; None where the cells or the resistance are not given."""
    battery = ask.setup.battery
    if battery.resistance_mohm is None or battery.cells is None:
        return None
    return current * battery.resistance_mohm / 1000 / battery.cells


def wanted_seconds(ask: Asking) -> Fraction:
    """Seconds of hover that are to be left."""
    return ask.limit("reserve", LATE) + ask.limit("way-down", LATE)


def reserve_between(ask: Asking, cell: Fraction, wait: Fraction, least: Fraction) -> Reserve:
    """From a cell's loaded voltage down to `least`, after `wait` seconds; every key of [battery] but the peak is given."""
    battery = ask.setup.battery
    current, capacity, chemistry = battery.hover_current_a, battery.capacity_mah, battery.chemistry
    sag = sag_of(ask, current or Fraction(0))
    assert current is not None
    assert capacity is not None
    assert chemistry is not None
    assert sag is not None
    used = cells.charge_between(chemistry, cell + sag, least + sag)
    a_percent = capacity * SECONDS_AN_HOUR_OVER_MILLI / current / 100
    shortest, middle, longest = (part * a_percent for part in used)
    left, at_floor = cells.charge_left(chemistry, cell + sag), cells.charge_left(chemistry, least + sag)
    return Reserve(middle, shortest, longest, middle - wait, left, at_floor)


def most_seconds(ask: Asking, cell: Fraction, least: Fraction) -> Fraction:
    """The most seconds of hover from a cell's loaded voltage down to `least`, whatever the resistance: over every sag within the
    limit. The capacity, the current and the chemistry are given."""
    battery = ask.setup.battery
    assert battery.hover_current_a
    assert battery.capacity_mah is not None
    used = cells.most_between(str(battery.chemistry), cell, least, ask.limit("most-sag", LATE))
    return used * battery.capacity_mah * SECONDS_AN_HOUR_OVER_MILLI / battery.hover_current_a / 100


def threshold_in_time(ask: Asking, above: Fraction, wait: Fraction, least: Fraction) -> Fraction | None:
    """The least threshold over `above` that leaves the time, in hundredths of a volt a cell; None where only a full pack
    would."""
    full = ask.limit(f"full-{ask.setup.battery.chemistry}", FULL)
    for hundredths in range(whole(above * 100) + 1, whole(full * 100)):
        cell = Fraction(hundredths, 100)
        if reserve_between(ask, cell, wait, least).after >= wanted_seconds(ask):
            return cell
    return None


def careful_threshold(ask: Asking, least: Fraction, wait: Fraction) -> Fraction:
    """A threshold a cell that is well over the floor and, as far as can be reckoned, not late."""
    battery = ask.setup.battery
    known = (battery.capacity_mah, battery.resistance_mohm, battery.cells, battery.hover_current_a)
    careful = max(ask.limit(f"careful-{battery.chemistry}", BELOW), least + Fraction(1, 10))
    if None in known or not battery.hover_current_a:
        return careful
    return threshold_in_time(ask, careful - Fraction(1, 100), wait, least) or careful
