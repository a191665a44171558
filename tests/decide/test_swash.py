"""What swashplate servos are asked for, against plain trigonometry: written again here in floats, and sampled densely."""

from __future__ import annotations

from fractions import Fraction
from math import cos, radians, sin, sqrt
from typing import Any

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setuplint.curves.swash import Box, Demand, farthest, servos, travel
from setuplint.setup.model import Swash

F = Fraction
TINY = F(1, 10**12)
KINDS = ("one", "two-90", "three-120", "three-135", "three-140", "four-90")
WHOLE: Box = ((F(-100), F(100)),) * 3

# Each servo as the angle of its arm from the nose; of `one`, which demand it takes.
ARMS: dict[str, tuple[int, ...]] = {
    "two-90": (0, 90), "three-120": (0, 120, 240), "three-135": (0, 135, 225), "three-140": (0, 140, 220),
    "four-90": (0, 90, 180, 270),
}  # fmt: skip


def plain(kind: str, which: int, c: Any, a: Any, e: Any, collective: float, cyclic: float, ring: float | None) -> Any:
    """One servo's travel for arrays of demands."""
    if ring is not None:
        length = numpy.maximum(numpy.hypot(a, e), 1e-300)
        share = numpy.minimum(1, ring / length)
        a, e = a * share, e * share
    if kind == "one":
        return (collective / 100 * c, cyclic / 100 * a, cyclic / 100 * e)[which]
    angle = radians(ARMS[kind][which])
    return collective / 100 * c + cyclic / 100 * (a * sin(angle) + e * cos(angle))


@pytest.mark.parametrize(
    ("kind", "ring", "worst"),
    [
        # cyclic 50 % over the whole square: the servo at 120 degrees goes with sin 120 + |cos 120| of it
        ("three-120", None, 40 + 50 * (sqrt(3) / 2 + 0.5)),
        ("three-120", 100, 90),  # on the ring: the length of the pair
        ("three-120", 80, 80),
        ("three-135", None, 40 + 50 * sqrt(2)),
        ("three-140", None, 40 + 50 * (sin(radians(140)) + abs(cos(radians(140))))),
        ("three-140", 100, 90),
        ("four-90", None, 90),
        ("two-90", None, 90),
        ("one", None, 50),
        ("one", 60, 40),
    ],
)
def test_full_collective_with_full_cyclic(kind: str, ring: int | None, worst: float) -> None:
    swash = Swash(kind, F(40), F(50), None if ring is None else F(ring))
    found = max(abs(farthest(swash, servo, WHOLE)[0]) for servo in servos(kind))
    assert float(found) == pytest.approx(worst, abs=1e-9)


def test_angles_whose_sines_are_round_are_exact() -> None:
    swash = Swash("four-90", F(40), F(60))
    assert {abs(farthest(swash, servo, WHOLE)[0]) for servo in servos("four-90")} == {F(100)}
    assert servos("three-120")[1].elevator == F(-1, 2)


numbers = st.integers(-1500, 1500).map(lambda n: F(n, 10))
spans = st.tuples(numbers, numbers).map(lambda pair: (min(pair), max(pair)))


@settings(max_examples=120)
@given(st.sampled_from(KINDS), spans, spans, spans, numbers, numbers, st.none() | st.integers(1, 150).map(Fraction))
def test_worst_is_what_dense_sampling_finds(
    kind: str, c: tuple[F, F], a: tuple[F, F], e: tuple[F, F], collective: F, cyclic: F, ring: F | None
) -> None:
    """No sample is beyond it, one comes near, and it is taken at a place inside the box."""
    swash = Swash(kind, collective, cyclic, ring)
    grid = [numpy.linspace(float(low), float(high), 101) for low, high in (a, e)]
    ailerons, elevators = numpy.meshgrid(*grid)
    for which, servo in enumerate(servos(kind)):
        found, place = farthest(swash, servo, (c, a, e))
        floats: Any = [float(x) for x in place]
        given: Any = (float(collective), float(cyclic), None if ring is None else float(ring))
        sampled = max(
            numpy.max(numpy.abs(plain(kind, which, float(height), ailerons, elevators, *given))) for height in c
        )
        widest = max(float(high - low) for low, high in (a, e)) / 100
        assert sampled <= abs(float(found)) + 1e-9
        assert sampled >= abs(float(found)) - 2 * widest * abs(float(cyclic)) / 100 - 1e-9
        assert abs(float(found)) == pytest.approx(abs(plain(kind, which, *floats, *given)), abs=1e-9)
        assert all(low - TINY <= at <= high + TINY for at, (low, high) in zip(place, (c, a, e), strict=True))


@settings(max_examples=100)
@given(st.sampled_from(KINDS), st.tuples(numbers, numbers, numbers), st.none() | st.integers(1, 150).map(Fraction))
def test_travel_of_one_demand(kind: str, demand: Demand, ring: F | None) -> None:
    swash = Swash(kind, F(60), F(55), ring)
    floats: Any = [float(x) for x in demand]
    for which, servo in enumerate(servos(kind)):
        expected = plain(kind, which, floats[0], floats[1], floats[2], 60, 55, None if ring is None else float(ring))
        assert float(travel(swash, servo, demand)) == pytest.approx(float(expected), abs=1e-9)
