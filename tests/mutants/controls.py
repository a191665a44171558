"""Judges of the rules about controls: which way, how far and how fast a control goes with its own stick."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import product

import numpy as np

from .grid import Array, Choice, Floats
from .reach import Reach, Verdict
from .settled import Moment, given, overridden
from .states import Judged
from .timed import Run, controls_at, narrow, rest_place, samples

STEERED = ("aileron", "elevator", "rudder")
Found = Callable[[Moment, Choice], Array]
OWN = {"aileron": "aileron", "elevator": "elevator", "rudder": "rudder", "collective": "throttle"}


def asked(reach: Reach, moment: Moment) -> Array:
    """Neither hold nor rescue called, in a mode that is flown."""
    free = ~reach.called(moment, "hold") & ~reach.called(moment, "rescue")
    return free & (moment.mode >= 0) if moment.modes else free


def outputs_at(reach: Reach, moment: Moment, choice: Choice, channel: str, stick: str, place: int | Fraction) -> Floats:
    """What the channel's line gives with a stick somewhere, all else kept, the mode too."""
    sticks = [name for name in (stick, reach.world.pupils.get(stick)) if name]
    found = reach.grid.constant(np.nan)
    for k, out in moment.known_of("outputs", channel, choice, lambda: outputs_in(reach, moment, choice, channel)):
        for name in sticks:
            if out.shape[reach.grid.index[name]] > 1:
                out = np.take(out, [reach.grid.axes[name].index(Fraction(place))], axis=reach.grid.index[name])
        found = np.where(moment.mode == k, out, found)
    return np.asarray(found)


def outputs_in(reach: Reach, moment: Moment, choice: Choice, channel: str) -> list[tuple[int, Floats]]:
    """By mode, what the channel would put out were that mode flown."""
    lines, deciding = reach.world.channels[channel].lines, moment.deciding(channel, choice)
    found: list[tuple[int, Floats]] = []
    by_sum: dict[int, Floats] = {}
    for mode, k in [*moment.modes.items(), (None, -1)]:
        demand = line = moment.sum_of(lines[mode], choice, None)
        if id(line) not in by_sum:
            for value, active in deciding:
                demand = np.where(active, given(value, line), demand)
            by_sum[id(line)] = moment.servo(channel, demand)
        found.append((k, by_sum[id(line)]))
    return found


def rise(reach: Reach, moment: Moment, choice: Choice, channel: str) -> Floats:
    """From one end of its own stick to the other; nothing where an override decides."""

    def worked_out() -> Floats:
        stick = OWN[reach.world.channels[channel].drives]
        low, high = (outputs_at(reach, moment, choice, channel, stick, place) for place in (-100, 100))
        return np.where(moment.taken(channel, choice), 0.0, high - low)

    return moment.known_of("rise", channel, choice, worked_out)


def extents(reach: Reach, moment: Moment, choice: Choice, channel: str) -> tuple[Floats, Floats]:
    """How far apart its outputs are over each half of its own stick, the smaller first; nothing where an override decides."""

    def worked_out() -> tuple[Floats, Floats]:
        stick = OWN[reach.world.channels[channel].drives]
        axes = [reach.grid.axes[name] for name in (stick, reach.world.pupils.get(stick)) if name]
        places = [x for x in axes[0] if all(x in axis for axis in axes)]
        free = ~moment.taken(channel, choice)
        found = []
        for half in ([x for x in places if x <= 0], [x for x in places if x >= 0]):
            values = np.broadcast_arrays(*(outputs_at(reach, moment, choice, channel, stick, x) for x in half))
            found.append(np.where(free, np.max(values, axis=0) - np.min(values, axis=0), 0.0))
        return np.minimum(*found), np.maximum(*found)

    return moment.known_of("extents", channel, choice, worked_out)


def halves(reach: Reach, moment: Moment, choice: Choice, channel: str) -> tuple[Floats, Floats]:
    """How far it goes from the middle of its own stick to the two ends, the smaller first; nothing where an override decides."""

    def worked_out() -> tuple[Floats, Floats]:
        stick = OWN[reach.world.channels[channel].drives]
        low, middle, high = (outputs_at(reach, moment, choice, channel, stick, place) for place in (-100, 0, 100))
        free = ~moment.taken(channel, choice)
        one, other = (np.where(free, abs(end - middle), 0.0) for end in (low, high))
        return np.minimum(one, other), np.maximum(one, other)

    return moment.known_of("halves", channel, choice, worked_out)


def others_in_the_middle(reach: Reach, channel: str) -> dict[str, Fraction]:
    """The sticks and knobs that it reads, but for its own."""
    lines = reach.world.channels[channel].lines.values()
    read = {t.source for line in lines for t in line.terms or () if t.kind == "analog"}
    return dict.fromkeys(read - {OWN[reach.world.channels[channel].drives]}, Fraction(0))


def is_half_dead(reach: Reach, moment: Moment, choice: Choice, channel: str) -> Array:
    small, large = extents(reach, moment, choice, channel)
    return np.asarray((small < 2) & (large >= 2))


def is_lopsided(reach: Reach, moment: Moment, choice: Choice, channel: str) -> Array:
    """Where half of the travel is dead, control-dead says so."""
    small, large = halves(reach, moment, choice, channel)
    return np.asarray((small < 0.6 * large - 1e-9) & ~is_half_dead(reach, moment, choice, channel))


def by_halves(reach: Reach, picked: Callable[[Reach, Moment, Choice, str], Array]) -> frozenset[str]:
    """The channels of ailerons, elevators and rudders whose halves are so in some state."""
    found = set()
    for channel in reach.driving("aileron", "elevator", "rudder"):

        def here(moment: Moment, choice: Choice, channel: str = channel) -> Array:
            return asked(reach, moment) & picked(reach, moment, choice, channel)

        if reach.somewhere_after(here, others_in_the_middle(reach, channel)):
            found.add(channel)
    return frozenset(found)


def each_control(reach: Reach) -> Iterator[str]:
    yield from reach.driving(*OWN)


def control_reversed(reach: Reach) -> Judged:
    """By channel: both directions in two states."""
    found = set()
    for channel in each_control(reach):

        def goes(sign: int, channel: str = channel) -> bool:
            return reach.anywhere(lambda m, c: asked(reach, m) & (sign * rise(reach, m, c, channel) > 0.5))

        if goes(1) and goes(-1):
            found.add(channel)
    return frozenset(found)


def dead_lines(reach: Reach) -> set[str]:
    """The channels whose own line moves nothing in some state though something moves them in another, or half of whose own stick
    does nothing."""
    if reach.dead_lines is None:
        moved = {channel for channel in each_control(reach) if reach.anywhere(moving(reach, channel))}
        still = {channel for channel in moved if reach.anywhere(dead(reach, channel, own=True))}
        reach.dead_lines = still | by_halves(reach, is_half_dead)
    return reach.dead_lines


def moving(reach: Reach, channel: str) -> Found:
    return lambda moment, choice: asked(reach, moment) & moment.follows(channel, choice)


def dead(reach: Reach, channel: str, own: bool) -> Found:
    """Nothing moves it; `own`: and no override decides it."""

    def found(moment: Moment, choice: Choice) -> Array:
        still = (abs(rise(reach, moment, choice, channel)) <= 0.5) & ~moment.follows(channel, choice)
        return asked(reach, moment) & still & (~moment.taken(channel, choice) if own else True)

    return found


def control_dead(reach: Reach) -> Verdict:
    held = (
        c for c in each_control(reach) if reach.anywhere(moving(reach, c)) and reach.anywhere(dead(reach, c, own=False))
    )
    return bool(dead_lines(reach)) or any(True for _ in held)


def control_lopsided(reach: Reach) -> Judged:
    """By channel; where half of the travel is dead, control-dead says so."""
    return by_halves(reach, is_lopsided)


def control_crossed(reach: Reach) -> Judged:
    """By channel: in a mode it follows another of three sticks and not its own, and that stick's channel is there."""
    found = set()
    for channel in reach.driving(*STEERED):
        own = OWN[reach.world.channels[channel].drives]
        others = [OWN[d] for d in STEERED if OWN[d] != own and reach.driving(d)]
        for mode in reach.flown():

            def turns(stick: str, channel: str = channel, mode: str | None = mode) -> bool:
                def here(moment: Moment, choice: Choice) -> Array:
                    flown = moment.mode == (moment.modes[mode] if mode else -1)
                    return asked(reach, moment) & flown & moment.follows(channel, choice, stick)

                return reach.anywhere(here)

            if any(turns(stick) for stick in others) and not turns(own):
                found.add(channel)
    return frozenset(found)


def control_slow(reach: Reach) -> Verdict:
    """Run from each end of its own stick to the other, at every place of the line's switches."""
    for channel in each_control(reach):
        for mode, line in reach.world.channels[channel].lines.items():
            if line.ramp_up or line.ramp_down:
                switches = [x for t in line.terms or () for x in (t.rate.switch, t.expo.switch) if x]
                for places in product(*(reach.world.switches[s] for s in switches)):
                    if any(
                        late(reach, channel, mode, dict(zip(switches, places, strict=True)), end) for end in (-100, 100)
                    ):
                        return True
    return False


def late(reach: Reach, channel: str, mode: str | None, places: dict[str, str], end: int) -> bool:
    """0.3 s after its stick went to the other end it is not where it comes to rest; the others in the middle or at ends."""
    stick = OWN[reach.world.channels[channel].drives]
    others = list(others_in_the_middle(reach, channel))
    spots = product(*({*map(Fraction, (-100, -50, 0, 50, 100)), *reach.grid.more.get(name, ())} for name in others))
    world, soon = narrow(reach.world, [channel]), Fraction(3, 10)
    for spot, (moment, where) in product(spots, reach.flight[1:] or reach.flight):
        here = moment.at({**dict(zip(others, spot, strict=True)), **places, stick: Fraction(end)})
        flown = here.mode == (here.modes[mode] if mode else -1)
        free = asked(reach, here) & where & flown & ~here.taken(channel, reach.choices[0])
        for limited in (overridden(here, channel), ~overridden(here, channel)):
            if not (free & limited).any():
                continue
            free_so = free & limited
            at = np.unravel_index(np.flatnonzero(free_so)[0], free_so.shape)
            place = [r if n == 1 else int(x) for x, r, n in zip(at, rest_place(reach), free_so.shape, strict=True)]
            memory = tuple(bool(bit.ravel()[0]) for bit in moment.before)
            run = Run(controls_at(reach, here, tuple(place)), memory, stick, Fraction(-end))  # type: ignore[arg-type]
            for choice in reach.choices:
                seen = {t: sample.outputs[channel] for t, sample in samples(world, run, choice, [soon, Fraction(90)])}
                if seen[soon] != seen[max(seen)]:
                    return True
    return False


def stabilised(reach: Reach) -> bool:
    drives = {table.get("drives") for table in reach.world.data.get("channels", {}).values()}
    return bool(reach.world.craft.get("stabilised", "stabiliser" in drives))


def mix_left_on(reach: Reach) -> Judged:
    """By channel and stick."""
    if not stabilised(reach):
        return frozenset()

    def follows(channel: str, sticks: list[str], mode: str | None = "") -> bool:
        def here(moment: Moment, choice: Choice) -> Array:
            found = asked(reach, moment)
            for stick in sticks:
                found = found & moment.follows(channel, choice, stick)
            return found & (True if mode == "" else moment.mode == (moment.modes[mode] if mode else -1))

        return reach.anywhere(here)

    asked_in = [
        mode for mode, k in reach_modes(reach)
        if reach.anywhere(lambda m, c, k=k: asked(reach, m) & (m.mode == k))  # type: ignore[misc]
    ]  # fmt: skip
    found = {
        f"{c} throttle"
        for c in reach.driving("rudder")
        if asked_in and all(follows(c, ["throttle"], mode) for mode in asked_in)
    }
    every = [name for name in reach.world.channels if reach.world.described(name)]
    for channel in reach.driving("collective", "aileron", "elevator"):
        own = OWN[reach.world.channels[channel].drives]
        for stick in {*OWN.values()} - {own}:
            alike = [c for c in every if follows(c, [stick, own])]
            found |= {f"{channel} {stick}"} if alike == [channel] else set()
    return frozenset(found)


def reach_modes(reach: Reach) -> list[tuple[str | None, int]]:
    modes = reach.power_up[0].modes
    return [*modes.items()] if modes else [(None, -1)]


def trim_on_stabilised(reach: Reach) -> Judged:
    """By stick and by channel."""
    if not stabilised(reach):
        return frozenset()
    data = reach.world.data
    lines = [line for c in each_control(reach) for line in reach.world.channels[c].lines.values()]
    read = {t.source for line in lines for t in line.terms or () if t.kind == "analog"}
    found = {s for s in STEERED if s in read and data.get("sticks", {}).get(s, {}).get("trim", 0) > 0}
    return frozenset(found | {c for c in reach.driving(*STEERED) if abs(reach.world.channels[c].sub_trim) > 10})


def rate_dead(reach: Reach) -> Judged:
    """By channel: a mode's line names a stick or knob that moves its output in no state of that mode in which neither hold nor
    rescue is called and no override is on it, though there is such a state; and control-dead does not speak of it."""
    found, dead = set(), dead_lines(reach)
    for channel in reach.driving("collective", "aileron", "elevator", "rudder"):
        lines = reach.world.channels[channel].lines
        for mode in reach.flown() if channel not in dead else ():
            for term in lines[mode].terms or ():
                places = [place for place in (term.source, term.pupil) if place]
                if term.kind != "analog" or any(moves(reach, channel, mode, place) for place in places):
                    continue
                if reach.anywhere(lambda moment, x, c=channel, m=mode: undecided(reach, moment, x, c, m)):  # type: ignore[misc]
                    found.add(channel)
    return frozenset(found)


def undecided(reach: Reach, moment: Moment, choice: Choice, channel: str, mode: str | None) -> Array:
    """In a mode, neither hold nor rescue called, the channel's line going on, limited or not."""
    here: Array = asked(reach, moment) & (moment.mode == (moment.modes[mode] if mode else -1))
    return here & ~moment.taken(channel, choice)


def moves(reach: Reach, channel: str, mode: str | None, stick: str) -> bool:
    axis = reach.grid.index[stick]

    def moving(moment: Moment, choice: Choice) -> Array:
        out: Floats = moment.servo(channel, moment.line(channel, choice))
        here = undecided(reach, moment, choice, channel, mode)
        size = np.broadcast_shapes(out.shape, here.shape)
        held = np.broadcast_to(here, size)
        high = np.max(np.where(held, out, -999), axis=axis, keepdims=True)
        low = np.min(np.where(held, out, 999), axis=axis, keepdims=True)
        return held & (high > low)

    return reach.anywhere(moving)
