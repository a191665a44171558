"""What one stick or knob does to a channel, exactly: where it crosses a number, how far it goes, how steep it is.

x and y are percent of travel. Everything is a `Fraction`. A place that is no decimal is named by one at most 1e-9 away; it is
compared by the sign of its polynomial, never by that decimal.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from functools import cached_property, lru_cache, partial
from itertools import pairwise

from setuplint.curves import polynomials
from setuplint.curves.cubics import Bend, CubicCurve, IntegerPiece, Piece, Point, curve, value, value_at
from setuplint.curves.polynomials import Ints, sign
from setuplint.curves.surds import Place, Surd
from setuplint.dataclass import dataclass
from setuplint.fraction import fraction
from setuplint.named_tuple import NamedTuple

__all__ = ["CubicCurve", "Cut", "Interval", "Piece", "Point", "Shape", "curve", "value"]

PLACES = 9
MOST_DECIMALS = 100  # of a number that a root is compared with
LEAST, MOST = fraction(-200), fraction(200)  # a stick with all the trim there can be
FULL = fraction(100)
WHOLE = (fraction(0), fraction(1))
STRAIGHT = curve(((-FULL, -FULL), (FULL, FULL)), "none")


class Cut(NamedTuple):
    """A place on the stick: `at` itself, or a root less than 1e-9 from it that is no decimal.

    Of the cuts of one answer, and the ends of the range asked about, any two `at` are further apart than four times
    the error (more decimals are given where that needs them), so the middle between two neighbours lies truly between
    them.
    """

    at: Fraction
    root: Surd | None = None

    @property
    def place(self) -> Place:
        """Where it is, exactly."""
        return self.root or self.at


class Interval(NamedTuple):
    """A stretch of stick between two cuts; a single place has both cuts equal and both ends closed."""

    lo: Cut
    lo_closed: bool
    hi: Cut
    hi_closed: bool


Extreme = tuple[Fraction, Fraction]  # a place x and what is there
_Decimals = Callable[[int], Cut]  # with so many decimals


class _Root(NamedTuple):
    """A root of curve - threshold: either the number itself, or the one root of `power` in (lo, hi) of a piece."""

    exact: Fraction | None
    guess: float
    span: IntegerPiece
    power: Ints
    lo: Fraction
    hi: Fraction
    rising: int

    def side(self, n: int, d: int) -> int:
        """The sign of n/d less the root."""
        if self.exact is not None:
            return sign(n * self.exact.denominator - self.exact.numerator * d)
        n, d = self.span.local(n, d)
        if n * self.lo.denominator <= self.lo.numerator * d:
            return -1
        if n * self.hi.denominator >= self.hi.numerator * d:
            return 1
        return self.rising * sign(polynomials.numerator_at(self.power, n, d))

    def isolated(self, n: int, d: int) -> bool:
        """Whether n/d is so near to the root that no other root of its polynomial is nearer."""
        if self.exact is not None:
            return True
        n, d = self.span.local(n, d)
        return self.lo * d < n < self.hi * d


def _known(span: IntegerPiece, at: Fraction) -> _Root:
    return _Root(at, float(at), span, (), at, at, 0)


def _roots_inside(span: IntegerPiece, control: list[int]) -> list[tuple[_Root, bool]]:
    """The roots strictly inside a piece, in order, each with whether the sign changes there."""
    power = polynomials.from_bernstein(control)
    if power[2] == power[3] == 0:
        return [(_known(span, span.at(fraction(-power[0], power[1]))), True)]
    parts = [WHOLE]
    if polynomials.variations(control) > 1:
        repeated = polynomials.repeated_cubic(power)
        if repeated is not None:
            return [(_known(span, span.at(s)), order % 2 == 1) for s, order in repeated if 0 < s < 1]
        parts = polynomials.isolate(control)
    found: list[tuple[_Root, bool]] = []
    rising = -sign(next(filter(None, control)))
    for lo, hi in parts:
        if lo == hi:
            root = _known(span, span.at(lo))
        else:
            near = polynomials.guess(power, float(lo), float(hi), rising > 0)
            x = float(span.piece.lo) + near * float(span.piece.hi - span.piece.lo)
            root = _Root(None, x, span, power, lo, hi, rising)
        found.append((root, True))
        rising = -rising
    return found


@lru_cache(maxsize=4096)
def _signs(c: CubicCurve, threshold: Fraction) -> tuple[int, tuple[tuple[_Root, int], ...]]:
    """The sign of curve - threshold far left, and every place on the way where it is zero with its sign after it.

    Inside a stretch of zeros there is none, only at its ends.
    """
    n, d = threshold.numerator, threshold.denominator
    found: list[tuple[_Root, int]] = []
    first = before = sign(c.spans[0].control[0] * d - n * c.spans[0].scale)
    for span in c.spans:
        control = [b * d - n * span.scale for b in span.control]
        nonzero = [b for b in control if b]
        if not control[0]:
            after = sign(nonzero[0]) if nonzero else 0
            if before or after:
                found.append((_known(span, span.piece.lo), after))
            before = after
        if nonzero and min(nonzero) < 0 < max(nonzero):
            for root, odd in _roots_inside(span, control):
                before = -before if odd else before
                found.append((root, before))
    if before and not control[3]:
        found.append((_known(span, span.piece.hi), 0))
    return first, tuple(found)


@dataclass(frozen=True)
class Shape:
    """One stick term: y(x) = curve(expo(x * rate / 100 limited to [-100, 100]))."""

    curve: CubicCurve
    rate: Fraction
    expo: Fraction

    @staticmethod
    def of(points: Sequence[Point] | None, smoothing: str | None, rate: Fraction, expo: Fraction) -> Shape:
        """The term with these points (None: straight), rate (-150 to 150 %) and expo (-50 to 100 %).

        ValueError for points or a smoothing that make no curve, or an expo that would turn back.
        """
        return _shape(None if points is None else tuple(points), smoothing or "none", rate, expo)

    def __hash__(self) -> int:
        return self._hash

    @cached_property
    def _hash(self) -> int:
        return hash((self.curve, self.rate, self.expo))

    @cached_property
    def _numbers(self) -> tuple[int, int, int, int]:
        gain, bow = fraction(self.rate) / 10000, fraction(self.expo) / 100
        return gain.numerator, gain.denominator, bow.numerator, bow.denominator

    def bent(self, n: int, d: int) -> tuple[int, int]:
        """What the curve is given when the stick is at n/d, as numerator and denominator."""
        gain, per, k, whole = self._numbers
        n, d = n * gain, d * per
        if abs(n) >= d:
            return (100, 1) if n > 0 else (-100, 1)
        if not k:
            return 100 * n, d
        square = d * d
        return 100 * n * ((whole - k) * square + k * n * n), whole * square * d

    def bent_polynomial(self) -> tuple[Ints, int]:
        """`bent` where it is not limited: a polynomial in x over a number."""
        gain, per, k, whole = self._numbers
        if not k:
            return (0, 100 * gain), per
        return (0, 100 * (whole - k) * per * per * gain, 0, 100 * k * gain**3), whole * per**3

    def value(self, x: Fraction) -> Fraction:
        """y at x."""
        return value_at(self.curve, *self.bent(x.numerator, x.denominator))

    def _cut(self, root: _Root, places: int) -> Cut:
        """Where the stick gives the curve what `root` says, which lies strictly inside (-100, 100)."""
        if root.exact is not None and not self.expo:
            return Cut(root.exact * 100 / self.rate)
        at, exact = self._located(root, places, self._near(root) * 10 ** (places - PLACES))
        if exact:
            return Cut(at)
        polynomial = self._polynomial(root)
        finest = min(polynomials.most_decimals(polynomial), MOST_DECIMALS)
        if finest > places:
            decimal, exact = self._located(root, finest, int(at * 10**finest))
            if exact:
                return Cut(decimal)
        return Cut(at, self._surd(root, polynomial, at, places))

    def _located(self, root: _Root, places: int, start: int) -> tuple[Fraction, bool]:
        """The root as a decimal, and True; or a decimal of so many places less than one of them from it, and False."""
        grid, turn = 10**places, sign(self.rate)
        at, exact = polynomials.locate(lambda x: turn * root.side(*self.bent(x, grid)), start)
        return fraction(at, grid), exact

    def _polynomial(self, root: _Root) -> Ints:
        """One in x that is zero where the stick gives the curve what `root` says."""
        n, d = self.bent_polynomial()
        if root.exact is not None:
            w = root.exact
            return polynomials.primitive((n[0] * w.denominator - w.numerator * d, *(c * w.denominator for c in n[1:])))
        span = root.span
        offset, *rest = (span.a * c for c in n)
        return polynomials.primitive(polynomials.composed(root.power, (offset - span.b * d, *rest), span.c * d))

    def _surd(self, root: _Root, polynomial: Ints, at: Fraction, places: int) -> Surd:
        """The root between two decimals that are close enough for it to be the only one."""
        step = fraction(1, 10**places)
        lo, hi = at - step, at + step
        full = abs(fraction(10000) / self.rate)
        w = [self.bent(x.numerator, x.denominator) for x in (lo, hi)]
        if max(abs(lo), abs(hi)) >= full or not all(root.isolated(n, d) for n, d in w):
            finer, _ = self._located(root, 2 * places, int(at * 10 ** (2 * places)))
            return self._surd(root, polynomial, finer, 2 * places)
        return Surd(polynomial, lo, hi)

    def _near(self, root: _Root) -> int:
        """About where that is, in the last of nine decimals; 0 where floats do not reach."""
        try:
            return round(_unbent(root.guess, float(self.expo) / 100) * 1e13 / float(self.rate))
        except ArithmeticError:
            return 0

    def place(self, w: Fraction, places: int = PLACES) -> Fraction:
        """The stick position that gives the curve w, which is strictly inside (-100, 100), to so many decimals."""
        return self._cut(_known(self.curve.spans[0], w), places).at

    def crossings(self, threshold: Fraction, lo: Fraction = LEAST, hi: Fraction = MOST) -> tuple[Cut, ...]:
        """Every x in [lo, hi] where y is the threshold, in order; of a stretch where it stays so, the two ends."""
        return tuple(cell.at for cell in _cells(self, threshold, lo, hi) if cell.sign == 0)

    def below(self, threshold: Fraction, lo: Fraction = LEAST, hi: Fraction = MOST) -> tuple[Interval, ...]:
        """Where in [lo, hi] y < threshold: disjoint, in order."""
        return _where(_cells(self, threshold, lo, hi), (-1,))

    def at_most(self, threshold: Fraction, lo: Fraction = LEAST, hi: Fraction = MOST) -> tuple[Interval, ...]:
        """Where in [lo, hi] y <= threshold: disjoint, in order."""
        return _where(_cells(self, threshold, lo, hi), (-1, 0))

    def bends(self, lo: Fraction, hi: Fraction) -> list[Bend]:
        """Both ends of [lo, hi] and every bend between, as the curve's, in the order of the stick."""
        start, end = (fraction(*self.bent(x.numerator, x.denominator)) for x in (lo, hi))
        bends = _between(self.curve, min(start, end), max(start, end))
        return bends if start <= end else bends[::-1]

    def places(self, bends: Sequence[Bend], lo: Fraction, hi: Fraction, wanted: Iterable[int]) -> list[Fraction]:
        """The stick positions of some of the `bends` of [lo, hi], by index."""
        last = len(bends) - 1
        return [lo if i == 0 else hi if i == last else self.place(bends[i].at) for i in wanted]

    def extremes(self, lo: Fraction = LEAST, hi: Fraction = MOST) -> tuple[Extreme, Extreme]:
        """The least and the greatest of y over [lo, hi], each as (x, y); of several places the one nearest mid-curve.

        y is exact at ends, points and rational turns, elsewhere to 20 decimals; x is within 1e-9 of the place.
        """
        return _extremes(self, lo, hi)

    def direction(self, lo: Fraction = LEAST, hi: Fraction = MOST) -> int | None:
        """1 if y never falls over [lo, hi], -1 if it never rises, 0 if it is constant, None if it does both."""
        steps = {sign(b.value - a.value) for a, b in pairwise(self.bends(lo, hi))} - {0}
        return None if len(steps) > 1 else max(steps, default=0)

    def is_constant(self, lo: Fraction = LEAST, hi: Fraction = MOST) -> bool:
        """Whether y is the same everywhere in [lo, hi]."""
        return self.direction(lo, hi) == 0


@lru_cache(maxsize=8192)
def _extremes(shape: Shape, lo: Fraction, hi: Fraction) -> tuple[Extreme, Extreme]:
    bends = shape.bends(lo, hi)
    least, greatest = least_and_greatest(bends)
    low, high = shape.places(bends, lo, hi, (least, greatest))
    return (low, bends[least].value), (high, bends[greatest].value)


@lru_cache(maxsize=4096)
def _shape(points: tuple[Point, ...] | None, smoothing: str, rate: Fraction, expo: Fraction) -> Shape:
    if not -50 <= expo <= 100:
        raise ValueError("expo is from -50 to 100")
    return Shape(STRAIGHT if points is None else curve(points, smoothing), rate, expo)


def _unbent(w: float, k: float) -> float:
    """The v on [-1, 1] that expo k takes to w percent, about."""
    return polynomials.guess((-w / 100, 1 - k, 0.0, k), -1.0, 1.0, True) if k else w / 100


def rounded(x: Fraction) -> Fraction:
    """To nine decimals."""
    return fraction(round(x * 10**PLACES), 10**PLACES)


def _fixed(x: Fraction) -> _Decimals:
    return lambda _: Cut(x)


class _Cell(NamedTuple):
    at: Cut
    sign: int
    after: int  # the sign between this place and the next


@lru_cache(maxsize=8192)
def _cells(shape: Shape, threshold: Fraction, lo: Fraction, hi: Fraction) -> tuple[_Cell, ...]:
    """The signs of y - threshold over [lo, hi]: at both ends and wherever they change."""
    backwards = shape.rate < 0
    low_end, high_end = (hi, lo) if backwards else (lo, hi)
    low, high = shape.bent(low_end.numerator, low_end.denominator), shape.bent(high_end.numerator, high_end.denominator)
    before, roots = _signs(shape.curve, threshold)
    at_low = at_high = None
    inside: list[tuple[_Root, int]] = []
    for root, after in roots:
        if (side := root.side(*low)) >= 0:
            before, at_low = after, (None if side else 0)
        elif (side := root.side(*high)) > 0:
            inside.append((root, after))
        else:
            at_high = None if side else 0
            break
    gaps = [before, *(after for _, after in inside)]
    first = gaps[0] if at_low is None else at_low
    last = gaps[-1] if at_high is None else at_high
    if low[0] * high[1] == high[0] * low[1]:
        return tuple(_Cell(Cut(x), first, first) for x in sorted({lo, hi}))
    places: list[_Decimals] = [_fixed(low_end), *(partial(shape._cut, root) for root, _ in inside), _fixed(high_end)]
    signs = [first, *(0 for _ in inside), last]
    full = abs(fraction(10000) / shape.rate)
    if abs(high_end) > full:
        places.insert(-1, _fixed(full if high_end > 0 else -full))
        signs, gaps = [*signs, last], [*gaps, last]
    if abs(low_end) > full:
        places.insert(1, _fixed(full if low_end > 0 else -full))
        signs, gaps = [first, *signs], [first, *gaps]
    if backwards:
        places, signs, gaps = places[::-1], signs[::-1], gaps[::-1]
    changes = [0, *(i for i in range(1, len(gaps)) if not gaps[i - 1] == signs[i] == gaps[i]), len(gaps)]
    cuts = _apart([places[i] for i in changes])
    return tuple(_Cell(cut, signs[i], gaps[min(i, len(gaps) - 1)]) for cut, i in zip(cuts, changes, strict=True))


def _apart(places: Sequence[_Decimals]) -> list[Cut]:
    """The cuts, which are different places in order, with as many decimals as it takes to tell them apart."""
    digits = PLACES
    while True:
        cuts = [place(digits) for place in places]
        least = fraction(4, 10**digits)
        if all(b.at - a.at > least for a, b in pairwise(cuts)):
            return cuts
        digits += 6


def _where(cells: Sequence[_Cell], wanted: tuple[int, ...]) -> tuple[Interval, ...]:
    """The intervals in which the sign is a wanted one."""
    found = []
    start: tuple[Cut, bool] | None = None
    for i, cell in enumerate(cells):
        here, beyond = cell.sign in wanted, i < len(cells) - 1 and cell.after in wanted
        if here and start is None:
            start = (cell.at, True)
        if start and not (here and beyond):
            found.append(Interval(*start, cell.at, here))
            start = None
        if beyond and start is None:
            start = (cell.at, False)
    return tuple(found)


def _between(c: CubicCurve, lo: Fraction, hi: Fraction) -> list[Bend]:
    inner = [bend for bend in c.bends if lo < bend.at < hi]
    return [Bend(lo, value(c, lo)), *inner, Bend(hi, value(c, hi))]


def least_and_greatest(bends: Sequence[Bend]) -> tuple[int, int]:
    order = sorted(range(len(bends)), key=lambda i: (abs(bends[i].at), bends[i].at))
    return min(order, key=lambda i: bends[i].value), max(order, key=lambda i: bends[i].value)
