"""From lines to the parts of a setup: modes with their lines, and overrides for what a switch holds fast.

A channel that stands still with a switch is held by an override; one that follows sticks differently needs a mode of its own.
Each combination is held against what the parts so far give there, the simple ones first, so that a part is made only where
readings ask for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from itertools import combinations

from setuplint.dataclass import dataclass, field
from setuplint.interview.readings import Readings, ReadPlace
from setuplint.interview.readings_lines import Combination, FittedLine, combination_of, fitted_lines

FIRST = {"stop": 200, "hold": 100, "rescue": 50, "other": 10, "mode": 0}
PAIR = 20  # what is read of two switches together comes before either
STRAIGHT = (Fraction(-100), Fraction(0), Fraction(100))


@dataclass(slots=True)
class HeldChannel:
    """An override: what a channel gives with these switches so, but not in the modes of `but`."""

    channel: str
    value: Fraction
    when: Combination
    priority: int
    but: list[str] = field(default_factory=list)


@dataclass(slots=True)
class ReadMode:
    """A mode, and the lines that differ in it; `when` are all switches that call it."""

    name: str
    when: Combination
    lines: dict[str, FittedLine] = field(default_factory=dict)


@dataclass(slots=True)
class RateSwitch:
    """A channel's rate by a switch's positions."""

    switch: str
    at: dict[str, Fraction]


class Parts:
    """All that the readings ask for."""

    def __init__(self, readings: Readings) -> None:
        self.readings = readings
        self.lines = fitted_lines(readings)
        self.mode_switch = next((s for s in readings.switches.values() if s.use == "mode"), None)
        self.held: dict[str, list[HeldChannel]] = {channel: [] for channel in readings.channels}
        self.extra: list[ReadMode] = []  # before the others: the first whose `when` holds is flown
        self.rates: dict[str, RateSwitch] = {}
        self.rows: dict[Combination, list[ReadPlace]] = {}
        for place in readings.places:
            self.rows.setdefault(combination_of(readings, place), []).append(place)
        self.modes = self._modes()
        moved = {self.without_mode(key) for key in self.lines}
        for switches in sorted(moved - {()}, key=lambda key: (len(key), key)):
            self._take(switches)
        for key in sorted(self.lines, key=len):
            if any(not self.agrees(channel, key) for channel in self.lines[key]):
                self._set_apart(key)

    def without_mode(self, key: Combination) -> Combination:
        return tuple(pair for pair in key if self.mode_switch is None or pair[0] != self.mode_switch.name)

    def mode_of(self, key: Combination) -> str:
        return next((at for name, at in key if self.mode_switch and name == self.mode_switch.name), "")

    def own_line(self, channel: str) -> FittedLine:
        return self.lines[()].get(channel, FittedLine())

    def _modes(self) -> list[ReadMode]:
        if self.mode_switch is None:
            return []
        found = []
        for at in self.mode_switch.positions:
            key: Combination = () if at == self.mode_switch.positions[0] else ((self.mode_switch.name, at),)
            mode = ReadMode(at, ((self.mode_switch.name, at),))
            lines = self.lines.get(key, {})
            mode.lines = {channel: line for channel, line in lines.items() if line != self.own_line(channel)}
            found.append(mode)
        return found

    def flown(self, key: Combination) -> ReadMode | None:
        """The mode that is flown with these switches."""
        positions = {**{name: switch.positions[0] for name, switch in self.readings.switches.items()}, **dict(key)}
        for mode in [*self.extra, *self.modes]:
            if all(positions[name] == at for name, at in mode.when):
                return mode
        return None

    def line(self, channel: str, key: Combination) -> FittedLine:
        """What the parts so far make of a channel there."""
        mode = self.flown(key)
        there = self._all(key)
        there = self._all(key)
        held = [h for h in self.held[channel] if set(h.when) <= there and not (mode and mode.name in h.but)]
        if held:
            return FittedLine(max(held, key=lambda h: h.priority).value)
        if mode is not None and channel in mode.lines:
            return mode.lines[channel]
        rate = self.rates.get(channel)
        if rate is not None:
            at = dict(key).get(rate.switch, self.readings.switches[rate.switch].positions[0])
            return FittedLine(
                main=self.own_line(channel).main, points=tuple((x, x * rate.at[at] / 100) for x in STRAIGHT)
            )
        return self.own_line(channel)

    def _all(self, key: Combination) -> set[tuple[str, str]]:
        """The pairs of a combination, with the mode switch's even at rest."""
        rest = (
            {(self.mode_switch.name, self.mode_switch.positions[0])}
            if self.mode_switch and not self.mode_of(key)
            else set()
        )
        return {*key, *rest}

    def agrees(self, channel: str, key: Combination) -> bool:
        line = self.line(channel, key)
        return all(line.output(p.sticks) == p.reads[channel] for p in self.rows[key] if channel in p.reads)

    def _take(self, switches: Combination) -> None:
        """All combinations in which these switches are off rest, the mode aside."""
        keys = [key for key in self.lines if self.without_mode(key) == switches]
        for channel in self.readings.channels:
            there = [key for key in keys if channel in self.lines[key]]
            wrong = [key for key in there if not self.agrees(channel, key)]
            if wrong and not self._rate(channel, switches, there):
                self._hold(channel, switches, there, wrong)
        for key in keys:
            self._let_go(key)
        moving = [key for key in keys if any(not self.agrees(channel, key) for channel in self.lines[key])]
        if moving:
            self._add_modes(switches, keys, moving)

    def _hold(self, channel: str, switches: Combination, there: list[Combination], wrong: list[Combination]) -> None:
        """By overrides, where the channel stands still; one for all modes where it stands at the same everywhere."""
        still = {key: self.lines[key][channel] for key in wrong if not self.lines[key][channel].points}
        priority = max(FIRST[self.readings.switches[name].use] for name, _ in switches) + PAIR * (len(switches) - 1)
        values = {self.lines[key][channel].constant for key in there} if len(still) == len(wrong) else set()
        if len(values) == 1 and all(not self.lines[key][channel].points for key in there):
            self.held[channel].append(HeldChannel(channel, values.pop(), switches, priority))
            return
        for key, line in still.items():
            mode = (
                [(self.mode_switch.name, self.mode_of(key) or self.mode_switch.positions[0])]
                if self.mode_switch
                else []
            )
            self.held[channel].append(HeldChannel(channel, line.constant, (*switches, *mode), priority + 1))

    def _rate(self, channel: str, switches: Combination, there: list[Combination]) -> bool:
        """By a rate that hangs on the switch, where it is straight through the middle with it and without."""
        own = self.own_line(channel)
        if len(switches) > 1 or (channel in self.rates and self.rates[channel].switch != switches[0][0]):
            return False
        (name, at), rest = switches[0], self.readings.switches[switches[0][0]].positions
        lines = [own, *(self.lines[key][channel] for key in there)]
        if any(channel in mode.lines for mode in self.modes) or not all(map(_is_straight, lines)):
            return False
        if len({line.main for line in lines}) > 1 or len(set(lines[1:])) > 1:
            return False
        rate = self.rates.setdefault(channel, RateSwitch(name, dict.fromkeys(rest, own.points[-1][1])))
        rate.at[at] = lines[1].points[-1][1]
        return True

    def _add_modes(self, switches: Combination, keys: list[Combination], moving: list[Combination]) -> None:
        """Modes of their own; one for all where every channel does the same in each."""
        same = all(self._moves(key) == self._moves(keys[0]) for key in keys)
        for key in keys[:1] if same else moving:
            mode = self.mode_switch
            own: Combination = () if same or mode is None else ((mode.name, self.mode_of(key) or mode.positions[0]),)
            found = ReadMode("-".join(word for pair in (*own, *switches) for word in pair), (*own, *switches))
            for channel, line in self.lines[key].items():
                if line.points:
                    for held in self.held[channel]:
                        if set(self.without_mode(held.when)) <= set(switches):
                            held.but.append(found.name)
                if line != self.own_line(channel) and (line.points or not self._is_held(channel, key)):
                    found.lines[channel] = line
            self.extra.insert(self._place_of(found), found)

    def _let_go(self, key: Combination) -> None:
        """Where a channel moves as the mode that is flown there says, no override of a single switch holds it in that mode."""
        mode = self.flown(key)
        if mode is None or mode not in self.extra:
            return
        for channel, line in self.lines[key].items():
            held = [h for h in self.held[channel] if set(h.when) <= self._all(key)]
            if line.points and held and not self.agrees(channel, key):
                for each in held:
                    each.but.append(mode.name)
                if not self.agrees(channel, key):
                    for each in held:
                        each.but.remove(mode.name)

    def _set_apart(self, key: Combination) -> None:
        """A mode for this one combination, in which no override holds a channel that was read: what nothing simpler gives."""
        positions = {name: switch.positions[0] for name, switch in self.readings.switches.items()} | dict(key)
        mode = ReadMode("-".join(["only", *(word for pair in key for word in pair)]), tuple(positions.items()))
        for channel, line in self.lines[key].items():
            mode.lines[channel] = line
            for held in self.held[channel]:
                if set(held.when) <= self._all(key):
                    held.but.append(mode.name)
        self.extra.insert(0, mode)

    def _moves(self, key: Combination) -> Mapping[str, FittedLine]:
        return {channel: line for channel, line in self.lines[key].items() if line.points}

    def _is_held(self, channel: str, key: Combination) -> bool:
        return any(set(h.when) <= self._all(key) for h in self.held[channel])

    def _place_of(self, mode: ReadMode) -> int:
        """Before all that fewer switches call."""
        return next((n for n, other in enumerate(self.extra) if len(other.when) < len(mode.when)), len(self.extra))

    def unread(self) -> list[Combination]:
        """Pairs of switches that were never read off rest together."""
        read = [set(key) for key in self.lines]
        pairs = [(s.name, at) for s in self.readings.switches.values() for at in s.positions[1:]]
        two = [pair for pair in combinations(pairs, 2) if pair[0][0] != pair[1][0]]
        return [pair for pair in two if not any(set(pair) <= key for key in read)]


def _is_straight(line: FittedLine) -> bool:
    """Three points on a line through the middle, of one stick alone, and no steeper than the stick."""
    if line.added or tuple(x for x, _ in line.points) != STRAIGHT:
        return False
    low, middle, high = (y for _, y in line.points)
    return middle == 0 and low == -high and 0 < abs(high) <= 100


def formula_words(when: Iterable[tuple[str, str]], but: Iterable[str] = ()) -> str:
    return " and ".join([*(f"{name} is {at}" for name, at in when), *(f"mode is not {name}" for name in but)])
