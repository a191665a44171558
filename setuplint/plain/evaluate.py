"""The plain evaluator: what a setup does in one state, written from the meaning alone, to check what the solver found.

It shares nothing with the encoder but the model, the formulas and the shape of a state. Everything is exact; True,
False and None are Kleene's three values, None where something is not described or could not be read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product

from setuplint.dataclass import dataclass, replace
from setuplint.plain.channel_values import (
    demanded,
    output,
    stick_read,
    stick_term,
    terms_sum,
    unrounded_output,
    within_limits,
)
from setuplint.plain.logic import COMPARE, Here, Truth, among, contenders, differ, every, no, some
from setuplint.plain.state import OFF, UNHEARD, Memory, State
from setuplint.plain.stick_places import cells, conditions_under, reading_term
from setuplint.setup.formulas import (
    PREDICATES,
    Active,
    CellBelow,
    Decides,
    Follows,
    Formula,
    Heard,
    OutputCompare,
    Predicate,
    Rises,
    Sounds,
)
from setuplint.setup.model import ZERO, Bound, Channel, Condition, Override, Setup

Delay = Callable[[Condition, Truth], Truth]


@dataclass(frozen=True, slots=True)
class Unsure(Memory):
    """Memory in which some bits are not known, because what sets or resets them is not; `on` and `last` are sure."""

    maybe_on: frozenset[str] = frozenset()
    maybe_last: frozenset[str] = frozenset()


class PerChannel(Mapping[str, Fraction | None]):
    """A value of each channel, worked out when it is first asked for: of most states a few outputs are wanted, or none."""

    def __init__(self, setup: Setup, value_of: Callable[[Channel], Fraction | None]) -> None:
        self._channels, self._value_of = setup.channels, value_of
        self._known: dict[str, Fraction | None] = {}

    def __getitem__(self, name: str) -> Fraction | None:
        if name not in self._known:
            self._known[name] = self._value_of(self._channels[name])
        return self._known[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._channels)

    def __len__(self) -> int:
        return len(self._channels)

    def __repr__(self) -> str:
        return repr(dict(self))


@dataclass(frozen=True, slots=True)
class Evaluation:
    """What a setup does in one state. Channels' values are percent; None is not known.

    `demands` are the sums, perhaps limited, or the overrides' values, before the ramp and the servo's settings; `outputs` come
    after these, rounded to 1e-6. `mode` is None where no mode holds and where it is not known (`mode_known`).
    `deciders` has the override that decides each channel, None for its own line; one that only may decide, because it
    is broken, is left aside there, and the demand is unknown. `tied` has the overrides that share the highest
    priority, where there are several.
    """

    conditions: Mapping[str, Truth]
    memory: Memory
    mode: str | None
    mode_known: bool
    deciders: Mapping[str, str | None]
    tied: Mapping[str, tuple[str, ...]]
    outputs: Mapping[str, Fraction | None]
    demands: Mapping[str, Fraction | None]


def evaluate(
    setup: Setup, state: State, memory: Memory = OFF, *, timed: Mapping[str, bool] | None = None
) -> Evaluation:
    """The state that `state` settles in when `memory` is what was remembered before it.

    `timed` gives named conditions a value after `after` and `stays`, in place of their `when` (for a latch or toggle:
    the delayed `when` that sets it); without it they equal it. KeyError where the state lacks a control.
    """
    if not timed:
        return evaluate_with(setup, state, memory, None)
    given = timed
    return evaluate_with(setup, state, memory, lambda condition, when: given.get(condition.name, when))


def evaluate_with(setup: Setup, state: State, memory: Memory, delay: Delay | None) -> Evaluation:
    """Like `evaluate`, with `delay` making each condition's delayed value of its `when`; called in dependency order."""
    here = Here(setup, state, {})
    after = _conditions(here, memory, delay)
    modes = here.modes
    holding: dict[str, list[tuple[Override, Truth]]] = {}
    for override in setup.overrides.values():
        value = here.holds(override.when)
        if value is not False:
            holding.setdefault(override.channel, []).append((override, value))
    able = {name: contenders(holding.get(name, ()), state.ties.get(name)) for name in setup.channels}
    deciders = {name: None if (last := able[name][-1]) is None else last.name for name in setup.channels}
    tied = {name: equals for name in setup.channels if len(equals := _equals(holding.get(name, ()))) > 1}
    demands = PerChannel(setup, lambda channel: demanded(here, channel, able[channel.name]))
    outputs = PerChannel(setup, lambda channel: _output(channel, demands[channel.name]))
    found = Evaluation(here.conditions, after, modes[0] if len(modes) == 1 else None, len(modes) == 1,
                      deciders, tied, outputs, demands)  # fmt: skip
    watching = [condition for condition in setup.conditions.values() if condition.watches]
    return _watched(setup, state, found, memory, watching) if watching else found


def _output(channel: Channel, demand: Fraction | None) -> Fraction | None:
    return None if demand is None else output(channel, demand)


def _watched(
    setup: Setup, state: State, found: Evaluation, memory: Memory, watching: Sequence[Condition]
) -> Evaluation:
    """With the conditions that watch outputs, and what they remember."""
    asked, on = _Asked(setup, state, found, {}), set(found.memory.on)
    values = dict(found.conditions)
    for condition in watching:
        reset = condition.until is not None and asked.holds(condition.until) is True
        set_now = asked.holds(condition.when) is True
        values[condition.name] = not reset and (set_now or condition.name in memory.on)
        on |= {condition.name} if values[condition.name] else set()
    return replace(found, conditions=values, memory=replace(found.memory, on=frozenset(on)))


def power_up(setup: Setup, state: State) -> Evaluation | None:
    """The settled state after switching on; None where `start.requires` is not true or a sensor is heard already."""
    if any(reading != UNHEARD for reading in state.readings.values()):
        return None
    evaluation = evaluate(setup, state)
    admitted = truth(setup, Predicate("start allowed"), state, evaluation)
    return evaluation if admitted is True else None


def replay(setup: Setup, steps: Sequence[State], known: Sequence[Evaluation] = ()) -> list[Evaluation]:
    """Each step settled, the first from all memory off, the others from the memory of the one before; the first of them may be
    known."""
    done = list(known)
    for state in steps[len(done) :]:
        done.append(evaluate(setup, state, done[-1].memory if done else OFF))
    return done


def truth(
    setup: Setup,
    formula: Formula,
    state: State,
    evaluation: Evaluation,
    *,
    late: Mapping[str, Truth] | None = None,
) -> Truth:
    """Whether any formula, predicates included, holds in a settled state; None: not known.

    In a moment that has not settled, `late` has the delayed values that are not those of their `when`: what a stick may do is
    asked with these kept.

    `evaluation` is that of `state`: what a stick may do is asked with what is remembered after it.
    `follows` compares exact outputs at finitely many values of the stick: every threshold on it and close beside it,
    and between these the curve's points, the multiples of 5 percent, and three values between each two. So True is
    certain; False may miss a change narrower than that, as where limits leave only a sliver of a curve. Conditions that
    are not known are taken to stay as they are.
    """
    return _Asked(setup, state, evaluation, late or {}).holds(formula)


def truths(setup: Setup, state: State, evaluation: Evaluation) -> Callable[[Formula], Truth]:
    """The same for very many formulas: what each channel's overrides come to is worked out once."""
    return _Asked(setup, state, evaluation, {}).holds


def _conditions(here: Here, memory: Memory, delay: Delay | None) -> Memory:
    """Fill in the conditions' values; the memory after them."""
    before = memory if isinstance(memory, Unsure) else None
    on: dict[str, Truth] = {}
    last: dict[str, Truth] = {}
    for name, condition in here.setup.conditions.items():
        if condition.watches:  # once outputs are known
            continue
        value = here.holds(condition.when)
        if delay is not None:
            value = delay(condition, value)
        if condition.remembers:
            was_on = None if before and name in before.maybe_on else name in memory.on
            if condition.until is not None:
                value = some((value, was_on))
                if value is not False:
                    value = every((no(here.holds(condition.until)), value))
            else:
                last[name] = value
                was = None if before and name in before.maybe_last else name in memory.last
                value = differ(was_on, every((value, no(was))))
            on[name] = value
        here.conditions[name] = value
    if not on:
        return OFF
    if None in on.values() or None in last.values():
        return Unsure(_where(on, True), _where(last, True), _where(on, None), _where(last, None))
    return Memory(_where(on, True), _where(last, True))


def _where(values: Mapping[str, Truth], wanted: Truth) -> frozenset[str]:
    return frozenset(name for name, value in values.items() if value is wanted)


def _equals(rivals: Sequence[tuple[Override, Truth]]) -> tuple[str, ...]:
    """The overrides that hold with the highest priority."""
    sure = [override for override, value in rivals if value is True and override.priority is not None]
    highest = max((override.priority or ZERO for override in sure), default=ZERO)
    return tuple(override.name for override in sure if override.priority == highest)


class _Asked(Here):
    """A state, asked for any formula."""

    def __init__(self, setup: Setup, state: State, evaluation: Evaluation, late: Mapping[str, Truth]) -> None:
        super().__init__(setup, state, dict(evaluation.conditions))
        self.evaluation, self.late = evaluation, late
        self._able: dict[str, list[Override | None]] = {}

    def leaf(self, formula: Formula) -> Truth:
        if isinstance(formula, OutputCompare):
            return self.compares(formula.channel, formula.op, formula.number)
        if isinstance(formula, Predicate):
            return self.predicate(formula.name)
        if isinstance(formula, Decides):
            return self.decides(formula.channel, formula.override)
        if isinstance(formula, Active):
            return self.holds(self.setup.overrides[formula.override].when)
        if isinstance(formula, Sounds):
            alarm = self.setup.alarms[formula.alarm]
            return every((alarm.audible, self.holds(alarm.when)))
        if isinstance(formula, CellBelow):
            shown = any(self.setup.cells_of(sensor) is not None for sensor in self.setup.sensors.values())
            return self.state.cell < formula.volts if shown and self.state.cell is not None else None
        if isinstance(formula, Heard):
            return not isinstance(self.state.readings[formula.sensor], str)
        if isinstance(formula, Follows):
            return self.follows(formula.channel, formula.stick)
        if isinstance(formula, Rises):
            return self.rises(formula.channel, formula.stick, formula.by)
        return super().leaf(formula)

    def compares(self, channel: str, op: str, number: Fraction | None) -> Truth:
        value = self.evaluation.outputs[channel]
        return None if value is None or number is None else COMPARE[op](value, number)

    def predicate(self, name: str) -> Truth:
        setup, intent = self.setup, self.setup.intent
        if name in ("hold called", "stop called", "rescue called"):
            key = name.split()[0]
            formula: Formula | None = getattr(intent, key)
            return self.optional(formula, False, "intent", key)
        if name == "motor runs":
            return self.motor_runs(setup.craft.motor_off)
        if name == "rotor driven":
            free = setup.craft.rotor_free
            if free is None and not setup.is_broken("craft", "rotor-free"):
                free = setup.craft.motor_off
            return self.motor_runs(free)
        if name == "flying":
            return every((self.predicate("motor runs"), no(self.predicate("hold called"))))
        if name == "levelled":
            return self.within(intent.level)
        if name == "lifted":
            return True if intent.lift == "unit" else self.within(intent.lift)
        if name == "sprung switches released":
            sprung = (switch for switch in setup.switches.values() if switch.sprung)
            return all(self.state.positions[switch.name] == switch.positions[0] for switch in sprung)
        if name == "start allowed":
            return self.optional(setup.start, True, "start", "requires")
        raise ValueError(f"“{name}” is none of {', '.join(PREDICATES)}")

    def optional(self, formula: Formula | None, absent: bool, *path: str) -> Truth:
        if formula is not None:
            return self.holds(formula)
        return None if self.setup.is_broken(*path) else absent

    def motor_runs(self, limit: Fraction | None) -> Truth:
        """Without a limit: certain above the hover (or where a governor holds, or half throttle) and at or below -100."""
        if limit is not None:
            return self.motor_above(limit)
        craft = self.setup.craft
        certain = craft.hover_throttle
        if certain is None:
            certain = craft.governed_above if craft.governed_above is not None else ZERO
        return some((self.motor_above(certain), every((None, self.motor_above(Fraction(-100))))))

    def motor_above(self, number: Fraction | None) -> Truth:
        motors = [channel for channel in self.setup.channels.values() if channel.drives == "motor"]
        if not any(motor.described for motor in motors):
            return None
        return some(self.compares(motor.name, ">", number) for motor in motors)

    def within(self, bound: Bound | str | None) -> Truth:
        if not isinstance(bound, Bound):
            return None
        low, high = bound.at_least, bound.at_most
        if bound.value is not None:
            low, high = bound.value - 1, bound.value + 1
        if low is None and high is None:
            return None
        sides = ((">=", low), ("<=", high))
        return every(self.compares(bound.channel, op, number) for op, number in sides if number is not None)

    def decides(self, channel: str, override: str | None) -> Truth:
        return among(override, [None if one is None else one.name for one in self.able(channel)])

    def able(self, channel: str) -> list[Override | None]:
        """Who may decide the channel."""
        if channel not in self._able:
            self._able[channel] = self._contenders(channel)
        return self._able[channel]

    def _contenders(self, channel: str) -> list[Override | None]:
        rivals = [
            (rival, value)
            for rival in self.setup.overrides.values()
            if rival.channel == channel and (value := self.holds(rival.when)) is not False
        ]
        return contenders(rivals, self.state.ties.get(channel))

    def goes_on(self, channel: str) -> tuple[Truth, list[Override | None]]:
        """Whether the channel's line does, and who may limit it then (None: nobody). What an override that cannot be read would
        do is not known."""
        able = self.able(channel)
        ways = [one for one in able if one is None or one.limits]
        if all(one is not None and one.value is not None for one in able):
            return False, ways
        return len(ways) == len(able) or None, ways

    def follows(self, channel: str, stick: str) -> Truth:
        own = self.goes_on(channel)[0]
        if own is False:
            return False
        lines = [self.setup.channels[channel].line(mode) for mode in self.modes]
        found = [None if line.terms is None else reading_term(line.terms, stick) for line in lines]
        if all(line.terms is not None for line in lines) and not any(found):
            return False
        term = found[0]
        if len(lines) > 1 or term is None:
            return None
        read, terms = stick_read(self, term), lines[0].terms or ()
        rest = terms_sum(self, (other for other in terms if other is not term))
        if read is None or rest is None:
            return None
        sure: set[Fraction] = set()
        maybe: set[Fraction] = set()
        for probe, values in cells(self, term, read):
            kept, ways = self.kept(channel, read, probe)
            for value, way in product(values, ways if kept is not False else ()):
                demand = within_limits(way, rest + stick_term(self, term, read, value))
                assert demand is not None
                put = output(self.setup.channels[channel], demand)
                maybe.add(put)
                if kept is True and len(ways) == 1:
                    sure.add(put)
            if own is True and len(sure) > 1:
                return True
        return False if len(maybe) < 2 and not self.unread_decider(channel) else None

    def unread_decider(self, channel: str) -> bool:
        """Whether an override that cannot be read may decide the channel."""
        return any(one is not None and not one.numbers for one in self.able(channel))

    def rises(self, channel: str, stick: str, by: Fraction) -> Truth:
        own, limits = self.goes_on(channel)
        if own is False:
            return False
        found = self.setup.channels[channel]
        ways: set[Truth] = set()
        for mode, limit in product(self.modes, limits):
            terms = found.line(mode).terms
            term = None if terms is None else reading_term(terms, stick)
            if terms is None or term is None:
                ways.add(None if terms is None else False)
                continue
            read, rest = stick_read(self, term), terms_sum(self, (other for other in terms if other is not term))
            ends = (
                []
                if read is None or rest is None
                else [
                    unrounded_output(found, demand)
                    for value in (Fraction(-100), Fraction(100))
                    if (demand := within_limits(limit, rest + stick_term(self, term, read, value))) is not None
                ]
            )
            rise = ends[1] - ends[0] if ends else None
            ways.add(None if rise is None else rise > by if by > 0 else rise < by)
        return every((own, ways.pop() if len(ways) == 1 and not self.unread_decider(channel) else None))

    def with_stick(self, stick: str, value: Fraction) -> State:
        return replace(self.state, sticks={**self.state.sticks, stick: value})

    def kept(self, channel: str, stick: str, value: Fraction) -> tuple[Truth, list[Override | None]]:
        """Whether the stick there leaves the mode, and the conditions and memory that the channel rests on, as they are here, and
        the channel's line goes on; and who may limit it."""
        state, here = self.with_stick(stick, value), self.evaluation
        there = evaluate_with(self.setup, state, here.memory, lambda c, when: self.late.get(c.name, when))
        names = conditions_under(self.setup, channel)
        same = (there.mode, there.mode_known) == (here.mode, here.mode_known) and all(
            there.conditions.get(name) == here.conditions.get(name)
            and (name in there.memory.on) == (name in here.memory.on)
            and (name in there.memory.last) == (name in here.memory.last)
            for name in names
        )
        asked = _Asked(self.setup, state, there, self.late)
        goes_on, ways = asked.goes_on(channel)
        lent = all(asked.holds(lent) == self.holds(lent) for lent in self.setup.channels[channel].lendings)
        return same and lent and goes_on, ways
