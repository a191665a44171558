"""The engine and the oracle side by side: one setup, asked twice, and the engine's cases walked by the oracle."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from functools import cached_property
from typing import Any

import setuplint
from setuplint.engine.answers import Answer, Case, Timing
from setuplint.engine.decider import Decider
from setuplint.plain.state import State
from tests.oracle import search
from tests.oracle.formula import Formula
from tests.oracle.meaning import Memory, Value, World
from tests.oracle.paths import truths_after
from tests.oracle.search import Found, Unknown, admits
from tests.oracle.simulator import longest_wait, run


class Both:
    """One setup, for the engine and for the oracle."""

    def __init__(self, text: str) -> None:
        setup = setuplint.load_text(text, "random.toml")
        assert not setup.problems, setup.problems
        self.text = text
        self.decider: Decider = setuplint.decide(setup)
        self.written = World(text)

    @cached_property
    def world(self) -> World:
        """The oracle's, without a start check that nothing passes."""
        return self.written if admits(self.written) else self.written.without_start()

    # -- the engine's cases, as the oracle sees them

    def controls(self, state: State) -> dict[str, Value]:
        found: dict[str, Value] = dict(state.positions)
        found |= {name: state.sticks[name] for name in self.world.analogs}
        found |= {name: state.readings[name] for name in self.world.sensors}
        return found

    def choice(self, state: State) -> dict[tuple[str, str], Any]:
        """Who wins which tie there, and what unknown smoothings are."""
        values = {o.name: o.value for o in self.world.overrides}
        ties: dict[tuple[str, str], Any] = {("tie", c): values[name] for c, name in state.ties.items()}
        return ties | {("curve", name): kind for name, kind in state.smoothing.items()}

    def memory_before(self, case: Case) -> Memory:
        """Memory before the case's last state; ValueError where its states are no path from power-up."""
        steps = [self.controls(state) for state in case.states]
        if not case.steps:
            return self.world.memory_off
        truths_after(self.world, "sprung switches released", steps)
        memory = self.world.memory_off
        for controls in steps[:-1]:
            memory = self.world.settle(self.world.full(controls), memory).memory
        return memory

    def truth(self, formula: str | Formula, state: State, memory: Memory) -> bool | None:
        """A formula in a settled state, under what the state says of ties, smoothings and trims."""
        settled = self.world.settle(self.world.full(self.controls(state)), memory)
        return self.world.holds(self.world.parse(formula), settled, self.choice(state), dict(state.trim))

    def output(self, channel: str, state: State, memory: Memory) -> Fraction | None:
        settled = self.world.settle(self.world.full(self.controls(state)), memory)
        return self.world.output(channel, settled, self.choice(state), dict(state.trim))

    def shows(self, formula: str, case: Case) -> bool:
        """Whether the case's last state, reached by its steps, makes the formula true."""
        if case.timing is not None:
            return self.shown_in_time(formula, case, case.timing)
        return self.truth(formula, case.state, self.memory_before(case)) is True

    def shown_in_time(self, formula: str, case: Case, timing: Timing) -> bool:
        """Whether a run through the case's states at its moments makes the formula true from `since` on."""
        steps = [self.controls(state) for state in case.states]
        timeline = list(zip(timing.at, steps, strict=True))
        choice, parsed = self.choice(case.state), self.world.parse(formula)
        ends = (timing.since, timing.at[-1] + longest_wait(self.world))
        seen = (run(self.world, timeline, end, settled=False, choice=choice)[-1] for end in ends)
        return all(self.world.holds(parsed, moment, choice) is True for moment in seen)


NAMES = {"Found": "found", "Impossible": "impossible", "Unknown": "not-judged"}


def disagreement(text: str, formula: str) -> str | None:
    """What the engine and the oracle say differently of a question, or None. TooBig where the oracle cannot say."""
    both = Both(text)
    return compared(both, formula, both.decider.find(formula), search.find(both.written, formula))


def compared(both: Both, formula: str, ours: Answer, theirs: search.Answer) -> str | None:
    name = NAMES[type(theirs).__name__]
    lagged = isinstance(theirs, Found) and theirs.used_lag
    if ours.verdict == "not-decided":
        return None if lagged or not theirs.exact else f"oracle: {name}, ours: {ours}"
    if not ours.found:
        return None if ours.verdict == name else f"oracle: {name}, ours: {ours}"
    case = ours.case
    assert case is not None
    if not both.shows(formula, case):
        return f"the oracle does not see it in {case}"
    if case.timing is not None:
        return None
    if not isinstance(theirs, Found) or lagged:
        return f"oracle: {name}, ours: {ours} without a lag" if theirs.exact or isinstance(theirs, Unknown) else None
    if case.steps and len(case.states) - 1 != theirs.count:
        return f"steps {theirs.count} and ours {len(case.states) - 1}"
    return None


def found_by_seed(seeds: Sequence[int], ask: Any) -> Mapping[int, str]:
    """The disagreements of `ask(seed)`, by seed."""
    found = {}
    for seed in seeds:
        try:
            wrong = ask(seed)
        except search.TooBig:
            continue
        if wrong is not None:
            found[seed] = wrong
    return found
