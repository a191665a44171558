"""Sums over several sticks (MEANING.md 9): each distinct sum is a quantity of its own, and an assignment that gives it a
stretch is checked against the sticks' own stretches. Answers are exact for one sum; for several over the same sticks boxes are
halved, within a budget."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from setuplint.budget import BOX, PLACE, OutOfBudget
from setuplint.curves.shape import Shape
from setuplint.curves.sums import NEAR, Box, Shapes, limits
from setuplint.dataclass import dataclass, field
from setuplint.fraction import fraction
from setuplint.plain.resting import round_inside
from setuplint.solver.quantities import Cell, Quantity
from setuplint.solver.sat import Model, Sat

ZERO = fraction(0)
MOST_BOXES = 100_000  # a question
BOXES_A_FILE = 150_000  # once these are spent, a question gets BOXES_THEN
BOXES_THEN = 2_000
HALVINGS = 80  # of the way between two places, for a value that no decimals may give
FEW_HALVINGS = 3  # at first: mostly another assignment will do
MOST_TOUCHING = 20  # boxes of a nanopercent in which sums may still meet, before an assignment is passed over

Wanted = tuple[Shapes, Fraction | None, bool, Fraction | None, bool]  # shapes, least, closed, greatest, closed


class Touching(OutOfBudget):
    """No stick values were found, and within a nanopercent there might be some."""


@dataclass(slots=True)
class Sum:
    """One sum in one frame; `guards` are the literals under which some output is it."""

    shapes: Shapes
    sticks: Mapping[str, Quantity]
    quantity: Quantity
    guards: list[int] = field(default_factory=list)
    owners: set[str] = field(default_factory=set)  # channels


def inner(cell: Cell) -> tuple[Fraction, Fraction]:
    """A closed stretch inside a cell: open ends are drawn in by a nanopercent, far under the rounding of outputs."""
    gap = min(NEAR * 2, (cell.hi - cell.lo) / 4)
    return cell.lo if cell.lo_closed else cell.lo + gap, cell.hi if cell.hi_closed else cell.hi - gap


def _fits(low: Fraction, high: Fraction, wanted: Wanted) -> int:
    """1: every value in [low, high] is wanted, -1: none is, 0: some may be."""
    _, least, least_closed, greatest, greatest_closed = wanted
    if least is not None and (high < least or (high == least and not least_closed)):
        return -1
    if greatest is not None and (low > greatest or (low == greatest and not greatest_closed)):
        return -1
    above = least is None or low > least or (low == least and least_closed)
    under = greatest is None or high < greatest or (high == greatest and greatest_closed)
    return 1 if above and under else 0


def solve(
    box: Box, wanted: Sequence[Wanted], sat: Sat, *, shown: bool = True, halvings: int = HALVINGS
) -> dict[str, Fraction] | None:
    """Stick values in the box with every sum in its wanted stretch, with few digits, or None: there are none. Where they need
    not be `shown`, no values may be given: there are some. OutOfBudget after 100,000 boxes for a question, which `sat` counts;
    Touching where one value alone is wanted of a sum and so many halvings of a way come to it nowhere."""
    loose = _loose(box, wanted, sat)
    if loose is None:
        return None
    if not shown and (not loose or (len(loose) == 1 and _passes(box, loose[0]))):
        return {}
    if not loose:
        return {name: round_inside(*box[name]) for name in box}
    found = _on_the_way(box, loose[0], sat, halvings) if len(loose) == 1 else _halve(box, loose, sat)
    return _neat(found, box, loose, sat) if found is not None else None


def _passes(box: Box, wanted: Wanted) -> bool:
    """Whether a sum, which takes every value between its ends, has a stretch of these in what is wanted: so decimals too."""
    shapes, least, _, greatest, _ = wanted
    low, high = limits(shapes, box)
    return max(low, low if least is None else least) < min(high, high if greatest is None else greatest)


def impossible(box: Box, wanted: Sequence[Wanted], sat: Sat) -> bool:
    """Whether nothing in the box gives every sum what is wanted of it, as far as can be shown."""
    loose = _loose(box, wanted, sat)
    if not loose:
        return loose is None
    if len(loose) == 1:
        return False  # a sum takes every value between its ends
    try:
        return _halve(box, loose, sat) is None
    except Touching:
        return False


def _loose(box: Box, wanted: Sequence[Wanted], sat: Sat) -> list[Wanted] | None:
    """What is wanted of sums that can give it in the box and need not. None: some cannot give it."""
    wanted = _merged(wanted)
    sat.file.charge(BOX * len(wanted))
    if any(_empty(item) for item in wanted):
        return None
    states = [_fits(*limits(item[0], box), item) for item in wanted]
    return None if -1 in states else [item for item, state in zip(wanted, states, strict=True) if state == 0]


def _merged(wanted: Sequence[Wanted]) -> list[Wanted]:
    """What is asked of one sum twice, as one stretch: apart they would meet in ever smaller boxes."""
    found: dict[Shapes, Wanted] = {}
    for item in wanted:
        shapes, least, least_closed, greatest, greatest_closed = item
        if shapes in found:
            _, other, other_closed, most, most_closed = found[shapes]
            if least is None or (other is not None and (other, not other_closed) > (least, not least_closed)):
                least, least_closed = other, other_closed
            if greatest is None or (most is not None and (most, most_closed) < (greatest, greatest_closed)):
                greatest, greatest_closed = most, most_closed
        found[shapes] = (shapes, least, least_closed, greatest, greatest_closed)
    return list(found.values())


def _empty(wanted: Wanted) -> bool:
    _, least, least_closed, greatest, greatest_closed = wanted
    if least is None or greatest is None:
        return False
    return least > greatest or (least == greatest and not (least_closed and greatest_closed))


def _neat(point: dict[str, Fraction], box: Box, wanted: Sequence[Wanted], sat: Sat) -> dict[str, Fraction]:
    """The same with as few digits as will do, one stick after the other."""
    for name, (lo, hi) in box.items():
        for places in range(-1, 9):
            sat.file.charge(PLACE * sum(len(shapes) for shapes, *_ in wanted))
            step = fraction(10) ** -places
            near = round(point[name] / step) * step
            tried = next((x for x in (near, near - step, near + step) if lo <= x <= hi), None)
            if tried is not None and all(_value_fits(point | {name: tried}, item) == 0 for item in wanted):
                point = point | {name: tried}
                break
    return point


def _on_the_way(box: Box, wanted: Wanted, sat: Sat, halvings: int) -> dict[str, Fraction]:
    """On the straight way from the place of the least sum to that of the greatest the sum takes every value between. Touching
    where a single one is wanted and it is at no place that can be named."""
    shapes, least, _, greatest, _ = wanted
    places = {name: shape.extremes(*box[name]) for name, shape in shapes}
    rest = {name: round_inside(*ends) for name, ends in box.items() if name not in places}
    low, high = fraction(0), fraction(1)

    def at(share: Fraction) -> dict[str, Fraction]:
        sat.file.charge(PLACE * len(places))
        return rest | {name: p[0][0] + share * (p[1][0] - p[0][0]) for name, p in places.items()}

    for numerator, denominator in ((0, 1), (1, 1), (1, 2), (1, 4), (3, 4)):
        point = at(fraction(numerator, denominator))
        if _value_fits(point, wanted) == 0:
            return point
    for _ in range(halvings if least is not None and least == greatest else HALVINGS):
        middle = (low + high) / 2
        side = _value_fits(at(middle), wanted)
        if side == 0:
            return at(middle)
        low, high = (middle, high) if side < 0 else (low, middle)
        if least is not None and least == greatest:
            for point in _beside(at(low), at(high), shapes, least):
                if all(lo <= point[name] <= hi for name, (lo, hi) in box.items()) and _value_fits(point, wanted) == 0:
                    return point
    raise Touching("a sum of several sticks has one value only, at places that no decimals name")


def _beside(
    low: dict[str, Fraction], high: dict[str, Fraction], shapes: Shapes, goal: Fraction
) -> Iterator[dict[str, Fraction]]:
    """Where one stick alone is moved so that the sum comes to the goal: exact for one whose line is straight."""
    short = goal - _value(low, shapes)
    for name, _ in shapes:
        gain = _value(low | {name: high[name]}, shapes) - goal + short
        if gain:
            yield low | {name: low[name] + (high[name] - low[name]) * short / gain}


def _value_fits(point: Mapping[str, Fraction], wanted: Wanted) -> int:
    """0: what the sticks there give is wanted, -1: too small, 1: too great."""
    return _side(_value(point, wanted[0]), wanted)


def _value(point: Mapping[str, Fraction], shapes: Shapes) -> Fraction:
    return sum((shape.value(point[name]) for name, shape in shapes), ZERO)


def _side(value: Fraction, wanted: Wanted) -> int:
    _, least, least_closed, greatest, greatest_closed = wanted
    if least is not None and (value < least or (value == least and not least_closed)):
        return -1
    if greatest is not None and (value > greatest or (value == greatest and not greatest_closed)):
        return 1
    return 0


class _Slice:
    """Where one stick is, of a box, and what that gives each sum: worked out once for all boxes that have it."""

    __slots__ = ("_points", "hi", "lo", "most", "shapes", "under")

    def __init__(self, lo: Fraction, hi: Fraction, shapes: Sequence[Shape | None]) -> None:
        self.lo, self.hi, self.shapes = lo, hi, shapes
        ends = [shape.extremes(lo, hi) if shape else None for shape in shapes]
        self.under = [pair[0][1] if pair else ZERO for pair in ends]
        self.most = [pair[1][1] if pair else ZERO for pair in ends]
        self._points: tuple[tuple[Fraction, list[Fraction]], ...] = ()

    @property
    def points(self) -> tuple[tuple[Fraction, list[Fraction]], ...]:
        """The middle and the roundest place, with what each gives."""
        if not self._points:
            places = (self.lo + self.hi) / 2, round_inside(self.lo, self.hi)
            self._points = tuple((x, [s.value(x) if s else ZERO for s in self.shapes]) for x in places)
        return self._points

    def halves(self) -> tuple[_Slice, _Slice]:
        lo, hi = self.lo, self.hi
        half = round_inside(lo + (hi - lo) * 3 / 8, hi - (hi - lo) * 3 / 8)
        return _Slice(half, hi, self.shapes), _Slice(lo, half, self.shapes)


def _halve(box: Box, wanted: Sequence[Wanted], sat: Sat) -> dict[str, Fraction] | None:
    asked = range(len(wanted))
    shapes = [dict(item[0]) for item in wanted]
    waiting = [{name: _Slice(*ends, [each.get(name) for each in shapes]) for name, ends in box.items()}]
    touching = 0
    while waiting and touching < MOST_TOUCHING:
        here = waiting.pop()
        _count_box(len(wanted), sat)
        sticks = list(here.values())
        spans = [(sum((s.under[n] for s in sticks), ZERO), sum((s.most[n] for s in sticks), ZERO)) for n in asked]
        if -1 in (_fits(*spans[n], wanted[n]) for n in asked):
            continue
        for point in (0, 1):
            values = [s.points[point] for s in sticks]
            if all(_side(sum((v[1][n] for v in values), ZERO), wanted[n]) == 0 for n in asked):
                return dict(zip(here, (x for x, _ in values), strict=True))
        name = max(here, key=lambda n: here[n].hi - here[n].lo)
        if here[name].hi - here[name].lo < NEAR:
            touching += 1
            continue
        waiting += [here | {name: half} for half in here[name].halves()]
    if touching:
        raise Touching("sums of several sticks touch within a nanopercent")
    return None


def _count_box(sums: int, sat: Sat) -> None:
    sat.boxes += 1
    sat.file.boxes += 1
    sat.file.charge(BOX * sums)
    most = MOST_BOXES if sat.file.boxes < BOXES_A_FILE else BOXES_THEN
    if sat.boxes > most:
        raise OutOfBudget(f"sums of several sticks met in more than {most} boxes")


def wanted_of(sum_: Sum, model: Model) -> tuple[Wanted, Cell]:
    """What an assignment asks of a sum."""
    cell = sum_.quantity.cell(model.__getitem__)
    quantity = sum_.quantity
    least = None if cell.lo == quantity.lo and cell.lo_closed else cell.lo
    greatest = None if cell.hi == quantity.hi and cell.hi_closed else cell.hi
    return (sum_.shapes, least, cell.lo_closed, greatest, cell.hi_closed), cell


def refute(
    sums: Sequence[Sum], model: Model, sat: Sat, *, shown: bool, halvings: int
) -> tuple[list[int] | None, dict[tuple[int, str], Fraction]]:
    """Check an assignment: a clause that it breaks, or None, and where they are to be `shown` the stick values, by quantity and
    name, that realise it. Touching where some sums may touch and no others break it."""
    sat.file.charge(len(sums))
    active = [s for s in sums if any(model[g] for g in s.guards)]
    found: dict[tuple[int, str], Fraction] = {}
    touching = ""  # why; an error that is held holds all that was called for it
    for group in _groups(active):
        sticks = {name: (q, q.cell(model.__getitem__)) for s in group for name, q in s.sticks.items()}
        box = {name: inner(cell) for name, (_, cell) in sticks.items()}
        asked = [wanted_of(s, model) for s in group]
        try:
            point = solve(box, [w for w, _ in asked], sat, shown=shown, halvings=halvings)
        except Touching as end:
            touching = str(end)
            continue
        if point is None:
            return _blame(box, sticks, asked, sat), {}
        found |= {(id(sticks[name][0]), name): value for name, value in point.items()}
    if touching:
        raise Touching(touching)
    return None, found


def blocking(sums: Sequence[Sum], model: Model) -> list[int]:
    """The clause that forbids the stretches of an assignment, whether they can be or not; where sums have one value only,
    that they have it, wherever the sticks are."""
    quantities = {id(q): q for s in sums for q in (s.quantity, *s.sticks.values()) if any(model[g] for g in s.guards)}
    cells = [quantity.cell(model.__getitem__) for quantity in quantities.values()]
    points = [s.quantity.cell(model.__getitem__) for s in sums if id(s.quantity) in quantities]
    points = [cell for cell in points if cell.lo == cell.hi]
    return [x for cell in points or cells for x in (-cell.above, -cell.under)]


def _groups(sums: Sequence[Sum]) -> list[list[Sum]]:
    """Sums that share a stick's quantity, together."""
    groups: list[tuple[set[int], list[Sum]]] = []
    for s in sums:
        keys = {id(q) for q in s.sticks.values()}
        touching = [g for g in groups if g[0] & keys]
        groups = [g for g in groups if not g[0] & keys]
        groups.append((keys.union(*(g[0] for g in touching)), [x for g in touching for x in g[1]] + [s]))
    return [g[1] for g in groups]


def _blame(
    box: dict[str, tuple[Fraction, Fraction]],
    sticks: Mapping[str, tuple[Quantity, Cell]],
    asked: list[tuple[Wanted, Cell]],
    sat: Sat,
) -> list[int]:
    """The clause that forbids as much as can be shown at once: sums and stick stretches that are not needed are left out."""
    for item in list(asked):
        fewer = [a for a in asked if a is not item]
        if fewer and impossible(box, [w for w, _ in fewer], sat):
            asked = fewer
    clause = [x for _, cell in asked for x in (-cell.above, -cell.under)]
    for name, (quantity, cell) in sticks.items():
        wider = box | {name: (quantity.lo, quantity.hi)}
        if impossible(wider, [w for w, _ in asked], sat):
            box = wider
        else:
            clause += [-cell.above, -cell.under]
    return clause
