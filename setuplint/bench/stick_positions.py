"""Where on the throttle stick's travel a mode is read: ends, middle, the curves' points, and where smoothing shows."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from setuplint.plain.interpolation import interpolate
from setuplint.setup.model import Curve, Setup

MOST = 9  # stick positions in one step
SEEN = 2  # percent: from here on a smoothed curve can be told from a straight one
ALWAYS = [Fraction(-100), Fraction(0), Fraction(100)]


def throttle_positions(setup: Setup, mode: str) -> list[Fraction]:
    """In rising order: the ends and the middle, then as many others as a card has room for, the motor's first."""
    found = dict.fromkeys(ALWAYS)
    for curve in _throttle_curves(setup, mode):
        for x, _ in curve.points:
            found.setdefault(x)
    for curve in _throttle_curves(setup, mode):
        between = _place_most_bent(curve)
        if between is not None:
            found.setdefault(between)
    return sorted(list(found)[:MOST])


def _throttle_curves(setup: Setup, mode: str) -> Iterator[Curve]:
    """The curves that the stick enters unscaled: those of motors, then the others."""
    for channel in sorted(setup.channels.values(), key=lambda c: c.drives != "motor"):
        for term in channel.line(mode or None).terms or ():
            if term.source == "throttle" and term.curve and term.rate == Fraction(100) and term.expo == Fraction(0):
                yield setup.curves[term.curve]


def _place_most_bent(curve: Curve) -> Fraction | None:
    """The middle between the two points where smoothing takes the curve farthest from the straight line."""
    if curve.smoothing in ("none", "unknown"):
        return None
    found = []
    for (x, y), (x2, y2) in pairwise(curve.points):
        middle = Fraction(round((x + x2) / 2))
        if x < middle < x2:
            straight = y + (y2 - y) * (middle - x) / (x2 - x)
            found.append((abs(interpolate(curve.points, curve.smoothing, middle) - straight), middle))
    bent, middle = max(found, default=(Fraction(0), Fraction(0)))
    return middle if bent >= SEEN else None
