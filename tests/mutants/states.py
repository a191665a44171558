"""Judges of rules that speak of one settled state, each from the words of RULES.md alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction

import numpy as np

from tests.oracle.formula import And, Formula, Not
from tests.oracle.parts import Bound, Limits, Override
from tests.oracle.predicates import bound_limits

from .grid import Array, Choice, through
from .reach import Reach, Verdict
from .settled import Moment, given

Judged = Verdict | frozenset[str]  # whether the rule speaks, or of what

# Hold and stop


def hold_missing(reach: Reach) -> Verdict:
    return reach.can("hold called") is not True


def hold_bypassed(reach: Reach) -> Verdict:
    return reach.can("hold called and rotor driven")


def stop_bypassed(reach: Reach) -> Verdict:
    return reach.can("stop called and motor runs")


def hold_idles(reach: Reach) -> Verdict:
    no_stop = "stop" not in reach.world.intent or reach.can("stop called") is False
    return no_stop and reach.can("hold called and motor runs and not rotor driven")


def hold_springs_back(reach: Reach) -> Verdict:
    return bool(reach.can("hold called") and not reach.can("hold called and sprung switches released"))


def reach_places(reach: Reach, moment: Moment, what: str) -> Iterator[Moment]:
    """The same step with the switches of an intent's formula in every one of their places."""
    places: list[dict[str, str]] = [{}]
    for switch in reach.switches_of(what):
        places = [{**place, switch: word} for place in places for word in reach.world.switches[switch]]
    for place in places:
        yield moment.at(place)


# Start


def start_impossible(reach: Reach) -> Verdict:
    return not reach.start_possible


def start_unguarded(reach: Reach) -> Verdict:
    if reach.world.craft.get("arms-when-stopped"):
        return False
    if reach.motor is None or reach.world.motor_off is None:
        return None
    settled, admitted = reach.power_up
    first = Moment(reach.grid, settled.before, settled.fixed, cold=True)
    for moment in (settled, first):
        for choice in reach.choices:
            driven = reach.yes(moment, choice, "rotor driven and sprung switches released")
            if (driven & admitted).any():
                return True
    return False


def start_without_hold(reach: Reach) -> Verdict:
    """In the power-up state, the start check passed."""
    if "hold" not in reach.world.intent:
        return False
    moment, admitted = reach.power_up
    return any(bool((reach.no(moment, choice, "hold called") & admitted).any()) for choice in reach.choices)


def low_stick(reach: Reach, moment: Moment) -> Array:
    """Not in an idle-up mode, hold and rescue not called."""
    return ~reach.in_idle_up(moment) & ~reach.called(moment, "hold") & ~reach.called(moment, "rescue")


def at_rest(reach: Reach) -> dict[str, Fraction]:
    return {"throttle": Fraction(-100), **dict.fromkeys(reach.world.data.get("knobs", {}), Fraction(0))}


def motor_on_at_low_stick(reach: Reach) -> Verdict:
    if reach.motor is None or reach.world.motor_off is None:
        return None
    put = at_rest(reach)
    return reach.somewhere_after(lambda m, c: low_stick(reach, m) & reach.yes(m, c, "rotor driven"), put)


def read_by(reach: Reach, channel: str) -> set[str]:
    """The sticks, knobs and switches that a channel's lines read."""
    lines = reach.world.channels[channel].lines.values()
    return {name for line in lines for term in line.terms or () for name in reach.grid.sources(term)}


def trims_of_motor(reach: Reach) -> dict[str, list[Fraction]] | None:
    """Trims to try of each stick that the motor reads; None where one is not given."""
    assert reach.motor is not None
    sticks = read_by(reach, reach.motor) & {"throttle", "aileron", "elevator", "rudder"}
    if any("trim" not in reach.world.data.get("sticks", {}).get(stick, {}) for stick in sticks):
        return None
    parts = [Fraction(k, 10) for k in range(-10, 11)]
    return {s: [reach.world.trims[s] * part for part in parts] for s in sticks if s in reach.world.trims}


def each_trim(trims: Mapping[str, list[Fraction]]) -> Iterator[dict[str, Fraction]]:
    yield {}
    found: list[dict[str, Fraction]] = [{}]
    for stick, values in trims.items():
        found = [{**one, stick: value} for one in found for value in values]
    yield from found


def trim_lifts_motor(reach: Reach) -> Verdict:
    if reach.motor is None or reach.world.motor_off is None:
        return None
    trims = trims_of_motor(reach)
    driven = reach.world.parse("rotor driven")
    knobs = at_rest(reach)

    def lifts(moment: Moment, choice: Choice) -> Array:
        found = reach.grid.constant(False)
        for trim in each_trim(trims or {}):
            found = found | moment.truth(driven, choice, trim)[0]
        still = moment.at(knobs)
        already = reach.yes(still, choice, "rotor driven") & low_stick(reach, still)
        return found & low_stick(reach, moment) & ~already

    if reach.somewhere_after(lifts, {"throttle": Fraction(-100)}):
        return True
    return None if trims is None else False


# Modes and overrides


def mode_gap(reach: Reach) -> Verdict:
    return bool(reach.world.modes) and reach.anywhere(lambda m, c: m.mode == -1)


def mode_unreachable(reach: Reach) -> Judged:
    """Not where a condition that its formula names is constant: that says it."""
    missing = set(reach.world.modes) - reach.flown()
    return frozenset(n for n in missing if not ((when := reach.world.modes[n]) and on_constant(reach, when)))


def mode_unannounced(reach: Reach) -> Judged:
    tables = reach.world.data.get("modes", {})
    return frozenset(n for n, t in tables.items() if not t.get("voice", "").strip()) if len(tables) > 1 else frozenset()


def idle_up_stops(reach: Reach) -> Verdict:
    """Without motor-off only -100 is sure to stop the motor."""
    if reach.motor is None:
        return None
    motor, given, governed = reach.motor, reach.world.motor_off, reach.craft("governed-above")
    off = -100.0 if given is None else float(given)
    trims = trims_of_motor(reach)

    def stops(moment: Moment, choice: Choice) -> Array:
        called = [reach.called(moment, what) for what in ("hold", "stop", "rescue")]
        low = reach.grid.constant(False)
        for trim in each_trim(trims or {}):
            out = moment.output(motor, choice, trim)
            low = low | (out <= off) | (False if governed is None else out < float(governed))
        return reach.in_idle_up(moment) & ~called[0] & ~called[1] & ~called[2] & low

    return reach.anywhere(stops) or (None if given is None and governed is None else False)


def override_conflict(reach: Reach) -> Verdict:
    """A pair is in conflict where both are active and nothing above them is."""
    for channel in reach.world.channels:
        mine = [o for o in reach.world.overrides if o.channel == channel]
        for k, one in enumerate(mine):
            for other in mine[k + 1 :]:
                if one.priority != other.priority or one.value == other.value:
                    continue
                together = And((one.when, other.when, *(Not(o.when) for o in mine if o.priority > one.priority)))
                if reach.can(together) and reach.anywhere(apart(channel, together, one, other)):
                    return True
    return False


def apart(channel: str, together: Formula, one: Override, other: Override) -> Callable[[Moment, Choice], Array]:
    """Where both are active and make different demands of the line's sum."""

    def found(moment: Moment, choice: Choice) -> Array:
        line = moment.line(channel, choice)
        values = given(one.value, line), given(other.value, line)
        return moment.plain(together) & (values[0] != values[1]) & ~np.isnan(values[0]) & ~np.isnan(values[1])

    return found


def override_shadowed(reach: Reach) -> Judged:
    found = set()
    stuck, off = override_stuck(reach), reach.world.motor_off
    assert isinstance(stuck, frozenset)
    for one in reach.world.overrides:
        above = [o for o in reach.world.overrides if o.channel == one.channel and o.priority > one.priority]
        if reach.can(And((one.when, *(Not(o.when) for o in above)))):
            continue
        channel = reach.world.channels[one.channel]
        most = one.value
        if isinstance(most, Limits):
            most = most.low if channel.reversed else most.high
        motor = off is not None and most is not None and channel.drives == "motor"
        stops = motor and reach.world.servo(channel, most) <= off
        if not stops:
            found.add(one.name)
    return frozenset(found)


def override_stuck(reach: Reach) -> Judged:
    """Not where a condition that it names is constant: that says it."""
    return frozenset(
        o.name for o in reach.world.overrides if not reach.can(Not(o.when)) and not on_constant(reach, o.when)
    )


def on_constant(reach: Reach, when: Formula) -> bool:
    constant = condition_constant(reach)
    assert isinstance(constant, frozenset)
    return any(getattr(leaf, "name", "") in constant for leaf in through(reach.world, when))


def condition_constant(reach: Reach) -> Judged:
    found = set()
    for name in reach.world.conditions:
        values = [np.unique(np.where(where, m.conditions[name], -1)) for m, where in reach.moments()]
        if len({x for some in values for x in some.tolist() if x >= 0}) == 1:
            found.add(name)
    return frozenset(found)


def claim_broken(reach: Reach) -> Judged:
    found, unsure = set(), False
    for table in reach.world.data.get("claims", []):
        formula = table.get("never") or f"not ({table['always']})"
        verdict = reach.can(formula)
        unsure = unsure or verdict is None
        if verdict:
            found.add(" ".join(formula.split()))
    return None if unsure and not found else frozenset(found)


# Rescue


def rescue_not_momentary(reach: Reach) -> Verdict:
    return reach.can("rescue called and sprung switches released")


def pulled(reach: Reach, moment: Moment) -> Array:
    return reach.called(moment, "rescue") & ~reach.called(moment, "hold")


def saving(reach: Reach, moment: Moment, choice: Choice) -> Array:
    """The same, off the ground."""
    called = pulled(reach, moment)
    return called & reach.aloft(moment, choice) if called.any() else called


def rescue_power(reach: Reach, follows: bool) -> Verdict:
    """Below need, or not lifted, on a channel that follows a stick or knob, or follows none."""
    if "rescue" not in reach.world.intent:
        return False
    unsure = False
    if not reach.aloft.known:
        return None
    need = reach.need()
    if reach.motor is None or need is None:
        unsure = True
    else:
        motor = reach.motor

        def weak(moment: Moment, choice: Choice) -> Array:
            below = moment.output(motor, choice) < float(need)
            return saving(reach, moment, choice) & below & (moment.follows(motor, choice) == follows)

        if reach.anywhere(weak):
            return None if not follows and remembers_stick(reach, motor) else True
    if reach.collective:
        lift = reach.world.lift
        if isinstance(lift, Bound):
            limits, channel = bound_limits(lift), lift.channel

            def unlifted(moment: Moment, choice: Choice) -> Array:
                low = moment.truth(limits, choice)[1]
                return saving(reach, moment, choice) & low & (moment.follows(channel, choice) == follows)

            if reach.anywhere(unlifted):
                return True
        elif lift is None:
            unsure = True
    return None if unsure else False


def remembers_stick(reach: Reach, channel: str) -> bool:
    """An override of the channel hangs on what is remembered of its own stick: what that may do with the memory kept is not
    what the grid shows, where memory is that of before."""
    whens = [o.when for o in reach.world.overrides if o.channel == channel]
    leaves = {getattr(x, "name", "") for when in whens for x in through(reach.world, when)}
    return bool(leaves & set(reach.world.memory_at) and leaves & read_by(reach, channel))


def rescue_incomplete(reach: Reach) -> Verdict:
    return rescue_power(reach, follows=True)


def rescue_too_weak(reach: Reach) -> Verdict:
    return rescue_power(reach, follows=False)


def rescue_not_level(reach: Reach) -> Verdict:
    if "rescue" not in reach.world.intent:
        return False
    level = reach.world.level
    if level is None or not reach.aloft.known:
        return None
    limits, unsure = bound_limits(level), False
    for moment, where in reach.moments():
        for choice in reach.choices:
            low, high = moment.truth(limits, choice)[::-1]
            here = where & saving(reach, moment, choice)
            if (here & low).any():
                return True
            unsure = unsure or bool((here & ~low & ~high).any())
    return None if unsure else False


def rescue_too_strong(reach: Reach) -> Verdict:
    if "rescue" not in reach.world.intent or reach.craft("governed-above") is not None:
        return False
    if reach.motor is None:
        return None
    motor = reach.motor

    def strong(moment: Moment, choice: Choice) -> Array:
        return pulled(reach, moment) & (moment.output(motor, choice) > 90) & ~moment.follows(motor, choice)

    return reach.anywhere(strong)


def level_outside_rescue(reach: Reach) -> Judged:
    """By aerobatic mode."""
    data = reach.world.data
    if "level" not in data.get("intent", {}):
        return None if reach.driving("stabiliser") else False
    found = set()
    for name in (m for m in reach.world.modes if reach.aerobatic(m)):
        here = f"mode is {name} and not hold called and not rescue called"
        if reach.can(f"{here} and levelled") is True and reach.can(f"{here} and not levelled") is False:
            found.add(name)
    return frozenset(found)
