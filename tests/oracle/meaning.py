"""What a setup means in one settled state: MEANING.md sections 1 to 7, read plainly.

`World(text)` gives `settled(controls, memory)` and `truth(formula, controls, memory, choice)`, all in Fractions.
*Controls* map switches to positions, sticks and knobs to percent, sensors to a number in their own unit, "lost" or
"unheard"; what is left out is at rest (sensors: unheard). *Memory* is one bool a latch and two a toggle (its value, its
last `when`), in file order. A *choice* says who wins a tie and what an unknown smoothing is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from copy import copy
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import product
from typing import Any

from .curves import shaped
from .formula import (
    OPS,
    And,
    Compare,
    Condition,
    Const,
    Follows,
    Formula,
    Is,
    ModeIs,
    Not,
    Or,
    Output,
    Truth,
    channels_in,
    conditions_in,
    kleene,
    names_mode,
    parse,
)
from .parts import Channel, Limits, Override, Setup, Term, TimedCondition
from .places import round_output, stick_places
from .predicates import expand

Value = Fraction | str
Controls = Mapping[str, Value]
Memory = tuple[bool, ...]
Choice = Mapping[tuple[str, str], Any]
HUNDRED = Fraction(100)


def limit(x: Fraction, low: Fraction, high: Fraction) -> Fraction:
    return max(low, min(high, x))


@dataclass(frozen=True)
class State:
    """One instant: what the conditions are, the mode, and what is remembered afterwards."""

    controls: Controls
    conditions: Mapping[str, bool]
    mode: str | None
    memory: Memory


@dataclass(frozen=True)
class Result(State):
    """A settled state with every output it may have (percent, rounded); None where a channel is not known."""

    outputs: Mapping[str, frozenset[Fraction] | None]


class World(Setup):
    """A setup that can be asked."""

    def __init__(self, source: str | Mapping[str, Any]) -> None:
        super().__init__(source)
        self.order = self._dependency_order()
        self.memory_names = [c.name for c in self.conditions.values() if c.remembers]
        self.memory_at: dict[str, int] = {}
        size = 0
        for name in self.memory_names:
            self.memory_at[name] = size
            size += 2 if self.conditions[name].toggles else 1
        self.memory_off: Memory = (False,) * size
        self._parsed: dict[str, Formula] = {}
        self._grounds: dict[str, list[tuple[str, slice | None]]] = {}
        self.stick_places: dict[object, list[Fraction]] = {}

    def _dependency_order(self) -> list[str | None]:
        """Conditions such that each comes after what it stands on; None is the mode. ValueError on a loop."""
        order: list[str | None] = []
        doing: set[str | None] = set()

        def visit(node: str | None) -> None:
            if node in order:
                return
            if node in doing:
                raise ValueError(f"{node} depends on itself")
            doing.add(node)
            for formula in self.formulas_of(node):
                for name in sorted(conditions_in(formula)):
                    visit(name)
                if names_mode(formula):
                    visit(None)
            order.append(node)

        for node in (*self.conditions, None):
            visit(node)
        return order

    def formulas_of(self, node: str | None) -> list[Formula]:
        """The formulas of a condition, or of all modes for None."""
        if node is None:
            return [when for when in self.modes.values() if when is not None]
        condition = self.conditions[node]
        return [condition.when] if condition.until is None else [condition.when, condition.until]

    def without_start(self) -> World:
        """The same setup with no `[start]`."""
        other = copy(self)
        other.requires = None
        other._parsed = {}
        return other

    # Controls

    @cached_property
    def rest(self) -> dict[str, Value]:
        """Everything at rest with the receiver off."""
        return {
            **{name: words[0] for name, words in self.switches.items()},
            **{name: Fraction(-100 if self.low and name.split()[0] == "throttle" else 0) for name in self.analogs},
            **dict.fromkeys(self.sensors, "unheard"),
        }

    def full(self, controls: Controls) -> dict[str, Value]:
        """The controls with what was left out at rest. ValueError if they are no state of the controls."""
        found = {**self.rest, **controls}
        if len(found) != len(self.rest):
            raise ValueError(f"unknown controls among {sorted(controls)}")
        for name, words in self.switches.items():
            if found[name] not in words:
                raise ValueError(f"{name} has no position {found[name]}")
        for name in self.analogs:
            value = found[name] = Fraction(found[name])
            if not -100 <= value <= 100:
                raise ValueError(f"{name} at {value}")
        self._check_sensors(found)
        return found

    def _check_sensors(self, found: dict[str, Value]) -> None:
        unheard = {found[name] == "unheard" for name in self.sensors}
        if len(unheard) > 1:
            raise ValueError("some sensors are heard and some are not")
        volts = set()
        for name in self.sensors:
            value = found[name]
            if value in ("unheard", "lost"):
                continue
            value = found[name] = Fraction(value)
            low, high = self.range_of(name)
            if not low <= value <= high:
                raise ValueError(f"{name} at {value}")
            factor = self.cell_factor(name)
            if factor is not None:
                volts.add(value / factor)
        if len(volts) > 1:
            raise ValueError("two sensors contradict each other about a cell's voltage")

    def heard(self, controls: Controls) -> bool:
        """Whether the receiver is on, as far as a sensor can tell."""
        return any(controls.get(name, "unheard") != "unheard" for name in self.sensors)

    # Conditions and modes

    def leaf(self, leaf: Formula, controls: Controls, conditions: Mapping[str, bool], mode: str | None) -> bool:
        """A leaf that may stand in the file's own formulas."""
        match leaf:
            case Is(name, word):
                return controls[name] == word
            case Compare(name, op, number):
                value = controls[name]
                return not isinstance(value, str) and OPS[op](value, number)
            case Condition(name):
                return conditions[name]
            case ModeIs(name):
                if name not in self.modes:
                    raise KeyError(name)
                return mode == name
        raise ValueError(f"{leaf} may not stand here")

    def plain(self, formula: Formula, controls: Controls, conditions: Mapping[str, bool], mode: str | None) -> bool:
        """A formula of the file; never unknown."""
        match formula:
            case And(parts):
                return all(self.plain(part, controls, conditions, mode) for part in parts)
            case Or(parts):
                return any(self.plain(part, controls, conditions, mode) for part in parts)
            case Not(part):
                return not self.plain(part, controls, conditions, mode)
            case Const(value):
                assert value is not None
                return value
        return self.leaf(formula, controls, conditions, mode)

    def settle(self, controls: Controls, memory: Memory, lagging: frozenset[str] = frozenset()) -> State:
        """The settled state that these controls lead to from this memory.

        The timed conditions named in `lagging` do not follow their `when` yet (MEANING.md 6): off though it holds
        (`after`), or on though it does not (`stays`).
        """
        conditions: dict[str, bool] = {}
        mode: str | None = None
        new = list(memory)
        for node in self.order:
            if node is None:
                mode = self.mode_of(controls, conditions)
                continue
            condition = self.conditions[node]
            value = self.plain(condition.when, controls, conditions, mode)
            if node in lagging and (condition.after if value else condition.stays):
                value = not value
            if condition.remembers:
                at = self.memory_at[node]
                stop = condition.until is not None and self.plain(condition.until, controls, conditions, mode)
                value = remember(condition, value, stop, new, at)
            conditions[node] = value
        return State(controls, conditions, mode, tuple(new))

    def mode_of(self, controls: Controls, conditions: Mapping[str, bool]) -> str | None:
        for name, when in self.modes.items():
            if when is None or self.plain(when, controls, conditions, None):
                return name
        return None

    def allowed(self, state: State) -> bool:
        """`start.requires` in a state."""
        if self.requires is None:
            return True
        return self.plain(self.requires, state.controls, state.conditions, state.mode)

    # Channels

    @cached_property
    def rivals(self) -> dict[str, list[Override]]:
        """The overrides of each channel."""
        found: dict[str, list[Override]] = {}
        for override in self.overrides:
            found.setdefault(override.channel, []).append(override)
        return found

    def deciding(self, channel: str, state: State) -> list[Fraction | Limits]:
        """The values or limits of the overrides that may decide the channel, each once; none if its terms do."""
        active: list[Override] = [
            o for o in self.rivals.get(channel, ()) if self.plain(o.when, state.controls, state.conditions, state.mode)
        ]
        if not active:
            return []
        top = max(o.priority for o in active)
        return list(dict.fromkeys(o.value for o in active if o.priority == top))

    def decided(self, channel: str, state: State, choice: Choice) -> Fraction | Limits | None:
        """What the override demands that decides the channel; where the choice does not say which, the first."""
        values = self.deciding(channel, state)
        picked = choice.get(("tie", channel))
        return picked if picked in values else values[0] if values else None

    def taken(self, channel: str, state: State) -> bool:
        """Only overrides with a value may decide it."""
        values = self.deciding(channel, state)
        return bool(values) and all(isinstance(value, Fraction) for value in values)

    def described(self, channel: str) -> bool:
        """Whether any mode's line is, or that of no mode."""
        return any(line.terms is not None for line in self.channels[channel].lines.values())

    def terms(self, channel: str, state: State) -> tuple[Term, ...] | None:
        """Those of the line that is flown, each with the stick that is read: the pupil's, while that is lent."""
        terms = self.channels[channel].lines[state.mode].terms
        if terms is None or not self.is_lent(state):
            return terms
        return tuple(replace(term, source=term.pupil or term.source) for term in terms)

    def is_lent(self, state: State) -> bool:
        lent = self.lent
        return lent is not None and self.plain(lent, state.controls, state.conditions, state.mode)

    def lends(self, channel: str) -> bool:
        """Whether the channel reads a stick that is lent at times."""
        return any(term.pupil for line in self.channels[channel].lines.values() for term in line.terms or ())

    def term(self, term: Term, controls: Controls, choice: Choice, trim: Mapping[str, Fraction]) -> Fraction:
        if term.kind == "number":
            return term.constant
        if term.kind == "switch":
            return term.values[str(controls[term.source])]
        value = controls[term.source]
        assert not isinstance(value, str)
        value += trim.get(term.source, 0)
        return self.shape(term, value, controls, choice)

    def shape(self, term: Term, value: Fraction, controls: Controls, choice: Choice) -> Fraction:
        """curve(expo(u)) of a stick or knob at `value`."""
        curve = None if term.curve is None else self.curves[term.curve][self.smoothing(term.curve, choice)]
        return shaped(curve, term.expo.value(controls), term.rate.value(controls), value)

    def smoothing(self, curve: str, choice: Choice) -> str:
        kinds = self.curves[curve]
        if len(kinds) == 1:
            return next(iter(kinds))
        return str(choice[("curve", curve)])

    def demand(
        self, channel: str, state: State, choice: Choice, trim: Mapping[str, Fraction] | None = None
    ) -> Fraction | None:
        """What the channel asks for before ramp, reversal, travel, sub-trim and limits; None if not described and no
        override decides."""
        decided = self.decided(channel, state, choice)
        if isinstance(decided, Fraction):
            return decided
        terms = self.terms(channel, state)
        if terms is None:
            return None
        total = sum((self.term(t, state.controls, choice, trim or {}) for t in terms), Fraction(0))
        return total if decided is None else decided.of(total)

    def servo(self, channel: Channel, demand: Fraction) -> Fraction:
        """The output that a demand gives, rounded."""
        return round_output(self.servo_exact(channel, demand))

    def servo_exact(self, channel: Channel, demand: Fraction) -> Fraction:
        value = -demand if channel.reversed else demand
        value = value * channel.travel[0 if value < 0 else 1] / 100 + channel.sub_trim
        return limit(value, channel.low, channel.high)

    def output(
        self, channel: str, state: State, choice: Choice, trim: Mapping[str, Fraction] | None = None
    ) -> Fraction | None:
        demand = self.demand(channel, state, choice, trim)
        return None if demand is None else self.servo(self.channels[channel], demand)

    def choices(self, state: State, channels: Iterable[str]) -> Iterator[Choice]:
        """Every choice that may matter to these channels in this state: ties, and unknown smoothings."""
        open_: dict[tuple[str, str], list[Any]] = {}
        for channel in channels:
            values = self.deciding(channel, state)
            if len(values) > 1:
                open_[("tie", channel)] = values
            terms = self.channels[channel].lines[state.mode].terms or ()
            curves = [term.curve for term in terms if term.kind == "analog" and not self.taken(channel, state)]
            for curve in curves:
                if curve and len(self.curves[curve]) > 1:
                    open_[("curve", curve)] = list(self.curves[curve])
        for chosen in product(*open_.values()):
            yield dict(zip(open_, chosen, strict=True))

    def settled(self, controls: Controls, memory: Memory | None = None) -> Result:
        """The whole settled state; memory is that before the step (default: off, as at power-up)."""
        state = self.settle(self.full(controls), self.memory_off if memory is None else memory)
        outputs: dict[str, frozenset[Fraction] | None] = {}
        for channel in self.channels:
            found = {self.output(channel, state, choice) for choice in self.choices(state, [channel])}
            outputs[channel] = None if None in found else frozenset(x for x in found if x is not None)
        return Result(state.controls, state.conditions, state.mode, state.memory, outputs)

    # Questions

    def parse(self, formula: str | Formula) -> Formula:
        """A claim's formula with its predicates spelt out in outputs, switches and conditions."""
        if not isinstance(formula, str):
            return expand(self, formula)
        if formula not in self._parsed:
            self._parsed[formula] = expand(self, parse(formula, claim=True))
        return self._parsed[formula]

    def truth(self, formula: str | Formula, controls: Controls, memory: Memory | None, choice: Choice) -> Truth:
        """The formula in the settled state after these controls, from the memory before them."""
        state = self.settle(self.full(controls), self.memory_off if memory is None else memory)
        return self.holds(self.parse(formula), state, choice)

    def truths(self, formula: str | Formula, controls: Controls, memory: Memory | None = None) -> set[Truth]:
        """The values the formula may have there under any choice."""
        state = self.settle(self.full(controls), self.memory_off if memory is None else memory)
        parsed = self.parse(formula)
        return {self.holds(parsed, state, choice) for choice in self.choices(state, channels_in(parsed))}

    def holds(
        self, formula: Formula, state: State, choice: Choice, trim: Mapping[str, Fraction] | None = None
    ) -> Truth:
        """An expanded formula in a settled state; `trim` is added to sticks where channels read them."""

        def value(leaf: Formula) -> Truth:
            match leaf:
                case Output(channel, op, number):
                    found = self.output(channel, state, choice, trim)
                    return None if found is None else OPS[op](found, number)
                case Follows(channel, stick):
                    return self.follows(channel, stick, state, choice)
            return self.leaf(leaf, state.controls, state.conditions, state.mode)

        return kleene(formula, value)

    def under(self, channel: str, state: State) -> list[object]:
        """The values and the memory of the conditions that a channel rests on: by its overrides, and by the modes."""
        return [
            (name, state.conditions[name], state.memory[at] if at is not None else ())
            for name, at in self.ground(channel)
        ]

    def ground(self, channel: str) -> list[tuple[str, slice | None]]:
        """Those conditions, each with the place of its memory."""
        if channel not in self._grounds:
            todo = [*(o.when for o in self.overrides if o.channel == channel), *self.formulas_of(None)]
            todo += [self.lent] if self.lent is not None and self.lends(channel) else []
            names: set[str] = set()
            while todo:
                for name in conditions_in(todo.pop()) - names:
                    names.add(name)
                    todo += self.formulas_of(name)
            ends = [*self.memory_at.values(), len(self.memory_off)]
            places = {name: slice(at, min(end for end in ends if end > at)) for name, at in self.memory_at.items()}
            self._grounds[channel] = [(name, places.get(name)) for name in sorted(names)]
        return self._grounds[channel]

    def follows(self, channel: str, stick: str, state: State, choice: Choice) -> Truth:
        """Two places of the stick, all else kept and no override deciding, give two outputs.

        Exact: between two neighbours of `stick_places` all comparisons are constant and the channel is monotone.
        """
        here = self.decided(channel, state, choice)
        if isinstance(here, Fraction):
            return False
        terms = self.terms(channel, state)
        if terms is None:
            return None
        first: Fraction | None = None
        lends, under = self.lends(channel), self.under(channel, state)
        if self.is_lent(state):
            stick = self.pupils.get(stick, stick)
        if not any(t.kind == "analog" and t.source == stick for t in terms):
            return False
        for place in stick_places(self, channel, stick, state, choice):
            moved = self.settle({**state.controls, stick: place}, state.memory)
            if lends and self.is_lent(moved) != self.is_lent(state):
                continue
            if moved.mode != state.mode or self.under(channel, moved) != under:
                continue
            kept = {**choice, ("tie", channel): here}
            if isinstance(self.decided(channel, moved, kept), Fraction):
                continue
            output = self.output(channel, moved, kept)
            if first is None:
                first = output
            elif output != first:
                return True
        return False


def remember(condition: TimedCondition, when: bool, until: bool, memory: list[bool], at: int) -> bool:
    """The value of a latch or toggle now; its bits in `memory` are brought up to date."""
    if condition.toggles:
        if when and not memory[at + 1]:
            memory[at] = not memory[at]
        memory[at + 1] = when
    elif until:
        memory[at] = False
    elif when:
        memory[at] = True
    return memory[at]
