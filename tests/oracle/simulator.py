"""A timed simulator in 10 ms ticks: MEANING.md sections 3, 5 (ramps) and 8, with IEC 61131-3's TON, TOF, RS and edges.

Between two ticks controls stand still, so timers and ramps are exact where every time in the file is a multiple of
10 ms.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from .formula import Formula
from .meaning import Choice, Controls, Memory, State, Value, World, remember
from .parts import TimedCondition

TICK = Fraction(1, 100)
LONG_AGO = Fraction(-1_000_000)


@dataclass(frozen=True)
class Sample(State):
    """One instant. Demands are ramped, outputs are what the receiver gets then; None where not described."""

    t: Fraction
    targets: Mapping[str, Fraction | None]
    demands: Mapping[str, Fraction | None]
    outputs: Mapping[str, Fraction | None]


@dataclass
class Timer:
    """TON, then TOF, on one condition's `when`."""

    rise: Fraction | None = None
    fall: Fraction | None = None
    was: bool = False

    def step(self, condition: TimedCondition, when: bool, t: Fraction) -> bool:
        if self.was and when:  # what is on stays on
            return True
        if not when:
            self.rise = None
        elif self.rise is None:
            self.rise = t
        delayed = self.rise is not None and t - self.rise >= condition.after
        if self.was and not delayed:
            self.fall = t
        self.was = delayed
        return delayed or (self.fall is not None and t - self.fall < condition.stays)

    def settle(self, when: bool) -> None:
        """As if `when` had been what it is for ever."""
        self.rise, self.fall, self.was = (LONG_AGO if when else None), None, when


class Simulator:
    """A world in time. It starts with all timers run out (`settled`), or at its first instant with none started. Without
    `outputs` what channels ask for is not followed."""

    def __init__(
        self,
        world: World,
        controls: Controls,
        memory: Memory | None = None,
        settled: bool = True,
        choice: Choice | None = None,
        outputs: bool = True,
    ) -> None:
        self.world = world
        self.choice = choice or {}
        self.memory = list(world.memory_off if memory is None else memory)
        self.timers = {name: Timer() for name in world.conditions}
        self.cache: dict[object, dict[str, Fraction | None]] = {}
        self.plain: dict[
            object, bool
        ] = {}  # formulas with these controls, by the conditions and the mode that they may name
        self.modes: dict[object, str | None] = {}
        self.t = Fraction(0)
        self.controls: Mapping[str, Value] = world.full(controls)
        if settled:
            state = world.settle(self.controls, tuple(self.memory))
            for name, condition in world.conditions.items():
                when = world.plain(condition.when, state.controls, state.conditions, state.mode)
                self.timers[name].settle(when)
        self.now = self.instant()
        self.values = dict(self.targets()) if outputs else {}

    def instant(self) -> State:
        """Conditions, memory and mode at this instant."""
        world, controls = self.world, self.controls
        conditions: dict[str, bool] = {}
        mode: str | None = None
        for node in world.order:
            known = tuple(conditions.values())
            if node is None:
                if known not in self.modes:
                    self.modes[known] = world.mode_of(controls, conditions)
                mode = self.modes[known]
                continue
            condition = world.conditions[node]
            if (node, mode, known) not in self.plain:
                self.plain[node, mode, known] = world.plain(condition.when, controls, conditions, mode)
            value = self.timers[node].step(condition, self.plain[node, mode, known], self.t)
            if condition.remembers:
                stop = condition.until is not None and world.plain(condition.until, controls, conditions, mode)
                value = remember(condition, value, stop, self.memory, world.memory_at[node])
            conditions[node] = value
        return State(controls, conditions, mode, tuple(self.memory))

    def targets(self) -> dict[str, Fraction | None]:
        state = self.now
        key = (tuple(state.conditions.values()), state.mode)
        if key not in self.cache:
            self.cache[key] = {name: self.target(name) for name in self.world.channels}
        return self.cache[key]

    def target(self, channel: str) -> Fraction | None:
        """The demand it goes to. Where the choice says nothing, a tie is won by the first in the file."""
        values = self.world.deciding(channel, self.now)
        chosen: dict[tuple[str, str], object] = {("curve", name): "monotone" for name in self.world.curves}
        chosen |= self.choice
        if values and chosen.get(("tie", channel)) not in values:
            chosen[("tie", channel)] = values[0]
        return self.world.demand(channel, self.now, chosen)

    def advance(self, controls: Controls | None = None) -> None:
        """One tick on; the controls then become these."""
        before = {name: self.toward(name) for name in self.values}
        self.t += TICK
        if controls is not None:
            self.controls = self.world.full(controls)
            for kept in (self.cache, self.plain, self.modes):
                kept.clear()
        self.now = self.instant()
        targets = self.targets() if before else {}
        for name, value in before.items():
            target = targets[name]
            self.values[name] = target if value is None or target is None else self.jump(name, value, target)

    def toward(self, channel: str) -> Fraction | None:
        """The value one tick later, with the target and the ramps of now."""
        value, target = self.values[channel], self.targets()[channel]
        if value is None or target is None or value is target:
            return value
        ramp = self.ramp(channel, value, target)
        step = abs(target - value) if not ramp else min(abs(target - value), 200 / ramp * TICK)
        return value + step if target > value else value - step

    def jump(self, channel: str, value: Fraction, target: Fraction) -> Fraction:
        """Without a ramp in its direction a value is at its target at once."""
        return value if value is not target and self.ramp(channel, value, target) else target

    def ramp(self, channel: str, value: Fraction, target: Fraction) -> Fraction:
        line = self.world.channels[channel].lines[self.now.mode]
        return line.ramp_up if target > value else line.ramp_down

    def sample(self) -> Sample:
        now, world = self.now, self.world
        outputs = {n: None if v is None else world.servo(world.channels[n], v) for n, v in self.values.items()}
        return Sample(
            now.controls, now.conditions, now.mode, now.memory, self.t, self.targets(), dict(self.values), outputs
        )


def run(
    world: World,
    timeline: Sequence[tuple[Fraction | int, Controls]],
    until_s: Fraction | int,
    memory: Memory | None = None,
    settled: bool = True,
    choice: Choice | None = None,
) -> list[Sample]:
    """A sample every 10 ms from 0 to `until_s`. The first entry of the timeline (time, seconds; controls) stands for
    power-up, or for a state that is settled with `memory`; a later one holds from the first tick that is not before it.
    """
    simulator = Simulator(world, timeline[0][1], memory, settled, choice)
    samples = [simulator.sample()]
    coming = list(timeline[1:])
    while simulator.t + TICK <= until_s:
        controls = None
        while coming and coming[0][0] <= simulator.t + TICK:
            controls = coming.pop(0)[1]
        simulator.advance(controls)
        samples.append(simulator.sample())
    return samples


@cache
def longest_wait(world: World) -> Fraction:
    """Seconds after which everything has settled, in whole ticks."""
    timers = sum((c.after + c.stays for c in world.conditions.values()), Fraction(0))
    lines = [line for channel in world.channels.values() for line in channel.lines.values()]
    ramps = max((max(line.ramp_up, line.ramp_down) for line in lines), default=Fraction(0))
    return -(-(timers + 2 * ramps) // TICK) * TICK + 5 * TICK


def settling_time(samples: Sequence[Sample], channel: str, since: Fraction) -> Fraction:
    """Seconds from `since` until the output has what it has at the end."""
    end = samples[-1].outputs[channel]
    last = [s.t for s in samples if s.t >= since and s.outputs[channel] != end]
    return last[-1] + TICK - since if last else Fraction(0)


def replay_timed(world: World, formula: str | Formula, steps: Sequence[Controls], choice: Choice) -> bool:
    """Whether patient hands that wait after every step end in a state in which the formula is true."""
    wait = longest_wait(world)
    timeline = [(wait * k, controls) for k, controls in enumerate(steps)]
    end = run(world, timeline, wait * len(steps), choice=choice)[-1]
    return world.holds(world.parse(formula), end, choice) is True
