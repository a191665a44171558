"""What a comparison tells, held against brute force over both set-ups."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from fractions import Fraction
from functools import cache
from typing import Any

import setuplint
from setuplint.comparison import plain_values
from setuplint.comparison.behaviour import Behaviour
from setuplint.comparison.changes import CraftChange
from setuplint.comparison.joined import Joined, joined_setups
from setuplint.comparison.regions import Region, RegionSet, contains
from setuplint.comparison.renames import full_matching
from setuplint.engine.answers import Case
from setuplint.plain.state import State
from tests.compare.joint import Difference, Joint, Spot, timers
from tests.oracle.formula import Const, Formula
from tests.oracle.meaning import Memory, Value, World
from tests.oracle.paths import truths_after
from tests.oracle.toml_text import to_toml

SPOTS = 60  # states, by chance, that are looked at for the parts of every change
CLOSE = Fraction(1, 100)  # of a stick's travel: where outputs meet at a place, they are almost the same beside it
SLIGHT = Fraction(1, 10_000)  # outputs are rounded: what is less apart is the same


class Told(Behaviour):
    """A comparison that keeps the case of each change."""

    def __init__(self, old: str, new: str) -> None:
        models = [setuplint.load_text(text).model for text in (old, new)]
        matching = full_matching(*models)
        self.cases: list[Case] = []
        super().__init__(joined_setups(*models, matching), matching)
        self.run()
        self.written = list(plain_values.value_changes(self.joined, matching))

    def change(self, kind: str, subject: str, before: Any, now: Any, found: RegionSet) -> CraftChange:
        self.cases.append(found.case)
        return super().change(kind, subject, before, now, found)

    def is_open(self, subject: str) -> bool:
        return any(each.subject in ("", subject) for each in self.open)


class Pair:
    """Two set-ups of the same controls, by the engine and by brute force."""

    def __init__(self, old: dict[str, Any], new: dict[str, Any]) -> None:
        texts = to_toml(old), to_toml(new)
        self.told = Told(*texts)
        self.joint = Joint(*map(World, texts))
        self.joined: Joined = self.told.joined
        self.worlds = self.joint.worlds

    def disagreements(self) -> Iterator[str]:
        told, (old, new) = self.told, self.worlds
        assert len(told.cases) == len(told.changes)
        for change, case in zip(told.changes, told.cases, strict=True):
            yield from self.shown(change, case)
        yield from self.modes()
        for name in old.channels:
            if name in new.channels:
                yield from self.outputs(name)
        for kind, name, pair in self.formulas():
            yield from self.truths(kind, name, pair)
        for spot in self.joint.spots(SPOTS):
            yield from self.parts(spot)

    def formulas(self) -> Iterator[tuple[str, str, tuple[Formula, Formula]]]:
        """What holds or not in both, by kind and name; what is not there never holds."""
        old, new = self.worlds
        for kind, ours, theirs in (
            ("alarm", old.alarms, new.alarms),
            ("timer", timers(old), timers(new)),
            ("intent", old.intent, new.intent),
        ):
            for name in dict.fromkeys([*ours, *theirs]):
                if kind != "timer" or (name in ours and name in theirs):
                    yield kind, name, (ours.get(name, Const(False)), theirs.get(name, Const(False)))

    # -- what is told is so

    def shown(self, change: CraftChange, case: Case) -> Iterator[str]:
        """The case of a change, walked by the oracle."""
        if case.timing is not None or change.kind == "start":
            return
        paths = [self.path(n, case, change.kind) for n in (0, 1)]
        states = [w.settle(w.full(p[-1]), m) for w, (p, m) in zip(self.worlds, paths, strict=True)]
        said = self.said(change, case, states)
        if said != (change.before, change.now):
            yield f"{change.kind} {change.subject}: told {change.before}, {change.now}; the oracle says {said}"

    def path(self, side: int, case: Case, kind: str) -> tuple[list[dict[str, Value]], Memory]:
        """The controls of a case's states, and the memory before the last."""
        world = self.worlds[side]
        steps = [self.controls(state) for state in case.states]
        memory = world.memory_off
        if case.steps:
            truths_after(world, "sprung switches released", steps)
            for controls in steps[:-1]:
                memory = world.settle(world.full(controls), memory).memory
        return steps, memory

    def controls(self, state: State) -> dict[str, Value]:
        found: dict[str, Value] = {**state.positions, **state.readings}
        return found | {name: value for name, value in state.sticks.items() if name in self.worlds[0].analogs}

    def said(self, change: CraftChange, case: Case, states: list[Any]) -> tuple[object, object]:
        if change.kind == "mode":
            return states[0].mode or "no mode", states[1].mode or "no mode"
        if change.kind == "output":
            return tuple(self.output(n, change.subject, case.state, states[n]) for n in (0, 1))  # type: ignore
        return tuple(self.word(n, change, states[n]) for n in (0, 1))  # type: ignore[return-value]

    def word(self, side: int, change: CraftChange, state: Any) -> str | None:
        world = self.worlds[side]
        table: Mapping[str, Formula] = {
            "alarm": world.alarms, "timer": timers(world), "intent": world.intent
        }[change.kind]  # fmt: skip
        yes, no = {"alarm": ("sounds", "silent"), "timer": ("runs", "stands"), "intent": ("called", "not called")}[
            change.kind
        ]
        if change.subject not in table:
            return no if change.kind == "intent" else None
        held = world.plain(table[change.subject], state.controls, state.conditions, state.mode)
        return yes if held else no

    def output(self, side: int, channel: str, state: State, settled: Any) -> Fraction | None:
        world, own = self.worlds[side], (self.joined.old, self.joined.new)[side]
        values = {o.name: o.value for o in world.overrides}
        winner = state.ties.get(own.joined_name(channel))
        choice: dict[tuple[str, str], Any] = {} if winner is None else {("tie", channel): values[winner[4:]]}
        choice |= {("curve", c): state.smoothing[j] for c, j in own.curves.items() if j in state.smoothing}
        return world.output(channel, settled, choice)

    # -- what is so is told

    def modes(self) -> Iterator[str]:
        told = {(c.before, c.now) for c in self.told.changes if c.kind == "mode"}
        full_matching = self.told.matching.modes
        for old, new in self.joint.modes():
            same = (full_matching.get(old) if old else None) == new
            if not same and (old or "no mode", new or "no mode") not in told and not self.told.is_open("mode"):
                yield f"mode: {old} before, {new} now is not told"

    def truths(self, kind: str, name: str, pair: tuple[Formula, Formula]) -> Iterator[str]:
        words = {"alarm": ("silent", "sounds"), "timer": ("stands", "runs"), "intent": ("not called", "called")}[kind]
        changes = self.changes(kind, name)
        for was, now, _ in self.joint.alone(*pair):
            told = [
                c
                for c in changes
                if (c.before, c.now) in ((words[was], words[now]), (None, words[now]), (words[was], None))
            ]
            if not told and not self.told.is_open(f"{kind} {name}"):
                yield f"{kind} {name}: {words[was]} before, {words[now]} now is not told"

    def outputs(self, name: str) -> Iterator[str]:
        subject = f"channel {name}"
        changes = self.changes("output", name)
        for spot, sticks, found in self.joint.outputs(name):
            found = [d for d in found if abs(d.outputs[0] - d.outputs[1]) >= SLIGHT]
            told = [c for c in changes if any(self.by(c, d, spot) for d in found)]
            if found and not told and not self.told.is_open(subject):
                yield f"{subject}: {found} is not told, {spot.controls} {sticks}"
                return
            if told and all(c.whole for c in told) and not any(self.covers(c, spot, sticks) for c in told):
                yield f"{subject}: {found} is in no part, {spot.controls} {sticks} {told}"
                return

    # -- the states that are told

    def parts(self, spot: Spot) -> Iterator[str]:
        """A state is in a part of a change if it shows it, and only then."""
        for kind, name, pair in self.formulas():
            held = [
                w.plain(f, s.controls, s.conditions, s.mode)
                for w, f, s in zip(self.worlds, pair, spot.states, strict=True)
            ]
            for change in self.changes(kind, name):
                shows = held == [x in ("sounds", "runs", "called") for x in (change.before, change.now)]
                yield from self.fits(change, spot, {}, shows)
        for change in self.changes("mode", ""):
            shows = [s.mode or "no mode" for s in spot.states] == [change.before, change.now]
            yield from self.fits(change, spot, {}, shows)
        for name in self.worlds[0].channels.keys() & self.worlds[1].channels.keys():
            for change in self.changes("output", name):
                yield from self.outputs_at(change, spot)

    def outputs_at(self, change: CraftChange, spot: Spot) -> Iterator[str]:
        """Along the sticks: that two outputs meet at a single place is no matter, at two neighbouring ones it is."""
        met: dict[object, list[Fraction]] = {}
        for sticks, found in self.joint.along(change.subject, spot).places:
            apart = [d for d in found if self.by(change, d, spot)]
            own = [x for name, x in sticks.items() if name in (change.sticks or ())]
            others = tuple(x for name, x in sticks.items() if name not in (change.sticks or ()))
            covered = self.covers(change, spot, sticks)
            if any(abs(d.outputs[0] - d.outputs[1]) >= SLIGHT for d in apart):
                met[others] = []
                more = [c for c in self.changes("output", change.subject) if c is not change]
                if change.whole and not covered and not any(self.covers(c, spot, sticks) for c in more):
                    yield f"{change} is not told at {spot.controls} {sticks}"
            elif covered and not apart and len(sticks) < 2:
                met.setdefault(others, []).extend(own)
                if not own or max(met[others]) - min(met[others]) > CLOSE:
                    yield f"{change} is not so at {spot.controls} {sticks}"
                    return
            elif not covered:
                met[others] = []

    def fits(self, change: CraftChange, spot: Spot, sticks: Mapping[str, Fraction], shows: bool) -> Iterator[str]:
        covered = self.covers(change, spot, sticks)
        if covered != shows and (covered or change.whole):
            yield f"{change} {'is not so' if covered else 'is not told'} at {spot.controls}"

    def changes(self, kind: str, subject: str) -> list[CraftChange]:
        return [c for c in self.told.changes if (c.kind, c.subject) == (kind, subject)]

    def by(self, change: CraftChange, difference: Difference, spot: Spot) -> bool:
        modes = spot.states[0].mode, spot.states[1].mode
        return by_both((change.was_by, change.by), difference.who, modes)

    def covers(self, change: CraftChange, spot: Spot, sticks: Mapping[str, Fraction]) -> bool:
        if change.sticks is not None:
            for name, stretches in change.sticks.items():
                at = sticks.get(name, spot.controls[name])
                if not any(lo <= at <= hi for lo, hi in stretches):
                    return False
        return any(self.within(part, spot, sticks) for part in change.where)

    def within(self, part: Region, spot: Spot, sticks: Mapping[str, Fraction]) -> bool:
        at = {**spot.controls, **sticks}
        for name, places in part.positions.items():
            if at[name] not in places:
                return False
        for name, interval in part.between.items():
            value = at[name]
            if isinstance(value, str) or not contains(interval, value):
                return False
        if any(at[name] != "lost" for name in part.lost):
            return False
        if part.off and any(at[name] != "unheard" for name in self.worlds[0].sensors):
            return False
        return all(self.remembers(name)(spot) == on for name, on in part.remembered.items())

    def remembers(self, name: str) -> Any:
        """A joined condition, read in the states of its own side."""
        for n, side in enumerate((self.joined.old, self.joined.new)):
            for own, joined in side.conditions.items():
                if joined == name:
                    return lambda spot, n=n, own=own: spot.states[n].conditions[own]
        raise KeyError(name)


@cache
def by_both(told: tuple[str, str], who: tuple[str | None, str | None], modes: tuple[str | None, str | None]) -> bool:
    """Whether on each side it is the override that is told, or the line in a mode that is."""
    return all(map(decides, told, who, modes))


def decides(told: str, override: str | None, mode: str | None) -> bool:
    if override is not None or told.startswith("override "):
        return told == f"override {override}"
    return not told or (mode or "no mode") in re.sub("^modes? ", "", told).replace(" and ", ", ").split(", ")
