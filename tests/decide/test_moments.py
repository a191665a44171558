"""Moments (MEANING.md 8) by hand: hazards that last while a condition lags or lingers, and proofs that none does; and random
flights of the oracle's simulator, which see nothing that was proved not to be."""

from __future__ import annotations

from fractions import Fraction as F

import pytest

import setuplint
from setuplint.engine.answers import Answer, Case
from setuplint.engine.decider import Decider
from setuplint.plain import simulate
from setuplint.plain.state import State
from tests.decide.against import Both
from tests.decide.flights import Tally, judge, replayed

HAZARD = "hold called and rotor driven"


def decider(text: str) -> Decider:
    setup = setuplint.load_text(text, "made.toml")
    assert not setup.problems, setup.problems
    made: Decider = setuplint.decide(setup)
    return made


def made(conditions: str, when: str, requires: str = "hold is on") -> str:
    """A motor that the hold stops, but for an override above it."""
    start = f'[start]\nrequires = "{requires}"\n' if requires else ""
    return f"""format = 1
[craft]
motor-off = -95
[switches.hold]
kind = "two-position"
[switches.flight]
kind = "three-position"
positions = ["low", "mid", "high"]
[switches.save]
kind = "momentary"
{conditions}
[channels.motor]
drives = "motor"
from = "throttle"
[overrides.held]
channel = "motor"
value = -100
when = "hold is on"
priority = 100
[overrides.above]
channel = "motor"
value = 45
when = "{when}"
priority = 200
{start}[intent]
hold = "hold is on"
"""


def asked(text: str, patience: str = "0.5", formula: str = HAZARD, **keys: object) -> Answer:
    """The answer; a case is flown by the oracle, too."""
    both = Both(text)
    answer = both.decider.find_moment(formula, F(patience), **keys)  # type: ignore[arg-type]
    assert replayed(both, both.world.parse(formula), F(patience), answer) == ""
    return answer


def case_of(answer: Answer) -> Case:
    assert answer.case is not None
    assert answer.case.timing is not None
    return answer.case


def lasts(answer: Answer) -> float:
    timing = case_of(answer).timing
    assert timing is not None
    return float("inf") if timing.until is None else float(timing.until - timing.since)


TWO = '[conditions.low]\nwhen = "flight is low"\nstays = 1\n[conditions.late]\nwhen = "flight is mid"\nafter = {}\n'
BOTH = "low and not flight is low and late and not flight is high"
LINGERS = '[conditions.low]\nwhen = "flight is low"\nstays = 600\n'


@pytest.mark.slow
def test_a_condition_that_lingers_lets_the_motor_run_in_the_hold() -> None:
    answer = asked(made(LINGERS, "low and not flight is low"))
    case = case_of(answer)
    assert case.steps == ({"hold": "on"}, {"flight": "mid"})
    assert case.timing is not None
    assert (case.timing.at, case.timing.since, case.timing.until) == ((0, 1), 1, 601)
    assert (case.timing.waits, case.timing.stays) == ((), ("low",))
    assert case.evaluation.outputs["motor"] == 45


@pytest.mark.parametrize(("stays", "found"), [("0.5", False), ("0.51", True), ("0.501", True)])
def test_what_lasts_for_no_longer_than_the_patience_is_proved_away(stays: str, found: bool) -> None:
    """0.501 s is seen at 0.51 s, and so it is taken."""
    conditions = LINGERS.replace("600", stays)
    answer = asked(made(conditions, "low and not flight is low"))
    assert (answer.found, answer.impossible) == (found, not found)


def test_what_lingers_was_on_while_a_quick_condition_had_not_settled() -> None:
    """Settled, what it waits for never holds; for 0.3 s after power-up it does."""
    conditions = (
        '[conditions.awake]\nwhen = "hold is on or hold is off"\nafter = 0.3\n'
        '[conditions.waking]\nwhen = "not awake"\nstays = 0.6\n'
    )
    answer = asked(made(conditions, "awake and waking"))
    assert (case_of(answer).steps, lasts(answer)) == (({"hold": "on"},), 0.6)


def test_quick_conditions_that_follow_one_another_are_slow_together() -> None:
    chain = "".join(
        f'[conditions.c{n}]\nwhen = "{f"c{n - 1}" if n else "flight is low"}"\nstays = 0.2\n' for n in range(4)
    )
    for top, found in ((1, False), (3, True)):
        answer = asked(made(chain, f"c{top} and not flight is low"))
        assert (answer.found, answer.impossible) == (found, not found)
    assert lasts(asked(made(chain, "c3 and not flight is low"))) == pytest.approx(0.8)


def test_a_pulse_is_found_at_power_up_already() -> None:
    conditions = '[conditions.long]\nwhen = "save is pulled"\nafter = 2\n'
    answer = asked(made(conditions, "save is pulled and not long"))
    assert lasts(answer) == 2
    assert case_of(answer).steps == ({"hold": "on", "save": "pulled"},)
    assert asked(made(conditions, "save is pulled and not long"), "2").impossible


def test_memory_is_what_steps_from_power_up_lead_to() -> None:
    """Two latches of which each is reset by what sets the other are never both on, whatever lags."""
    latches = """[conditions.p]
when = "save is pulled"
until = "flight is high"
[conditions.q]
when = "flight is high"
until = "save is pulled"
"""
    slow = LINGERS.replace("600", "3")
    assert asked(made(latches + slow, "p and q and low and not flight is low")).impossible
    answer = asked(made(latches + slow, "q and low and flight is mid"))
    assert case_of(answer).steps[-1] == {"flight": "mid"}


def test_a_latch_that_catches_a_lag_keeps_the_motor_running() -> None:
    """The lag lasts 0.3 s, no longer than the patience; the latch that it sets lasts."""
    lag = '[conditions.slow]\nwhen = "flight is mid"\nafter = 0.3\n'
    latch = '[conditions.caught]\nwhen = "flight is mid and not slow and save is pulled"\nuntil = "flight is high"\n'
    answer = decider(made(lag + latch, "caught")).find_moment(HAZARD, F("0.5"))
    assert answer.found  # of settled states: hasty hands
    assert asked(made(lag + latch, "caught and not flight is low and not flight is mid")).impossible


def test_two_changes_in_haste() -> None:
    """Both linger, and each needs its own switch to have moved: one second apart at most."""
    two = (
        '[conditions.low]\nwhen = "flight is low"\nstays = 1\n[conditions.pulled]\nwhen = "save is pulled"\nstays = 2\n'
    )
    answer = asked(made(two, "low and not flight is low and pulled and not save is pulled"))
    assert answer.found
    assert lasts(answer) > 0.5
    # 1 s is what is left of the shorter one at most.
    assert not asked(made(two, "low and not flight is low and pulled and not save is pulled"), "1.2").found


def test_what_no_run_shows_is_not_decided_and_names_what_is_in_the_way() -> None:
    """`late` is on 0.9 s after `low`, which lingers for 1 s: both for 0.1 s, but that is arithmetic on times."""
    answer = asked(made(TWO.format("0.9"), BOTH))
    assert answer.verdict == "not-decided"
    assert answer.because == (
        "condition low stays on for 1 s; condition late comes 0.9 s late: it may be so meanwhile, and no timed run shows it",
    )
    assert lasts(asked(made(TWO.format("0.9"), BOTH), "0.05")) == pytest.approx(0.1)


@pytest.mark.slow
@pytest.mark.parametrize(("after", "verdict"), [("1", "impossible"), ("0.99", "not-decided"), ("3", "impossible")])
def test_what_comes_later_than_the_other_lingers_is_never_on_beside_it(after: str, verdict: str) -> None:
    """Of two whose `when` exclude one another; where they do not, both may be on."""
    assert asked(made(TWO.format(after), BOTH)).verdict == verdict
    together = TWO.replace('"flight is mid"', '"not flight is high"')
    assert asked(made(together.format(after), BOTH)).found


def test_what_may_itself_linger_is_not_held_to_its_time() -> None:
    """`late` comes after 2 s, and then stays for 5 s: it is on as `low` comes back, and goes again."""
    assert asked(made(TWO.format("2\nstays = 5"), "low and late and flight is high")).found


@pytest.mark.parametrize(("after", "stays", "verdict"), [("3", "0.4", "impossible"), ("3", "0.6", "found")])
def test_what_holds_only_while_one_lingers_briefly_is_proved_away(after: str, stays: str, verdict: str) -> None:
    """It comes late enough to be slow, and lingers for so long; or the other way round."""
    condition = f'[conditions.low]\nwhen = "flight is low"\nafter = {after}\nstays = {stays}\n'
    assert asked(made(condition, "low and not flight is low")).verdict == verdict
    turned = f'[conditions.low]\nwhen = "flight is low"\nafter = {stays}\nstays = {after}\n'
    assert asked(made(turned, "not low and flight is low")).verdict == verdict


def test_what_lingers_briefly_may_do_so_again_at_once() -> None:
    """Two that take turns last longer than each."""
    conditions = "".join(
        f'[conditions.s{n}]\nwhen = "flight is mid"\nafter = {after}\n[conditions.q{n}]\nwhen = "s{n}"\nafter = 0.4\n'
        for n, after in enumerate((1, 1.4))
    )
    answer = asked(made(conditions, "flight is mid and (s0 and not q0 or s1 and not q1)"))
    assert lasts(answer) == pytest.approx(0.8)


def test_a_condition_that_never_holds_is_in_nobodys_way() -> None:
    never = '[conditions.never]\nwhen = "flight is low and flight is mid"\nstays = 9\n'
    assert asked(made(never, "never")).impossible


def test_quick_ones_above_a_slow_one_that_keep_it_up_in_turn() -> None:
    """Each pulse lasts 0.4 s, and the next one begins as it ends: 0.8 s, though a slow condition changes between."""
    conditions = "".join(
        f'[conditions.s{n}]\nwhen = "flight is mid"\nafter = {after}\n[conditions.q{n}]\nwhen = "s{n}"\nafter = 0.4\n'
        for n, after in enumerate((1, 1.4))
    )
    answer = asked(made(conditions, "s0 and not q0 or s1 and not q1"))
    assert lasts(answer) == pytest.approx(0.8)
    assert asked(made(conditions, "s0 and not q0")).impossible


def test_modes_make_way_too() -> None:
    modes = '[modes.first]\nwhen = "not low"\n[modes.second]\n'
    slow = LINGERS.replace("600", "2")
    answer = asked(made(slow, "mode is second and not flight is low") + modes)
    assert lasts(answer) == 2


# -- what a question leaves out


def test_aloft_the_hold_has_been_off_for_five_seconds() -> None:
    """Which settles what rests on its switch alone within that time, and nothing else."""
    freed = '[conditions.freed]\nwhen = "hold is off"\nafter = {}\n'
    formula = "not hold called and not freed and flight is high"
    for after, aloft, found in (("4", False, True), ("4", True, False), ("6", True, True)):
        text = made(freed.format(after), "freed and hold is on")
        assert asked(text, formula=formula, aloft=aloft).found == found
    with_stick = freed.format("4").replace("hold is off", "hold is off and save is pulled")
    answer = asked(made(with_stick, "freed and hold is on"), formula=f"{formula} and save is pulled", aloft=True)
    timing = case_of(answer).timing
    assert timing is not None
    assert timing.since - timing.at[0] >= 5


@pytest.mark.slow
def test_cases_that_another_rule_speaks_of_are_passed_over() -> None:
    """The hold comes 3 s late, after power-up too; what lingers while it has long been called is another matter."""
    late = '[conditions.held]\nwhen = "hold is on"\nafter = 3\n'
    for above, found in (("not held", False), ("not held or low and not flight is low", True)):
        text = made(late + LINGERS, above)
        called = (decider(text).formula("hold called"),)
        assert asked(text).found
        answer = asked(text, passing=called)
        assert answer.found == found
        if found:
            timing = case_of(answer).timing
            assert timing is not None
            assert timing.waits == ()
            assert timing.since > 3


# -- before the first movement


def test_at_power_up_nothing_moves() -> None:
    early = '[conditions.early]\nwhen = "hold is on"\nafter = 2\n[conditions.then]\nwhen = "not early"\nstays = 3\n'
    text = made(early, "then and early")
    answer = asked(text, "0", at_start=True)
    assert case_of(answer).steps == ({"hold": "on"},)
    assert (case_of(answer).timing or None) is not None
    assert lasts(answer) == 3
    assert asked(text, "0", f"{HAZARD} and flight is mid and flight is high", at_start=True).impossible
    assert asked(made(early, "then and hold is off"), "0", at_start=True).impossible


def test_never_is_of_every_moment() -> None:
    pulse = '[conditions.long]\nwhen = "save is pulled"\nafter = 2\n'
    one = decider(made(pulse, "save is pulled and not long"))
    assert one.find("save is pulled and not long").impossible
    assert not one.never_holds("save is pulled and not long")
    assert one.never_holds("save is released and long")
    assert not one.never_holds("save is pulled")


# -- what does not rest on time costs nothing


def test_without_a_slow_condition_it_is_the_settled_question() -> None:
    one = decider(made(LINGERS.replace("600", "0.4"), "low and flight is mid"))
    settled = one.find(HAZARD)
    before = one.reach.sat.variables
    assert one.find_moment(HAZARD, F("0.5")) is settled
    assert one.find_moment("hold is on and hold is off", F(0)).impossible
    assert one.reach.sat.variables == before
    assert one.reach.sat.file.looks == 0


# -- ten minutes cost nothing


def test_the_simulator_looks_only_when_something_is_due(monkeypatch: pytest.MonkeyPatch) -> None:
    """A hazard of 600 s, a latch that catches what lingers for 600 s, and a delay of 600 s: in steps of 10 ms each run would
    be 60,000 moments."""
    looks = 0
    go_on = simulate._Run.go_on

    def counted(run: simulate._Run, now: int, state: State | None = None) -> simulate.Moment:
        nonlocal looks
        looks += 1
        return go_on(run, now, state)

    monkeypatch.setattr(simulate._Run, "go_on", counted)
    assert lasts(decider(made(LINGERS, "low and not flight is low")).find_moment(HAZARD, F("0.5"))) == 600
    caught = (
        LINGERS + '[conditions.caught]\nwhen = "low and flight is mid and save is pulled"\nuntil = "flight is high"\n'
    )
    one = decider(made(caught, "caught"))
    assert one.find("caught and flight is mid and save is released").case is not None
    assert one.delay("flight is mid", "motor").bound >= 600
    assert 0 < looks < 1000


# -- random flights


@pytest.mark.slow
@pytest.mark.parametrize("first", range(0, 200, 50))
def test_no_flight_shows_what_was_proved_and_every_case_can_be_flown(first: int) -> None:
    tally = Tally()
    for seed in range(first, first + 50):
        judge(seed, tally, flights=7)
    assert tally.wrong == []
    assert tally["flights"] >= 50
