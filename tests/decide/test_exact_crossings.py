"""A formula that compares a stick with the nine decimals nearest to where an output crosses a number: both are exact."""

from __future__ import annotations

from fractions import Fraction

import pytest

import setuplint

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
