"""A rotor by hand, against published numbers, a fall worked out step by step, and another's standard atmosphere."""

from __future__ import annotations

from fractions import Fraction
from math import sqrt

import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from setuplint.book.rotor import DESCENT, REACTION, density, height, hover_elsewhere, lift

# US Standard Atmosphere 1976: kg/m3 at metres above the sea.
PUBLISHED = {0: 1.22500, 1000: 1.11166, 2000: 1.00655, 3000: 0.90925}


@pytest.mark.parametrize(("elevation", "published"), PUBLISHED.items())
def test_density_is_the_published_one(elevation: int, published: float) -> None:
    assert density(Fraction(elevation)) == pytest.approx(published, abs=5e-6)


@pytest.mark.parametrize("elevation", range(-500, 9001, 500))
def test_density_is_that_of_another_program_wherever_a_field_may_be(elevation: int) -> None:
    assert density(Fraction(elevation)) == pytest.approx(ATMOSPHERE_1976(elevation).rho, rel=2e-6)


def test_height_from_5_m_s_at_twice_the_weight_after_a_second() -> None:
    found = height(Fraction(2), DESCENT, REACTION)
    assert found is not None
    assert round(float(found), 2) == 6.27
    assert found == 5 + Fraction(25) / (2 * Fraction("9.80665"))


@pytest.mark.parametrize("over", ["1.05", "1.27", "1.5", "2", "3.5"])
@pytest.mark.parametrize("delay", ["0", "0.4", "1"])
def test_height_is_that_of_a_fall_worked_out_step_by_step(over: str, delay: str) -> None:
    step, speed, lost, time = 0.0005, 5.0, 0.0, 0.0
    while speed > 0:
        late = time >= float(delay)
        slower = (float(over) - 1) * 9.80665 * step if late else 0.0
        lost += (speed - slower / 2) * step
        speed, time = speed - slower, time + step
    found = height(Fraction(over), delay=Fraction(delay))
    assert found is not None
    assert float(found) == pytest.approx(lost, abs=0.01)


@pytest.mark.parametrize("over", [0, "0.99", 1])
def test_no_more_lift_than_weight_stops_nothing(over: str | int) -> None:
    assert height(Fraction(over)) is None


def test_lift_goes_with_the_square_of_the_output_on_the_scale_from_0_to_100() -> None:
    assert lift(Fraction(24), Fraction(24)) == 1
    assert lift(Fraction(40), Fraction(24)) == Fraction(70, 62) ** 2
    assert lift(Fraction(100), Fraction(0)) == 4
    assert lift(Fraction(-120), Fraction(24)) == 0
    assert lift(Fraction(50), Fraction(-100)) is None


def test_the_hover_moves_with_the_root_of_the_density() -> None:
    """62 of 100 at the sea is 62 sqrt(1.22500 / 1.00655) = 68.4 of 100 at 2,000 m."""
    found = hover_elsewhere(Fraction(24), Fraction(0), Fraction(2000))
    assert (float(found) + 100) / 2 == pytest.approx(62 * sqrt(PUBLISHED[0] / PUBLISHED[2000]), rel=1e-5)
    assert float(found) == pytest.approx(36.79, abs=0.01)
    assert hover_elsewhere(found, Fraction(2000), Fraction(0)) == pytest.approx(24, abs=2e-6)
    assert hover_elsewhere(Fraction(24), Fraction(700), Fraction(700)) == 24


def test_the_ideal_power_of_a_hover_moves_by_the_same_factor() -> None:
    """Momentum theory: P = T sqrt(T / (2 density A)); Johnson, NASA/TP-2005-213477. So it holds for a collective rotor too."""
    thrust, area = 45.0, 1.7
    powers = [thrust * sqrt(thrust / (2 * PUBLISHED[m] * area)) for m in (0, 3000)]
    there = hover_elsewhere(Fraction(24), Fraction(0), Fraction(3000))
    assert (float(there) + 100) / 124 == pytest.approx(powers[1] / powers[0], rel=1e-5)
