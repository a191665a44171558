"""Exact polynomials over the integers: their roots in an interval, and the decimals nearest to a root.

Coefficients are integers, lowest power first. A polynomial on [0, 1] is also held by its Bernstein coefficients: the
number of sign changes among them is at least the number of roots inside, and equal to it when it is 0 or 1
(Descartes' rule in the form of Lane and Riesenfeld, BIT 21, 1981). Floats are first guesses only; every answer rests
on signs of integers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from itertools import pairwise
from math import comb, gcd, isqrt, lcm

from setuplint.fraction import fraction

Ints = tuple[int, ...]


def sign(number: int | Fraction) -> int:
    """-1, 0 or 1."""
    return (number > 0) - (number < 0)


def scaled(numbers: Sequence[Fraction]) -> tuple[Ints, int]:
    """The numbers as integers over one positive denominator."""
    denominator = lcm(*(number.denominator for number in numbers))
    return tuple(number.numerator * (denominator // number.denominator) for number in numbers), denominator


def numerator_at(p: Sequence[int], n: int, d: int) -> int:
    """p(n/d) times d to the power of the degree; for d > 0 it has the sign of p(n/d)."""
    total = p[-1]
    power = 1
    for coefficient in reversed(p[:-1]):
        power *= d
        total = total * n + coefficient * power
    return total


def derivative(p: Sequence[int]) -> Ints:
    """p'; of a constant, zero."""
    return tuple(i * c for i, c in enumerate(p))[1:] or (0,)


def multiplied(p: Sequence[int], q: Sequence[int]) -> Ints:
    """p times q."""
    product = [0] * (len(p) + len(q) - 1)
    for i, a in enumerate(p):
        for j, b in enumerate(q):
            product[i + j] += a * b
    return tuple(product)


def composed(p: Sequence[int], n: Sequence[int], d: int) -> Ints:
    """p(n/d) times d to the power of the degree, n a polynomial."""
    total: Ints = (p[-1],)
    power = 1
    for coefficient in reversed(p[:-1]):
        power *= d
        total = multiplied(total, n)
        total = (total[0] + coefficient * power, *total[1:])
    return total


def primitive(p: Sequence[int]) -> Ints:
    """p over the greatest number that divides all of it, without leading zeros."""
    size = next((n for n in range(len(p), 0, -1) if p[n - 1]), 1)
    whole = gcd(*p) or 1
    return tuple(c // whole for c in p[:size])


def common_divisor(p: Ints, q: Ints) -> Ints:
    """The polynomial of highest degree that divides both, by Euclid."""
    while any(q):
        p, q = q, _remainder(p, q)
    return primitive(p)


def _remainder(p: Ints, q: Ints) -> Ints:
    """What is left of p divided by q, times a number."""
    p, q = primitive(p), primitive(q)
    while len(p) >= len(q) and any(p):
        shift = len(p) - len(q)
        rest = [c * q[-1] for c in p]
        for n, c in enumerate(q, start=shift):
            rest[n] -= c * p[-1]
        p = primitive(rest[:-1] or [0])
    return p


def most_decimals(p: Ints) -> int:
    """No root that is a decimal has more places: what a root is a fraction of divides the leading coefficient."""
    return max(_times(p[-1], 2), _times(p[-1], 5))


def _times(number: int, prime: int) -> int:
    """How often a prime divides a number that is not zero."""
    times = 0
    while number % prime == 0:
        number, times = number // prime, times + 1
    return times


def from_bernstein(b: Sequence[int]) -> Ints:
    """The power form, in s on [0, 1], of a cubic given by its four Bernstein coefficients."""
    b0, b1, b2, b3 = b
    return b0, 3 * (b1 - b0), 3 * (b0 - 2 * b1 + b2), b3 - b0 + 3 * (b1 - b2)


def local(p: Sequence[int], lo: Fraction, hi: Fraction) -> Ints:
    """p on [lo, hi] as a polynomial in s on [0, 1], times a positive number."""
    (start, width), d = scaled((lo, hi - lo))
    return composed(p, (start, width), d)


def to_bernstein(p: Sequence[int]) -> Ints:
    """Bernstein coefficients on [0, 1], times a positive number."""
    degree = len(p) - 1
    common = lcm(*(comb(degree, k) for k in range(degree + 1)))
    weights = [common // comb(degree, k) * c for k, c in enumerate(p)]
    return tuple(sum(comb(i, k) * weights[k] for k in range(i + 1)) for i in range(degree + 1))


def variations(b: Sequence[int]) -> int:
    """How often the sign changes along the sequence, zeros left out."""
    signs = [x > 0 for x in b if x]
    return sum(a != b for a, b in pairwise(signs))


def _halves(b: Sequence[int]) -> tuple[Ints, Ints]:
    degree = len(b) - 1
    left, right, row = [b[0] << degree], [b[-1] << degree], list(b)
    for step in range(1, degree + 1):
        row = [x + y for x, y in pairwise(row)]
        left.append(row[0] << (degree - step))
        right.append(row[-1] << (degree - step))
    return tuple(left), tuple(reversed(right))


def isolate(b: Sequence[int], depth: int = 0) -> list[tuple[Fraction, Fraction]]:
    """Disjoint parts of (0, 1), sorted: open intervals with one root each, and single roots (both ends equal).

    b are Bernstein coefficients. A repeated root that is not met by halving would go on for ever: exclude it first,
    or give a `depth` at which what is left is handed back as it is, root or not (zero: no limit).
    """
    found: list[tuple[Fraction, Fraction]] = []
    stack = [(tuple(b), fraction(0), fraction(1), 1)]
    while stack:
        part, lo, hi, level = stack.pop()
        count = variations(part)
        if count == 1 or (count and level == depth):
            found.append((lo, hi))
        elif count:
            left, right = _halves(part)
            middle = (lo + hi) / 2
            if right[0] == 0:
                found.append((middle, middle))
            stack += [(right, middle, hi, level + 1), (left, lo, middle, level + 1)]
    return sorted(found)


def repeated_cubic(p: Ints) -> list[tuple[Fraction, int]] | None:
    """All roots, each with its multiplicity, of a cubic or quadratic that has a repeated one; None if it has none.

    A repeated root of a rational cubic is rational, and so is then the other: the closed forms follow from the
    discriminant.
    """
    d, c, b, a = p
    if a == 0:
        return [(fraction(-c, 2 * b), 2)] if b and c * c == 4 * b * d else None
    if 18 * a * b * c * d - 4 * b**3 * d + b * b * c * c - 4 * a * c**3 - 27 * a * a * d * d:
        return None
    inner = b * b - 3 * a * c
    if inner == 0:
        return [(fraction(-b, 3 * a), 3)]
    double = fraction(9 * a * d - b * c, 2 * inner)
    return sorted([(double, 2), (-fraction(b, a) - 2 * double, 1)])


def quadratic_roots(p: Ints) -> tuple[list[Fraction], bool]:
    """Where a quadratic or linear polynomial changes sign, in order, and if that is exact; else to 1e-38 of itself."""
    c, b, a = p
    if a == 0:
        return ([fraction(-c, b)] if b else []), True
    inner = b * b - 4 * a * c
    if inner <= 0:
        return [], True
    root, scale = isqrt(inner), 1
    exact = root * root == inner
    if not exact:
        root, scale = isqrt(inner << 256), 1 << 128
    # the sum that does not cancel, then the other root by their product
    sum_ = -(b * scale + root) if b > 0 else root - b * scale
    return sorted([fraction(sum_, 2 * a * scale), fraction(2 * c * scale, sum_)]), exact


def guess(p: Sequence[float], lo: float, hi: float, rising: bool) -> float:
    """A float near the one root of p inside (lo, hi), where p rises or falls through zero."""
    size = max(map(abs, p)) or 1
    coefficients = [c / size for c in reversed(p)]
    x = (lo + hi) / 2
    for _ in range(80):
        y = slope = 0.0
        for c in coefficients:
            slope = slope * x + y
            y = y * x + c
        if (y > 0) == rising:
            hi = x
        else:
            lo = x
        step = x - y / slope if slope else lo
        last, x = x, (step if lo < step < hi else (lo + hi) / 2)
        if abs(x - last) <= 1e-15:
            break
    return x


def locate(side: Callable[[int], int], start: int) -> tuple[int, bool]:
    """The integer at which `side` is zero, and True; or one less than 1 from where its sign changes, and False.

    `side` never falls, is negative far down and positive far up; `start` is where to look first.
    """
    at = side(start)
    if at == 0:
        return start, True
    step = -at
    near, far = start, start + step
    while (there := side(far)) == at:
        near, step = far, 2 * step
        far += step
    if there == 0:
        return far, True
    while abs(far - near) > 1:
        middle = (near + far) // 2
        there = side(middle)
        if there == 0:
            return middle, True
        if there == at:
            near = middle
        else:
            far = middle
    return near, False
