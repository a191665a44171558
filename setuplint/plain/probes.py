"""Where on a stick's travel `follows` looks."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from itertools import pairwise

from setuplint.plain.interpolation import expo_inverse
from setuplint.plain.logic import Here
from setuplint.setup.formulas import Compare, atoms
from setuplint.setup.model import ZERO, Setup, Term


def stick_cells(here: Here, term: Term, stick: str) -> Iterable[tuple[Fraction, list[Fraction]]]:
    """For each part of the stick's travel that no threshold divides: one value of it, and the values to try."""
    ends = [Fraction(-100), *sorted(_thresholds(here.setup, stick)), Fraction(100)]
    breaks = sorted({*map(Fraction, range(-100, 101, 5)), *_curve_points(here, term, stick)})
    for end in dict.fromkeys(ends):
        yield end, [end]
    for low, high in pairwise(ends):
        if low < high:
            marks = [low, *(value for value in breaks if low < value < high), high]
            between = [p + (q - p) * part / 4 for p, q in pairwise(marks) for part in (1, 2, 3)]
            near = (high - low) / 10**9
            yield between[0], [low + near, *between, *marks[1:-1], high - near]


def _thresholds(setup: Setup, stick: str) -> set[Fraction]:
    formulas = [mode.when for mode in setup.modes.values() if mode.when is not None]
    formulas += [override.when for override in setup.overrides.values()]
    for condition in setup.conditions.values():
        formulas += [condition.when] if condition.until is None else [condition.when, condition.until]
    found = {a.number for formula in formulas for a in atoms(formula) if isinstance(a, Compare) and a.name == stick}
    return {number for number in found if -100 < number < 100}


def _curve_points(here: Here, term: Term, stick: str) -> set[Fraction]:
    """Where on the stick the curve has its points, nearly: they only say where to look."""
    rate = here.amount(term.rate)
    if rate == 0:
        return set()
    trim = here.state.trim.get(stick, ZERO)
    points = [Fraction(-100), Fraction(100)]
    if term.curve is not None:
        points += [x for x, _ in here.setup.curves[term.curve].points]
    return {expo_inverse(x, here.amount(term.expo)) * 100 / rate - trim for x in points}
