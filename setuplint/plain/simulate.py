"""The timed simulator: what a setup does instant by instant, every 10 ms.

Timing and memory follow the function blocks of IEC 61131-3: `after` is TON, `stays` is TOF, `until` is RS (reset wins),
`toggles` a T flip-flop on a rising edge. Time is kept in whole milliseconds. Conditions are looked at every 10 ms and
when the controls change, so one that becomes true in between is seen at the next instant.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from math import ceil

from setuplint.dataclass import dataclass, field, replace
from setuplint.plain.channel_values import output
from setuplint.plain.evaluate import Evaluation, evaluate_with
from setuplint.plain.interpolation import largest
from setuplint.plain.logic import Truth
from setuplint.plain.state import OFF, Memory, State
from setuplint.setup.model import HUNDRED, ZERO, Channel, Condition, Line, Setup, Term
from setuplint.setup.smoothings import possible

STEP = 10  # milliseconds
WHOLE_TRAVEL = 200  # percent, from -100 to +100
FARTHEST = Fraction(9 * 150)  # percent: no demand that is not known is taken to be further from zero (nine terms)

Range = tuple[Fraction, Fraction]


@dataclass(frozen=True, slots=True)
class Moment:
    """One instant, `at` seconds from the start.

    `evaluation.outputs` and `demands` are as the ramps let them be, in percent; `evaluation.demands` is what the ramps
    are going to, and `target` the evaluation with every output there. `late` has the timed conditions whose delayed value
    is not that of their `when` just then, with the delayed value.
    """

    at: Fraction
    evaluation: Evaluation
    demands: Mapping[str, Fraction | None]
    target: Evaluation
    late: Mapping[str, Truth]


def simulate(
    setup: Setup,
    start: State,
    memory: Memory,
    changes: Sequence[tuple[Fraction, State]],
    until: Fraction,
    *,
    from_power_up: bool = False,
    jump: bool = False,
) -> Iterator[Moment]:
    """Every moment from 0 to `until` seconds, one each 10 ms and one at each change.

    With `jump`, moments that only repeat the one before, but for the time, are left out: nothing was due and no ramp moved.

    It starts settled in `start`, with `memory` what is remembered after that; or, `from_power_up`, by switching on in
    `start`: memory off, nothing has held yet, ramps at their targets. At the seconds of each change (rounded up to
    whole milliseconds) the controls become its state; one at 0 comes after the moment of `start`. ValueError where they
    are not in order of time.
    """
    end = _ms(until)
    dated = [(_ms(at), state) for at, state in changes]
    if any(now < before for (before, _), (now, _) in zip([(0, start), *dated], dated, strict=False)):
        raise ValueError("the changes are not in order of time")
    run = _Run(setup, start, OFF if from_power_up else memory, settled=not from_power_up)
    yield run.moment()
    following = STEP
    for at, state in dated:
        if at > end:
            break
        for still in run.instants(following, at, jump):
            yield run.go_on(still)
        following = at - at % STEP + STEP
        yield run.go_on(at, state)
    for still in run.instants(following, end + 1, jump):
        yield run.go_on(still)


def settle_time(setup: Setup) -> Fraction:
    """Seconds after the last change by which all is settled, an upper bound.

    Every `after` and `stays`, one after the other, then the slowest ramp over the widest change of its demand. A ramp
    from a demand that is not known may take longer.
    """
    timed = [condition for condition in setup.conditions.values() if condition.after or condition.stays]
    waits = sum((condition.after + condition.stays + Fraction(2 * STEP, 1000) for condition in timed), ZERO)
    ramps = [_ramp_time(setup, channel) for channel in setup.channels.values() if _ramped(channel)]
    return waits + max(ramps, default=ZERO)


def _ms(seconds: Fraction) -> int:
    return ceil(seconds * 1000)


@dataclass(slots=True)
class _Timer:
    """`after`, then `stays`, of one condition, in milliseconds."""

    after: int
    stays: int
    rise: int | None = None  # since when `when` has held
    held: bool = False  # for long enough
    fall: int | None = None  # since when it no longer has

    def settle(self, when: bool) -> None:
        """`when` has been as it is for ever."""
        self.rise, self.held = (-self.after, True) if when else (None, False)

    def step(self, when: bool, now: int) -> bool:
        if not when:
            self.rise = None
        elif self.rise is None:
            self.rise = now
        held = self.rise is not None and now - self.rise >= self.after
        if held != self.held:
            self.fall, self.held = (None if held else now), held
        return held or (self.fall is not None and now - self.fall < self.stays)

    def due(self, now: int) -> list[int]:
        """When it will change by itself."""
        ends = []
        if self.rise is not None and not self.held:
            ends.append(self.rise + self.after)
        if self.fall is not None:
            ends.append(self.fall + self.stays)
        return [end for end in ends if end > now]


@dataclass(slots=True)
class _Timers:
    """The timers of a setup. Each is kept twice, for `when` not known: taken as false, and as true."""

    settled: bool
    now: int = 0
    pairs: dict[str, tuple[_Timer, _Timer]] = field(default_factory=dict)
    late: dict[str, Truth] = field(default_factory=dict)

    def delay(self, condition: Condition, when: Truth) -> Truth:
        if not (condition.after or condition.stays):
            return when
        least, most = when is True, when is not False
        pair = self.pairs.get(condition.name)
        if pair is None:
            after, stays = _ms(condition.after), _ms(condition.stays)
            pair = self.pairs[condition.name] = _Timer(after, stays), _Timer(after, stays)
            if self.settled:
                pair[0].settle(least)
                pair[1].settle(most)
        low, high = pair[0].step(least, self.now), pair[1].step(most, self.now)
        value = low if low == high else None
        if value is not when:
            self.late[condition.name] = value
        return value

    def due(self) -> int | None:
        return min((end for pair in self.pairs.values() for timer in pair for end in timer.due(self.now)), default=None)


class _Run:
    def __init__(self, setup: Setup, start: State, memory: Memory, settled: bool) -> None:
        self.setup, self.state, self.now = setup, start, 0
        self.timers = _Timers(settled)
        self.ramped = [channel for channel in setup.channels.values() if _ramped(channel)]
        self.evaluation = evaluate_with(setup, start, memory, self.timers.delay)
        self.due = self.timers.due()
        self.values = {c.name: _exactly(self.evaluation.demands[c.name]) for c in self.ramped}

    def go_on(self, now: int, state: State | None = None) -> Moment:
        """To another instant, from which on the controls are in another state."""
        # Up to now the ramps went where they were going; from now on they may go elsewhere.
        self.ramp(now - self.now)
        self.now = self.timers.now = now
        if state is not None or (self.due is not None and now >= self.due):
            self.state = state or self.state
            self.timers.late = {}
            self.evaluation = evaluate_with(self.setup, self.state, self.evaluation.memory, self.timers.delay)
            self.due = self.timers.due()
            self.ramp(0)
        return self.moment()

    def instants(self, first: int, end: int, jump: bool) -> Iterator[int]:
        """The instants from `first` on, before `end`, between two changes of the controls; with `jump` only those at which
        something is due or a ramp moves."""
        at = first
        while at < end:
            if jump and not self.moving:
                if self.due is None:
                    return
                at = max(at, ceil(Fraction(self.due, STEP)) * STEP)
            if at < end:
                yield at
            at += STEP

    @property
    def moving(self) -> bool:
        """Whether a ramp is on its way."""
        demands = self.evaluation.demands
        return any(self.values[c.name] != _exactly(demands[c.name]) for c in self.ramped)

    def ramp(self, ms: int) -> None:
        evaluation = self.evaluation
        for channel in self.ramped:
            name = channel.name
            lines = [channel.line(evaluation.mode)] if evaluation.mode_known else _lines(channel)
            self.values[name] = _towards(self.values[name], evaluation.demands[name], lines, ms)

    def moment(self) -> Moment:
        evaluation = self.evaluation
        demands, outputs = dict(evaluation.demands), dict(evaluation.outputs)
        moving = False
        for channel in self.ramped:
            low, high = self.values[channel.name]
            value = low if low == high else None
            if value != demands[channel.name]:
                moving = True
                demands[channel.name] = value
                outputs[channel.name] = None if value is None else output(channel, value)
        shown = replace(evaluation, outputs=outputs) if moving else evaluation
        return Moment(Fraction(self.now, 1000), shown, demands, evaluation, self.timers.late)


def _exactly(value: Fraction | None) -> Range:
    return (-FARTHEST, FARTHEST) if value is None else (value, value)


def _towards(values: Range, target: Fraction | None, lines: Sequence[Line], ms: int) -> Range:
    """Where a ramp gets to from anywhere between `values`, by any of `lines`."""
    if target is None or values == (target, target):
        return _exactly(target)
    reached = [_step(value, target, line, ms) for value in values for line in lines]
    return min(reached), max(reached)


def _step(value: Fraction, target: Fraction, line: Line, ms: int) -> Fraction:
    ramp = line.ramp_up if target > value else line.ramp_down
    if not ramp:
        return target
    reach = WHOLE_TRAVEL * Fraction(ms, 1000) / ramp
    return min(value + reach, target) if target > value else max(value - reach, target)


def _lines(channel: Channel) -> list[Line]:
    return [channel.own, *channel.lines.values()]


def _ramped(channel: Channel) -> bool:
    return any(line.ramp_up or line.ramp_down for line in _lines(channel))


def _ramp_time(setup: Setup, channel: Channel) -> Fraction:
    values = [abs(x) for o in setup.overrides.values() if o.channel == channel.name for x in o.numbers.values()]
    sums = [sum((_most(setup, term) for term in line.terms or ()), ZERO) for line in _lines(channel)]
    slowest = max(max(line.ramp_up, line.ramp_down) for line in _lines(channel))
    return 2 * max(values + sums) * slowest / WHOLE_TRAVEL + Fraction(STEP, 1000)


def _most(setup: Setup, term: Term) -> Fraction:
    """No value of the term is further from zero."""
    if isinstance(term.source, Fraction):
        return abs(term.source)
    if term.kind == "switch":
        return max(map(abs, term.values.values()), default=ZERO)
    if term.curve is not None:
        curve = setup.curves[term.curve]
        return max(largest(curve.points, kind) for kind in possible(curve.smoothing))
    return HUNDRED
