"""Judges of rules that speak of movements of one switch, and of two places of the same switches."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise, product

import numpy as np

from tests.oracle.formula import Const

from .aloft import neither
from .grid import Array, Choice
from .reach import Reach, Verdict, outputs_differ
from .settled import Moment
from .states import pulled, reach_places

MIDDLE = Fraction(0)


def two_moves(reach: Reach, what: str) -> Verdict:
    """A flying state, the intent not called, from which no one movement calls it."""
    if what not in reach.world.intent:
        return False
    if reach.motor is None or reach.world.motor_off is None or (what == "rescue" and not reach.aloft.known):
        return None

    def stuck(moment: Moment, choice: Choice) -> Array:
        far = reach.yes(moment, choice, "flying") & ~reach.called(moment, what)
        if what == "rescue":
            far = far & reach.aloft(moment, choice)
        if not far.any():
            return far
        for moved, after in reach.movements(moment):
            far = far & ~(moved & reach.called(after, what))
        return far

    return reach.anywhere(stuck, flight=True)


def hold_two_moves(reach: Reach) -> Verdict:
    return reach.can("hold called") is True and two_moves(reach, "hold")


def rescue_two_moves(reach: Reach) -> Verdict:
    return two_moves(reach, "rescue")


def hold_shared(reach: Reach) -> Verdict:
    if "hold" not in reach.world.intent:
        return False

    def shared(moment: Moment, choice: Choice) -> Array:
        found = reach.grid.constant(False)
        places = list(reach_places(reach, moment, "hold"))
        if len(places) < 2 or all(reach.called(place, "hold").all() for place in places[1:]):
            return found
        for k, one in enumerate(places):
            for other in places[k + 1 :]:
                free = ~reach.called(one, "hold") & ~reach.called(other, "hold")
                idle = reach.in_idle_up(one) | reach.in_idle_up(other)
                if not (free & idle).any():
                    continue
                for differ in differences(reach, one, other, choice):
                    found = np.asarray(found | (free & idle & differ).any())
        return found

    return reach.anywhere(shared)


def differences(reach: Reach, one: Moment, other: Moment, choice: Choice, but: str = "") -> list[Array]:
    found = [one.mode != other.mode]
    for channel in reach.world.channels:
        if channel == but:
            continue
        found.append(outputs_differ(one.output(channel, choice), other.output(channel, choice)))
    return found


def rescue_shared(reach: Reach) -> Verdict:
    if "rescue" not in reach.world.intent:
        return False
    if not reach.aloft.known:
        return None
    alarms = [reach.world.alarms[name] for name in reach.sounding()]

    def shared(moment: Moment, choice: Choice) -> Array:
        found = reach.grid.constant(False)
        places = list(reach_places(reach, moment, "rescue"))
        for k, one in enumerate(places):
            for other in places[k + 1 :]:
                quiet = reach.grid.constant(True)
                for what in ("hold", "rescue"):
                    quiet = quiet & ~reach.called(one, what) & ~reach.called(other, what)
                quiet = quiet & neither(reach, one) & neither(reach, other)
                quiet = quiet & (reach.aloft(one, choice) | reach.aloft(other, choice))
                if not quiet.any():
                    continue
                more = [one.plain(alarm) != other.plain(alarm) for alarm in alarms]
                for differ in [*differences(reach, one, other, choice), *more]:
                    found = np.asarray(found | (quiet & differ).any())
        held = reach.called(moment, "hold") & ~reach.called(moment, "rescue")
        for moved, after in reach.movements(moment):
            saved = held & moved & pulled(reach, after) & reach.aloft.after(moment, after, choice)
            found = np.asarray(found | saved.any())
        return found

    return reach.anywhere(shared)


def rescue_lowers_power(reach: Reach) -> Verdict:
    if "rescue" not in reach.world.intent:
        return False
    if reach.motor is None or reach.world.motor_off is None:
        return None
    if not reach.aloft.known:
        return None
    motor = reach.motor

    def lowers(moment: Moment, choice: Choice) -> Array:
        found = reach.grid.constant(False)
        before = reach.yes(moment, choice, "flying") & ~reach.called(moment, "rescue") & reach.aloft(moment, choice)
        for moved, after in reach.movements(moment):
            for other in reach.choices:
                drop = moment.output(motor, choice) - after.output(motor, other)
                found = found | (before & moved & pulled(reach, after) & (drop > 5))
        return found

    return reach.somewhere_after(lowers, dict.fromkeys(("throttle", "aileron", "elevator", "rudder"), MIDDLE))


Places = dict[str, str]  # switches, each in a position


def hover_subject(reach: Reach) -> list[str]:
    return reach.driving("collective") if reach.collective else reach.driving("motor")


def hover_sticks(reach: Reach, mode: str | None) -> Iterator[tuple[dict[str, Fraction], Places]]:
    """Where the sticks are in a hover of a mode, for each place of the switches that its line hangs on."""
    channels = hover_subject(reach)
    terms = reach.world.channels[channels[0]].lines[mode].terms or () if channels else ()
    hung = dict.fromkeys(x for t in terms for x in (t.rate.switch, t.expo.switch, t.kind == "switch" and t.source) if x)
    for words in product(*(reach.world.switches[switch] for switch in hung)):
        at = dict(zip(hung, words, strict=True))
        if (mode, words) not in reach.hovers:
            reach.hovers[mode, words] = hover_stick(reach, mode, at)
        yield reach.hovers[mode, words], at


def stands(moment: Moment, at: Places) -> Array:
    found = moment.grid.constant(True)
    for switch, word in at.items():
        found = found & moment.is_at(switch, word)
    return found


def hover_stick(reach: Reach, mode: str | None, at: Places) -> dict[str, Fraction]:
    """Every stick in the middle, but for the one that hovers: where the collective (fixed pitch: the motor) gives its
    hover value in a mode's line, the nearest to the middle."""
    middle = dict.fromkeys(("throttle", "aileron", "elevator", "rudder"), MIDDLE)
    channels = hover_subject(reach)
    hover = reach.craft("hover-collective" if reach.collective else "hover-throttle")
    if not channels or hover is None:
        return middle
    world, channel = reach.world, reach.world.channels[channels[0]]
    terms = channel.lines[mode].terms or ()
    sticks = [term.source for term in terms if term.source in middle]
    if not sticks:
        return middle
    stick, choice = sticks[0], {key: value for key, value in reach.choices[0].items() if key[0] == "curve"}

    def off(x: Fraction) -> Fraction:
        controls = {**world.rest, **middle, **at, stick: x}
        return world.servo_exact(channel, sum((world.term(t, controls, choice, {}) for t in terms), MIDDLE)) - hover

    found: list[Fraction] = []
    for (a, fa), (b, fb) in pairwise((x, off(x)) for x in reach.grid.axes[stick]):
        if fa == 0 or fb == 0:
            found += [x for x, f in ((a, fa), (b, fb)) if f == 0]
        elif (fa < 0) != (fb < 0):
            for _ in range(40):
                c = (a + b) / 2
                a, b = (c, b) if (off(c) < 0) == (fa < 0) else (a, c)
            found.append(Fraction(round(a * 10**9), 10**9))
    return {**middle, stick: min(found, key=abs)} if found else middle


def mode_jump(reach: Reach) -> Verdict:
    """A change of mode by one movement in a hover, the other sticks in the middle, knobs anywhere."""
    limits = {"motor": 25, "collective": 15}
    hovers = [(mode, put, at) for mode in reach.flown() - {None} for put, at in hover_sticks(reach, mode)]
    for mode, put, at in hovers:

        def jumps(moment: Moment, choice: Choice, mode: str = mode, at: Places = at) -> Array:
            found = reach.grid.constant(False)
            here = (moment.mode == moment.modes[mode]) & quiet(reach, moment) & stands(moment, at)
            if not here.any():
                return found
            for moved, after in reach.movements(moment):
                for name, k in after.modes.items():
                    if name == mode:
                        continue
                    where = here & moved & (after.mode == k) & quiet(reach, after)
                    if not where.any():
                        continue
                    for channel in reach.driving(*limits):
                        drives = reach.world.channels[channel].drives
                        if drives == "motor" and reach.craft("governed-above") is not None:
                            continue
                        line = reach.world.channels[channel].lines[name]
                        rise = after.output(channel, choice) - moment.output(channel, choice)
                        sharp = np.where(rise_of_demand(reach, channel, rise), line.ramp_up < 1, line.ramp_down < 1)
                        found = found | (where & (abs(rise) > limits[drives]) & sharp)
            return found

        if reach.somewhere_after(jumps, put):
            return True
    return False


def rise_of_demand(reach: Reach, channel: str, rise: np.ndarray) -> Array:
    return np.asarray(rise < 0 if reach.world.channels[channel].reversed else rise > 0)


def quiet(reach: Reach, moment: Moment) -> Array:
    return ~reach.called(moment, "hold") & ~reach.called(moment, "rescue")


def rescue_release_drop(reach: Reach) -> Verdict:
    if "rescue" not in reach.world.intent or reach.craft("governed-above") is not None:
        return False
    hover = reach.craft("hover-throttle")
    if reach.motor is None or hover is None or (reach.collective and reach.craft("hover-collective") is None):
        return None
    motor = reach.motor
    hovers = [(mode, put, at) for mode in reach.flown() for put, at in hover_sticks(reach, mode)]
    for mode, put, at in hovers:

        def drops(moment: Moment, choice: Choice, mode: str | None = mode, at: Places = at) -> Array:
            found = reach.grid.constant(False)
            if not pulled(reach, moment).any():
                return found
            for moved, after in reach.movements(moment):
                stop = after.plain(reach.world.intent.get("stop", Const(False)))
                where = pulled(reach, moment) & moved & quiet(reach, after) & ~stop & ~reach.in_idle_up(after)
                here = (after.mode == (after.modes[mode] if mode else -1)) & stands(after, at)
                if not (where & here).any():
                    continue
                for other in reach.choices:
                    was, now = moment.output(motor, choice), after.output(motor, other)
                    found = found | (where & here & (was >= float(hover - 15)) & (now < float(hover - 15)))
            return found

        if reach.somewhere_after(drops, put):
            return True
    return False
