"""The engine against the oracle (tests/oracle, written from MEANING.md alone): verdicts, fewest steps, cases, on random
setups of the whole format."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.decide.against import Both, disagreement, found_by_seed
from tests.oracle import search, smt
from tests.oracle.cone import Cone
from tests.oracle.formula import And, Compare, Formula, Is, Not
from tests.oracle.meaning import World
from tests.oracle.search import Found, Impossible, TooBig
from tests.oracle.setups import formulas, random_formula, random_setup, setups


def chunks(count: int, size: int) -> list[range]:
    return [range(first, first + size) for first in range(0, count, size)]


@pytest.mark.quick(1)
@pytest.mark.parametrize("seeds", chunks(200, 40), ids=str)
def test_verdicts_steps_and_cases(seeds: range) -> None:
    """MEANING.md 2 and 6: found, impossible or not judged, in both directions; fewest steps; and the oracle sees it too."""

    def asked(seed: int) -> str | None:
        text = random_setup(seed)
        return disagreement(text, random_formula(seed, text))

    assert found_by_seed(seeds, asked) == {}


@pytest.mark.slow
@pytest.mark.parametrize("seeds", [range(66, 79), range(80, 86), range(87, 107)], ids=str)
def test_follows(seeds: range) -> None:
    """MEANING.md 7: `CHANNEL follows STICK`, beside other things. (The oracle is long about some seeds between.)"""

    def asked(seed: int) -> str | None:
        text = random_setup(seed)
        world, random = World(text), Random(f"follows {seed}")
        channel = random.choice(list(world.channels))
        read = [t.source for line in world.channels[channel].lines.values() for t in line.terms or ()]
        stick = random.choice([name for name in read if name in world.analogs] or ["throttle"])
        leaf = f"{random.choice(['not ', ''])}{channel} follows {stick}"
        return disagreement(text, random.choice([leaf, f"{leaf} and {random_formula(seed, text)}"]))

    assert found_by_seed(seeds, asked) == {}


LATCH = """format = 1
[conditions.l]
when = "throttle > 10"
until = "throttle < -10"
[curves.c]
points = [[-100, -100], [10, 0], [100, 0]]
[channels.x]
from = "throttle"
curve = "c"
"""
STEPS = """format = 1
[conditions.g]
when = "throttle > -50 and throttle < 50"
[curves.c]
points = [[-100, 0], [-50, 0], [50, 60], [100, 60]]
[channels.x]
from = "throttle"
curve = "c"
mix = [{ from = "aileron" }]
"""


@pytest.mark.parametrize(
    ("text", "formula", "verdict"),
    [
        (LATCH, "x follows throttle and throttle > 50", "found"),
        (LATCH, "not x follows throttle and throttle > 50 and l", "impossible"),
        (LATCH, "not x follows throttle", "impossible"),
        (STEPS, "x follows throttle and throttle > 60", "found"),
        (STEPS + "high = 40\n", "x follows throttle and throttle > 60 and aileron > 45", "impossible"),
        (STEPS + "high = 40\n", "x follows throttle and throttle > 60 and aileron > 39", "found"),
    ],
)
def test_follows_with_what_the_state_leaves_behind_and_over_flat_stretches(
    text: str, formula: str, verdict: str
) -> None:
    """A latch that the stick itself has just set is kept; two flat stretches apart differ beside another stick too."""
    both = Both(text)
    theirs = search.find(both.written, formula)  # for certain where it is found, or exact
    ours = both.decider.find(formula)
    assert ours.verdict == verdict
    assert ours.found or not isinstance(theirs, Found)
    if ours.case is not None:
        assert both.shows(formula, ours.case)


@pytest.mark.parametrize("formula", ["motor runs", "not motor runs", "not motor runs and hold is off", "not flying"])
def test_a_motor_channel_that_is_not_described_beside_one_that_is(formula: str) -> None:
    motors = '[channels.motor]\ndrives = "motor"\nfrom = "throttle"\n[channels.extra]\ndrives = "motor"\n'
    hold = '[switches.hold]\nkind = "two-position"\n[craft]\nmotor-off = -95\n'
    held = '[overrides.held]\nchannel = "extra"\nvalue = -100\nwhen = "hold is on"\n'
    assert disagreement("format = 1\n" + hold + motors + held, formula) is None


@pytest.mark.slow
@given(st.data())
@settings(
    max_examples=50,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
def test_setups_and_claims_that_hypothesis_makes(data: st.DataObject) -> None:
    text = data.draw(setups())
    formula = data.draw(formulas(text))
    try:
        assert disagreement(text, formula) is None
    except TooBig:
        return


@pytest.mark.slow
@pytest.mark.parametrize("seeds", chunks(60, 30), ids=str)
def test_verdicts_against_z3(seeds: range) -> None:
    """In both directions, memory free and unrolled from power-up. The model knows no lag."""
    decided = 0
    for seed in seeds:
        both = Both(text := random_setup(seed))
        formula = random_formula(seed, text)
        answer = both.decider.find(formula)
        lags = answer.case is not None and bool(answer.case.assumed)
        if answer.verdict == "not-decided" or lags or not smt.accepts(both.world, formula):
            continue
        depth = 4 if not answer.found else len(answer.case.states) - 1 if answer.case and answer.case.steps else 1
        try:
            steps = smt.find(both.world, formula, depth)
            unsure = None if answer.found else smt.find(both.world, formula, depth, unknown=True)
            free = smt.find_free(both.world, formula)
        except TimeoutError:
            continue
        decided += 1
        assert (steps is not None) == answer.found, (seed, formula, str(answer))
        assert steps is None or not answer.case or not answer.case.steps or steps == depth, (seed, formula)
        assert (unsure is not None) == (answer.verdict == "not-judged"), (seed, formula, str(answer))
        assert free or not answer.found, (seed, formula)
    assert decided >= 15


# What a case names


def named(both: Both, seed: int) -> tuple[Formula, dict[str, Formula]] | None:
    """A question and what its case names, as formulas; None where it has none, or memory, ties or smoothings count."""
    formula = both.world.parse(random_formula(seed, both.text))
    answer = both.decider.find(random_formula(seed, both.text))
    case = answer.case
    if case is None or case.steps or case.assumed or "unheard" in case.matters.values() or "cell" in case.matters:
        return None
    return formula, {name: is_at(name, value) for name, value in case.matters.items()}


def is_at(name: str, value: str | Fraction) -> Formula:
    if isinstance(value, str):
        return Is(name, value)
    return And((Compare(name, ">=", value), Compare(name, "<=", value)))


@pytest.mark.slow
@pytest.mark.parametrize("seeds", chunks(80, 40), ids=str)
def test_a_case_names_what_matters_and_nothing_else(seeds: range) -> None:
    """With all that is named, whatever else is moved, it still holds; with one left out it need not."""
    compared = 0
    for seed in seeds:
        both = Both(random_setup(seed))
        found = named(both, seed)
        if found is None:
            continue
        formula, controls = found
        world = both.world.without_start()
        try:
            enough = search.find(world, And((Not(formula), *controls.values())))
            fewer = {
                name: search.find(world, And((Not(formula), *(x for n, x in controls.items() if n != name))))
                for name in controls
            }
        except TooBig:
            continue
        compared += 1
        assert isinstance(enough, Impossible), (seed, controls)
        assert not [name for name, answer in fewer.items() if isinstance(answer, Impossible) and answer.exact], seed
    assert compared >= 6


@pytest.mark.slow
@pytest.mark.parametrize("seeds", chunks(150, 150), ids=str)
def test_a_case_moves_as_few_controls_as_can_be(seeds: range) -> None:
    """Without memory and sensors: no set of fewer controls off rest makes it hold."""
    compared = 0
    for seed in seeds:
        both = Both(random_setup(seed))
        formula, world = random_formula(seed, both.text), both.world.without_start()
        case = both.decider.find(formula).case
        movable = Cone(world, world.parse(formula))
        if case is None or case.steps or movable.sensors:
            continue
        controls = both.controls(case.state)
        off_rest = [name for name in (*movable.switches, *movable.analogs) if controls[name] != world.rest[name]]
        names = [*movable.switches, *movable.analogs]
        if len(names) > 6 or not off_rest:
            continue
        compared += 1
        for moved in combinations(names, len(off_rest) - 1):
            at_rest = [is_at(name, world.rest[name]) for name in names if name not in moved]
            assert not isinstance(search.find(world, And((world.parse(formula), *at_rest))), Found), (seed, moved)
    assert compared >= 6
