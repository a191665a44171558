"""Examples worked by hand from MEANING.md; its sections are named beside them."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline, CubicSpline, PchipInterpolator  # type: ignore[import-untyped]

from . import smt
from .curves import Curve, expo, expo_inverse
from .formula import FormulaError, parse
from .meaning import World
from .paths import replay
from .places import round_output
from .search import Found, Impossible, admits, find
from .simulator import replay_timed

F = Fraction


def answer_of(text: str, formula: str) -> str:
    """The kind of answer of the search, with its steps; z3 must agree."""
    world = World(text)
    answer = find(world, formula)
    if smt.accepts(world, formula):
        asked = world if admits(world) else world.without_start()
        depth = answer.count if isinstance(answer, Found) else 3
        assert smt.find(asked, formula, depth) == (answer.count if isinstance(answer, Found) else None)
    if isinstance(answer, Found):
        assert replay(world, formula, answer)
        return f"found in {answer.count}"
    return type(answer).__name__


# Curves, against scipy


@given(st.lists(st.integers(-100, 100), min_size=2, max_size=8, unique=True), st.data())
@settings(max_examples=60)
def test_curves_agree_with_scipy(xs: list[int], data: st.DataObject) -> None:
    xs.sort()
    ys = [data.draw(st.integers(-150, 150)) for _ in xs]
    points = [(F(x), F(y)) for x, y in zip(xs, ys, strict=True)]
    ends = [(ys[k + 1] - ys[k]) / (xs[k + 1] - xs[k]) for k in (0, len(xs) - 2)]
    through = [(ys[k + 1] - ys[k - 1]) / (xs[k + 1] - xs[k - 1]) for k in range(1, len(xs) - 1)]
    reference = {
        "monotone": PchipInterpolator(xs, ys),
        "cardinal": CubicHermiteSpline(xs, ys, [ends[0], *through, ends[1]]),
        "natural": CubicSpline(xs, ys, bc_type="natural"),
    }
    for kind, other in reference.items():
        curve = Curve(points, kind)
        for k in range(41):
            x = xs[0] + F(k, 40) * (xs[-1] - xs[0])
            assert abs(float(curve.at(x)) - float(other(float(x)))) < 1e-8
        assert curve.at(F(-200)) == ys[0]
        assert curve.at(F(200)) == ys[-1]


@pytest.mark.parametrize("kind", ["none", "monotone", "cardinal", "natural"])
def test_a_curve_is_monotone_between_its_turns(kind: str) -> None:
    curve = Curve([(F(-100), F(-100)), (F(-60), F(60)), (F(0), F(24)), (F(30), F(80)), (F(100), F(70))], kind)
    turns = curve.turns()
    for low, high in pairwise(turns):
        ys = [curve.at(low + (high - low) * F(k, 20)) for k in range(21)]
        steps = [b - a for a, b in pairwise(ys)]
        assert all(s > -1e-9 for s in steps) or all(s < 1e-9 for s in steps)


def test_expo_by_hand() -> None:
    assert expo(F(20), F(50)) == F("42.5")  # 0.8 x 0.5 + 0.2 x 0.125
    assert expo(F(-50), F(100)) == 100
    assert abs(expo(F(35), expo_inverse(F(35), F(-17))) + 17) < F(1, 10**9)


# Formulas, section 2


def test_not_binds_tighter_than_and_and_than_or() -> None:
    assert parse("not a and b or c") == parse("((not a) and b) or c")
    assert parse("x is not on") == parse("not x is on")
    assert parse("throttle<-95") == parse("throttle < -95")


@pytest.mark.parametrize(
    "text", ["", "a and", "a b", "(a", "x <", "x < y", "output m < 3", "hold called", "and", "x is 3"]
)
def test_what_is_no_formula(text: str) -> None:
    with pytest.raises(FormulaError):
        parse(text)


SWITCHES = """
[switches.a]
kind = "two-position"
[switches.b]
kind = "two-position"
[switches.m]
kind = "momentary"
"""


# Controls, section 1

SENSORS = """
[battery]
cells = 3
[sensors.pack]
reads = "pack-voltage"
[sensors.cell]
reads = "cell-voltage"
[sensors.link]
reads = "link-quality"
"""


def test_an_unheard_sensor_compares_with_nothing() -> None:
    world = World(SENSORS)
    for formula, value in [
        ("not pack < 21", True),
        ("pack is not lost", True),
        ("pack is lost", False),
        ("link >= 0", False),
    ]:
        assert world.truths(formula, {}) == {value}
    lost = {"pack": "lost", "cell": "lost", "link": "lost"}
    assert world.truths("pack is lost and not link >= 0", lost) == {True}


def test_a_cell_is_a_third_of_three_cells_exactly() -> None:
    assert World(SENSORS).truths(
        "cell <= 3.3 and not pack < 9.9", {"pack": F("9.9"), "cell": F("3.3"), "link": F(50)}
    ) == {True}
    assert answer_of(SENSORS, "pack < 9.9 and cell >= 3.3") == "Impossible"
    assert answer_of(SENSORS, "pack > 9.9 and cell <= 3.3") == "Impossible"
    assert answer_of(SENSORS, "pack <= 9.9 and cell >= 3.3") == "found in 1"
    assert answer_of(SENSORS, "pack < 9.9 and cell is lost") == "found in 1"
    with pytest.raises(ValueError, match="contradict"):
        World(SENSORS).settled({"pack": F("9.9"), "cell": F("3.4"), "link": "lost"})


def test_without_cells_a_pack_is_a_quantity_of_its_own() -> None:
    assert answer_of(SENSORS.replace("cells = 3", ""), "pack < 9.9 and cell >= 3.3") == "found in 1"


def test_the_receiver_stays_on_once_it_is_on() -> None:
    text = SWITCHES + SENSORS + '[conditions.once]\nwhen = "link >= 0"\nuntil = "a is on"\n'
    assert answer_of(text, "once") == "found in 1"
    assert answer_of(text, "once and not link >= 0 and link is not lost") == "Impossible"
    assert answer_of(text, "not once and not link >= 0 and link is not lost") == "found in 0"


# Conditions and memory, sections 3 and 6

LATCHES = (
    SWITCHES
    + """
[conditions.one]
when = "a is on"
until = "b is on"
[conditions.two]
when = "b is on"
until = "a is on"
"""
)


def test_two_latches_each_reset_by_the_switch_that_sets_the_other_are_never_both_on() -> None:
    assert answer_of(LATCHES, "one and two") == "Impossible"
    assert answer_of(LATCHES, "one and a is off and b is off") == "found in 1"
    assert answer_of(LATCHES, "not one and a is on") == "found in 0"  # reset wins
    start = '[start]\nrequires = "a is off and b is off"\n'
    assert answer_of(LATCHES + start, "one and a is off") == "found in 2"


def test_a_toggle_counts_the_rising_edges() -> None:
    text = (
        SWITCHES + '[conditions.t]\nwhen = "m is pulled"\ntoggles = true\n[conditions.u]\nwhen = "t"\ntoggles = true\n'
    )
    assert answer_of(text, "t") == "found in 0"  # what holds at power-up is a rising edge
    assert answer_of(text, "not t and m is pulled") == "found in 2"
    # t and u at power-up; let go; pull: t off, u on; let go; pull: t on, u off; let go
    assert answer_of(text, "t and not u and m is released") == "found in 5"
    assert answer_of(text + '[start]\nrequires = "m is released"\n', "t and not u and m is released") == "found in 6"


def test_memory_is_computed_in_dependency_order_not_file_order() -> None:
    text = SWITCHES + '[conditions.late]\nwhen = "early"\nuntil = "b is on"\n[conditions.early]\nwhen = "a is on"\n'
    assert World(text).settled({"a": "on"}).conditions == {"early": True, "late": True}
    with pytest.raises(ValueError, match="depends on itself"):
        World('[conditions.x]\nwhen = "mode is q"\n[modes.p]\nwhen = "x"\n[modes.q]\n')


def test_what_a_start_that_nothing_admits_means() -> None:
    text = LATCHES + '[start]\nrequires = "a is on and a is off"\n'
    assert not admits(World(text))
    assert answer_of(text, "one") == "found in 0"
    # start.requires is asked of the settled power-up state, with the memory that it sets itself
    assert answer_of(LATCHES + '[start]\nrequires = "one"\n', "not one and b is off") == "found in 2"


def test_a_latch_may_catch_a_condition_that_still_lags() -> None:
    slow = '[conditions.slow]\nwhen = "a is on"\nafter = 1\n'
    text = SWITCHES + slow + '[conditions.caught]\nwhen = "a is on and not slow"\nuntil = "b is on"\n'
    answer = find(World(text), "caught")
    assert isinstance(answer, Found)
    assert answer.used_lag
    assert replay(World(text), "caught", answer)
    lingers = text.replace("after", "stays").replace("a is on and not slow", "a is off and slow")
    answer = find(World(lingers), "caught")
    assert isinstance(answer, Found)
    assert answer.used_lag
    assert replay(World(lingers), "caught", answer)
    start = '[start]\nrequires = "a is off"\n'
    assert replay_timed(World(text + start), "caught", [{"a": "off"}, {"a": "on"}], {})


# Modes and channels, sections 4 and 5


def test_the_first_mode_that_holds_is_flown() -> None:
    text = SWITCHES + '[modes.x]\nwhen = "a is on"\n[modes.y]\nwhen = "a is on or b is on"\n'
    world = World(text)
    assert [world.settled({"a": a, "b": b}).mode for a, b in [("on", "on"), ("off", "on"), ("off", "off")]] == [
        "x",
        "y",
        None,
    ]
    assert answer_of(text, "not mode is x and not mode is y") == "found in 0"


CHANNEL = (
    SWITCHES
    + """
[craft]
motor-off = -95
[curves.bent]
points = [[-50, -80], [0, 24], [50, 24], [80, 100]]
smoothing = "unknown"
[modes.sport]
when = "b is on"
[modes.calm]
[channels.motor]
drives = "motor"
from = "throttle"
rate = { switch = "a", at = { off = 120, on = 50 } }
in.sport = { from = 10, mix = [{ from = "m", values = { released = 0, pulled = -30 } }] }
reversed = true
travel = [80, 100]
sub-trim = 3
low = -75
high = 90.5
[channels.curved]
from = "throttle"
curve = "bent"
[overrides.p]
channel = "motor"
value = 40
when = "m is pulled"
[overrides.q]
channel = "motor"
value = -20
when = "m is pulled and a is on"
[overrides.r]
channel = "curved"
value = 7
when = "m is pulled"
[overrides.s]
channel = "curved"
value = 8
when = "m is pulled"
"""
)


def outputs(controls: dict[str, Fraction | str], channel: str = "motor") -> set[float]:
    found = World(CHANNEL).settled(controls).outputs[channel]
    assert found is not None
    return {float(x) for x in found}


def test_the_servo_s_order_is_reversal_travel_sub_trim_limits() -> None:
    assert outputs({"throttle": F(-50)}) == {63.0}  # 60 + 3
    assert outputs({"throttle": F(50)}) == {-45.0}  # -60 x 0.8 + 3
    assert outputs({"throttle": F(100)}) == {-75.0}  # limited after the sub-trim
    assert outputs({"throttle": F(-100)}) == {90.5}
    assert outputs({"throttle": F(-100), "a": "on"}) == {53.0}
    assert outputs({"throttle": F(-100), "b": "on"}) == {-5.0}  # 10, reversed, x 0.8, + 3


def test_an_override_is_a_demand_and_equal_priorities_may_either_win() -> None:
    assert outputs({"m": "pulled"}) == {-29.0}
    assert outputs({"m": "pulled", "a": "on"}) == {-29.0, 23.0}
    for motor in ("<", ">"):
        for curved in ("<", ">"):  # ties on two channels are independent
            assert (
                answer_of(CHANNEL, f"a is on and m is pulled and output motor {motor} 0 and output curved {curved} 7.5")
                == "found in 0"
            )
    assert answer_of(CHANNEL, "m is pulled and output motor < 0 and output motor > 0") == "Impossible"


def test_the_highest_priority_decides_in_decimals_and_below_zero() -> None:
    def override(name: str, value: int, priority: str) -> str:
        return f'[overrides.{name}]\nchannel = "x"\nvalue = {value}\nwhen = "{name} is on"\n{priority}\n'

    text = SWITCHES + '[channels.x]\nfrom = "aileron"\n' + override("a", 10, "priority = 0.1") + override("b", 20, "")
    both: dict[str, Fraction | str] = {"a": "on", "b": "on"}
    assert World(text).settled(both).outputs["x"] == frozenset({F(10)})
    assert World(text.replace("0.1", "-0.1")).settled(both).outputs["x"] == frozenset({F(20)})
    assert World(text.replace("0.1", "0")).settled(both).outputs["x"] == frozenset({F(10), F(20)})
    assert answer_of(text, "b is on and output x <= 10 and aileron > 10") == "found in 0"
    assert answer_of(text, "b is on and a is on and output x > 10") == "Impossible"


def test_limits_of_an_override_keep_the_line_inside() -> None:
    text = SWITCHES + '[channels.x]\nfrom = "aileron"\nmix = [{ from = "rudder", rate = 50 }]\n'
    text += '[overrides.a]\nchannel = "x"\nat-least = -10\nat-most = 20.5\nwhen = "a is on"\n'
    assert answer_of(text, "a is on and output x > 20.5") == "Impossible"
    assert answer_of(text, "a is on and output x >= 20.5 and aileron < 0") == "found in 0"
    assert answer_of(text, "a is on and output x < -10") == "Impossible"
    assert answer_of(text, "a is on and not x follows aileron") == "Impossible"
    assert answer_of(text, "a is off and output x > 20.5") == "found in 0"
    stuck = text.replace("at-most = 20.5", "at-most = -10")
    assert answer_of(stuck, "a is on and x follows aileron") == "Impossible"
    tie = text + '[overrides.b]\nchannel = "x"\nat-least = 40\nwhen = "a is on"\n'
    assert answer_of(tie, "a is on and output x > 50") == "found in 0"
    bare = text.replace('from = "aileron"', "").replace('mix = [{ from = "rudder", rate = 50 }]', "")
    assert answer_of(bare, "a is on and output x < 30") == "Unknown"


def test_a_pupil_s_sticks_are_read_while_they_are_lent() -> None:
    trainer = '[trainer]\nlent = "a is on"\nsticks = ["aileron"]\n'
    text = SWITCHES + '[channels.x]\nfrom = "aileron"\n' + trainer
    lent: dict[str, Fraction | str] = {"a": "on", "aileron": F(30), "aileron (pupil)": F(-70)}
    assert World(text).settled(lent).outputs["x"] == frozenset({F(-70)})
    assert World(text).settled({**lent, "a": "off"}).outputs["x"] == frozenset({F(30)})
    assert World(text).truths("aileron > 0 and x follows aileron", lent) == {True}
    assert answer_of(text, "a is on and aileron < 0 and output x > 50") == "found in 0"
    assert answer_of(text, "a is off and aileron < 0 and output x > 50") == "Impossible"


def test_an_unknown_smoothing_is_any_of_the_three_but_one_at_a_time() -> None:
    assert outputs({"throttle": F(-100)}, "curved") == {-80.0}
    assert outputs({"throttle": F(100)}, "curved") == {100.0}
    assert len(outputs({"throttle": F(25)}, "curved")) == 3
    assert (
        answer_of(CHANNEL, "output curved > 24.5 and throttle > 10 and throttle < 20 and m is released") == "found in 0"
    )
    assert answer_of(CHANNEL, "output curved > 24 and output curved < 24") == "Impossible"


def test_outputs_are_rounded_to_a_millionth_half_to_even() -> None:
    assert round_output(F("0.0000005")) == 0
    assert round_output(F("0.0000015")) == F("0.000002")
    text = '[channels.x]\nfrom = "aileron"\nrate = 33.3\n'
    assert answer_of(text, "output x >= 33.3") == "found in 0"
    assert answer_of(text, "output x > 33.3") == "Impossible"
    assert answer_of(text, "output x >= 7.123456 and output x <= 7.123456") == "found in 0"
    assert answer_of(text, "output x > 7.123456 and output x < 7.123457") == "Impossible"


@pytest.mark.slow
def test_sums_of_several_sticks_reach_all_between_their_extremes() -> None:
    mix = 'mix = [{ from = "rudder", rate = 50 }, { from = "elevator", rate = -10 }]'
    text = f'[channels.x]\nfrom = "aileron"\nexpo = 40\n{mix}\n'
    assert answer_of(text, "output x > 149.99") == "found in 0"
    assert answer_of(text + "high = 149\n", "output x > 149") == "Impossible"
    assert answer_of(text, "output x > 31.25 and output x < 31.2501 and rudder < 3") == "found in 0"
    assert answer_of(text, "output x > 110 and rudder < 0") == "Impossible"
    plain = '[channels.x]\nfrom = "aileron"\nmix = [{ from = "rudder", rate = 50 }]\n'
    assert answer_of(plain, "aileron > 10 and rudder > 10 and output x <= 15") == "found in 0"  # 15.0000002 is rounded
    assert answer_of(plain, "aileron > 10 and rudder > 10 and output x < 15") == "Impossible"
    two = plain + plain.replace("channels.x", "channels.y").replace("50", "-50")
    assert find(World(plain), "output x > 200") == Impossible(exact=True)
    assert find(World(two), "output x > 200 and output y > 200") == Impossible(exact=False)


# Kleene's third value, section 2; predicates, section 7


def test_what_is_not_described_is_unknown_and_never_false() -> None:
    assert answer_of(SWITCHES, "motor runs") == "Unknown"
    assert answer_of(SWITCHES, "motor runs and a is on and a is off") == "Impossible"
    assert answer_of(SWITCHES, "motor runs or a is on") == "found in 0"
    assert answer_of(SWITCHES + '[channels.motor]\ndrives = "motor"\n', "not motor runs") == "Unknown"
    bare = '[channels.motor]\ndrives = "motor"\nfrom = -3\n'
    assert answer_of(bare, "motor runs") == "Unknown"  # no motor-off
    assert answer_of(bare.replace("-3", "3"), "motor runs") == "found in 0"  # beyond the middle it is certain
    assert answer_of("[craft]\nmotor-off = -95\n" + bare, "motor runs") == "found in 0"
    assert answer_of(SWITCHES, "levelled") == "Unknown"
    assert answer_of(SWITCHES, "hold called") == "Impossible"
    assert answer_of('[intent]\nlift = "unit"\n', "not lifted") == "Impossible"


def test_an_override_makes_an_output_known_where_the_channel_is_not_described() -> None:
    text = SWITCHES + '[channels.x]\n[overrides.o]\nchannel = "x"\nvalue = 40\nwhen = "a is on"\n'
    assert answer_of(text, "output x >= 40") == "found in 0"
    assert answer_of(text, "output x < 40") == "Unknown"
    assert answer_of(text, "output x < 40 and a is on") == "Impossible"
    motor = text.replace("[channels.x]", '[craft]\nmotor-off = -95\n[channels.x]\ndrives = "motor"')
    assert answer_of(motor, "motor runs and a is on") == "Unknown"  # no motor channel is described anywhere
    two = (
        motor.replace('"x"', '"y"').replace("channels.x", "channels.y")
        + '[channels.x]\ndrives = "motor"\nfrom = -100\n'
    )
    assert answer_of(two, "motor runs") == "found in 0"
    assert answer_of(two, "not motor runs") == "Unknown"
    assert answer_of(two, "motor runs and a is off") == "Unknown"
    tie = text + '[overrides.p]\nchannel = "x"\nvalue = -40\nwhen = "a is on"\n'
    assert answer_of(tie, "output x <= -40") == "found in 0"


def test_bounds_of_the_intent() -> None:
    channel = '[channels.x]\nfrom = "aileron"\n'
    value = channel + '[intent]\nlevel = { channel = "x", value = 20 }\n'
    assert answer_of(value, "levelled and aileron <= 19") == "found in 0"
    assert answer_of(value, "levelled and output x < 19") == "Impossible"
    both = channel + '[intent]\nlift = { channel = "x", at-least = 10, at-most = 20 }\n'
    assert answer_of(both, "lifted and output x > 20") == "Impossible"
    assert answer_of(both, "not lifted and aileron > 10 and aileron < 20") == "Impossible"


def test_a_channel_follows_a_stick_only_where_nothing_else_changes() -> None:
    world = World(CHANNEL)
    assert world.truths("motor follows throttle", {}) == {True}
    assert world.truths("motor follows throttle", {"m": "pulled"}) == {False}
    assert world.truths("motor follows throttle", {"b": "on"}) == {False}
    gate = '[conditions.gate]\nwhen = "aileron > 10"\n[channels.x]\nfrom = "aileron"\n'
    mode = '[modes.over]\nwhen = "gate"\n[modes.under]\n'
    flat = "curve = 'flat'\n[curves.flat]\npoints = [[-100, 0], [10, 0], [100, 90]]\n"
    low, high = {"aileron": F(0)}, {"aileron": F(20)}
    assert [World(gate + flat).truths("x follows aileron", c) for c in (low, high)] == [
        {True},
        {True},
    ]  # it rests on no gate
    assert [World(mode + gate + flat).truths("x follows aileron", c) for c in (low, high)] == [{False}, {True}]
    last = gate.replace('10"', '10"\ntoggles = true') + flat
    assert World(last).truths("x follows aileron", high) == {True}
    assert answer_of(CHANNEL, "motor follows throttle and m is pulled") == "Impossible"
