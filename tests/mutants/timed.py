"""Judges of rules about time: movements out of the states of the grid, run in the oracle's simulator.

States that differ in nothing but stick and sensor values are tried where the motor, and what levels the craft, are highest
and lowest before the movement."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np

from tests.oracle.formula import Compare, Condition, Is
from tests.oracle.meaning import World
from tests.oracle.parts import Bound
from tests.oracle.predicates import bound_limits
from tests.oracle.simulator import Sample, Simulator

from .grid import RECEIVER, VOLTS, Array, Choice, Grid, through
from .reach import Reach, Verdict
from .settled import Moment
from .states import pulled

JUST_LATE = Fraction(501, 1000)  # seconds: a hold that still drives the rotor is slow


@dataclass(frozen=True)
class Run:
    """A settled state, by its controls and the memory before it, and the controls after one movement."""

    before: dict[str, Any]
    memory: tuple[bool, ...]
    switch: str
    word: str


def controls_at(reach: Reach, moment: Moment, place: tuple[int, ...]) -> dict[str, Any]:
    """The controls of one place of the grid; along axes that do not matter, those at rest."""
    world, shown = reach.world, dict[str, Any]()
    for (name, values), k in zip(reach.grid.axes.items(), place, strict=True):
        shown[name] = moment.fixed.get(name, values[k])
    found = {name: shown[name] for name in (*world.switches, *world.analogs)}
    for name in world.sensors:
        factor = world.cell_factor(name)
        if shown[RECEIVER] == "off":
            found[name] = "unheard"
        elif factor is None:
            found[name] = shown[name]
        else:
            found[name] = "lost" if shown[f"{name} lost"] == "yes" else shown[VOLTS] * factor
    return found


def behind(world: World) -> set[str]:
    """The switches and conditions that the channels, modes and intents of a setup rest on."""
    formulas = [o.when for o in world.overrides] + [f for f in world.modes.values() if f] + [*world.intent.values()]
    found = {x.name for f in formulas for x in through(world, f) if isinstance(x, Is | Condition)}
    lines = [line for channel in world.channels.values() for line in channel.lines.values()]
    return found | {name for line in lines for term in line.terms or () for name in Grid.sources(term)}


def runs(
    reach: Reach,
    world: World,
    moment: Moment,
    where: Array,
    after: Moment,
    moved: tuple[str, str],
    told: list[Any],
    seen: set[object],
) -> Iterator[Run]:
    """One movement out of the states picked: of those alike in the mode and in all that the narrow world's channels rest on,
    the ends of what `told` say."""
    if not where.any():
        return
    matter = behind(world)
    arrays = [moment.mode, after.mode]
    arrays += [x.conditions[name] for x in (moment, after) for name in moment.conditions if name in matter]
    names = [name for name in world.switches if name in matter and name not in moment.fixed and name != moved[0]]
    arrays += [reach.grid.along(name, range(len(reach.grid.axes[name]))) for name in names]
    size = np.broadcast_shapes(where.shape, *(a.shape for a in (*arrays, *told)))
    picked = np.flatnonzero(np.broadcast_to(where, size))
    if not len(picked):
        return
    keys = np.stack([np.broadcast_to(a, size).ravel()[picked].astype(np.int64) for a in arrays])
    _, group = np.unique(keys, axis=1, return_inverse=True)
    chosen = set[int]()
    for value in told:
        values = np.broadcast_to(value, size).ravel()[picked]
        order = np.lexsort((values, group.ravel()))
        sorted_groups = group.ravel()[order]
        edges = np.flatnonzero(np.diff(sorted_groups)) + 1
        chosen |= set(order[[0, *edges]].tolist()) | set(order[[*(edges - 1), len(order) - 1]].tolist())
    rest = rest_place(reach)
    for k in sorted(chosen):
        place = [int(x) for x in np.unravel_index(picked[k], size)]
        place = [r if n == 1 else x for x, r, n in zip(place, rest, size, strict=True)]
        memory = tuple(bool(bit.ravel()[0]) for bit in moment.before)
        controls = controls_at(reach, moment, tuple(place))
        bits = [memory[at] for name, at in world.memory_at.items() if name in matter]
        bits += [
            memory[at + 1] for name, at in world.memory_at.items() if name in matter and world.conditions[name].toggles
        ]
        key = (tuple(controls.items()), tuple(bits), moved)
        if key not in seen:
            seen.add(key)
            yield Run(controls, memory, *moved)


def rest_place(reach: Reach) -> list[int]:
    found = []
    for name, values in reach.grid.axes.items():
        rest = reach.world.rest.get(name)
        found.append(values.index(rest) if rest in values else 0)
    return found


def narrow(world: World, channels: list[str]) -> World:
    """The same setup with no channels but these: a run is quicker."""
    data = dict(world.data)
    data["channels"] = {n: t for n, t in data["channels"].items() if n in channels}
    data["overrides"] = {n: t for n, t in data.get("overrides", {}).items() if t["channel"] in channels}
    return World(data)


def smoothing(choice: Choice) -> dict[tuple[str, str], Any]:
    return {key: value for key, value in choice.items() if key[0] == "curve"}


class Leaping(Simulator):
    """The simulator from one moment at which something is due to the next, where nothing happens between."""

    def leap(self, until: Fraction) -> None:
        """On to the next moment at which a timer is up, `until` at the latest."""
        due = [until]
        for name, timer in self.timers.items():
            condition = self.world.conditions[name]
            due += [timer.rise + condition.after] if timer.rise is not None else []
            due += [timer.fall + condition.stays] if timer.fall is not None else []
        span = min(t for t in due if t > self.t) - self.t
        ramped = {name: self.ramped(name, span) for name in self.world.channels}
        self.t += span
        self.now = self.instant()
        targets = self.targets()
        for name, value in ramped.items():
            target = targets[name]
            self.values[name] = target if value is None or target is None else self.jump(name, value, target)

    def ramped(self, channel: str, span: Fraction) -> Fraction | None:
        value, target = self.values[channel], self.targets()[channel]
        if value is None or target is None:
            return value
        ramp = self.ramp(channel, value, target)
        step = min(abs(target - value), 200 / ramp * span) if ramp else abs(target - value)
        return value + step if target > value else value - step


def samples(world: World, run: Run, choice: Choice, moments: list[Fraction]) -> Iterator[tuple[Fraction, Sample]]:
    """The instants at these moments, seconds since the movement, and at those between at which something is due."""
    simulator = Leaping(world, run.before, run.memory, choice=smoothing(choice))
    simulator.advance({**run.before, run.switch: run.word})
    start = simulator.t
    yield Fraction(0), simulator.sample()
    for moment in moments:
        while simulator.t < start + moment:
            simulator.leap(start + moment)
            yield simulator.t - start, simulator.sample()


def timeless(world: World, falling: bool = False) -> bool:
    """Nothing is delayed in a narrow world: every movement has settled at once. With `falling`, every one that lowers outputs."""
    lines = [(c, line) for c in world.channels.values() for line in c.lines.values()]
    ramps = any(line.ramp_down if falling and not c.reversed else line.ramp_up if falling else line.ramp_up or line.ramp_down
                for c, line in lines)  # fmt: skip
    return not ramps and not any(c.after or c.stays for n, c in world.conditions.items() if n in behind(world))


def each_movement(reach: Reach) -> Iterator[tuple[Moment, Array, Moment, Array, tuple[str, str]]]:
    for moment, where in reach.flight:
        if moment is reach.power_up[0] and reach.later:
            continue
        for switch, words in reach.world.switches.items():
            for word in words:
                yield moment, where, moment.moved(switch, word), ~moment.is_at(switch, word), (switch, word)


def hold_slow(reach: Reach) -> Verdict:
    world = reach.world
    asked = [("hold", "rotor driven", world.rotor_free), ("stop", "motor runs", world.motor_off)]
    verdicts = [stopped_late(reach, *each) for each in asked if each[0] in world.intent]
    return True if True in verdicts else None if None in verdicts else False


def stopped_late(reach: Reach, intent: str, on: str, most: Fraction | None) -> Verdict:
    if reach.motor is None or reach.world.motor_off is None:
        return None
    world = narrow(reach.world, [reach.motor])
    if timeless(world, falling=True):
        return False
    seen: set[object] = set()
    for moment, where, after, moved, movement in each_movement(reach):
        for choice in reach.choices[:3]:
            called = where & moved & reach.called(after, intent) & reach.no(after, choice, on)
            picked = called & ~reach.called(moment, intent) & reach.yes(moment, choice, "flying")
            told = [moment.output(reach.motor, choice)]
            for run in runs(reach, world, moment, picked, after, movement, told, seen):
                for t, sample in samples(world, run, choice, [JUST_LATE]):
                    if t == JUST_LATE and above(world, sample, most):
                        return True
    return False


def above(world: World, sample: Sample, number: Fraction | None) -> bool:
    motors = [c.name for c in world.channels.values() if c.drives == "motor"]
    outputs = [sample.outputs[name] for name in motors]
    return number is not None and any(out is not None and out > number for out in outputs)


def meets(bound: Bound, sample: Sample) -> bool:
    out = sample.outputs[bound.channel]
    least = bound.at_least if bound.value is None else bound.value - 1
    most = bound.at_most if bound.value is None else bound.value + 1
    return out is not None and (least is None or out >= least) and (most is None or out <= most)


def rescue_slow(reach: Reach) -> Verdict:
    """Judged where the rescue does level and give its power in the end: what never comes is other rules' business."""
    if "rescue" not in reach.world.intent:
        return False
    if reach.motor is None or reach.world.motor_off is None:
        return None
    if not reach.aloft.known:
        return None
    need, level, motor = reach.need(), reach.world.level, reach.motor
    channels = [motor, *([level.channel] if level else [])]
    world = narrow(reach.world, channels)
    if timeless(world):
        return False
    seen: set[object] = set()
    for moment, where, after, moved, movement in each_movement(reach):
        for choice in reach.choices[:3]:
            flying = reach.yes(moment, choice, "flying") & ~reach.called(moment, "rescue")
            flying = flying & reach.aloft(moment, choice) if flying.any() else flying
            picked = where & moved & flying & pulled(reach, after)
            levels = reach.grid.constant(False) if level is None else after.truth(bound_limits(level), choice)[0]
            gives = after.output(motor, choice) >= (999 if need is None else float(need))
            told = [moment.output(name, choice) for name in channels]
            for run in runs(reach, world, moment, picked & (levels | gives), after, movement, told, seen):
                settled = Settled(reach, run, need, level, choice)
                for t, sample in samples(world, run, choice, [Fraction(3, 10), Fraction(1)]):
                    if t == Fraction(3, 10) and settled.levels and level and not meets(level, sample):
                        return True
                    if t == 1 and settled.gives and need is not None and not sample.outputs[motor] >= need:  # type: ignore[operator]
                        return True
    return None if need is None or level is None else False


class Settled:
    """What the movement leads to in the end."""

    def __init__(self, reach: Reach, run: Run, need: Fraction | None, level: Bound | None, choice: Choice) -> None:
        world = reach.world
        before = world.settle(run.before, run.memory)
        end = world.settle({**run.before, run.switch: run.word}, before.memory)
        ties = {("tie", n): values[0] for n in world.channels if (values := world.deciding(n, end))}
        outs = {
            n: world.output(n, end, {**smoothing(choice), **ties}) for n in {reach.motor, level and level.channel} if n
        }
        motor = outs[reach.motor or ""]
        self.gives = need is not None and motor is not None and motor >= need
        self.levels = level is not None and world.holds(bound_limits(level), end, {**smoothing(choice), **ties}) is True


def start_in_idle_up(reach: Reach) -> Verdict:
    if reach.world.craft.get("soft-start") or "hold" not in reach.world.intent:
        return False
    if reach.motor is None or reach.world.motor_off is None:
        return None
    world, started = narrow(reach.world, [reach.motor]), reach.power_up[0]
    up = started.at({"throttle": Fraction(-100)})
    held = admitted(reach, started) & reach.called(started, "hold")
    in_idle_up = anywhere(reach, held & reach.in_idle_up(started)) & reach.in_idle_up(up)
    elsewhere = anywhere(reach, held & ~reach.in_idle_up(started)) & ~reach.in_idle_up(up)

    def idle_up_or_behind(switch: str, after: Moment) -> Array:
        """In idle-up, or moved into it, as wherever else the switch releases the hold."""
        forced = reach.in_idle_up(after)
        for other in (up.moved(switch, word) for word in reach.world.switches[switch]):
            forced = forced & (reach.called(other, "hold") | reach.in_idle_up(other))
        return (in_idle_up | (elsewhere & forced)) & ~reach.called(after, "rescue")

    if any(driven_soon(world, run, choice) for run, choice in released_runs(reach, world, up, idle_up_or_behind)):
        return True
    return None if remembers_the_stick(reach.world) else False  # what it set on its way down is not followed


def remembers_the_stick(world: World) -> bool:
    """A latch or toggle rests on where the throttle stick stands."""
    kept = [c.when for c in world.conditions.values() if c.remembers]
    return any(isinstance(x, Compare) and x.name == "throttle" for when in kept for x in through(world, when))


def admitted(reach: Reach, up: Moment) -> Array:
    """Where the check at power-up lets it start."""
    if reach.start_possible and reach.world.requires is not None:
        return up.plain(reach.world.requires)
    return reach.grid.constant(True)


def anywhere(reach: Reach, where: Array) -> Array:
    """With the throttle stick, the pupil's too, in some place: it is put to the bottom afterwards."""
    for stick in ("throttle", reach.world.pupils.get("throttle")):
        if stick in reach.grid.index:
            where = where.any(axis=reach.grid.index[stick], keepdims=True)
    return where


def released_runs(
    reach: Reach, world: World, up: Moment, where: Callable[[str, Moment], Array]
) -> Iterator[tuple[Run, Choice]]:
    """The movements that release the hold out of some of the states at power-up; `where` is given the switch and after."""
    assert reach.motor is not None
    seen: set[object] = set()
    for switch, words in reach.world.switches.items():
        for word in words:
            after = up.moved(switch, word)
            released = reach.called(up, "hold") & ~reach.called(after, "hold") & ~up.is_at(switch, word)
            for choice in reach.choices[:3]:
                told = [after.output(reach.motor, choice)]
                for run in runs(reach, world, up, where(switch, after) & released, after, (switch, word), told, seen):
                    yield run, choice


def driven_soon(world: World, run: Run, choice: Choice) -> bool:
    """Within 2 s."""
    times = [Fraction(k, 10) for k in range(1, 21)]
    return any(above(world, sample, world.rotor_free) for _, sample in samples(world, run, choice, times))


def start_stick_up(reach: Reach) -> Verdict:
    if reach.world.craft.get("soft-start") or "hold" not in reach.world.intent:
        return False
    if reach.motor is None or reach.world.motor_off is None:
        return None
    world, up = narrow(reach.world, [reach.motor]), reach.power_up[0]
    sprung = reach.yes(up, {}, "sprung switches released")
    where = admitted(reach, up) & sprung
    pupil = reach.world.pupils.get("throttle")
    for stick in filter(None, ("throttle", pupil)):
        raised = where & up.compare(stick, ">", Fraction(-90))
        if pupil is not None and stick != pupil:
            raised = raised & up.compare(pupil, "<=", Fraction(-100))
        for run, choice in released_runs(reach, world, up, lambda *_, raised=raised: raised):  # type: ignore[misc]
            low = Run({**run.before, stick: Fraction(-100)}, run.memory, run.switch, run.word)
            if driven_soon(world, run, choice) and not driven_soon(world, low, choice):
                return True
    return False


def lift_before_level(reach: Reach) -> Verdict:
    """Collective, lifted by a channel in the very instant in which the rescue is called in an aerobatic mode."""
    lift = reach.world.lift
    if not reach.collective or not isinstance(lift, Bound) or "rescue" not in reach.world.intent:
        return False
    world = narrow(reach.world, [lift.channel])
    seen: set[object] = set()
    for moment, where, after, moved, movement in each_movement(reach):
        for mode in filter(reach.aerobatic, reach.world.modes):
            here = (moment.mode == moment.modes[mode]) & ~reach.called(moment, "rescue") & ~reach.called(moment, "hold")
            for choice in reach.choices[:3]:
                up = after.truth(bound_limits(lift), choice)[0] & moment.truth(bound_limits(lift), choice)[1]
                picked = where & moved & here & pulled(reach, after) & up
                told = [moment.output(lift.channel, choice)]
                for run in runs(reach, world, moment, picked, after, movement, told, seen):
                    if meets(lift, next(samples(world, run, choice, []))[1]):
                        return True
    return False
