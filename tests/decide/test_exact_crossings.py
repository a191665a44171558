"""A formula that compares a stick with decimals nearest to where an output crosses a number: both are exact."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import pytest
import z3
from z3 import z3num

import setuplint
from setuplint.curves import polynomials, surds
from setuplint.curves.shape import Shape
from setuplint.curves.surds import Surd
from setuplint.engine.decider import Decider
from tests.oracle.curves import KINDS, Curve, expo

SETUP = """\
format = 1
[curves.third]
points = [[-100, -100], [0, 50], [100, 100]]
[channels.one]
drives = "other"
from = "throttle"
curve = "third"
[channels.two]
drives = "other"
from = "rudder"
rate = 30
"""


def crossing(slope: Fraction, offset: Fraction) -> Fraction:
    """Where an output that is rounded to 1e-6 goes from under 0 to 0: half a grain before the line does. -0.0000005 rounds
    to even, which is 0."""
    return (Fraction(-1, 2_000_000) - offset) / slope


@pytest.mark.parametrize(
    ("channel", "stick", "place"),
    [
        ("one", "throttle", crossing(Fraction(3, 2), Fraction(50))),
        ("two", "rudder", crossing(Fraction(3, 10), Fraction(0))),
    ],
)
def test_the_nearest_decimal_is_not_the_crossing(channel: str, stick: str, place: Fraction) -> None:
    near = round(place, 9)
    assert near != place
    decider = setuplint.decide(setuplint.load_text(SETUP))
    above, below = f"{stick} > {float(near):.9f}", f"{stick} < {float(near):.9f}"
    if near < place:
        assert decider.find(f"{above} and output {channel} < 0").found
        assert decider.find(f"{below} and output {channel} >= 0").impossible
    else:
        assert decider.find(f"{below} and output {channel} >= 0").found
        assert decider.find(f"{above} and output {channel} < 0").impossible
    case = decider.find(f"output {channel} >= 0").case
    assert case is not None


# -- no decimal at all

BENT = """\
format = 1
[curves.bent]
points = [{points}]
smoothing = "{smoothing}"
[channels.one]
drives = "other"
from = "throttle"
curve = "bent"
rate = {rate}
expo = {expo}
{more}"""


def written(x: Fraction, places: int) -> str:
    digits = f"{abs(int(x * 10**places)):0{places + 1}d}"
    return f"{'-' if x < 0 else ''}{digits[:-places]}.{digits[-places:]}"


class Flown:
    """The oracle's own reckoning of what the channel puts out before it is rounded."""

    def __init__(self, points: list[tuple[int, int]], smoothing: str, rate: int, bow: int) -> None:
        self.curve = Curve([(Fraction(x), Fraction(y)) for x, y in points], smoothing)
        self.rate, self.bow = Fraction(rate, 100), Fraction(bow)

    def at(self, x: Fraction) -> Fraction:
        return self.curve.at(expo(self.bow, max(Fraction(-100), min(Fraction(100), x * self.rate))))

    def bracket(self, number: Fraction, lo: Fraction, hi: Fraction, places: int) -> Fraction:
        """The greatest decimal of so many places below where the output, which rises or falls through it, is the number."""
        below, above = int(lo * 10**places), int(hi * 10**places)
        rises = self.at(lo) < number
        while above - below > 1:
            middle = (below + above) // 2
            if (self.at(Fraction(middle, 10**places)) < number) == rises:
                below = middle
            else:
                above = middle
        return Fraction(below, 10**places)


def random_question(random: Random) -> tuple[str, Flown, Fraction, Fraction, Fraction]:
    """A setup, what it flies, a number that the output crosses half a grain below, and the stretch of stick where it does."""
    while True:
        points = [(x, random.randint(-100, 100)) for x in (-100, random.randint(-70, -20), random.randint(10, 60), 100)]
        smoothing, rate, bow = (
            random.choice(KINDS),
            random.choice([100, -90, 70, 130]),
            random.choice([0, 30, -20, 100]),
        )
        flown = Flown(points, smoothing, rate, bow)
        number, lo = Fraction(random.randint(-60, 60)), Fraction(random.randint(-70, 60))
        hi = lo + 1
        crossed = number - Fraction(1, 2_000_000)
        if (flown.at(lo) - crossed) * (flown.at(hi) - crossed) < 0:
            table = ", ".join(f"[{x}, {y}]" for x, y in points)
            return BENT.format(points=table, smoothing=smoothing, rate=rate, expo=bow, more=""), flown, number, lo, hi


@pytest.mark.quick(3)
@pytest.mark.parametrize("seed", range(40))
def test_decimals_beside_a_crossing_are_on_their_own_side(seed: int) -> None:
    """With 9, 15 and 30 places: the stretch of stick between the decimal below the crossing and the crossing is there, and
    that between the crossing and the decimal above it is there, however short; and the output is right on each side."""
    random = Random(f"crossing {seed}")
    text, flown, number, lo, hi = random_question(random)
    decider = setuplint.decide(setuplint.load_text(text))
    rises = flown.at(lo) < number
    for places in random.sample([9, 15, 30], 3):
        below = flown.bracket(number - Fraction(1, 2_000_000), lo, hi, places)
        above = below + Fraction(1, 10**places)
        at, beyond = written(below, places), written(above, places)
        first, second = ("<", ">=") if rises else (">=", "<")
        assert decider.find(f"throttle > {at} and throttle < {beyond} and output one {first} {number}").found
        assert decider.find(f"throttle > {at} and throttle < {beyond} and output one {second} {number}").found
        assert decider.find(f"throttle >= {lo} and throttle <= {at} and output one {second} {number}").impossible
        assert decider.find(f"throttle >= {beyond} and throttle <= {hi} and output one {first} {number}").impossible


SMOOTH = "[-100, -70], [-20, 10], [30, 20], [100, 70]"
TWICE = """\
[curves.twice]
points = [[-100, -140], [-20, 20], [30, 40], [100, 140]]
smoothing = "natural"
[channels.two]
drives = "other"
from = "throttle"
curve = "twice"
sub-trim = {}
"""


def twins(sub_trim: str) -> Decider:
    more = TWICE.format(sub_trim)
    text = BENT.format(points=SMOOTH, smoothing="natural", rate=100, expo=0, more=more)
    setup = setuplint.load_text(text)
    assert not setup.problems
    made: Decider = setuplint.decide(setup)
    return made


def test_crossings_at_one_place_are_one_and_beside_it_are_two() -> None:
    """One goes from under 15 to 15 half a grain before; the other, twice as much and half a grain more, from under 30 to 30 at
    the very place, or a millionth of a millionth of a point of output beside it. Half of a grain to even: 15 and 30."""
    under, over = "output one < 15 and output two >= 30", "output one >= 15 and output two < 30"
    same = twins("0.0000005")
    assert same.find(under).impossible
    assert same.find(over).impossible
    assert twins("0.000000500001").find(under).found
    assert twins("0.000000500000000000000000000001").find(under).found
    assert twins("0.000000499999999999999999999999").find(over).found
    assert twins("0.000000499999999999999999999999").find(under).impossible


def test_a_crossing_that_expo_puts_at_a_decimal_is_that_decimal() -> None:
    """x / 100 times (0.7 + 0.3 x^2 / 10^4) at 12.3456789012 is met exactly, and there the output is rounded up."""
    x = Fraction("12.3456789012")
    y = expo(Fraction(30), x)
    more = f"sub-trim = {written(-y - Fraction(1, 2_000_000), 40).rstrip('0')}\n"
    text = BENT.format(points="[-100, -100], [100, 100]", smoothing="none", rate=100, expo=30, more=more)
    setup = setuplint.load_text(text)
    assert not setup.problems
    decider = setuplint.decide(setup)
    case = decider.find("throttle <= 12.3456789012 and output one >= 0").case
    assert case is not None
    assert case.state.sticks["throttle"] == x
    assert decider.find("throttle < 12.3456789012 and output one >= 0").impossible
    assert decider.find("throttle >= 12.3456789012 and output one < 0").impossible
    assert decider.find("throttle <= 12.3456789012 and output one < 0").found


# -- roots against z3


def random_surd(random: Random, more: polynomials.Ints) -> Surd | None:
    """A crossing of a random shape, as a root of its polynomial times another, where that has no root near."""
    points = [(Fraction(x), Fraction(random.randint(-9, 9))) for x in (-100, 0, random.randint(20, 40), 100)]
    bow = Fraction(random.choice([0, 40]))
    shape = Shape.of(points, random.choice(KINDS), Fraction(100), bow)
    found = [cut.root for cut in shape.crossings(Fraction(random.randint(-8, 8))) if cut.root is not None]
    if not found:
        return None
    root = random.choice(found)
    return Surd(polynomials.multiplied(root.polynomial, more), root.lo, root.hi)


def z3_root(root: Surd) -> z3num.Numeral:
    """The same root as z3 knows it."""
    x = z3.Var(0, z3.RealSort())
    terms = (z3.RealVal(c) * x**n if n else z3.RealVal(c) for n, c in enumerate(root.polynomial))
    lo, hi = (z3num.Numeral(z3.Q(*end.as_integer_ratio())) for end in (root.lo, root.hi))
    (only,) = [found for found in z3num.isolate_roots(z3.Sum(*terms)) if lo < found < hi]
    return only


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(30))
def test_the_order_of_two_roots_is_that_of_z3(seed: int) -> None:
    """Of the same root under two polynomials, of the root moved by a hair, and of two roots."""
    random = Random(f"roots {seed}")
    one = other = None
    while one is None or other is None:
        one, other = random_surd(random, (1, 0, 1)), random_surd(random, (1,))
    again = Surd(polynomials.multiplied(one.polynomial, (7, 0, 3)), one.lo - Fraction(1, 10**11), one.hi)
    moved = surds.shifted(one, Fraction(random.choice([1, -1]), 10**15))
    assert surds.compared(one, again) == 0
    assert isinstance(moved, Surd)
    for pair in ((one, again), (one, moved), (moved, one), (one, other)):
        left, right = map(z3_root, pair)
        assert surds.compared(*pair) == (left > right) - (left < right), pair


def test_a_root_that_two_polynomials_share_elsewhere_is_not_this_one() -> None:
    """x^2 = 2 and x^2 = 3, each times x^2 = 5, between 1.4 and 1.8: they share another root alone."""
    two, three, five = (-2, 0, 1), (-3, 0, 1), (-5, 0, 1)
    one, other = (Surd(polynomials.multiplied(p, five), Fraction(7, 5), Fraction(9, 5)) for p in (two, three))
    assert surds.compared(one, other) == -1
    assert surds.compared(other, one) == 1
    assert surds.compared(one, one.finer()) == 0
