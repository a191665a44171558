"""Runs of the timed simulator from power-up by single movements, and how long a formula holds in them (MEANING.md 8)."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import islice, pairwise, permutations, product

from setuplint.dataclass import dataclass, replace
from setuplint.plain.evaluate import Evaluation, truth
from setuplint.plain.logic import Truth
from setuplint.plain.simulate import Moment, simulate
from setuplint.plain.state import OFF, UNHEARD, State
from setuplint.setup import formulas as f
from setuplint.setup.model import ZERO, Channel, Line, Setup

TICK = Fraction(1, 100)  # seconds: nothing is seen sooner than the next instant of the simulator
UNHURRIED = tuple(map(Fraction, (1, 2, 3, 5, 10, 20, 30, 60, 120, 300, 600)))  # seconds that a pilot can count
ALOFT = Fraction(5)  # seconds for which no switch of the hold has moved, where the craft is taken to be in the air
MOST_ORDERS = 4


@dataclass(frozen=True, slots=True)
class Timeline:
    """States of the controls from power-up on, and at which second each begins."""

    states: tuple[State, ...]
    at: tuple[Fraction, ...]

    def until(self, place: int) -> Timeline:
        """As far as one of its states."""
        return Timeline(self.states[: place + 1], self.at[: place + 1])

    def with_gap(self, place: int, seconds: Fraction) -> Timeline:
        """The same with another wait between two neighbours."""
        longer = seconds - (self.at[place + 1] - self.at[place])
        return Timeline(self.states, tuple(t + longer if n > place else t for n, t in enumerate(self.at)))


@dataclass(frozen=True, slots=True)
class Spell:
    """Where a formula held in a run: in which of its states, from when until when (None: for good), and how all stood at its
    beginning. `ends` has the evaluation at the end of every state before."""

    place: int
    since: Fraction
    until: Fraction | None
    evaluation: Evaluation
    late: Mapping[str, Truth]
    ends: tuple[Evaluation, ...]

    def lasts_as_long_as(self, other: Spell) -> bool:
        if self.until is None or other.until is None:
            return self.until is None
        return self.until - self.since >= other.until - other.since


@dataclass(frozen=True, slots=True)
class Watch:
    """What is looked for in a run: a formula that holds for longer than `patience` seconds while no control moves. `still`:
    only where none of these switches has moved for a while; `passing`: not where one of these holds, and did not when all was
    settled last (before power-up nothing did)."""

    setup: Setup  # without ramps
    formula: f.Formula
    patience: Fraction
    settling: Fraction  # seconds in which everything settles
    still: frozenset[str] | None = None
    passing: tuple[f.Formula, ...] = ()
    timed: tuple[str, ...] = ()  # the conditions that can be behind

    def moments(self, timeline: Timeline) -> Iterator[Moment]:
        changes = list(zip(timeline.at[1:], timeline.states[1:], strict=True))
        end = timeline.at[-1] + self.settling + self.patience + TICK
        return simulate(self.setup, timeline.states[0], OFF, changes, end, from_power_up=True, jump=True)

    def spell(self, timeline: Timeline) -> Spell | None:
        """The first spell that lasts for longer than the patience."""
        ends: list[Evaluation] = []
        place, since, last = 0, ZERO, None
        held: list[Moment] = []
        uncalled: Sequence[f.Formula] = self.passing  # those that did not hold when all was settled last
        calm = ALOFT if self.still is not None else ZERO
        for moment in self.moments(timeline):
            moved = place + 1 < len(timeline.at) and moment.at >= timeline.at[place + 1]
            holds = not moved and self.shows(timeline.states[place], moment, uncalled)
            if held and not holds:
                found = self._closed(held, max(since, calm), moment.at, place, ends)
                if found is not None:
                    return found
                held = []
            if moved:
                assert last is not None
                ends.append(last.target)
                if last.late.keys().isdisjoint(self.timed):
                    uncalled = self._uncalled(timeline.states[place], last)
                place += 1
                calm = self._calm(timeline, place, calm)
                holds = self.shows(timeline.states[place], moment, uncalled)
            if holds and not held:
                since = moment.at
            held += [moment] if holds else []
            last = moment
        return self._closed(held, max(since, calm), None, place, ends) if held else None

    def shows(self, state: State, moment: Moment, uncalled: Sequence[f.Formula]) -> bool:
        holds = truth(self.setup, self.formula, state, moment.target, late=moment.late) is True
        return holds and not any(
            truth(self.setup, call, state, moment.target, late=moment.late) is True for call in uncalled
        )

    def _closed(
        self, held: Sequence[Moment], since: Fraction, until: Fraction | None, place: int, ends: Sequence[Evaluation]
    ) -> Spell | None:
        if until is not None and until - since <= self.patience:
            return None
        first = [moment for moment in held if moment.at <= since][-1]
        return Spell(place, since, until, first.target, first.late, tuple(ends))

    def _calm(self, timeline: Timeline, place: int, calm: Fraction) -> Fraction:
        """From when on the switches of the hold have been still for long enough."""
        before, after = timeline.states[place - 1].positions, timeline.states[place].positions
        moved = self.still is not None and any(before[switch] != after[switch] for switch in self.still)
        return timeline.at[place] + ALOFT if moved else calm

    def _uncalled(self, state: State, moment: Moment) -> list[f.Formula]:
        return [
            call for call in self.passing if truth(self.setup, call, state, moment.target, late=moment.late) is False
        ]


def without_ramps(setup: Setup) -> Setup:
    """The same setup with every output at its target."""
    return replace(setup, channels={name: _unramped(channel) for name, channel in setup.channels.items()})


def _unramped(channel: Channel) -> Channel:
    def line(each: Line) -> Line:
        return replace(each, ramp_up=ZERO, ramp_down=ZERO)

    return replace(channel, own=line(channel.own), lines={name: line(each) for name, each in channel.lines.items()})


# -- movements, one at a time


def orders(states: Sequence[State]) -> Iterator[tuple[tuple[State, ...], tuple[int, ...]]]:
    """The way through the states by single movements, in different orders; and for each of its states in which of those
    given it ends, or is on its way to."""
    ways = [list(islice(single_movements(*pair), MOST_ORDERS)) for pair in pairwise(states)]
    for picked in islice(product(*ways), MOST_ORDERS):
        steps, of = [states[0]], [0]
        for number, way in enumerate(picked, start=1):
            steps += way
            of += [number] * len(way)
        yield tuple(steps), tuple(of)


def single_movements(before: State, after: State) -> Iterator[list[State]]:
    """The states between two, the second the last, each one movement from the one before; in different orders."""
    movements = list(_movements(before, after))
    if not movements:
        yield [after] if before != after else []
        return
    for order in permutations(movements):
        way: list[State] = []
        state = _heard(before, after)
        for movement in order:
            state = movement(state)
            way.append(state)
        yield way


def _movements(before: State, after: State) -> Iterator[Callable[[State], State]]:
    """Each of the movements between two states, as what it makes of a state."""

    def switched(name: str) -> Callable[[State], State]:
        return lambda s: _like(s, after, positions={**s.positions, name: after.positions[name]})

    def put(name: str) -> Callable[[State], State]:
        return lambda s: _like(s, after, sticks={**s.sticks, name: after.sticks[name]})

    yield from (switched(n) for n, position in before.positions.items() if after.positions[n] != position)
    yield from (put(n) for n, value in before.sticks.items() if after.sticks[n] != value)
    heard = _heard(before, after)
    if heard.readings != after.readings or heard.cell != after.cell:
        yield lambda s: _like(s, after, readings=after.readings, cell=after.cell)


def _heard(before: State, after: State) -> State:
    """A receiver that comes on does so with the first movement: no hand moves it."""
    if UNHEARD not in before.readings.values() or UNHEARD in after.readings.values():
        return before
    return replace(before, readings=after.readings, cell=after.cell)


def _like(state: State, after: State, **moved: object) -> State:
    """A state with something moved, and what is assumed of ties and curves as in the one that it leads to."""
    return replace(state, ties=after.ties, smoothing=after.smoothing, trim=after.trim, **moved)  # type: ignore[arg-type]


def unhurried(watch: Watch, timeline: Timeline, spell: Spell) -> tuple[Timeline, Spell]:
    """The same with waits that a pilot can count, as far as the spell then lasts as long."""
    timeline = timeline.until(spell.place)
    for place in range(len(timeline.at) - 1):
        gap = timeline.at[place + 1] - timeline.at[place]
        for seconds in (*(t for t in UNHURRIED if t < gap or gap < UNHURRIED[0]),):
            tried = timeline.with_gap(place, seconds)
            found = watch.spell(tried)
            if found is not None and found.place == spell.place and found.lasts_as_long_as(spell):
                timeline, spell = tried, found
                break
    return timeline, spell


def dated(states: tuple[State, ...], gaps: Sequence[Fraction]) -> Timeline:
    """States with the waits between them."""
    at = [ZERO]
    for gap in gaps:
        at.append(at[-1] + gap)
    return Timeline(states, tuple(at))


def tried_waits(setup: Setup, timed: Collection[str], settled: Fraction) -> list[Fraction]:
    """Waits between two changes that make a difference: everything settles; each time, 10 ms more, 10 ms less; 10 ms."""
    times = {t for name in timed for t in (setup.conditions[name].after, setup.conditions[name].stays) if t}
    found = {settled, TICK} | {max(TICK, time + d) for time in times for d in (-TICK, ZERO, TICK)}
    return sorted(found, reverse=True)
