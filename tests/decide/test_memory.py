"""Reachability through memory (MEANING.md 6), by hand: latches, toggles, lags, and budgets that end visibly."""

from __future__ import annotations

from contextlib import suppress
from itertools import product
from random import Random

import pytest

import setuplint
from setuplint.budget import OutOfBudget, Spent
from setuplint.engine.answers import Answer
from setuplint.engine.search import CAUGHT, HASTE
from setuplint.plain.state import State
from setuplint.solver.lags import runs
from tests.decide.against import Both, compared
from tests.oracle import search


def switches(*names: str) -> str:
    return "format = 1\n" + "".join(f'[switches.{name}]\nkind = "two-position"\n' for name in names)


def selector(name: str, positions: int) -> str:
    words = ", ".join(f'"p{n}"' for n in range(positions))
    return f'[switches.{name}]\nkind = "selector"\npositions = [{words}]\n'


def condition(name: str, **keys: object) -> str:
    lines = [f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value}" for key, value in keys.items()]
    return f"[conditions.{name}]\n" + "\n".join(lines).replace("True", "true") + "\n"


def all_of(names: list[str]) -> str:
    return " and ".join(names)


def ask(text: str, formula: str) -> Answer:
    """The engine's answer; the oracle must agree where it can say."""
    both = Both(text)
    answer = both.decider.find(formula)
    with suppress(search.TooBig):
        assert compared(both, formula, answer, search.find(both.written, formula)) is None
    return answer


def steps(answer: Answer) -> int:
    assert answer.case is not None
    return len(answer.case.states) - 1


TWO = (
    switches("a", "b")
    + condition("p", when="a is on", until="b is on")
    + condition("q", when="b is on", until="a is on")
)


def test_two_latches_each_reset_by_what_sets_the_other_are_never_both_on() -> None:
    assert ask(TWO, "p and q").impossible
    assert steps(ask(TWO, "p")) == 0
    assert steps(ask(TWO, "p and a is off")) == 1
    assert steps(ask(TWO, "not p and not q and a is off and b is off")) == 0


@pytest.mark.parametrize("size", [3, 5])
def test_a_ring_of_latches(size: int) -> None:
    """Each is reset by what sets the next: never all at once, and never two neighbours without the later switch on first."""
    text = switches(*(f"s{n}" for n in range(size)))
    for n in range(size):
        text += condition(f"l{n}", when=f"s{n} is on", until=f"s{(n + 1) % size} is on")
    assert ask(text, all_of([f"l{n}" for n in range(size)])).impossible
    assert ask(text, "l0 and l1").found
    assert ask(text, "l0 and s0 is off and s1 is on").impossible


def test_latches_that_are_set_one_after_the_other() -> None:
    """Eleven in a row, so ten steps: more than are unrolled, found breadth first."""
    for size in (3, 6, 11):
        text = "format = 1\n" + selector("s", size + 1)
        for n in range(1, size + 1):
            before = f" and l{n - 1}" if n > 1 else ""
            text += condition(f"l{n}", when=f"s is p{n}{before}", until="s is p0")
        assert steps(ask(text, f"l{size}")) == size - 1
        assert ask(text, f"l{size} and not l{size - 1}").impossible


def test_a_receiver_that_was_heard_stays_on() -> None:
    """What a sensor set cannot stand beside a receiver that is off, however long the path."""
    text = switches("a") + '[sensors.link]\nreads = "link-quality"\n'
    text += condition("l", when="link > 50", until="a is on and a is off")
    assert ask(text, "l and not link >= 0 and link is not lost").impossible
    assert steps(ask(text, "l and link is lost")) == 2


@pytest.mark.slow
def test_twelve_toggles() -> None:
    """2^24 states of memory, and answers all the same."""
    names = [f"t{n}" for n in range(12)]
    text = switches(*(f"s{n}" for n in range(12)))
    text += "".join(condition(f"t{n}", when=f"s{n} is on", toggles=True) for n in range(12))
    assert steps(ask(text, all_of(names))) == 0
    assert steps(ask(text, all_of([*names, *(f"s{n} is off" for n in range(12))]))) == 1
    assert steps(ask(text, "not t0 and s0 is on")) == 2


def test_toggles_of_one_switch_keep_step() -> None:
    text = switches("a") + "".join(condition(name, when="a is on", toggles=True) for name in "xy")
    text += condition("z", when="a is off", toggles=True)
    assert ask(text, "x and not y").impossible
    assert ask(text, "not x and y").impossible
    assert steps(ask(text, "x and z and a is on")) == 1
    assert steps(ask(text, "not x and z and a is on")) == 2


def test_thirty_latches() -> None:
    row = switches("a", "b")
    for n in range(30):
        when = "a is on" if n == 0 else f"l{n - 1} and {'ab'[n % 2]} is on"
        row += condition(f"l{n}", when=when, until="a is on and b is on")
    assert steps(Both(row).decider.find("l29")) == 29
    assert Both(row).decider.find("l5 and not l4").impossible
    names = [f"l{n}" for n in range(30)]
    text = switches(*(f"s{n}" for n in range(30)))
    for n in range(30):
        text += condition(f"l{n}", when=f"s{n} is on", until=f"s{(n + 1) % 30} is on and s{(n + 2) % 30} is on")
    decider = Both(text).decider
    assert steps(decider.find(all_of([*names, *(f"s{n} is off" for n in range(30))]))) == 2
    assert decider.find("l0 and s1 is on and s2 is on").impossible


# Lags


def test_a_delay_caught_still_running() -> None:
    """`late` follows `a` after 2 s; a latch sees `a` without it in between. The answer says that it hangs on haste."""
    text = switches("a", "b") + condition("late", when="a is on", after=2)
    text += condition("l", when="a is on and not late", until="b is on")
    for formula in ("l", "l and a is off", "l and late"):
        case = ask(text, formula).case
        assert case is not None
        assert case.timing is not None
        assert case.assumed == (CAUGHT,)
    patient = text.replace("after = 2", "after = 0")
    assert ask(patient, "l").impossible


def test_hands_that_must_be_quick() -> None:
    """`x` stays on for 1 s after `a`; two movements have to come before it goes. The case says when; the oracle sees it so."""
    text = switches("a", "b") + condition("x", when="a is on", stays=1)
    text += condition("first", when="x and a is off and b is on", until="a is on")
    text += condition("second", when="first and x and b is off", until="a is on")
    case = ask(text, "second").case
    assert case is not None
    assert case.timing is not None
    assert case.assumed == (HASTE,)
    assert [state.positions for state in case.states] == [
        {"a": "on", "b": "off"}, {"a": "off", "b": "on"}, {"a": "off", "b": "off"}
    ]  # fmt: skip
    first, second, third = case.timing.at
    assert first == 0
    assert third - second < 1
    assert case.timing.since == third


def test_a_lag_that_no_run_shows() -> None:
    """Of two delays of one switch the shorter always ends first; the search does not know, and does not pretend to."""
    text = switches("a", "b") + condition("slow", when="a is on", after=2) + condition("fast", when="a is on", after=1)
    text += condition("l", when="slow and not fast", until="b is on")
    answer = Both(text).decider.find("l")
    assert answer.verdict == "not-decided"
    assert "delay" in answer.because[0]


def test_a_longer_path_without_haste_is_found_where_the_short_one_is_not_shown() -> None:
    text = switches("a") + condition("slow", when="a is on", after=2) + condition("fast", when="a is on", after=1)
    text += selector("s", 5) + condition("l1", when="s is p1", until="s is p0")
    text += condition("l2", when="l1 and s is p2", until="s is p0")
    text += condition("l3", when="l2 and s is p3", until="s is p0")
    text += condition("l", when="slow and not fast or l3 and s is p4", until="s is p0")
    case = Both(text).decider.find("l").case
    assert case is not None
    assert case.timing is None
    assert len(case.states) == 4


# Budgets


def parity(name: str, order: list[int]) -> str:
    text = condition(f"{name}0", when=f"s{order[0]} is on")
    for n, s in enumerate(order[1:], 1):
        one, other = f"{name}{n - 1} and s{s} is off", f"not {name}{n - 1} and s{s} is on"
        text += condition(f"{name}{n}", when=f"({one}) or ({other})")
    return text


def test_parity_over_fifty_switches_ends_within_its_budget() -> None:
    """Whether two parities taken in different order can differ is hard for any solver; what can be found is found."""
    order = list(range(50))
    other = order[:]
    Random(1).shuffle(other)
    text = switches(*(f"s{n}" for n in order)) + parity("p", order) + parity("q", other)
    decider = Both(text).decider
    answer = decider.find("p49 and not q49")
    assert answer.verdict == "not-decided"
    assert "conflicts" in answer.because[0]
    assert decider.find("p49 and q49").found


@pytest.mark.slow
def test_more_memory_than_can_be_walked_through() -> None:
    """Twelve toggles of which one at a time can change: 4,096 vectors are not enough, and that is said."""
    text = "format = 1\n" + selector("s", 12) + '[switches.z]\nkind = "momentary"\n'
    for n in range(12):
        text += condition(f"t{n}", when=f"z is pulled and s is p{n}", toggles=True)
    decider = Both(text).decider
    assert steps(decider.find("t0 and t1 and t2 and z is released")) == 3
    answer = decider.find(all_of([f"t{n}" for n in range(12)]))
    assert answer.verdict == "not-decided"
    assert "memory" in answer.because[0]


def test_the_fewest_movements_by_trying_every_state() -> None:
    """Cases of formulas of several switches, of which no order of the switches gives the fewest."""
    names, random = list("abcdefg"), Random(22)
    decider = setuplint.decide(setuplint.load_text(switches(*names)))
    most = 0
    for _ in range(40):
        parts = [sample(names, random) for _ in range(random.randint(2, 9))]
        fewest = min(sum(on) for on in product((0, 1), repeat=7) if all(_holds(part, on) for part in parts))
        case = decider.find(" and ".join(f"({' or '.join(f'{name} is on' for name in part)})" for part in parts)).case
        assert case is not None
        assert list(case.state.positions.values()).count("on") == fewest, parts
        most = max(most, fewest)
    assert most == 3


def sample(names: list[str], random: Random) -> list[str]:
    return random.sample(names, random.randint(2, 3))


def _holds(part: list[str], on: tuple[int, ...]) -> bool:
    return any(on["abcdefg".index(name)] for name in part)


def test_the_runs_that_catch_a_delay_are_work_of_the_file() -> None:
    """Each moment of a run looks at the whole setup, and what lingers brings many: thousands of conditions took minutes."""
    text = switches("a") + "".join(condition(f"x{n}", when="a is on", stays=1 + n) for n in range(40))
    setup = setuplint.load_text(text).model
    states = [State({"a": position}, {}, {}) for position in ("on", "off")]
    spent = Spent()
    next(runs(setup, states, spent))
    assert spent.work > 40 * 40 // 2
    with pytest.raises(OutOfBudget):
        next(runs(setup, states, Spent(most=400)))
