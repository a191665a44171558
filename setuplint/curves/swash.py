"""The swashplate's plain geometry: what each servo is asked for by collective, aileron and elevator (MEANING.md 5, `[swash]`).

Angles are counted from the nose, to which a positive elevator leans the plate; a positive aileron leans it to the right, 90
degrees. Demands and travels are percent.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import cache, lru_cache
from math import cos, isqrt, radians, sin, sqrt

from setuplint.dataclass import dataclass
from setuplint.fraction import fraction
from setuplint.setup.model import Swash

ZERO = fraction(0)
DIGITS = 15
CLOSE = 1e-9  # far more than what floats are off by

Pair = tuple[Fraction, Fraction]
Demand = tuple[Fraction, Fraction, Fraction]  # collective, aileron, elevator
Box = tuple[Pair, Pair, Pair]  # the least and the greatest of each

ANGLES = {
    "two-90": (0, 90),
    "three-120": (0, 120, 240),
    "three-135": (0, 135, 225),
    "three-140": (0, 140, 220),
    "four-90": (0, 90, 180, 270),
}


@dataclass(frozen=True, slots=True)
class Servo:
    """How far it goes with each demand: `name` is what a pilot calls it."""

    name: str
    collective: Fraction
    aileron: Fraction
    elevator: Fraction


@cache
def servos(kind: str) -> tuple[Servo, ...]:
    """The servos of a kind of swashplate; `one` has one servo a function."""
    one = fraction(1)
    if kind == "one":
        return (
            Servo("the collective servo", one, ZERO, ZERO),
            Servo("the aileron servo", ZERO, one, ZERO),
            Servo("the elevator servo", ZERO, ZERO, one),
        )
    return tuple(
        Servo(f"the servo {angle}° from the nose" if angle else "the servo in line with the nose", one, *arm(angle))
        for angle in ANGLES[kind]
    )


def arm(angle: int) -> Pair:
    """Sine and cosine of whole degrees, exact where they are halves or whole, else to 15 decimals."""
    return _fraction(sin(radians(angle))), _fraction(cos(radians(angle)))


def _fraction(value: float) -> Fraction:
    half = fraction(round(value * 2), 2)
    return half if abs(value - float(half)) < 1e-12 else fraction(round(value * 10**DIGITS), 10**DIGITS)


def leaned(swash: Swash, aileron: Fraction, elevator: Fraction) -> Pair:
    """Aileron and elevator as the ring lets them through: shortened to its radius, their direction kept."""
    square = aileron**2 + elevator**2
    if swash.ring is None or square <= swash.ring**2:
        return aileron, elevator
    share = swash.ring / root(square)
    return aileron * share, elevator * share


def travel(swash: Swash, servo: Servo, demand: Demand) -> Fraction:
    """What a servo is asked for, in percent of its travel."""
    assert swash.collective is not None
    assert swash.cyclic is not None
    aileron, elevator = leaned(swash, *demand[1:])
    lean = servo.aileron * aileron + servo.elevator * elevator
    return (swash.collective * servo.collective * demand[0] + swash.cyclic * lean) / 100


@lru_cache(1024)  # modes have it alike, and files of a template
def farthest(swash: Swash, servo: Servo, box: Box) -> tuple[Fraction, Demand]:
    """The travel that is farthest from the middle over a box of demands, and where: exact but for the ring's roots."""
    places = [(c, a, e) for c in box[0] for a, e in _corners(swash, servo, box[1:])]
    about = [_near(swash, servo, place) for place in places]
    most = max(about)
    likely = (place for place, size in zip(places, about, strict=True) if size >= most - CLOSE * (1 + most))
    found = [(travel(swash, servo, place), place) for place in likely]
    return max(found, key=lambda item: abs(item[0]))


def _near(swash: Swash, servo: Servo, demand: Demand) -> float:
    """How far a travel is from the middle, nearly: which of many are worth working out."""
    collective, aileron, elevator = map(float, demand)
    square = aileron * aileron + elevator * elevator
    ring = None if swash.ring is None else float(swash.ring)
    share = 1.0 if ring is None or square <= ring * ring else ring / sqrt(square)
    lean = (float(servo.aileron) * aileron + float(servo.elevator) * elevator) * share
    return (
        abs(float(swash.collective or 0) * float(servo.collective) * collective + float(swash.cyclic or 0) * lean) / 100
    )


def _corners(swash: Swash, servo: Servo, box: Sequence[Pair]) -> Iterator[Pair]:
    """Where a linear function of the pair, as the ring lets it through, can have its extremes in a rectangle: at its
    corners, where its sides meet the ring, and along the arm beyond the ring."""
    (a0, a1), (e0, e1) = box
    yield from ((a, e) for a in (a0, a1) for e in (e0, e1))
    ring = swash.ring
    if ring is None:
        return
    for a in (a0, a1):
        if abs(a) <= ring:
            other = root(ring**2 - a**2)
            yield from ((a, e) for e in (-other, other) if e0 <= e <= e1)
    for e in (e0, e1):
        if abs(e) <= ring:
            other = root(ring**2 - e**2)
            yield from ((a, e) for a in (-other, other) if a0 <= a <= a1)
    if servo.aileron or servo.elevator:
        for way in (1, -1):
            span = _along(way * servo.aileron, way * servo.elevator, box)
            if span is not None and span[1] >= ring:
                reach = max(ring, span[0])
                yield way * servo.aileron * reach, way * servo.elevator * reach


def _along(a: Fraction, e: Fraction, box: Sequence[Pair]) -> Pair | None:
    """From where to where a ray from the middle is inside a rectangle; None: nowhere."""
    least, most = ZERO, fraction(10**6)
    for step, (low, high) in zip((a, e), box, strict=True):
        if step:
            ends = sorted((low / step, high / step))
            least, most = max(least, ends[0]), min(most, ends[1])
        elif not low <= 0 <= high:
            return None
    return (least, most) if least <= most else None


def root(square: Fraction) -> Fraction:
    """The square root, to 15 decimals, exact where it has no more than that."""
    return fraction(isqrt(square.numerator * 10 ** (2 * DIGITS) // square.denominator), 10**DIGITS)
