"""Which way a stick turns a channel: `Rises`, in the solver, the plain evaluator, and by sampling."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import pytest

import setuplint
from setuplint.curves.servo import rising_demands, unrounded
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Line, Override

HALF = Fraction(1, 2)
MIXED = """
format = 1
[switches.rates]
kind = "two-position"
[switches.lock]
kind = "two-position"
[channels.roll]
drives = "aileron"
from = "aileron"
rate = { switch = "rates", at = { off = 100, on = -40 } }
mix = [{ from = "rudder", rate = 100 }, { from = "elevator", rate = 100 }]
high = 60
low = -60
travel = [50, 100]
[switches.some]
kind = "three-position"
[overrides.still]
channel = "roll"
value = 0
priority = 5
when = "lock is on"
[overrides.half]
channel = "roll"
at-most = 50
when = "some is middle"
[overrides.none]
channel = "roll"
at-least = 30
at-most = 30.4
when = "some is down"
"""


def servo(random: Random) -> Channel:
    def pick() -> Fraction:
        return Fraction(random.choice([0, 30, 100, 150]))

    low, high = sorted((Fraction(random.randint(-150, 150)), Fraction(random.randint(-150, 150))))
    return Channel(
        "x", None, "other", Line(()), {}, random.random() < 0.5, pick(), pick(), Fraction(random.randint(-30, 30)), low, high
    )  # fmt: skip


@pytest.mark.quick(40)
@pytest.mark.parametrize("seed", range(300))
def test_where_an_output_moves_is_one_stretch(seed: int) -> None:
    random = Random(seed)
    channel = servo(random)
    low, high = (Fraction(random.randint(-100, 100)) for _ in range(2))
    limit = random.choice(
        [None, Override("o", "x", None, f.TRUE, at_least=low / 2, at_most=low / 2 + random.randint(0, 90))]
    )
    found = rising_demands(channel, low, high, HALF, limit)
    for k in (Fraction(n) for n in range(-400, 401, 3)):
        ends = (k + high, k + low) if limit is None else (limit.limited(k + high), limit.limited(k + low))
        moves = abs(unrounded(channel, ends[0]) - unrounded(channel, ends[1])) > HALF
        assert moves == (found is not None and found[0] < k < found[1])


@pytest.mark.parametrize(
    ("given", "way", "verdict"),
    [
        ("rates is off and lock is off", 1, "found"),
        ("rates is off", -1, "impossible"),
        ("rates is on", -1, "found"),
        ("rates is on", 1, "impossible"),
        ("lock is on", 1, "impossible"),
        ("rudder > 95 and elevator > 64", 1, "found"),
        (
            "rudder > 95 and elevator > 64.6 and rates is off",
            1,
            "impossible",
        ),  # beyond the limit with the stick anywhere
        ("rudder < -99 and elevator < -99", -1, "impossible"),
        ("some is middle and lock is off and rudder > 95 and elevator > 54", 1, "found"),  # 49 to 50
        ("some is middle and rudder > 95 and elevator > 54.6", 1, "impossible"),
        ("some is down", 1, "impossible"),  # 0.4 points
    ],
)
def test_a_channel_that_others_hold_beyond_its_limits(given: str, way: int, verdict: str) -> None:
    decider = setuplint.decide(setuplint.load_text(MIXED))
    answer = decider.find(f.both(decider.formula(given), f.Rises("roll", "aileron", way * HALF)))
    assert answer.verdict == verdict
    if answer.found:
        assert answer.case is not None  # replayed by the plain evaluator


def test_a_reversed_channel_goes_the_other_way() -> None:
    decider = setuplint.decide(setuplint.load_text(MIXED.replace("high = 60", "high = 60\nreversed = true")))
    off = decider.formula("rates is off")
    up, down = (decider.find(f.both(off, f.Rises("roll", "aileron", way * HALF))) for way in (1, -1))
    assert up.impossible
    assert down.case is not None


def test_a_pupil_s_stick_is_its_own_while_it_is_lent() -> None:
    lent = '[trainer]\nlent = "lock is on"\nsticks = ["aileron", "rudder"]\n[channels.roll]'
    text = (
        MIXED.replace("[channels.roll]", lent)
        .replace("priority = 5", "priority = -5")
        .replace("value = 0", "at-most = 99")
    )
    decider = setuplint.decide(setuplint.load_text(text))
    for given, verdict in (
        ("lock is on and rates is off", "found"),
        ("lock is on and rates is on", "impossible"),
        ("lock is on and rudder > 95 and elevator > 64.6 and rates is off", "found"),  # the pupil's rudder is read
    ):
        assert decider.find(f.both(decider.formula(given), f.Rises("roll", "aileron", HALF))).verdict == verdict


def test_what_is_lent_stays_so_though_it_hangs_on_the_stick() -> None:
    lent = '[trainer]\nlent = "aileron > 50"\nsticks = ["aileron"]\n[channels.roll]'
    decider = setuplint.decide(setuplint.load_text(MIXED.replace("[channels.roll]", lent)))
    for given in ("aileron > 60 and rates is off", "aileron < 40 and rates is off"):
        answer = decider.find(f.both(decider.formula(given), f.Rises("roll", "aileron", HALF)))
        assert answer.case is not None  # replayed
        assert decider.find(f.both(decider.formula(given), f.Rises("roll", "aileron", -HALF))).impossible
