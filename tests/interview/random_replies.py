"""Replies of pilots who know their craft: whatever a working craft can have, each answered in one of the ways it may be
written, and nothing left open that a rule needs."""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache

from setuplint.interview.course import course

MANY = 400  # second tries


def written(chance: random.Random, number: float) -> str:
    """An output of a motor, in one of the ways in which it is understood."""
    forms = (f"{number:g}", f"{number:+g} %", f"{(number + 100) / 2:g} of 100", f"{1500 + 5 * number:g} µs")
    return chance.choice(forms)


def some(*choices: str) -> Callable[[random.Random], str]:
    return lambda chance: chance.choice(choices)


def outputs(low: int, high: int, *besides: str) -> Callable[[random.Random], str]:
    def pick(chance: random.Random) -> str:
        if besides and chance.random() < 0.3:
            return chance.choice(besides)
        return written(chance, chance.randint(low * 2, high * 2) / 2)

    return pick


YES_NO = some("yes", "no", "y", "n")
REPLIES: dict[str, Callable[[random.Random], str]] = {
    "rotor": some("collective", "fixed", "f"),
    "kind": some("helicopter", "multirotor", ""),
    "name": some("Wren 9", 'The "470"', ""),
    "radio": some("blue", ""),
    "power": some("electric", "engine", ""),
    "stabilised": YES_NO,
    "governed_above": some("no", "", "20", "60 of 100"),
    "motor_off": outputs(-98, -90),
    "rotor_free": outputs(-80, -70),
    "idle": outputs(-88, -82),
    "soft_start": YES_NO,
    "arms_when_stopped": YES_NO,
    "hover_throttle": outputs(-40, 60),
    "hover_collective": outputs(5, 45),
    "throttle_trim": some("0", "0%", "5", "20 %"),
    "springs": YES_NO,
    "hold_switch": some("", "stopper", "Hold it"),
    "hold_place": some("", "left shoulder"),
    "stop_switch": some("", "no", "kill"),
    "modes": some("", "calm", "normal, idle up", "normal, wind, loops", "a,b,c,d,e"),
    "flight_switch": some("", "style"),
    "flight_place": some("", "right shoulder"),
    "idle_up": outputs(-10, 90, "no", ""),
    "spin_up": some("", "3 s", "1", "1,5"),
    "aerobatic": YES_NO,
    "slope": some("", "", "0.4", "0,7"),
    "smoothing": some("", "monotone", "cardinal", "natural", "yes"),
    "speed": some("", "40", "75 of 100"),
    "gain": outputs(20, 90, "no", ""),
    "rates_switch": some("", "no", "rates"),
    "rate": some("", "90", "70 %"),
    "soft_rate": some("", "50"),
    "expo": some("", "25", "-10 %", "no"),
    "rescue_switch": some("", "save", "no"),
    "rescue_place": some(""),
    "rescue_sides": some("", "no", "one", "both"),
    "level": outputs(60, 100),
    "level_normal": outputs(-100, 0),
    "lift": some("unit", "the unit", "50", "62.5 %"),
    "rescue_power": some("", "", "55", "80 of 100"),
    "swash": some("", "one", "two-90", "three-120", "three-135", "three-140", "FOUR-90"),
    "swash_collective": some("50", "-45 %", "60"),
    "swash_cyclic": some("40", "-45", "55 percent"),
    "swash_ring": some("", "no", "100", "60 %"),
    "chemistry": some("lipo", "lihv", "li-ion", "life"),
    "cells": some("3", "6S", "12 cells"),
    "capacity_mah": some("2600", "2,6 Ah", "5000 mAh"),
    "hover_current_a": some("20", "27A", "15.5"),
    "resistance_mohm": some("6", "9 mOhm", "0.0075 ohm"),
    "packs": some("", "winter", "old, small one", "no"),
    "pack_cells": some("", "", "3", "7S"),
    "pack_capacity": some("", "2200"),
    "pack_resistance": some("", "8"),
    "pack_current": some("", "24"),
    "pack_sensor": YES_NO,
    "sensor_cells": some("", "no", "3", "2 cells"),
    "used_sensor": YES_NO,
    "link_sensor": some("yes"),
    "supply": some("", "regulator", "lipo", "nimh", "li-ion", "no"),
    "supply_volts": some("6", "7.4V"),
    "supply_cells": some("2", "2S"),
    "supply_sensor": YES_NO,
    "trainer_switch": some("", "no", "lend"),
    "trainer_sides": some("", "no", "one", "both"),
    "trainer_sticks": some("", "aileron", "rudder, elevator"),
    "failsafe": some("", "stop"),
    "start_check": some("", "yes"),
    "number": some("", "motor=2 roll=1", "roll=1, nose=3, motor=12"),
}


class Pilot(dict[str, str]):
    """Has a reply to every question, once it is asked."""

    def __init__(self, seed: int, unknown: float) -> None:
        self.chance, self.unknown = random.Random(seed), unknown

    def get(self, key: str, default: object = None) -> str:  # type: ignore[override]
        if key not in self:
            passed = self.chance.random() < self.unknown
            self[key] = "unknown" if passed else REPLIES[key.partition(" ")[0]](self.chance)
        return self[key]


def random_replies(seed: int, unknown: float = 0) -> dict[str, str]:
    """The replies of one interview; what is refused is answered again, as a pilot does. So much is not known to the pilot."""
    return dict(_replies(seed, unknown))


@cache
def _replies(seed: int, unknown: float) -> dict[str, str]:
    pilot = Pilot(seed, unknown)
    for _ in range(MANY):
        steps = course(pilot, asking=False).steps
        wrong = next((step.key for step in steps if step.complaint), None)
        if wrong is None:
            return {step.key: step.reply or "" for step in steps}
        del pilot[wrong]
    raise AssertionError(f"seed {seed}: no end, at {wrong}")
