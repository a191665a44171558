"""A rotor by hand: lift from rotor speed, height lost in stopping a descent, thin air. Estimates, never proofs.

Motor outputs are percent, as the file has them: -100 is 0 on the scale from 0 to 100. At fixed pitch the rotor's speed is
taken as proportional to the output on that scale, and lift goes with the square of the speed.
"""

from __future__ import annotations

from fractions import Fraction

G = Fraction("9.80665")  # m/s2, standard gravity
DESCENT = Fraction(5)  # m/s: the descent that heights are given for
# s before a pilot acts in cruise: 14 CFR 29.143(e), in older texts (d), of full-size helicopters, an analogy
REACTION = Fraction(1)

# US Standard Atmosphere 1976, below 11 km.
EARTH = 6_356_766.0  # m, its radius
SEA_LEVEL = 288.15  # K
LAPSE = 0.0065  # K a metre
STEEPNESS = 9.80665 * 28.9644 / (8314.32 * LAPSE)  # of pressure over temperature: 5.2559
DENSITY = 1.2250  # kg/m3 at sea level


def lift(output: Fraction, hover: Fraction) -> Fraction | None:
    """Lift over weight at fixed pitch, with the motor's `output` where it hovers at `hover`; None where `hover` is at or
    below -100, at which nothing turns."""
    if hover <= -100:
        return None
    share = max(output + 100, Fraction(0)) / (hover + 100)
    return share * share


def height(over_weight: Fraction, speed: Fraction = DESCENT, delay: Fraction = Fraction(0)) -> Fraction | None:
    """Metres lost until a descent of `speed` m/s is stopped by a lift of `over_weight` times the weight that comes at once
    after `delay` seconds: v t + v^2 / (2 (n - 1) g), kinematics. None where the lift is no more than the weight."""
    if over_weight <= 1:
        return None
    return speed * delay + speed * speed / (2 * (over_weight - 1) * G)


def density(elevation: Fraction) -> float:
    """Density of the air in kg/m3, `elevation` metres above the sea (-500 to 11,000), in the US Standard Atmosphere 1976."""
    above = float(elevation)
    geopotential = EARTH * above / (EARTH + above)
    share = 1 - LAPSE * geopotential / SEA_LEVEL
    return float(DENSITY * share ** (STEEPNESS - 1))


def hover_elsewhere(hover: Fraction, measured_at: Fraction, field: Fraction) -> Fraction:
    """The motor's output in a hover at the elevation of a field, where `hover` was measured at another, to 1e-6 (MEANING.md 5).

    Lift goes with density and the square of rotor speed, so the output on the scale from 0 to 100 goes with
    sqrt(density there / density here). The ideal power of a hover at a kept rotor speed grows by the same factor.
    """
    factor = Fraction((density(measured_at) / density(field)) ** 0.5)
    return round((hover + 100) * factor - 100, 6)
