"""Ranges, movements, trims, sums of several sticks and delays against the oracle's brute force, z3 and 10 ms simulator."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import pytest

import setuplint
from setuplint.budget import OutOfBudget
from tests.decide.against import Both, compared, found_by_seed
from tests.oracle import search, smt
from tests.oracle.claims import compared as thresholds
from tests.oracle.claims import decimal, operator
from tests.oracle.extremes import output_range
from tests.oracle.meaning import Choice, State, Value, World
from tests.oracle.movements import Movements
from tests.oracle.pick import Pick, combine, number
from tests.oracle.setups import Maker, random_formula, random_setup
from tests.oracle.simulator import TICK, Simulator, longest_wait, settling_time
from tests.oracle.toml_text import to_toml

F = Fraction
GRAIN = F(1, 1_000_000)


# Ranges (MEANING.md 9)


def given(seed: int, world: World) -> str:
    """A formula that names no output."""
    pick = Pick(Random(f"given {seed}").randint)
    cuts = thresholds(world)

    def leaf() -> str:
        kinds = ["switch", "switch"] + ["condition"] * 2 * bool(world.conditions)
        kinds += ["mode"] * bool(world.modes) + ["compare"] * 2 * bool(cuts)
        match pick.one(kinds):
            case "switch":
                name = pick.one(list(world.switches))
                return f"{name} is {pick.one(world.switches[name])}"
            case "condition":
                return pick.one(list(world.conditions))
            case "mode":
                return f"mode is {pick.one(list(world.modes))}"
        name, at = pick.one(cuts)
        return f"{name} {operator(pick)} {decimal(at)}"

    return "sprung switches released" if pick.chance(40) else combine(pick, leaf, 3)


def wrong_range(seed: int) -> str | None:
    both = Both(random_setup(seed))
    channel = Random(f"channel {seed}").choice(list(both.world.channels))
    formula = given(seed, both.world)
    try:
        theirs = output_range(both.written, channel, formula)
    except ValueError:  # paths may lag
        return None
    ours = both.decider.output_range(channel, formula)
    if theirs is None or ours.verdict != "found":
        return None if theirs is None and ours.verdict in ("impossible", "not-judged") else f"{ours} and {theirs}"
    for value, end, case in zip(
        (ours.least, ours.greatest), theirs, (ours.least_case, ours.greatest_case), strict=True
    ):
        assert value is not None
        assert case is not None
        memory = both.memory_before(case)
        if abs(value - end) > GRAIN:
            return f"{channel} given {formula}: ours {value}, theirs {end}"
        if both.output(channel, case.state, memory) != value or not both.truth(formula, case.state, memory):
            return f"{channel} given {formula}: {case} does not show {value}"
    return None


@pytest.mark.slow
@pytest.mark.parametrize("seeds", [range(90)], ids=str)
def test_the_least_and_greatest_output(seeds: range) -> None:
    assert found_by_seed(seeds, wrong_range) == {}


# Movements (MEANING.md 8)


def wrong_movement(seed: int) -> str | None:
    text = random_setup(seed)
    before, after = random_formula(seed, text), random_formula(seed + 10**6, text)
    both = Both(text)
    try:
        theirs = Movements(both.written, before, after)
    except ValueError:
        return None
    decider = both.decider
    movements = decider.movements([decider.formula(before), decider.formula(after)])
    answer = decider.find_movement(before, after)
    if answer.found != theirs.found(movements):
        return f"{before} -> {after}: ours {answer}"
    if (case := answer.case) is not None:
        assert case.after is not None
        assert case.movement is not None
        switch, position = case.movement
        memory = both.memory_before(case)
        state = both.world.settle(both.world.full(both.controls(case.state)), memory)
        if case.state.positions[switch] == position or case.after.positions[switch] != position:
            return f"{case.movement} is no movement"
        if not both.truth(before, case.state, memory) or not both.truth(after, case.after, state.memory):
            return f"{before} -> {after}: not seen in {case}"
    if "unknown" not in text:
        alone = Movements(both.written, before, after).stuck(decider.movements([decider.formula(after)]))
        stuck = decider.find_no_movement(before, after)
        if stuck.found != alone:
            return f"{before}, and nothing leads to {after}: ours {stuck}"
    return None


@pytest.mark.slow
def test_movements(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.oracle.movements.MOST", 150)
    assert found_by_seed([s for s in range(25) if "follows" not in both_formulas(s)], wrong_movement) == {}


def both_formulas(seed: int) -> str:
    text = random_setup(seed)
    return random_formula(seed, text) + random_formula(seed + 10**6, text)


TIE = """format = 1
[switches.a]
kind = "two-position"
[switches.b]
kind = "two-position"
[channels.x]
from = "throttle"
[overrides.o]
channel = "x"
value = -50
when = "a is on"
[overrides.p]
channel = "x"
value = 50
when = "a is on"
"""


@pytest.mark.parametrize("op", ["<=", ">="])
def test_a_tie_that_a_movement_makes_is_won_by_either(op: str) -> None:
    both = Both(TIE)
    end = "-50" if op == "<=" else "50"
    case = both.decider.find_movement("a is off", f"a is on and output x {op} {end}").case
    assert case is not None
    assert case.after is not None
    assert case.after_evaluation is not None
    assert case.after_evaluation.outputs["x"] == int(end)
    assert both.truth(f"output x {op} {end}", case.after, ()) is True


# Trims (MEANING.md 1)


def trimmed_setup(seed: int) -> str:
    pick = Pick(Random(f"trimmed {seed}").randint)
    file = Maker(pick).make()
    sticks = ("throttle", "aileron", "elevator", "rudder")
    file["sticks"] = {n: {"trim": number(pick.one(["5", "10", "2.5", "30"]))} for n in sticks if pick.chance(75)}
    return to_toml({key: value for key, value in file.items() if value})


def with_trim(text: str, formula: str) -> str | None:
    both = Both(text)
    answer = both.decider.find(formula, trim=True)
    theirs = search.find(both.written, formula, trim=True)
    if answer.case is not None:
        for name, trim in answer.case.state.trim.items():
            assert abs(trim) <= both.world.trims.get(name, 0), formula
    wrong = compared(both, formula, answer, theirs)
    return wrong and f"{formula}: {wrong}"


def beyond(seed: int) -> str | None:
    """An output at or past what it can be without trim."""
    text = trimmed_setup(seed)
    both, random = Both(text), Random(f"beyond {seed}")
    channel = random.choice(list(both.world.channels))
    ends = both.decider.output_range(channel)
    if ends.least is None or ends.greatest is None:
        return None
    op, end = random.choice([(">", ends.greatest), ("<", ends.least)])
    end += (1 if op == ">" else -1) * random.choice([F(0), F(1), F("2.4"), F("4.99"), F(5), F(8)])
    teachers = [name for name in both.world.analogs if "(" not in name]  # formulas never read a pupil's stick
    stick = f"{random.choice(teachers)} {random.choice(['<', '>='])} {random.choice(['-90', '0', '97.5'])}"
    formula = f"output {channel} {op} {decimal(end)}"
    return None if abs(end) > 150 else with_trim(text, random.choice([formula, f"{formula} and {stick}"]))


@pytest.mark.slow
def test_trims() -> None:
    def asked(seed: int) -> str | None:
        text = trimmed_setup(seed)
        formula = random_formula(seed, text)
        return None if "follows" in formula else with_trim(text, formula)

    assert found_by_seed(range(30), asked) == {}
    assert found_by_seed(range(60), beyond) == {}


def test_trims_of_two_sticks_in_a_sum() -> None:
    sticks = "[sticks.throttle]\ntrim = 10\n[sticks.aileron]\ntrim = 5\n"
    channel = '[channels.x]\nfrom = "throttle"\nmix = [{ from = "aileron", rate = 50 }]\n'
    text = "format = 1\n" + sticks + channel
    for formula in ("output x > 120", "output x > 102.4 and throttle <= 70 and aileron < 40"):
        assert with_trim(text, formula) is None
    decider = Both(text).decider
    assert decider.find("output x > 102.5 and throttle <= 70 and aileron <= 40", trim=True).impossible
    assert decider.find("output x >= 102.5 and throttle <= 70 and aileron <= 40", trim=True).found


# Sums of several sticks (MEANING.md 9), against z3, which is exact for what is linear


def mixed(random: Random, sticks: list[str], mirrored: bool) -> str:
    """Two or three channels that each add up the sticks, all a multiple of the first where they are `mirrored`."""
    text = 'format = 1\n[switches.s]\nkind = "two-position"\n'
    first = [random.choice([100, 50, -50, -100, 33.3, 75, 20]) for _ in sticks]
    for n in range(random.choice([2, 2, 3])):
        rates = [random.choice([100, 50, -50, -100, 33.3, 75, 20, 140]) for _ in sticks]
        if mirrored:
            factor = random.choice([1, -1, 0.5, -0.5])
            rates = [round(x * factor, 4) for x in first]
        terms = [f'{{ from = "{s}", rate = {x} }}' for s, x in zip(sticks[1:], rates[1:], strict=True)]
        terms += ['{ from = "s", values = { off = 0, on = 20 } }'] * random.choice([0, 0, 1])
        text += f'[channels.c{n}]\nfrom = "{sticks[0]}"\nrate = {rates[0]}\nmix = [{", ".join(terms)}]\n'
        text += random.choice(["", "", "reversed = true\n"]) + random.choice(["", "", "travel = [80, 110.5]\n"])
        text += random.choice(["", "", "sub-trim = -7.25\n"]) + random.choice(["", "", "", "high = 60\n"])
    return text


def sums(seed: int) -> tuple[str, str]:
    random = Random(f"sums {seed}")
    sticks = random.sample(["throttle", "aileron", "elevator", "rudder"], random.choice([2, 2, 3]))
    text = mixed(random, sticks, random.random() < 0.4)
    parts = []
    for n in range(text.count("[channels.")):
        for _ in range(random.choice([1, 1, 2])):
            at = random.choice([-120, -75, -50, -10, 0, 10, 25.5, 50, 75, 120, 140])
            parts.append(f"output c{n} {random.choice(['<', '<=', '>', '>='])} {at}")
    parts += random.choice(
        [[], [f"{random.choice(sticks)} {random.choice(['<', '>='])} {random.choice([-50, 0, 30])}"]]
    )
    formula = " and ".join(parts)
    return text, random.choice([formula, formula, formula.replace(" and ", " or ", 1)])


@pytest.mark.slow
@pytest.mark.parametrize("seeds", [range(25), range(25, 50)], ids=str)
def test_linear_sums_of_several_sticks_against_z3(seeds: range) -> None:
    undecided = 0
    for seed in seeds:
        text, formula = sums(seed)
        both = Both(text)
        try:
            answer = both.decider.find(formula)
            steps = smt.find(both.world, formula, 0)
        except (setuplint.setup.FormulaError, TimeoutError):
            continue
        undecided += answer.verdict == "not-decided"
        if answer.verdict != "not-decided":
            assert answer.found == (steps == 0), (text, formula)
        if answer.case is not None:
            assert both.shows(formula, answer.case), (text, formula)
    assert undecided <= 2


CURVED = """format = 1
[curves.c]
points = [[-100, -100], [-30, 10], [40, -20], [100, 100]]
smoothing = "natural"
[curves.d]
points = [[-100, 100], [-20, 10], [50, 30], [100, -100]]
smoothing = "natural"
[channels.x]
from = "throttle"
curve = "c"
mix = [{ from = "aileron", curve = "d" }, { from = "rudder", curve = "c" }]
[channels.y]
from = "throttle"
curve = "d"
mix = [{ from = "aileron", curve = "c" }, { from = "rudder", curve = "d" }]
"""


@pytest.mark.quick(1)
@pytest.mark.parametrize(("x", "y"), [("< -90", "> 90"), ("< -90", "> 0 and output y < 0.01"), ("> 20", "< -20")])
def test_two_sums_of_three_sticks_with_curves(x: str, y: str) -> None:
    """What is found is seen; what is called impossible is not met on a grid; else it is left undecided."""
    both = Both(CURVED)
    formula = f"output x {x} and output y {y}"
    answer = both.decider.find(formula)
    if answer.case is not None:
        assert both.shows(formula, answer.case)
    if answer.impossible:
        places = [F(n) for n in range(-100, 101, 10)]
        parsed = both.world.parse(formula)
        for a, b, c in ((a, b, c) for a in places for b in places for c in places):
            state = both.world.settle({**both.world.rest, "throttle": a, "aileron": b, "rudder": c}, ())
            assert both.world.holds(parsed, state, {}) is not True, (a, b, c)


TOUCHING = """format = 1
[switches.s]
kind = "two-position"
[curves.c]
points = [[-100, -100], [0, 0], [100, 100]]
[channels.x]
from = "throttle"
mix = [{ from = "aileron" }]
[channels.z]
from = "throttle"
curve = "c"
mix = [{ from = "aileron" }]
"""


def test_sums_that_only_touch_are_left_undecided_and_what_is_elsewhere_is_found() -> None:
    """Two sums that are the same without being written so: halving cannot tell them apart."""
    decider = Both(TOUCHING).decider
    assert decider.find("output x > 10 and output z <= 10").verdict in ("not-decided", "impossible")
    assert decider.find("(output x > 10 and output z <= 10) or (output x > 20 and output z < 30 and s is on)").found


@pytest.mark.parametrize(
    ("expo_a", "expo_b", "rate_b", "formula"),
    [
        (70, 15, 85, "output a <= -12.885473 and output b > -24.835458"),
        (45, 25, 85, "output a <= 32.673943 and output b > 33.410732"),
        (70, 25, 100, "output a > -40.075846 and output b <= -56.821237"),
    ],
)
def test_two_places_on_a_stick_closer_than_can_be_told(expo_a: int, expo_b: int, rate_b: int, formula: str) -> None:
    """Both outputs cross their numbers within a nanopercent of the stick: no case is made up between them."""
    text = f'[channels.a]\nfrom = "aileron"\nexpo = {expo_a}\n'
    text += f'[channels.b]\nfrom = "aileron"\nexpo = {expo_b}\nrate = {rate_b}\n'
    both = Both("format = 1\n" + text)
    answer = both.decider.find(formula)
    assert answer.impossible or (answer.case is not None and both.shows(formula, answer.case))


# Delays (MEANING.md 8)


def anywhere(world: World, random: Random, heard: bool) -> dict[str, Value]:
    controls: dict[str, Value] = {name: random.choice(words) for name, words in world.switches.items()}
    for name in world.analogs:
        controls[name] = F(random.choice([-100, -95, -60, 0, 50, 95, 100, random.randint(-100, 100)]))
    volts = F(random.choice([0, 300, 325, 330, 350, 360, 420]), 100)
    for name in world.sensors:
        factor = world.cell_factor(name)
        shown = volts * factor if factor else random.choice(world.range_of(name))
        controls[name] = "unheard" if not heard else "lost" if random.random() < 0.2 else shown
    return controls


def first_of_ties(world: World, state: State) -> Choice:
    """As the simulator has it where nothing is said."""
    choice: dict[tuple[str, str], object] = {("curve", name): "monotone" for name in world.curves}
    for channel in world.channels:
        if values := world.deciding(channel, state):
            choice["tie", channel] = values[0]
    return choice


def runs_over(seed: int) -> str | None:
    """A run of the 10 ms simulator that takes longer than the bound: out of a settled state, by one movement."""
    text = random_setup(seed)
    both, random = Both(text), Random(f"delay {seed}")
    world, switch = both.world, random.choice(list(both.world.switches))
    formula = random.choice([f"{switch} is {random.choice(world.switches[switch])}", random_formula(seed, text)])
    channel = random.choice(list(world.channels))
    if "follows" in formula:
        return None
    try:
        bound = both.decider.delay(formula, channel).bound
    except OutOfBudget:
        return None
    parsed = world.parse(formula)
    for _ in range(3):
        controls, memory, heard = anywhere(world, random, False), world.memory_off, False
        if not world.allowed(world.settle(world.full(controls), memory)):
            continue
        for _ in range(2):
            state = world.settle(world.full(controls), memory)
            for moved, word in both.decider.movements([both.decider.formula(formula)]):
                if controls[moved] == word or world.holds(parsed, state, first_of_ties(world, state)) is not False:
                    continue
                simulator = Simulator(world, controls, memory)
                simulator.advance({**controls, moved: word})
                samples, start = [simulator.sample()], simulator.t
                while simulator.t < start + longest_wait(world):
                    simulator.advance()
                    samples.append(simulator.sample())
                if world.holds(parsed, samples[-1], first_of_ties(world, samples[-1])) is not True:
                    continue
                took = settling_time(samples, channel, start)
                if took and took - TICK >= bound:  # it was not there a tick before
                    return f"{formula}, {channel}: {moved} to {word} took {took}, bound {bound}, {controls}, {memory}"
            memory = state.memory
            heard = heard or random.random() < 0.6
            controls = anywhere(world, random, heard)
    return None


@pytest.mark.slow
def test_no_run_is_longer_than_the_bound() -> None:
    assert found_by_seed(range(15), runs_over) == {}
