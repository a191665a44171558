"""The plain evaluator against numbers worked out by hand, scipy's curves, and every completion of what is not known."""

from dataclasses import replace
from fractions import Fraction as F
from itertools import product

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline, CubicSpline, PchipInterpolator

import setuplint
from setuplint.plain.channel_values import output
from setuplint.plain.evaluate import Evaluation, evaluate, power_up, replay, truth
from setuplint.plain.interpolation import expo, expo_inverse, interpolate, largest
from setuplint.plain.state import OFF, Memory, State
from setuplint.setup.formulas import (
    FALSE,
    TRUE,
    Active,
    And,
    CellBelow,
    Compare,
    Decides,
    Follows,
    Formula,
    Heard,
    Holds,
    Lost,
    ModeIs,
    Not,
    Or,
    OutputCompare,
    Predicate,
    Sounds,
    SwitchIs,
    Unknown,
)
from setuplint.setup.model import (
    Alarm,
    Battery,
    Bound,
    BySwitch,
    Channel,
    Condition,
    Craft,
    Curve,
    Intent,
    Lending,
    Line,
    Mode,
    Override,
    Sensor,
    Setup,
    Stick,
    Switch,
    Term,
)

MAYBE = Unknown("left out in the test")
SMOOTHINGS = ("none", "monotone", "cardinal", "natural")
CRAFT = Craft("Wagtail", motor_off=F(-95))
STICKS = {name: Stick(name) for name in ("throttle", "aileron", "elevator", "rudder")}
SWITCHES = {
    "hold": Switch("hold", "two-position", ("off", "on")),
    "save": Switch("save", "momentary", ("released", "pulled")),
    "flight": Switch("flight", "three-position", ("normal", "sport", "stunt")),
}
SENSORS = {"pack": Sensor("pack", "pack-voltage"), "link": Sensor("link", "link-quality")}
HOLD, SAVE = SwitchIs("hold", "on"), SwitchIs("save", "pulled")


def points(*pairs: tuple[int, int]) -> tuple[tuple[F, F], ...]:
    return tuple((F(x), F(y)) for x, y in pairs)


def number(value: int) -> Term:
    return Term(F(value), "number")


def stick(name: str = "throttle", **keys: object) -> Term:
    return Term(name, "stick", **keys)  # type: ignore[arg-type]


def channel(*terms: Term, drives: str = "motor", lines: dict[str, Line] | None = None, **keys: object) -> Channel:
    own = Line(terms or None)
    return Channel("out", None, drives, own, lines or {}, **keys)  # type: ignore[arg-type]


def made(out: Channel | None = None, **keys: object) -> Setup:
    """A setup with one channel, whose lines in every mode are its own where not given."""
    modes = keys.get("modes", {})
    channels = {}
    if out is not None:
        channels["out"] = replace(out, lines={**dict.fromkeys(modes, out.own), **out.lines})  # type: ignore[call-overload]
    for kind in ("conditions", "overrides", "modes", "alarms"):
        if kind in keys and not isinstance(keys[kind], dict):
            keys[kind] = {item.name: item for item in keys[kind]}  # type: ignore[attr-defined]
    base = {"craft": CRAFT, "sticks": STICKS, "switches": SWITCHES, "sensors": SENSORS, "battery": Battery("lipo", 6)}
    return Setup(**{**base, "channels": channels, **keys})  # type: ignore[arg-type]


def state(hold: str = "off", save: str = "released", flight: str = "normal", **keys: object) -> State:
    sticks = {name: F(0) for name in STICKS} | {name: F(str(keys.pop(name))) for name in STICKS if name in keys}
    readings = {"pack": F(24), "link": F(99)} | keys.pop("readings", {})  # type: ignore[operator]
    positions = {"hold": hold, "save": save, "flight": flight}
    return State(positions, sticks, readings, F(4), **keys)  # type: ignore[arg-type]


def asked(setup: Setup, formula: Formula, at: State | None = None) -> bool | None:
    at = at or state()
    return truth(setup, formula, at, evaluate(setup, at))


def put(out: Channel, at: State | None = None, **keys: object) -> F | None:
    return evaluate(made(out, **keys), at or state()).outputs["out"]


# Curves


@st.composite
def curves(draw: st.DrawFn) -> tuple[tuple[F, F], ...]:
    tenths = st.integers(-1000, 1000)
    xs = sorted(draw(st.lists(tenths, min_size=3, max_size=9, unique=True)))
    return tuple((F(x, 10), F(draw(st.integers(-15, 15)) * 10)) for x in xs)


def scipy_value(at: tuple[tuple[F, F], ...], smoothing: str, where: F) -> float:
    x, y = (numpy.array([float(pair[i]) for pair in at]) for i in (0, 1))
    spot = float(min(max(where, at[0][0]), at[-1][0]))
    if smoothing == "none":
        return float(numpy.interp(spot, x, y))
    if smoothing == "monotone":
        return float(PchipInterpolator(x, y)(spot))
    if smoothing == "natural":
        return float(CubicSpline(x, y, bc_type="natural")(spot))
    ends = [(y[1] - y[0]) / (x[1] - x[0]), (y[-1] - y[-2]) / (x[-1] - x[-2])]
    return float(CubicHermiteSpline(x, y, [ends[0], *((y[2:] - y[:-2]) / (x[2:] - x[:-2])), ends[1]])(spot))


@given(curves(), st.integers(-10500, 10500))
@settings(max_examples=150)
def test_curves_are_scipys(at: tuple[tuple[F, F], ...], hundredths: int) -> None:
    where = F(hundredths, 100)
    for smoothing in SMOOTHINGS:
        value = interpolate(at, smoothing, where)
        assert float(value) == pytest.approx(scipy_value(at, smoothing, where), rel=1e-9, abs=1e-6)
        assert abs(value) <= largest(at, smoothing)


def test_fritsch_and_carlsons_data_stays_monotone() -> None:
    """RPN 14, SIAM J. Numer. Anal. 17(2), 1980: a slope at a point is not the secants' mean."""
    x = ["7.99", "8.09", "8.19", "8.7", "9.2", "10", "12", "15", "20"]
    y = ["0", "2.76429e-5", "4.37498e-2", "0.169183", "0.469428", "0.943740", "0.998636", "0.999919", "0.999994"]
    at = tuple((F(a), F(b)) for a, b in zip(x, y, strict=True))
    values = [interpolate(at, "monotone", F(799 + step, 100)) for step in range(0, 1202, 3)]
    assert values == sorted(values)
    natural = [interpolate(at, "natural", F(799 + step, 100)) for step in range(0, 1202, 3)]
    assert natural != sorted(natural)


def test_monotone_worked_by_hand() -> None:
    """Secants 1 and 3 of equal width: the slope between is their harmonic mean 3/2, at the left end 0, clipped by its
    three-point formula (3 x 1 - 3)/2 = 0. In the middle of the first part: 50/2 - 50 x (3/2)/8."""
    at = points((-50, 0), (0, 50), (50, 200))
    assert interpolate(at, "monotone", F(-25)) == 25 - F(75, 8)


@pytest.mark.parametrize("smoothing", SMOOTHINGS)
def test_two_points_are_a_straight_line_and_ends_are_kept(smoothing: str) -> None:
    at = points((-50, -10), (50, 30))
    assert [interpolate(at, smoothing, F(x)) for x in (-100, -50, -25, 0, 50, 99)] == [-10, -10, 0, 10, 30, 30]


def test_expo_and_back() -> None:
    """20 % at half stick: 0.8 x 0.5 + 0.2 x 0.125 = 0.425; -50 % there: 1.5 x 0.5 - 0.5 x 0.125 = 0.6875."""
    assert expo(F(50), F(20)) == F("42.5")
    assert expo(F(50), F(-50)) == F("68.75")
    for k in (-50, 0, 37, 100):
        assert [expo(F(end), F(k)) for end in (-100, 0, 100)] == [-100, 0, 100]
        assert abs(expo(expo_inverse(F(-63), F(k)), F(k)) + 63) < F(1, 10**8)


# Terms and outputs


def test_terms_add_up() -> None:
    """0.6 x 50 = 30, expo 20: 0.8 x 0.3 + 0.2 x 0.027 = 0.2454; the switch 7; the number -2; rudder 40 x -0.5 = -20."""
    rate = BySwitch("flight", {"normal": F(60), "sport": F(90), "stunt": F(120)})
    terms = (
        stick("aileron", rate=rate, expo=F(20)),
        Term("hold", "switch", values={"off": F(7), "on": F(-150)}),
        number(-2),
        stick("rudder", rate=F(-50)),
    )
    assert put(channel(*terms), state(aileron=50, rudder=40)) == F("24.54") + 7 - 2 - 20
    assert put(channel(terms[1]), state(hold="on")) == -150


def test_rate_limits_to_full_travel_before_expo_and_curve() -> None:
    """150 % of 80 is 120, limited to 100; the sum is not limited: 100 + 120."""
    assert put(channel(stick(rate=F(150)))) == 0
    assert put(channel(stick(rate=F(150)), number(20)), state(throttle=80)) == 120


def test_trim_moves_the_stick_before_rate_and_no_formula() -> None:
    at = state(throttle=40, trim={"throttle": F(10)})
    assert put(channel(stick(rate=F(50))), at) == 25
    assert asked(made(), Compare("throttle", ">", F(40)), at) is False


def test_unknown_smoothing_is_what_the_state_says() -> None:
    curve = Curve("soft", points((-100, -100), (-50, -14), (0, 16), (50, 46), (100, 100)), "unknown")
    out, keys = channel(stick(curve="soft")), {"curves": {"soft": curve}}
    values = {kind: put(out, state(throttle=-70, smoothing={"soft": kind}), **keys) for kind in SMOOTHINGS[1:]}
    assert len(set(values.values())) == 3
    assert put(out, state(throttle=-70), **keys) == values["monotone"]
    for kind, value in values.items():
        assert float(value or 0) == pytest.approx(scipy_value(curve.points, kind, F(-70)), abs=1e-6)


@pytest.mark.parametrize(
    ("demand", "keys", "expected"),
    [
        (40, {}, "40"),
        (40, {"reversed": True}, "-40"),
        (40, {"down": 50, "up": 120}, "48"),
        (40, {"reversed": True, "down": 50, "up": 120}, "-20"),
        (-40, {"down": 50, "up": 120, "sub_trim": 3}, "-17"),
        (0, {"sub_trim": -3}, "-3"),
        (150, {"up": 150}, "150"),  # 225, limited
        (-100, {"low": -90}, "-90"),
        (90, {"reversed": True, "low": -80, "sub_trim": 5}, "-80"),  # -85: limits come last
        (90, {"high": 80}, "80"),
    ],
)
def test_servo(demand: int, keys: dict[str, int], expected: str) -> None:
    exact = {key: value if isinstance(value, bool) else F(value) for key, value in keys.items()}
    assert put(channel(number(demand), **exact)) == F(expected)


def test_outputs_are_rounded_half_to_even() -> None:
    out = channel(number(0))
    tenths = {"0.0000005": "0", "0.0000015": "0.000002", "0.00000251": "0.000003", "-0.0000025": "-0.000002"}
    assert {text: output(out, F(text)) for text in tenths} == {text: F(value) for text, value in tenths.items()}
    third = channel(stick(rate=F(100)), up=F("33.333333"))
    assert put(third, state(throttle="1.5")) == F("0.5")  # 0.499999995
    assert asked(made(third), OutputCompare("out", ">=", F("0.5")), state(throttle="1.5")) is True


def test_pulse() -> None:
    craft = Craft("c", pulse_centre=F(1520), pulse_per_percent=F("4.5"))
    assert Craft("c").pulse(F(-100)) == 1000
    assert craft.pulse(F(20)) == 1610


# Conditions, modes, memory


def test_sensors() -> None:
    """A lost or unheard sensor fails every comparison, its denial holds; only a lost one is lost."""
    below, lost = Compare("pack", "<", F("21.6")), Lost("pack")
    table = {}
    for reading in (F("21.6"), F("21.59"), "lost", "unheard"):
        at = state(readings={"pack": reading})
        table[reading] = [asked(made(), f, at) for f in (below, Not(below), lost, Heard("pack"))]
    assert table == {
        F("21.6"): [False, True, False, True],
        F("21.59"): [True, False, False, True],
        "lost": [False, True, True, False],
        "unheard": [False, True, False, False],
    }


def test_comparisons_at_the_number() -> None:
    at = state(throttle=-95)
    found = [asked(made(), Compare("throttle", op, F(-95)), at) for op in ("<", "<=", ">", ">=")]
    assert found == [False, True, False, True]


def test_first_mode_whose_when_holds_and_gaps() -> None:
    modes = {
        "sport": Mode("sport", SwitchIs("flight", "sport")),
        "low": Mode("low", Compare("throttle", "<", F(0))),
    }
    lines = {"sport": Line((number(1),)), "low": Line((number(2),))}
    setup = made(channel(number(3), lines=lines), modes=modes)
    flown = [evaluate(setup, state(flight=flight, throttle=t)) for flight, t in product(("sport", "normal"), (-1, 0))]
    assert [(e.mode, e.mode_known, e.outputs["out"]) for e in flown] == [
        ("sport", True, 1),
        ("sport", True, 1),
        ("low", True, 2),
        (None, True, 3),
    ]
    assert asked(setup, ModeIs("low"), state(flight="sport", throttle=-1)) is False


def test_a_condition_may_name_a_mode_that_stands_on_a_condition() -> None:
    modes = {"safe": Mode("safe", Holds("slow")), "fast": Mode("fast", None)}
    conditions = [
        Condition("slow", Compare("throttle", "<", F(0))),
        Condition("fast-and-held", And((ModeIs("fast"), HOLD))),
    ]
    setup = made(modes=modes, conditions=conditions)
    assert evaluate(setup, state(hold="on", throttle=5)).conditions == {"slow": False, "fast-and-held": True}
    assert evaluate(setup, state(hold="on", throttle=-5)).conditions == {"slow": True, "fast-and-held": False}


def history(setup: Setup, steps: list[State], name: str) -> list[bool | None]:
    return [evaluation.conditions[name] for evaluation in replay(setup, steps)]


def test_latch_is_rs_with_reset_winning() -> None:
    setup = made(conditions=[Condition("saved", SAVE, until=HOLD)])
    steps = [state(save=p, hold=h) for p, h in [("released", "off"), ("pulled", "off"), ("released", "off")]]
    steps += [state(save="pulled", hold="on"), state(save="released", hold="off"), state(save="pulled")]
    assert history(setup, steps, "saved") == [False, True, True, False, False, True]
    assert replay(setup, steps)[2].memory == Memory(frozenset({"saved"}), frozenset())


def test_toggle_turns_on_each_rise_and_power_up_counts() -> None:
    setup = made(conditions=[Condition("lights", SAVE, toggles=True)])
    steps = [state(save=p) for p in ("pulled", "pulled", "released", "pulled", "released", "pulled")]
    assert history(setup, steps, "lights") == [True, True, True, False, False, True]
    assert replay(setup, steps)[1].memory == Memory(frozenset({"lights"}), frozenset({"lights"}))
    assert replay(setup, steps)[2].memory == Memory(frozenset({"lights"}), frozenset())


def test_settled_conditions_equal_their_when_unless_timed_values_are_given() -> None:
    conditions = [
        Condition("late", SAVE, after=F(2)),
        Condition("kept", Holds("late"), until=HOLD),
        Condition("turned", SAVE, after=F(1), toggles=True),
    ]
    setup = made(conditions=conditions)
    at = state(save="pulled")
    assert evaluate(setup, at).conditions == {"late": True, "kept": True, "turned": True}
    lagging = evaluate(setup, at, timed={"late": False, "turned": False})
    assert lagging.conditions == {"late": False, "kept": False, "turned": False}
    assert lagging.memory == OFF
    assert evaluate(setup, state(), timed={"late": True}).conditions["kept"] is True


def test_power_up_asks_for_start_and_unheard_sensors() -> None:
    unheard = {"pack": "unheard", "link": "unheard"}
    start = And((HOLD, Compare("throttle", "<", F(-95))))
    setup = made(conditions=[Condition("saved", HOLD, until=SAVE)], start=start)
    admitted = power_up(setup, state(hold="on", throttle=-100, readings=unheard))
    assert admitted is not None
    assert admitted.memory.on == {"saved"}
    assert power_up(setup, state(hold="on", throttle=-95, readings=unheard)) is None
    assert power_up(setup, state(hold="on", throttle=-100)) is None
    assert power_up(replace(setup, start=Or((start, MAYBE))), state(readings=unheard)) is None
    assert power_up(made(), state(readings=unheard)) is not None


# Overrides


def overrides(*rows: tuple[str, int | None, Formula, int | None]) -> list[Override]:
    return [
        Override(name, "out", None if value is None else F(value), when, None if priority is None else F(priority))
        for name, value, when, priority in rows
    ]


def contest(*rows: tuple[str, int | None, Formula, int | None], **keys: object) -> Evaluation:
    return evaluate(made(channel(number(5)), overrides=overrides(*rows)), state(**keys))


def test_the_highest_override_decides() -> None:
    rows = [("low", 10, TRUE, -1), ("held", -100, HOLD, 100), ("rescue", 55, SAVE, 50)]
    found = [contest(*rows, hold=h, save=p) for h, p in product(("off", "on"), ("released", "pulled"))]
    assert [(e.deciders["out"], e.outputs["out"]) for e in found] == [
        ("low", 10),
        ("rescue", 55),
        ("held", -100),
        ("held", -100),
    ]
    assert all(e.tied == {} for e in found)
    assert contest(("held", -100, HOLD, 0)).deciders == {"out": None}


def test_ties_are_picked_by_the_state_else_first() -> None:
    rows = [("one", 1, TRUE, 5), ("below", 0, TRUE, 4), ("two", 2, TRUE, 5), ("off", 3, HOLD, 5)]
    first, picked, idle = contest(*rows), contest(*rows, ties={"out": "two"}), contest(*rows, ties={"out": "off"})
    assert first.tied == picked.tied == {"out": ("one", "two")}
    assert [e.outputs["out"] for e in (first, picked, idle)] == [1, 2, 1]
    setup, at = made(channel(number(5)), overrides=overrides(*rows)), state(ties={"out": "two"})
    assert [asked(setup, Decides("out", name), at) for name in ("one", "two", "off", None)] == [
        False,
        True,
        False,
        False,
    ]
    assert [asked(setup, Active(name), at) for name in ("one", "off")] == [True, False]


def test_a_broken_override_hides_only_what_it_may_decide() -> None:
    maybe = ("maybe", 50, MAYBE, 5)
    assert contest(maybe).outputs["out"] is None
    assert contest(maybe, ("top", 1, TRUE, 6)).outputs["out"] == 1
    assert contest(maybe, ("low", 1, TRUE, 4)).outputs["out"] is None
    assert contest(maybe, ("low", 50, TRUE, 4)).outputs["out"] == 50  # whoever decides
    assert contest(maybe, ("first", 1, TRUE, 5), ties={"out": "first"}).outputs["out"] == 1
    assert contest(("no-value", None, TRUE, 5)).outputs["out"] is None
    assert contest(("no-value", None, HOLD, 5)).outputs["out"] == 5
    assert contest(("unplaced", 7, TRUE, None)).outputs["out"] == 7
    assert contest(("unplaced", 7, TRUE, None), ("top", 1, TRUE, 100)).outputs["out"] is None
    assert contest(("unplaced", 7, HOLD, None), ("top", 1, TRUE, 100)).outputs["out"] == 1
    assert contest(("unplaced", 7, TRUE, None), ("other", 1, TRUE, 0)).tied == {}
    assert contest(maybe, ("first", 1, TRUE, 5)).tied == {}
    setup = made(channel(number(5)), overrides=overrides(maybe, ("low", 1, TRUE, 4)))
    assert [asked(setup, Decides("out", name)) for name in ("maybe", "low", None)] == [None, None, False]


def test_limits_let_the_line_go_on_between_them() -> None:
    def limited(throttle: int, **limits: object) -> tuple[object, object]:
        keys = {key: F(str(number)) for key, number in limits.items()}
        setup = made(channel(stick()), overrides=[Override("kept", "out", None, TRUE, F(0), **keys)])
        at = state(throttle=throttle)
        return evaluate(setup, at).outputs["out"], asked(setup, Follows("out", "throttle"), at)

    assert [limited(x, at_least=-20, at_most=30)[0] for x in (-80, -20, 5, 30, 70)] == [-20, -20, 5, 30, 30]
    assert [limited(x, at_least=40)[0] for x in (-80, 70)] == [40, 70]
    assert limited(0, at_least=10, at_most=10) == (10, False)
    assert limited(0, at_least=10, at_most="10.5") == (10, True)
    assert limited(0, at_least=100)[1] is False
    undescribed = made(channel(), overrides=[Override("kept", "out", None, TRUE, F(0), F(10))])
    assert asked(undescribed, OutputCompare("out", ">", F(0))) is None


def test_a_pupil_s_stick_is_read_while_it_is_lent_and_by_no_formula() -> None:
    term = replace(stick(), lending=Lending(HOLD, "throttle (pupil)"))
    setup = made(channel(term))
    taught, lent = pupil_at(40, -60), pupil_at(40, -60, hold="on")
    assert [evaluate(setup, at).outputs["out"] for at in (taught, lent)] == [-60, 40]
    assert [asked(setup, Compare("throttle", "<", F(0)), at) for at in (taught, lent)] == [True, True]
    assert [asked(setup, Follows("out", "throttle"), at) for at in (taught, lent)] == [True, True]
    trimmed = replace(lent, trim={"throttle": F(5)})
    assert evaluate(setup, trimmed).outputs["out"] == 40  # no trim on the pupil's
    unsure = made(channel(replace(term, lending=Lending(MAYBE, "throttle (pupil)"))))
    assert evaluate(unsure, taught).outputs["out"] is None
    # lent while the teacher's stick is high: the places at which it would be are not counted
    high = made(channel(replace(term, lending=Lending(Compare("throttle", ">", F(-100)), "throttle (pupil)"))))
    assert asked(high, Follows("out", "throttle"), pupil_at(40, -100)) is False


def pupil_at(pupil: int, teacher: int, hold: str = "off") -> State:
    at = state(hold=hold, throttle=teacher)
    return replace(at, sticks={**at.sticks, "throttle (pupil)": F(pupil)})


def test_a_check_that_only_warns_admits_every_state() -> None:
    text = """format = 1
[craft]
motor-off = -95
[switches.hold]
kind = "two-position"
[sticks.throttle]
rest = "middle"
[channels.motor]
drives = "motor"
from = "throttle"
[start]
requires = "hold is on"
enforced = %s
"""
    for enforced, allowed in (("true", True), ("false", False)):
        setup = setuplint.load_text(text % enforced, "start.toml").model
        assert setuplint.decide(setup).find("hold is off", at_power_up=True).impossible is allowed
        assert setuplint.decide(setup).find("not start allowed").found is allowed
        assert setup.sticks["throttle"].rest == 0
        assert setup.stabilised is None


# What is not described


def test_a_line_that_is_not_described_is_unknown_until_an_override_decides() -> None:
    held = overrides(("held", -100, HOLD, 0))
    setup = made(channel(), overrides=held)
    assert asked(setup, OutputCompare("out", ">", F(0))) is None
    assert asked(setup, OutputCompare("out", ">", F(0)), state(hold="on")) is False
    assert evaluate(setup, state()).demands == {"out": None}


def test_an_unknown_mode_matters_only_where_lines_differ() -> None:
    modes = {"odd": Mode("odd", MAYBE), "sport": Mode("sport", SwitchIs("flight", "sport")), "rest": Mode("rest", None)}
    same = made(channel(number(3)), modes=modes)
    differing = made(channel(number(3), lines={"odd": Line((number(4),))}), modes=modes)
    apart = made(channel(number(3), lines={"rest": Line((number(4),))}), modes=modes)
    at = state(flight="sport")
    assert [evaluate(s, at).outputs["out"] for s in (same, differing, apart)] == [3, None, 3]
    assert (evaluate(same, at).mode, evaluate(same, at).mode_known) == (None, False)
    assert [asked(same, ModeIs(name), at) for name in modes] == [None, None, False]


def test_memory_that_is_not_known_stays_so_until_it_is_reset() -> None:
    setup = made(conditions=[Condition("kept", And((SAVE, MAYBE)), until=HOLD)])
    steps = [state(), state(save="pulled"), state(), state(hold="on"), state()]
    assert history(setup, steps, "kept") == [False, None, None, False, False]
    turned = made(conditions=[Condition("turned", Or((SAVE, And((HOLD, MAYBE)))), toggles=True)])
    steps = [state(), state(hold="on"), state(), state(save="pulled")]
    assert history(turned, steps, "turned") == [False, None, None, None]
    steps = [state(save="pulled"), state(save="pulled", hold="on"), state()]
    assert history(turned, steps, "turned") == [True, True, True]
    steps = [state(save="pulled"), state(hold="on"), state(save="pulled")]
    assert history(turned, steps, "turned") == [True, True, None]  # it may have held all along


def completed(formula: Formula | None, choice: dict[str, bool]) -> Formula:
    """The formula with every unknown atom replaced by a chosen truth."""
    assert formula is not None
    if isinstance(formula, And | Or):
        return type(formula)(tuple(completed(item, choice) for item in formula.items))
    if isinstance(formula, Not):
        return Not(completed(formula.item, choice))
    if isinstance(formula, Unknown):
        return TRUE if choice[formula.because] else FALSE
    return formula


LEAVES = [HOLD, SAVE, SwitchIs("flight", "sport"), Compare("throttle", "<", F(0)), Unknown("a"), Unknown("b")]


def formulas(*more: Formula) -> st.SearchStrategy[Formula]:
    groups = st.recursive(
        st.sampled_from([*LEAVES, *more]),
        lambda inner: st.one_of(
            st.lists(inner, min_size=1, max_size=3).map(lambda items: And(tuple(items))),
            st.lists(inner, min_size=1, max_size=3).map(lambda items: Or(tuple(items))),
            inner.map(Not),
        ),
        max_leaves=4,
    )
    return groups


@st.composite
def setups(draw: st.DrawFn) -> Setup:
    kinds = st.sampled_from([{}, {"until": None}, {"toggles": True}])
    conditions: list[Condition] = []
    for name in ("one", "two", "three"):
        known = [Holds(condition.name) for condition in conditions]
        keys = dict(draw(kinds))
        if "until" in keys:
            keys["until"] = draw(formulas(*known))
        conditions.append(Condition(name, draw(formulas(*known)), **keys))
    every = [Holds(condition.name) for condition in conditions]
    modes = {"m": Mode("m", draw(formulas(*every))), "n": Mode("n", draw(st.sampled_from([None, HOLD])))}
    lines = {name: Line((number(draw(st.integers(1, 2))),)) for name in modes}
    priorities = st.sampled_from([0, 0, 1])
    rows = [(f"o{i}", draw(st.integers(1, 3)), draw(formulas(*every, ModeIs("m"))), draw(priorities)) for i in range(3)]
    ties = overrides(*rows)
    return made(channel(stick(rate=F(3)), lines=lines), modes=modes, conditions=conditions, overrides=ties)


@pytest.mark.slow
@given(setups(), st.lists(st.tuples(*[st.integers(0, 1)] * 3, st.integers(-1, 0)), min_size=1, max_size=4))
@settings(max_examples=40)
def test_what_is_known_is_so_in_every_completion(setup: Setup, moves: list[tuple[int, int, int, int]]) -> None:
    steps = [
        state(("off", "on")[a], ("released", "pulled")[b], ("normal", "sport")[c], throttle=t, ties={"out": "o1"})
        for a, b, c, t in moves
    ]
    questions = [OutputCompare("out", ">", F(1)), ModeIs("n"), Decides("out", "o1"), Active("o2"), Holds("three")]
    run = replay(setup, steps)
    answers = [[truth(setup, q, at, e) for q in questions] for at, e in zip(steps, run, strict=True)]
    for a, b in product((False, True), repeat=2):
        choice = {"a": a, "b": b}
        whole = replace(
            setup,
            conditions={
                c.name: replace(c, when=completed(c.when, choice), until=c.until and completed(c.until, choice))
                for c in setup.conditions.values()
            },
            modes={m.name: replace(m, when=m.when and completed(m.when, choice)) for m in setup.modes.values()},
            overrides={o.name: replace(o, when=completed(o.when, choice)) for o in setup.overrides.values()},
        )
        for at, seen, known, e in zip(steps, run, answers, replay(whole, steps), strict=True):
            assert e.mode_known
            assert None not in e.conditions.values()
            assert all(value in (None, e.conditions[name]) for name, value in seen.conditions.items())
            assert seen.outputs["out"] in (None, e.outputs["out"])
            assert not seen.mode_known or seen.mode == e.mode
            sure = [truth(whole, q, at, e) for q in questions]
            assert all(old in (None, new) for old, new in zip(known, sure, strict=True))


# Predicates


def test_motor_predicates() -> None:
    craft = Craft("c", motor_off=F(-95), rotor_free=F(-70))
    free = made(channel(stick()), craft=craft)
    found = [[asked(free, Predicate(p), state(throttle=t)) for p in ("motor runs", "rotor driven")] for t in (-95, -80)]
    assert found == [[False, False], [True, False]]
    assert asked(made(channel(stick())), Predicate("rotor driven"), state(throttle=-80)) is True
    no_off = made(channel(stick()), craft=Craft("c"))
    assert asked(no_off, Predicate("motor runs")) is None
    assert asked(made(channel(stick(), drives="other")), Predicate("motor runs")) is None
    unread = replace(made(channel(stick())), broken=frozenset({("craft", "rotor-free")}))
    assert asked(unread, Predicate("rotor driven")) is None
    assert asked(unread, Predicate("motor runs")) is True


def test_a_file_without_a_described_motor_has_motor_predicates_unknown_never_false() -> None:
    held = overrides(("held", -100, HOLD, 0))
    assert asked(made(channel(), overrides=held), Predicate("motor runs"), state(hold="on")) is None
    second = Channel("second", None, "motor", Line((number(-100),)), {})
    setup = made(channel(), overrides=held)
    both = replace(setup, channels={**setup.channels, "second": second})
    assert asked(both, Predicate("motor runs")) is None
    assert asked(both, Predicate("motor runs"), state(hold="on")) is False


def test_flying_and_what_is_called() -> None:
    intent = Intent(hold=HOLD, rescue=Or((SAVE, MAYBE)))
    setup = made(channel(stick()), intent=intent)
    assert [asked(setup, Predicate("flying"), state(hold=h)) for h in ("off", "on")] == [True, False]
    called = [asked(setup, Predicate(f"{word} called")) for word in ("hold", "stop", "rescue")]
    assert called == [False, False, None]
    broken = replace(setup, intent=Intent(), broken=frozenset({("intent", "hold")}))
    assert asked(broken, Predicate("hold called")) is None
    assert asked(broken, Predicate("flying")) is None


@pytest.mark.parametrize(
    ("bound", "limits"),
    [
        (Bound("out", at_least=F(40)), {39: False, 40: True, 90: True}),
        (Bound("out", at_most=F(-50)), {-50: True, -49: False}),
        (Bound("out", at_least=F(-10), at_most=F(10)), {-11: False, -10: True, 10: True, 11: False}),
        (Bound("out", value=F(20)), {18: False, 19: True, 21: True, 22: False}),
    ],
)
def test_levelled_and_lifted(bound: Bound, limits: dict[int, bool]) -> None:
    setup = made(channel(stick()), intent=Intent(level=bound, lift=bound))
    for word in ("levelled", "lifted"):
        assert {t: asked(setup, Predicate(word), state(throttle=t)) for t in limits} == limits
    assert asked(made(channel(), intent=Intent(level=bound)), Predicate("levelled")) is None


def test_levelled_and_lifted_without_a_bound() -> None:
    assert asked(made(), Predicate("levelled")) is None
    assert asked(made(), Predicate("lifted")) is None
    assert asked(made(intent=Intent(lift="unit")), Predicate("lifted")) is True


def test_sprung_switches_start_alarms_and_cells() -> None:
    released = Predicate("sprung switches released")
    assert [asked(made(), released, state(hold="on", save=p)) for p in ("released", "pulled")] == [True, False]
    assert asked(made(), Predicate("start allowed")) is True
    assert [asked(made(start=HOLD), Predicate("start allowed"), state(hold=h)) for h in ("off", "on")] == [False, True]
    alarms = [Alarm("heard", HOLD, tone=True), Alarm("silent", HOLD)]
    found = [asked(made(alarms=alarms), Sounds(name), state(hold="on")) for name in ("heard", "silent")]
    assert found == [True, False]
    assert [asked(made(), CellBelow(F(volts))) for volts in ("4", "4.01")] == [False, True]
    assert asked(made(battery=Battery()), CellBelow(F(5))) is None
    with pytest.raises(ValueError, match="none of"):
        asked(made(), Predicate("rotor stalls"))


def test_an_output_stands_in_no_formula_of_a_setup() -> None:
    with pytest.raises(TypeError):
        evaluate(made(channel(number(1)), conditions=[Condition("c", OutputCompare("out", ">", F(0)))]), state())


# follows


def follows(out: Channel, at: State | None = None, **keys: object) -> bool | None:
    return asked(made(out, **keys), Follows("out", "throttle"), at)


def test_follows_a_stick_that_moves_the_output() -> None:
    assert follows(channel(stick())) is True
    assert follows(channel(number(5), stick("aileron"))) is False
    assert follows(channel(stick(rate=F(0)))) is False
    flat = {"flat": Curve("flat", points((-100, 45), (0, 45), (100, 45)), "natural")}
    assert follows(channel(stick(curve="flat")), curves=flat) is False
    late = {"late": Curve("late", points((-100, 45), (96, 45), (97, 46), (98, 45), (100, 45)), "none")}
    assert follows(channel(stick(curve="late", rate=F(-50), expo=F(30))), curves=late) is False
    late = {"late": replace(late["late"], points=tuple((x / 10 + 2, y) for x, y in late["late"].points))}
    assert follows(channel(stick(curve="late", rate=F(-50), expo=F(30))), curves=late) is True
    assert follows(channel(stick(), low=F(150))) is False
    assert follows(channel()) is None


def test_follows_only_while_no_override_decides() -> None:
    def held(when: Formula) -> dict[str, object]:
        return {"overrides": overrides(("held", -100, when, 0))}

    assert follows(channel(stick()), **held(TRUE)) is False
    assert follows(channel(stick()), **held(MAYBE)) is None
    assert follows(channel(number(1)), **held(MAYBE)) is False
    below = And((Compare("throttle", "<", F(0)), MAYBE))
    assert [follows(channel(stick()), state(throttle=t), **held(below)) for t in (-50, 50)] == [None, True]
    # Only at one end of the travel does none decide: there it still moves.
    nearly = Compare("throttle", "<", F(99))
    assert follows(channel(stick()), state(throttle="99.5"), **held(nearly)) is True
    assert follows(channel(stick()), state(throttle="98"), **held(nearly)) is False
    assert follows(channel(stick()), state(throttle=100), **held(Compare("throttle", "<", F(100)))) is False
    inside = And((Compare("throttle", "<", F(100)), Compare("throttle", ">", F(-100))))
    assert follows(channel(stick()), state(throttle=100), **held(inside)) is True


def test_follows_with_mode_conditions_and_memory_kept() -> None:
    """Each half of the travel is flat: the output changes only together with what is to be kept."""
    step = {"step": Curve("step", points((-100, 0), (0, 0), (100, 50)), "none")}
    out, upper = channel(stick(curve="step")), Compare("throttle", ">", F(0))
    low, high = state(throttle=-20), state(throttle=20)
    assert follows(out, low, curves=step) is True
    # The channel rests on the condition by an override that is not active here.
    resting = {"overrides": overrides(("other", 0, And((Holds("up"), SwitchIs("flight", "sport"))), 0))}
    assert follows(out, low, curves=step, conditions=[Condition("up", upper)]) is True, "nothing uses it"
    for keys in (
        {"modes": {"up": Mode("up", upper), "down": Mode("down", None)}},
        {"conditions": [Condition("up", upper)], **resting},
        {"conditions": [Condition("up", And((HOLD, upper)), toggles=True)], **resting},
    ):
        held = {"hold": "on"}
        assert follows(out, state(throttle=-20, **held), curves=step, **keys) is False
        assert follows(out, state(throttle=20, **held), curves=step, **keys) is True
    # A toggle's last `when` is remembered too: it is 80 here, and below 50 it would be another.
    steps = {"step": Curve("step", points((-100, 0), (0, 0), (50, 50), (100, 50)), "none")}
    turned = [Condition("up", Compare("throttle", ">", F(50)), toggles=True)]
    assert follows(out, state(throttle=80), curves=steps, conditions=turned, **resting) is False
    # What is remembered stays: the latch is on at both ends of the travel once it is set.
    latch = [Condition("up", upper, until=HOLD)]
    assert follows(out, low, curves=step, conditions=latch, **resting) is False
    assert follows(out, high, curves=step, conditions=latch, **resting) is True
    setup = made(out, curves=step, conditions=latch, **resting)
    after = replay(setup, [high, low])[-1]
    assert truth(setup, Follows("out", "throttle"), low, after) is True
    lower = {"step": Curve("step", points((-100, 0), (0, 50), (100, 50)), "none")}
    setup = replace(setup, curves=lower)
    assert truth(setup, Follows("out", "throttle"), low, replay(setup, [high, low])[-1]) is True
    assert truth(setup, Follows("out", "throttle"), high, replay(setup, [high])[-1]) is True


def test_follows_reads_the_line_of_the_mode() -> None:
    modes = {"sport": Mode("sport", SwitchIs("flight", "sport")), "rest": Mode("rest", None)}
    out = channel(number(1), lines={"sport": Line((stick(),))})
    assert [follows(out, state(flight=f), modes=modes) for f in ("normal", "sport")] == [False, True]
    unknown = {**modes, "sport": Mode("sport", MAYBE)}
    assert follows(out, modes=unknown) is None
    assert follows(channel(number(1)), modes=unknown) is False
