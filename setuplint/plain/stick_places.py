"""What a channel rests on, and where on a stick it is worth looking, for the plain evaluator's `follows`."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise

from setuplint.plain.interpolation import expo_inverse
from setuplint.plain.logic import Here
from setuplint.setup.formulas import Compare, Formula, Holds, atoms
from setuplint.setup.model import ZERO, Setup, Term


def conditions_under(setup: Setup, channel: str) -> set[str]:
    """The conditions that a channel rests on: those of its overrides, of the modes, and those that these rest on."""
    waiting: list[Formula | None] = [o.when for o in setup.overrides.values() if o.channel == channel]
    waiting += [*(mode.when for mode in setup.modes.values()), *setup.channels[channel].lendings]
    found: set[str] = set()
    while waiting:
        formula = waiting.pop()
        for atom in atoms(formula) if formula is not None else ():
            if isinstance(atom, Holds) and atom.condition not in found:
                found.add(atom.condition)
                condition = setup.conditions[atom.condition]
                waiting += [condition.when, condition.until]
    return found


def reading_term(terms: Sequence[Term], stick: str) -> Term | None:
    return next((term for term in terms if term.kind == "stick" and term.source == stick), None)


def cells(here: Here, term: Term, stick: str) -> Iterable[tuple[Fraction, list[Fraction]]]:
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
    formulas += [lent for channel in setup.channels.values() for lent in channel.lendings]
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
