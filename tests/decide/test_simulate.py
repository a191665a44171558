"""The timed simulator: IEC 61131-3 timing worked out by hand, a naive history of every instant, and the settled end."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction as F

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setuplint.plain.evaluate import evaluate, replay
from setuplint.plain.simulate import Moment, settle_time, simulate
from setuplint.plain.state import OFF, Memory, State
from setuplint.setup.formulas import And, Compare, Formula, Holds, ModeIs, Not, Or, SwitchIs, Unknown
from setuplint.setup.model import (
    Channel,
    Condition,
    Craft,
    Curve,
    Line,
    Mode,
    Override,
    Setup,
    Stick,
    Switch,
    Term,
)

MAYBE = Unknown("left out in the test")
A, B = SwitchIs("a", "on"), SwitchIs("b", "on")


def made(*conditions: Condition, **keys: object) -> Setup:
    switches = {name: Switch(name, "two-position", ("off", "on")) for name in ("a", "b")}
    named = {condition.name: condition for condition in conditions}
    base = {"switches": switches, "sticks": {"throttle": Stick("throttle")}, "conditions": named}
    return Setup(Craft("c"), **{**base, **keys})  # type: ignore[arg-type]


def at(on: str = "", throttle: int = 0) -> State:
    """The switches named in `on` are on."""
    return State({name: "on" if name in on else "off" for name in "ab"}, {"throttle": F(throttle)})


def run(setup: Setup, changes: Sequence[tuple[str, str]], until: str, start: str = "", **keys: object) -> list[Moment]:
    dated = [(F(when), at(on)) for when, on in changes]
    memory = evaluate(setup, at(start)).memory
    return list(simulate(setup, at(start), memory, dated, F(until), **keys))  # type: ignore[arg-type]


def edges(moments: list[Moment], name: str) -> list[tuple[str, bool | None]]:
    """The first value of a condition, and each change with its second."""
    found: list[tuple[str, bool | None]] = []
    for moment in moments:
        value = moment.evaluation.conditions[name]
        if not found or found[-1][1] is not value:
            found.append((f"{float(moment.at):g}", value))
    return found


def test_a_moment_each_10_ms_and_at_each_change() -> None:
    moments = run(made(), [("0.03", "a"), ("0.045", "")], "0.07")
    assert [m.at * 1000 for m in moments] == [0, 10, 20, 30, 40, 45, 50, 60, 70]
    at_once = run(made(Condition("c", A)), [("0", "a"), ("0.02", "")], "0.019")
    assert [(m.at * 1000, m.evaluation.conditions["c"]) for m in at_once] == [(0, False), (0, True), (10, True)]
    with pytest.raises(ValueError, match="order of time"):
        run(made(), [("0.2", "a"), ("0.1", "")], "1")
    with pytest.raises(ValueError, match="order of time"):
        run(made(), [("-0.1", "a")], "1")


def test_after_is_ton() -> None:
    """PT = 0.5: IN up at 1.0, Q up at 1.5, both down at 2.0; up for 0.49 from 3.0 gives no Q."""
    moments = run(made(Condition("c", A, after=F("0.5"))), [("1", "a"), ("2", ""), ("3", "a"), ("3.49", "")], "5")
    assert edges(moments, "c") == [("0", False), ("1.5", True), ("2", False)]


def test_stays_is_tof() -> None:
    """PT = 0.3: Q up with IN at 1.0; IN down at 2.0, Q down at 2.3. Up again at 3.2, before 3.3, starts it again."""
    changes = [("1", "a"), ("2", ""), ("2.9", "a"), ("3", ""), ("3.2", "a"), ("3.25", "")]
    moments = run(made(Condition("c", A, stays=F("0.3"))), changes, "5")
    assert edges(moments, "c") == [("0", False), ("1", True), ("2.3", False), ("2.9", True), ("3.55", False)]


def test_after_then_stays() -> None:
    """Up at 1.0, on at 1.5, down at 2.0, off at 2.3; a pulse of 0.4 does nothing, so there is nothing to stay."""
    moments = run(
        made(Condition("c", A, after=F("0.5"), stays=F("0.3"))), [("1", "a"), ("2", ""), ("3", "a"), ("3.4", "")], "5"
    )
    assert edges(moments, "c") == [("0", False), ("1.5", True), ("2.3", False)]


def test_until_is_rs_with_reset_winning_and_after_delays_only_when() -> None:
    """Set delayed by 0.5. Up at 1.0: on at 1.5, kept; reset at 2.0 at once; with both held from 3.0 off still at 4.0;
    reset let go at 4.0 with `when` long since held: on at 4.0."""
    setup = made(Condition("c", A, after=F("0.5"), until=B))
    moments = run(setup, [("1", "a"), ("1.6", ""), ("2", "b"), ("2.5", ""), ("3", "ab"), ("4", "a")], "5")
    assert edges(moments, "c") == [("0", False), ("1.5", True), ("2", False), ("4", True)]


def test_toggles_is_a_flip_flop_on_the_delayed_rise() -> None:
    changes = [("1", "a"), ("2", ""), ("3", "a"), ("3.1", ""), ("4", "a")]
    assert edges(run(made(Condition("c", A, toggles=True)), changes, "5"), "c") == [
        ("0", False),
        ("1", True),
        ("3", False),
        ("4", True),
    ]
    late = run(made(Condition("c", A, toggles=True, after=F("0.2"))), changes, "5")
    assert edges(late, "c") == [("0", False), ("1.2", True), ("4.2", False)]


def test_power_up_starts_afresh_and_a_settled_start_does_not() -> None:
    setup = made(
        Condition("ton", A, after=F("0.5")),
        Condition("tof", Not(A), stays=F("0.5")),
        Condition("turned", A, toggles=True),
        Condition("kept", Holds("ton"), until=B),
    )
    fresh, settled = run(setup, [], "1", start="a", from_power_up=True), run(setup, [], "1", start="a")
    assert edges(fresh, "ton") == [("0", False), ("0.5", True)]
    assert edges(fresh, "kept") == [("0", False), ("0.5", True)]
    assert edges(fresh, "turned") == [("0", True)]
    assert edges(fresh, "tof") == [("0", False)]
    assert edges(settled, "ton") == edges(settled, "kept") == edges(settled, "turned") == [("0", True)]
    assert edges(settled, "tof") == [("0", False)]


def test_power_up_forgets_the_memory_given() -> None:
    setup = made(Condition("kept", A, until=B))
    given = Memory(frozenset({"kept"}))
    fresh = next(simulate(setup, at(), given, [], F(0), from_power_up=True))
    settled = next(simulate(setup, at(), given, [], F(0)))
    assert (fresh.evaluation.conditions["kept"], settled.evaluation.conditions["kept"]) == (False, True)


def test_delays_follow_one_another() -> None:
    """a at 1.0, first at 1.3, second at 1.7; a down at 3.0: second lingers to 3.2."""
    setup = made(Condition("first", A, after=F("0.3")), Condition("second", Holds("first"), F("0.4"), F("0.2")))
    assert edges(run(setup, [("1", "a"), ("3", "")], "5"), "second") == [("0", False), ("1.7", True), ("3.2", False)]


def test_a_latch_catches_what_lags() -> None:
    """Hasty hands: `late` still lags when b comes, so the latch that needs `not late` sets. Unhurried it does not."""
    setup = made(Condition("late", A, after=F(1)), Condition("kept", And((A, B, Not(Holds("late")))), until=Not(A)))
    hasty = run(setup, [("1", "a"), ("1.5", "ab")], "4")
    assert edges(hasty, "kept") == [("0", False), ("1.5", True)]
    assert edges(run(setup, [("1", "a"), ("2.5", "ab")], "4"), "kept") == [("0", False)]
    assert replay(setup, [at(), at("a"), at("ab")])[-1].conditions["kept"] is False


def test_changes_between_the_instants_count_from_when_they_are() -> None:
    """Up at 0.015 with 0.1 to wait: 0.115 is first seen at 0.12. So is the end of 0.0955; of 0.095 it is 0.11."""
    waits = {"0.1": "0.12", "0.0955": "0.12", "0.095": "0.11"}
    for wait, on in waits.items():
        moments = run(made(Condition("c", A, after=F(wait))), [("0.015", "a")], "1")
        assert edges(moments, "c") == [("0", False), (on, True)]


def test_what_is_not_known_is_timed_both_ways() -> None:
    """`when` may hold from 1.0: perhaps on from 1.5. It surely holds from 2.0: surely on from 2.5. It surely does not
    from 3.0, and from 3.2 it has surely run out."""
    setup = made(Condition("c", Or((And((A, MAYBE)), B)), F("0.5"), F("0.2")))
    moments = run(setup, [("1", "a"), ("2", "ab"), ("3", "")], "5")
    assert edges(moments, "c") == [("0", False), ("1.5", None), ("2.5", True), ("3.2", False)]


# Ramps


def ramped(ramp_up: int = 0, ramp_down: int = 0, **keys: object) -> Channel:
    line = Line((Term("throttle", "stick"),), F(ramp_up), F(ramp_down))
    return Channel("out", None, "motor", line, {}, **keys)  # type: ignore[arg-type]


def held(value: int) -> dict[str, Override]:
    return {"held": Override("held", "out", F(value), A)}


def outputs(moments: list[Moment], *whens: str) -> list[F | None]:
    found = {moment.at: moment.evaluation.outputs["out"] for moment in moments}
    return [found[F(when)] for when in whens]


def test_a_ramp_takes_its_time_from_end_to_end() -> None:
    """Up 4 s, down 2 s: +50 and -100 percent a second; from 0 to 100 takes 2 s, back 1 s."""
    setup = made(channels={"out": ramped(4, 2)}, overrides=held(100))
    moments = run(setup, [("1", "a"), ("4", "")], "6")
    assert outputs(moments, "1", "1.01", "2", "2.99", "3", "3.5") == [0, F("0.5"), 50, F("99.5"), 100, 100]
    assert outputs(moments, "4", "4.01", "4.99", "5", "6") == [100, 99, 1, 0, 0]
    # 2/3 percent an instant: 99 is not a whole number of them, either way, and no ramp goes past its target.
    odd = run(made(channels={"out": ramped(3, 3)}, overrides=held(99)), [("1", "a"), ("4", "")], "6")
    assert outputs(odd, "2.48", "2.49", "5.48", "5.49") == [F("98.666667"), 99, F("0.333333"), 0]


def test_a_ramp_turns_round_where_it_is() -> None:
    setup = made(channels={"out": ramped(4, 2)}, overrides=held(100))
    moments = run(setup, [("1", "a"), ("2", ""), ("2.2", "a")], "5")
    assert outputs(moments, "2", "2.1", "2.2", "2.3", "3.6") == [50, 40, 30, 35, 100]
    assert moments[150].evaluation.demands == {"out": 100}
    assert moments[150].demands == {"out": 25}


def test_a_ramp_one_way_jumps_the_other_and_starts_at_its_target() -> None:
    setup = made(channels={"out": ramped(ramp_up=4)}, overrides=held(100))
    moments = run(setup, [("1", "")], "2", start="a", from_power_up=True)
    assert outputs(moments, "0", "0.99", "1") == [100, 100, 0]


def test_a_ramp_works_before_reversal_travel_and_limits() -> None:
    """From 0 towards 100 at 50 a second: after 1 s the demand is 50, out -50 x 80 % + 3 = -37; limited at -60."""
    out = ramped(4, reversed=True, down=F(80), sub_trim=F(3), low=F(-60))
    moments = run(made(channels={"out": out}, overrides=held(100)), [("1", "a")], "4")
    assert outputs(moments, "1", "2", "3", "4") == [3, -37, -60, -60]


def test_a_ramp_goes_by_the_line_of_the_mode_now() -> None:
    """Up in 4 s by the own line; in the mode 1 s, 200 percent a second, once b is on; then without any."""
    fast, none = Line((Term("throttle", "stick"),), F(1)), Line((Term("throttle", "stick"),))
    out = replace(ramped(4), lines={"fast": fast, "none": none})
    modes = {"fast": Mode("fast", And((B, A))), "none": Mode("none", B)}
    setup = made(channels={"out": out}, overrides=held(100), modes=modes)
    moments = run(setup, [("1", "a"), ("2", "ab"), ("2.1", "a"), ("2.3", "ab")], "3")
    assert outputs(moments, "2", "2.05", "2.1", "2.2", "2.3", "2.34", "2.4") == [50, 60, 70, 75, 80, 88, 100]
    to_none = replace(setup, overrides={"held": Override("held", "out", F(100), Or((A, B)))})
    assert outputs(run(to_none, [("1", "a"), ("2", "b")], "3"), "1.99", "2") == [F("49.5"), 100]


def test_a_ramp_is_unknown_while_it_may_be_anywhere() -> None:
    """Not known from 1 to 2: then from -1350 at 50 a second it surely is at 0 after 27 s. By a line that may have no
    ramp, or one of 4 s, it is on its way to 100 for 2 s."""
    out = ramped(4)
    setup = made(channels={"out": out}, overrides={"o": Override("o", "out", F(100), And((A, MAYBE)))})
    moments = run(setup, [("1", "a"), ("2", "")], "30")
    assert outputs(moments, "0.99", "1", "1.5", "2", "28.99", "29") == [0, None, None, None, None, 0]
    modes = {"odd": Mode("odd", MAYBE)}
    lines = {"odd": Line(out.own.terms)}
    both = made(channels={"out": replace(out, lines=lines)}, modes=modes, overrides=held(100))
    assert outputs(run(both, [("1", "a")], "4"), "0.99", "1", "2.99", "3") == [0, None, None, 100]


# Against the settled meaning, and against a naive history


def formulas(*more: Formula) -> st.SearchStrategy[Formula]:
    leaves = st.sampled_from([A, B, Not(A), Not(B), *more])
    pairs = st.tuples(leaves, leaves)
    return st.one_of(leaves, pairs.map(And), pairs.map(Or), leaves.map(Not))


WAITS = st.sampled_from([F(0), F("0.05"), F("0.1"), F("0.123")])


@st.composite
def setups(draw: st.DrawFn) -> Setup:
    conditions: list[Condition] = []
    modes = {"m": Mode("m", Or((A, B))), "n": Mode("n", None)}
    for name in ("c", "d", "e", "f"):
        known = [Holds(condition.name) for condition in conditions] + [ModeIs("m")]
        when, after = draw(formulas(*known)), draw(WAITS)
        kind = draw(st.sampled_from(["plain", "until", "toggles"]))
        condition = Condition(name, when, after, draw(WAITS) if kind == "plain" else F(0))
        if kind == "until":
            condition = replace(condition, until=draw(formulas(*known)))
        conditions.append(replace(condition, toggles=kind == "toggles"))
    curves = {"k": Curve("k", ((F(-100), F(-100)), (F(0), F(100)), (F(100), F(-50))), "natural")}
    lines = {name: Line((Term("throttle", "stick", curve="k"),), draw(WAITS), draw(WAITS)) for name in modes}
    channel = Channel("out", None, "motor", Line((Term(F(150), "number"),), draw(WAITS)), lines)
    overrides = {
        name: Override(name, "out", F(value), draw(formulas(Holds("f"))), F(value))
        for name, value in (("o", 150), ("p", -150))
    }
    return made(*conditions, modes=modes, curves=curves, channels={"out": channel}, overrides=overrides)


MOVES = st.lists(st.tuples(st.integers(0, 150), st.sampled_from(["", "a", "b", "ab"])), max_size=4)


def dated(moves: list[tuple[int, str]]) -> list[tuple[F, State]]:
    now, changes = F(0), []
    for wait, on in moves:
        now += F(wait, 1000)
        changes.append((now, at(on, throttle=-50 if on else 100)))
    return changes


@pytest.mark.slow
@given(setups(), MOVES, st.booleans())
@settings(max_examples=60)
def test_it_ends_settled(setup: Setup, moves: list[tuple[int, str]], fresh: bool) -> None:
    changes = dated(moves)
    end = (changes[-1][0] if changes else F(0)) + settle_time(setup)
    start = at("b")
    memory = evaluate(setup, start).memory
    last = list(simulate(setup, start, memory, changes, end, from_power_up=fresh))[-1]
    state = changes[-1][1] if changes else start
    assert last.evaluation == evaluate(setup, state, last.evaluation.memory)
    assert last.demands == last.evaluation.demands
    plain = {c.name: replace(c, until=None, toggles=False) for c in setup.conditions.values()}
    forgetful = replace(setup, conditions=plain)
    last = list(simulate(forgetful, start, OFF, changes, end, from_power_up=fresh))[-1]
    assert last.evaluation == evaluate(forgetful, state)


def naive(setup: Setup, instants: list[tuple[int, State]], memory: Memory, fresh: bool) -> list[dict[str, bool]]:
    """Every condition at every instant (ms), by looking back over all earlier ones; before that all was as at first."""
    whens: dict[str, list[bool]] = {name: [] for name in setup.conditions}
    delayed: dict[str, list[bool]] = {name: [] for name in setup.conditions}
    on = {name: name in memory.on for name in setup.conditions}
    last = {name: name in memory.last for name in setup.conditions}
    found: list[dict[str, bool]] = []
    times = [time for time, _ in instants]

    def since(values: list[bool], value: bool) -> int:
        """The first instant of the unbroken run of `value` that lasts to now."""
        first = len(values)
        while first and values[first - 1] is value:
            first -= 1
        return first

    for index, (time, state) in enumerate(instants):
        values: dict[str, bool] = {}

        def holds(formula: Formula, values: dict[str, bool] = values, state: State = state) -> bool:
            match formula:
                case And(items):
                    return all(holds(item) for item in items)
                case Or(items):
                    return any(holds(item) for item in items)
                case Not(item):
                    return not holds(item)
                case SwitchIs(switch, position):
                    return state.positions[switch] == position
                case Holds(other):
                    return values[other]
                case ModeIs("m"):
                    return holds(Or((A, B)))
            raise TypeError(formula)

        for name, condition in setup.conditions.items():
            whens[name].append(holds(condition.when))
            rise = since(whens[name], True)
            long_enough = rise == 0 and not fresh
            ton = whens[name][-1] and (long_enough or time - times[rise] >= condition.after * 1000)
            delayed[name].append(ton)
            fall = since(delayed[name], False)
            value = ton or (0 < fall <= index and time - times[fall] < condition.stays * 1000)
            if condition.until is not None:
                value = on[name] = not holds(condition.until) and (value or on[name])
            elif condition.toggles:
                on[name] ^= value and not last[name]
                last[name], value = value, on[name]
            values[name] = value
        found.append(values)
    return found


@pytest.mark.slow
@given(setups(), MOVES, st.booleans())
@settings(max_examples=60)
def test_every_moment_is_that_of_a_naive_history(setup: Setup, moves: list[tuple[int, str]], fresh: bool) -> None:
    changes, start = dated(moves), at("b")
    memory = OFF if fresh else evaluate(setup, start).memory
    end = F("0.6")
    moments = list(simulate(setup, start, memory, changes, end, from_power_up=fresh))
    left, instants, state = list(changes), [], start
    for index, moment in enumerate(moments):
        if index and left and left[0][0] == moment.at:
            state = left.pop(0)[1]
        instants.append((int(moment.at * 1000), state))
    assert {time for time, _ in instants} >= set(range(0, 601, 10))
    assert not [change for change in left if change[0] <= end]
    expected = naive(setup, instants, memory, fresh)
    assert [dict(moment.evaluation.conditions) for moment in moments] == expected


def repeated(moments: list[Moment], times: list[F]) -> list[Moment]:
    """A moment for each time after the first: the next one, where that is its time, or else the last one once more."""
    found, left = moments[:1], moments[1:]
    for time in times[1:]:
        found.append(left.pop(0) if left and left[0].at == time else replace(found[-1], at=time))
    return found + left


@pytest.mark.slow
@given(setups(), MOVES, st.booleans())
@settings(max_examples=40)
def test_jumping_leaves_out_only_what_repeats(setup: Setup, moves: list[tuple[int, str]], fresh: bool) -> None:
    changes, start = dated(moves), at("b")
    memory = OFF if fresh else evaluate(setup, start).memory
    all_, some = (
        list(simulate(setup, start, memory, changes, F("1.5"), from_power_up=fresh, jump=jump))
        for jump in (False, True)
    )
    assert repeated(some, [moment.at for moment in all_]) == all_


def test_ten_minutes_cost_as_many_moments_as_something_changes() -> None:
    setup = made(Condition("c", A, stays=F(600)), Condition("d", Holds("c"), after=F("100.005")))
    moments = list(simulate(setup, at(), OFF, [(F(1), at("a")), (F(2), at())], F(1000), from_power_up=True, jump=True))
    assert [float(moment.at) for moment in moments] == [0, 1, 2, 101.01, 602]
    assert [moment.late for moment in moments] == [{}, {"d": False}, {"c": True, "d": False}, {"c": True}, {}]


def test_settle_time() -> None:
    """0.5 + 0.3 and 1, each seen up to 20 ms late; then 300 percent at 200 in 4 s, 6 s, seen 10 ms late."""
    conditions = (Condition("c", A, F("0.5"), F("0.3")), Condition("d", B, after=F(1)), Condition("e", A))
    assert settle_time(made(*conditions)) == F("1.84")
    over = {"o": Override("o", "out", F(-150), A)}
    assert settle_time(made(*conditions, channels={"out": ramped(2, 4)}, overrides=over)) == F("1.84") + F("6.01")
    assert settle_time(made()) == 0


def test_compare_is_timed_too() -> None:
    setup = made(Condition("low", Compare("throttle", "<", F(0)), after=F("0.1")))
    moments = list(simulate(setup, at(), OFF, [(F("0.2"), at(throttle=-1))], F(1)))
    assert edges(moments, "low") == [("0", False), ("0.3", True)]
