"""A setup without one of its parts, as a transmitter into which it was never entered, and whether that reads otherwise."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction
from functools import partial

from setuplint.bench import card_model
from setuplint.bench.card_model import Reading, Row
from setuplint.bench.walk import failsafe_readings, readings
from setuplint.dataclass import replace
from setuplint.plain.evaluate import evaluate, truth
from setuplint.plain.state import Memory, State
from setuplint.setup import formulas as f
from setuplint.setup.model import Line, Setup, Term

TOLD = Fraction(3)  # points: readings are rounded, and one more or less is as good; from here on two can be told apart
KEPT = 32  # setups
NOTHING = Line((Term(Fraction(0), "number"),))


Without = Callable[[], Setup]


class Missing:
    """The setup without each of its parts, made when it is asked for. What is left out is there still, and never holds."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self._ways: dict[tuple[str, ...], Without] = {}
        self._made: dict[tuple[str, ...], Setup] = {}  # the last few: each is as large as the setup

    def _once(self, key: tuple[str, ...], make: Without) -> Without:
        return self._ways.setdefault(key, lambda: self._kept(key, make))

    def _kept(self, key: tuple[str, ...], make: Without) -> Setup:
        if key not in self._made:
            if len(self._made) >= KEPT:
                self._made.pop(next(iter(self._made)))
            self._made[key] = make()
        return self._made[key]

    def override(self, name: str) -> Without:
        return self._once(("override", name), lambda: self.setup.with_part("overrides", name, when=f.FALSE))

    def alarm(self, name: str) -> Without:
        return self._once(("alarm", name), lambda: self.setup.with_part("alarms", name, when=f.FALSE))

    def mode(self, name: str) -> Without:
        return self._once(("mode", name), lambda: self.setup.with_part("modes", name, when=f.FALSE))

    def memory(self, name: str) -> Without:
        """With a latch or toggle that is on while its cause holds, no longer."""
        forgets = partial(self.setup.with_part, "conditions", name, until=None, toggles=False)
        return self._once(("memory", name), forgets)

    def failsafe(self, channel: str) -> Without:
        """With a place that was not taught: it is kept as it was."""

        def kept() -> Setup:
            return replace(self.setup, failsafe={**(self.setup.failsafe or {}), channel: "keep"})

        return self._once(("failsafe", channel), kept)

    def line(self, channel: str, modes: Iterable[str]) -> Without:
        """A channel without its line in those modes: there it has its line of the other modes, or stands in the middle."""
        modes = tuple(modes)
        return self._once(("line", channel, *modes), lambda: self._without_line(channel, modes))

    def expo(self, channel: str) -> Without:
        """A channel whose sticks have none."""

        def straight(line: Line) -> Line:
            return replace(line, terms=line.terms and tuple(replace(term, expo=Fraction(0)) for term in line.terms))

        def made() -> Setup:
            left = self.setup.channels[channel].with_lines(straight)
            return replace(self.setup, channels={**self.setup.channels, channel: left})

        return self._once(("expo", channel), made)

    def _without_line(self, name: str, modes: tuple[str, ...]) -> Setup:
        channel = self.setup.channels[name]
        own = channel.own
        if not self.setup.modes or channel.lines[modes[0]] == own:
            own = NOTHING
        lines = {mode: own if mode in modes else line for mode, line in channel.lines.items()}
        return self.setup.with_part("channels", name, own=own, lines=lines)


def apart(one: Reading, other: Reading) -> bool:
    """Whether a pilot can tell them apart."""
    if not (one.values and other.values):
        return bool(one.values) != bool(other.values) or one.word != other.word
    gap = max(min(one.values) - max(other.values), min(other.values) - max(one.values))
    return gap >= TOLD


def heard(setup: Setup, state: State, memory: Memory) -> set[tuple[object, ...]]:
    """The sounds of all alarms that sound."""
    seen = evaluate(setup, state, memory)
    sounding = (a for a in setup.alarms.values() if truth(setup, f.Sounds(a.name), state, seen) is True)
    return {(a.voice, a.tone, a.vibrate, a.repeat) for a in sounding}


def announced(setup: Setup, start: tuple[State, Memory] | None, state: State, memory: Memory) -> str | None:
    """What is said of the mode that is flown now, and was not at the start."""
    seen = evaluate(setup, state, memory)
    if seen.mode is None or (start is not None and evaluate(setup, *start).mode == seen.mode):
        return None
    return setup.modes[seen.mode].voice


def _sounds_alike(setup: Setup, without: Setup) -> bool:
    """Whether nothing differs on which an alarm or a mode's voice could hang."""
    return all(getattr(setup, table) is getattr(without, table) for table in ("alarms", "conditions", "modes"))


def tells(setup: Setup, without: Setup, row: Row) -> bool:
    """Whether a row reads or sounds otherwise where the part is missing."""
    here, there = row.readings, readings(without, row.state, row.memory)
    if row.kind == card_model.GONE:
        there = failsafe_readings(without, there)
    if any(apart(here[name], there[name]) for name in here):
        return True
    if row.kind != card_model.READ or _sounds_alike(setup, without):
        return False
    return heard(setup, row.state, row.memory) != heard(without, row.state, row.memory) or (
        announced(setup, row.start, row.state, row.memory) != announced(without, row.start, row.state, row.memory)
    )
