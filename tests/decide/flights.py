"""Random flights in 10 ms ticks against what is said of moments: nothing that was proved is ever seen in one.

`python -m tests.decide.flights 10000` flies as many; the judge is the oracle's simulator, which shares nothing with ours. A
flight starts at power-up and moves controls at random, at times around those of the file. What is found is flown too.
"""

from __future__ import annotations

import sys
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from random import Random
from typing import Any

from setuplint.engine.answers import Answer, Case
from tests.decide.against import Both
from tests.oracle.formula import Formula, channels_in
from tests.oracle.meaning import Controls, State, Value, World
from tests.oracle.pick import Pick, number
from tests.oracle.setups import Maker, random_formula
from tests.oracle.simulator import TICK, Simulator, longest_wait
from tests.oracle.toml_text import to_toml

FLIGHTS_A_SETUP = 5
LONGEST = 900  # ticks of one flight
QUESTIONS = 9  # that are thought of for a setup, beside the hazards
KINDS = ["after", "after", "stays", "stays", "both", "until", "until-after", "until-after", "toggles", "toggles-after"]
TIMES = ["0.2", "0.3", "0.5", "0.6", "1", "1.25"]
PATIENCES = ["0", "0.3", "0.5", "1"]
HAZARDS = ["hold called and rotor driven", "hold called and motor runs", "rescue called and sprung switches released"]


class TimedMaker(Maker):
    """Setups in which most conditions take time, or remember, or both."""

    def condition(self) -> dict[str, Any]:
        pick = self.pick
        kind = pick.one(KINDS)
        table: dict[str, Any] = {"when": self.formula(self.conditions, modes=bool(self.modes), most=2)}
        if kind.endswith("after") or kind == "both":
            table["after"] = number(pick.one(TIMES))
        if kind in ("stays", "both"):
            table["stays"] = number(pick.one(TIMES))
        if kind.startswith("until"):
            table["until"] = self.formula(self.conditions, modes=bool(self.modes), most=2)
        if kind.startswith("toggles"):
            table["toggles"] = True
        return table

    def make_sensors(self) -> None:
        if self.pick.chance(30):
            super().make_sensors()


def timed_setup(seed: int) -> str:
    """The text of a setup, the same for the same seed."""
    return to_toml(TimedMaker(Pick(Random(f"flown {seed}").randint)).make())


def asked_of(seed: int, both: Both) -> tuple[str, Fraction] | None:
    """A formula and a patience that make a difference: false in all settled states, and some condition is slow. If one is
    met, a formula that can hold for a moment. The same for the same seed; None where none was met."""
    random = Random(f"asked {seed}")
    patience = Fraction(random.choice(PATIENCES))
    decider = both.decider
    found: tuple[str, Fraction] | None = None
    for formula in thought_of(seed, both.text, random):
        if "follows" in formula:  # the oracle asks that of settled states alone
            continue
        cone = decider.cone([decider.formula(formula)])
        if decider.paces.slowness(cone, patience).slow and decider.find(formula).impossible:
            if not decider.find_moment(formula, Fraction(0)).impossible:
                return formula, patience
            found = found or (formula, patience)
    return found


def thought_of(seed: int, text: str, random: Random) -> Iterator[str]:
    """Hazards, what only holds while one or two conditions are behind their `when`, and anything."""
    yield from HAZARDS
    tables = tomllib.loads(text).get("conditions", {})
    timed = [name for name, table in tables.items() if "after" in table or "stays" in table]
    for n in range(QUESTIONS):
        if timed and n % 3:
            picked = random.sample(timed, min(len(timed), n % 3))
            yield " and ".join(behind(name, tables[name], random) for name in picked)
        else:
            yield random_formula(100 * seed + n, text)


def behind(name: str, table: Mapping[str, Any], random: Random) -> str:
    """That a condition is on though its `when` does not hold, or the other way round."""
    lingers = "stays" in table and ("after" not in table or random.random() < 0.5)
    return f"{name} and not ({table['when']})" if lingers else f"({table['when']}) and not {name}"


# -- flying


class Flight:
    """One run of the oracle's simulator from power-up, and for how long a formula has held with no control moving."""

    def __init__(self, world: World, formula: Formula, start: Controls) -> None:
        self.world, self.formula = world, formula
        self.simulator = Simulator(world, start, settled=False, outputs=False)
        self.seen: dict[object, bool] = {}
        self.since: Fraction | None = None
        self.longest = Fraction(-1)
        self.look(moved=True)

    def advance(self, controls: Controls | None) -> None:
        self.simulator.advance(controls)
        self.look(moved=controls is not None)

    def look(self, *, moved: bool) -> None:
        now, t = self.simulator.now, self.simulator.t
        if self.since is not None:
            self.longest = max(self.longest, t - self.since)
        if not self.holds(now, moved):
            self.since = None
        elif moved or self.since is None:
            self.since = t

    def holds(self, state: State, moved: bool) -> bool:
        """Whether any choice of ties and unknown smoothings makes it true, outputs at their targets."""
        if moved:
            self.seen = {}
        key = tuple(state.conditions.values()), state.mode, state.memory
        if key not in self.seen:
            choices = self.world.choices(state, channels_in(self.formula))
            self.seen[key] = any(self.world.holds(self.formula, state, choice) is True for choice in choices)
        return self.seen[key]


def admitted(world: World, random: Random) -> Controls | None:
    """Controls that the start check admits at power-up, or None where none was met."""
    for _ in range(300):
        controls = placed(world, random, heard=False)
        if world.allowed(world.settle(world.full(controls), world.memory_off)):
            return controls
    return None


def placed(world: World, random: Random, *, heard: bool) -> dict[str, Value]:
    found: dict[str, Value] = {name: random.choice(words) for name, words in world.switches.items()}
    found |= {name: random.choice(places(world, name)) for name in world.analogs}
    return found | (readings(world, random) if heard else dict.fromkeys(world.sensors, "unheard"))


def places(world: World, name: str) -> list[Fraction]:
    """Values of a stick or sensor at and around what formulas compare it with, and its ends."""
    low, high = (Fraction(-100), Fraction(100)) if name in world.analogs else world.range_of(name)
    cuts = {number for where, number in compared(world) if where == name}
    near = {cut + d for cut in cuts for d in (-1, 0, 1)} | {low, high, (low + high) / 2}
    return sorted(x for x in near if low <= x <= high)


def compared(world: World) -> Iterator[tuple[str, Fraction]]:
    from tests.oracle.claims import compared as written

    yield from written(world)


def readings(world: World, random: Random) -> dict[str, Value]:
    """All sensors heard or lost; those of one pack agree."""
    cell = Fraction(random.choice(["2.9", "3.2", "3.25", "3.3", "3.4", "3.55", "4"]))
    found: dict[str, Value] = {}
    for name in world.sensors:
        factor = world.cell_factor(name)
        value = random.choice(places(world, name)) if factor is None else cell * factor
        found[name] = "lost" if random.random() < 0.2 else value
    return found


def moved(world: World, random: Random, controls: Mapping[str, Value]) -> dict[str, Value]:
    """One control elsewhere; now and then two at once."""
    after = dict(controls)
    names = [*world.switches, *world.switches, *world.analogs, *(["sensors"] if world.sensors else [])]
    for _ in range(1 if random.random() < 0.8 else 2):
        name = random.choice(names)
        if name == "sensors":
            after |= readings(world, random)
        elif name in world.switches:
            after[name] = random.choice([word for word in world.switches[name] if word != after[name]])
        else:
            after[name] = random.choice(places(world, name))
    return after


def waits(world: World) -> list[int]:
    """Ticks between two movements: around the times of the file, hasty and long."""
    times = {t for c in world.conditions.values() for t in (c.after, c.stays) if t}
    near = {int(t / TICK) + d for t in times for d in (-1, 0, 1)}
    return sorted({1, 2, 7, 45, int(longest_wait(world) / TICK)} | near)


def flown(world: World, formula: Formula, random: Random, start: Controls) -> Fraction:
    """The longest time for which the formula held in a random flight while no control moved."""
    flight = Flight(world, formula, start)
    controls: Mapping[str, Value] = world.full(start)
    ticks = 0
    while ticks < LONGEST:
        for _ in range(min(random.choice(waits(world)), LONGEST - ticks)):
            flight.advance(None)
            ticks += 1
        controls = moved(world, random, controls)
        flight.advance(controls)
        ticks += 1
    return flight.longest


# -- judging


class Tally(Counter[str]):
    """What was answered, how many flights were flown, and what was wrong."""

    def __init__(self) -> None:
        super().__init__()
        self.wrong: list[str] = []


def judge(seed: int, tally: Tally, flights: int = FLIGHTS_A_SETUP) -> None:
    """One setup and one question: fly what is proved, and what is found."""
    text = timed_setup(seed)
    both = Both(text)
    asked = asked_of(seed, both)
    if asked is None:
        return
    formula, patience = asked
    answer = both.decider.find_moment(formula, patience)
    tally[answer.verdict] += 1
    parsed = both.world.parse(formula)
    if answer.impossible:
        random = Random(f"flights {seed}")
        for _ in range(flights):
            start = admitted(both.world, random)
            if start is None:
                return
            tally["flights"] += 1
            longest = flown(both.world, parsed, random, start)
            if longest > patience:
                tally.wrong.append(f"{seed}: {formula} was proved for {patience} s and held for {float(longest)} s")
    elif answer.found:
        shown = replayed(both, parsed, patience, answer)
        if shown:
            tally.wrong.append(f"{seed}: {formula}, {patience} s: {shown}")


def replayed(both: Both, formula: Formula, patience: Fraction, answer: Answer) -> str:
    """What the oracle does not see of a case in time; nothing where it sees it all."""
    case = answer.case
    if case is None or case.timing is None:
        return ""
    timing = case.timing
    if timing.until is not None and timing.until - timing.since <= patience:
        return f"{timing} is no longer than that"
    if any(later - earlier < TICK for earlier, later in zip(timing.at, timing.at[1:], strict=False)):
        return f"{timing} moves faster than the simulator looks"
    held = held_in(both, formula, case)
    end = timing.until if timing.until is not None else timing.since + patience + 1
    missing = [t for t in ticks(timing.since, end) if not held.get(t)]
    return f"not seen at {float(missing[0])} of {timing}" if missing else ""


def ticks(since: Fraction, until: Fraction) -> Iterator[Fraction]:
    return (TICK * n for n in range(int(since / TICK), -int(-until / TICK // 1)))


def held_in(both: Both, formula: Formula, case: Case) -> dict[Fraction, bool]:
    """At each tick of a case, whether the formula holds there by what the case assumes."""
    assert case.timing is not None
    world, timing = both.world, case.timing
    coming: Sequence[tuple[Fraction, Any]] = list(zip(timing.at, case.states, strict=True))
    simulator = Simulator(world, both.controls(case.states[0]), settled=False, outputs=False)
    found: dict[Fraction, bool] = {}
    seen: dict[object, bool] = {}  # with the controls of the last step
    place = 0
    end = (timing.until if timing.until is not None else timing.since) + 5
    while simulator.t <= end:
        state = case.states[place]
        if place == len(case.states) - 1:
            now = simulator.now
            key = tuple(now.conditions.values()), now.mode, now.memory
            if key not in seen:
                seen[key] = world.holds(formula, now, both.choice(state), dict(state.trim)) is True
            found[simulator.t] = seen[key]
        moved_now = place + 1 < len(coming) and coming[place + 1][0] <= simulator.t + TICK
        place += moved_now
        simulator.advance(both.controls(case.states[place]) if moved_now else None)
    return found


def main(count: int, first: int = 0) -> Tally:
    """Fly so many flights, setup after setup."""
    tally, seed = Tally(), first
    while tally["flights"] < count:
        judge(seed, tally)
        seed += 1
        if seed % 200 == 0:
            print(dict(tally), f"{len(tally.wrong)} wrong", flush=True)
    return tally


if __name__ == "__main__":
    end = main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0)
    print(dict(end))
    print("\n".join(end.wrong) or "nothing wrong")
    sys.exit(bool(end.wrong))
