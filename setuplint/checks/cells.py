"""How much charge a cell holds at a voltage at rest: open-circuit tables of published cells.

The figures are those of published parameter sets, worked out with PyBaMM 26.10 from the electrodes' open-circuit potentials
(run again by the tests), in tenths of a millivolt at CHARGE percent. Between them a straight line is at most 0.7 % of the
charge off below 3.85 V (LiFePO4: 0.4 % below 3.25 V). The first four are the polymer and cobalt kind that a LiPo pack is
nearest to.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from fractions import Fraction
from functools import lru_cache
from itertools import combinations, pairwise

from setuplint.fraction import fraction
from setuplint.named_tuple import NamedTuple

CHARGE: tuple[int, ...] = (*range(10), *range(10, 20, 2), *range(20, 101, 5))
UNITS = 10_000  # of a volt

# fmt: off
TABLES: Mapping[str, tuple[int, ...]] = {
    "Marquis2019": (
        31050, 33010, 34341, 35223, 35800, 36176, 36423, 36586, 36695, 36768, 36818, 36875, 36901, 36912, 36917, 36921,
        36938, 36971, 37022, 37153, 37345, 37450, 37537, 37648, 37794, 37985, 38221, 38490, 38756, 39040, 40084, 41000),
    "Ecker2015": (
        25000, 28797, 30344, 31454, 32294, 32938, 33435, 33824, 34132, 34381, 34586, 34907, 35161, 35389, 35619, 35870,
        36565, 37094, 37430, 37700, 37805, 37873, 37979, 38155, 38417, 38823, 39400, 39868, 40304, 40789, 41353, 42000),
    "Ai2020": (
        30000, 32192, 33388, 34239, 34893, 35421, 35825, 36095, 36250, 36337, 36396, 36476, 36572, 36733, 36847, 36954,
        37168, 37331, 37481, 37622, 37763, 37925, 38122, 38365, 38675, 39089, 39519, 39945, 40409, 40879, 41384, 42000),
    "Ramadass2004": (
        28000, 30828, 32310, 33261, 33941, 34462, 34877, 35218, 35504, 35746, 35955, 36294, 36555, 36761, 36927, 37063,
        37323, 37522, 37699, 37875, 38062, 38266, 38491, 38738, 39009, 39304, 39626, 39977, 40363, 40798, 41313, 42000),
    "NCA_Kim2011": (
        27000, 30127, 31181, 31610, 31816, 31939, 32036, 32131, 32234, 32349, 32471, 32724, 32975, 33224, 33473, 33721,
        34331, 34918, 35472, 35978, 36430, 36846, 37253, 37678, 38163, 38742, 39300, 39803, 40295, 40803, 41354, 42000),
    "Mohtat2020": (
        28000, 31142, 32852, 33791, 34317, 34620, 34802, 34919, 34999, 35058, 35107, 35191, 35306, 35492, 35675, 35847,
        36202, 36389, 36538, 36710, 36914, 37155, 37446, 37968, 38399, 38797, 39232, 39705, 40216, 40767, 41360, 42000),
    "Chen2020": (
        25000, 27114, 28625, 29712, 30504, 31094, 31553, 31933, 32276, 32614, 32959, 33637, 34157, 34480, 34687, 34852,
        35286, 35814, 36290, 36670, 37054, 37509, 37983, 38406, 38896, 39479, 39943, 40421, 40809, 40967, 41236, 42000),
    "Prada2013": (
        20000, 22655, 24600, 26028, 27077, 27853, 28432, 28874, 29223, 29515, 29781, 30308, 30843, 31277, 31544, 31685,
        31857, 32058, 32324, 32525, 32621, 32660, 32678, 32688, 32700, 32740, 32926, 33097, 33132, 33142, 33164, 36000),
}
# fmt: on

POLYMER = ("Marquis2019", "Ecker2015", "Ai2020", "Ramadass2004")
SETS = {
    "lipo": POLYMER,
    "lihv": POLYMER,
    "li-ion": ("NCA_Kim2011", "Mohtat2020", "Chen2020"),
    "life": ("Prada2013",),
}


class ChargeLeft(NamedTuple):
    """Charge left in percent of the capacity: the least, the median and the most of a chemistry's published cells."""

    least: Fraction
    median: Fraction
    most: Fraction


@lru_cache(maxsize=4096)
def charge_table(name: str, volts: Fraction) -> Fraction:
    """Charge in percent of one published cell that has rested at `volts`; 0 and 100 beyond its table."""
    table = TABLES[name]
    at = fraction(volts * UNITS)
    above = bisect_right(table, at)
    if above == 0:
        return fraction(0)
    if above == len(table):
        return fraction(100)
    lower, upper = table[above - 1], table[above]
    part: Fraction = (at - lower) / (upper - lower)
    return part * (CHARGE[above] - CHARGE[above - 1]) + CHARGE[above - 1]


def charge_left(chemistry: str, volts: Fraction) -> ChargeLeft:
    """Charge left at a voltage at rest, for one of the chemistries of `[battery]`."""
    return _spread([charge_table(name, volts) for name in SETS[chemistry]])


def charge_between(chemistry: str, upper: Fraction, lower: Fraction) -> ChargeLeft:
    """Charge given up between two voltages at rest. Its `median` is the difference of the medians at the two."""
    least, _, most = _spread([charge_table(name, upper) - charge_table(name, lower) for name in SETS[chemistry]])
    return ChargeLeft(least, charge_left(chemistry, upper).median - charge_left(chemistry, lower).median, most)


@lru_cache(maxsize=1024)
def most_between(chemistry: str, upper: Fraction, lower: Fraction, span: Fraction) -> Fraction:
    """The most that `charge_between` has as its median where both voltages are higher by the same, by 0 to `span` volts."""
    ends = sorted({Fraction(0), span, *(s for at in (upper, lower) for s in _bends(chemistry, at, span))})
    return max(charge_left(chemistry, upper + s).median - charge_left(chemistry, lower + s).median for s in ends)


def _bends(chemistry: str, at: Fraction, span: Fraction) -> Iterator[Fraction]:
    """How far above a voltage, within a span, the median of the cells may bend: at their tables' figures, and where two cross."""
    names = SETS[chemistry]
    figures = sorted({Fraction(v, UNITS) - at for name in names for v in TABLES[name]} | {Fraction(0), span})
    inside = [s for s in figures if 0 <= s <= span]
    yield from inside
    charges = [[charge_table(name, at + s) for name in names] for s in inside]
    for (a, here), (b, there) in pairwise(zip(inside, charges, strict=True)):
        for one, other in combinations(range(len(names)), 2):
            low, high = here[one] - here[other], there[one] - there[other]
            if low * high < 0:
                yield a + (b - a) * low / (low - high)


def _spread(values: list[Fraction]) -> ChargeLeft:
    """The median as `statistics` has it, which takes longer to import than all tables to read."""
    ranked = sorted(values)
    middle = (ranked[(len(ranked) - 1) // 2] + ranked[len(ranked) // 2]) / 2
    return ChargeLeft(ranked[0], middle, ranked[-1])
