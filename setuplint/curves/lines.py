"""A channel's line in one mode as cases: for each way its switches and unknown smoothings may stand, a constant plus a sum of
functions of one stick each (MEANING.md 5.1)."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import product
from math import prod

from setuplint.budget import OutOfBudget
from setuplint.curves.shape import Shape
from setuplint.dataclass import dataclass
from setuplint.fraction import fraction
from setuplint.hints import Any
from setuplint.setup.model import BySwitch, Line, Setup, Term
from setuplint.setup.smoothings import possible

MOST_CASES = 20_000
YES, NO = "yes", "no"

Guard = tuple[str, Any, str]  # ("switch", name, position), ("smoothing", curve, kind), ("lent", formula, YES or NO)
Guards = tuple[Guard, ...]
Axis = tuple[str, Any]  # the first two of a guard


@dataclass(frozen=True, slots=True)
class LineCase:
    """Under any of `guards` (each a conjunction) the demand is `constant` plus the shapes of the sticks."""

    constant: Fraction
    shapes: tuple[tuple[str, Shape], ...]
    guards: tuple[Guards, ...]


def cases(setup: Setup, line: Line) -> tuple[LineCase, ...]:
    """The cases of a described line, together exhaustive; OutOfBudget when there are too many."""
    assert line.terms is not None
    count = combinations(setup, line)
    if count > MOST_CASES:
        raise OutOfBudget(f"a channel's line hangs on {count} combinations of switch positions, more than {MOST_CASES}")
    axes = _axes(setup, line.terms)
    grouped: dict[tuple[Fraction, tuple[tuple[str, Shape], ...]], list[Guards]] = {}
    for picked in product(*axes.values()):
        chosen = dict(zip(axes, picked, strict=True))
        guards = tuple((kind, name, choice) for (kind, name), choice in chosen.items())
        grouped.setdefault(_sum(setup, line.terms, chosen), []).append(guards)
    return tuple(LineCase(constant, shapes, tuple(guards)) for (constant, shapes), guards in grouped.items())


def combinations(setup: Setup, line: Line) -> int:
    """How many ways there are in which the switches and unknown smoothings of a line may stand."""
    return prod(map(len, _axes(setup, line.terms or ()).values()))


def _axes(setup: Setup, terms: tuple[Term, ...]) -> dict[Axis, tuple[str, ...]]:
    axes: dict[Axis, tuple[str, ...]] = {}
    for term in terms:
        for name in _switches(term):
            axes["switch", name] = setup.switches[name].positions
        if term.kind == "stick" and term.curve is not None and setup.curves[term.curve].smoothing == "unknown":
            axes["smoothing", term.curve] = possible("unknown")
        if term.lending is not None:
            axes["lent", term.lending.lent] = (NO, YES)
    return axes


def _switches(term: Term) -> Iterator[str]:
    if term.kind == "switch":
        yield str(term.source)
    if term.kind == "stick":
        yield from (by.switch for by in (term.rate, term.expo) if isinstance(by, BySwitch))


def _sum(
    setup: Setup, terms: tuple[Term, ...], chosen: dict[Axis, str]
) -> tuple[Fraction, tuple[tuple[str, Shape], ...]]:
    constant = fraction(0)
    shapes: list[tuple[str, Shape]] = []

    def number(value: Fraction | BySwitch) -> Fraction:
        return value.at[chosen["switch", value.switch]] if isinstance(value, BySwitch) else value

    for term in terms:
        if term.kind == "number":
            assert isinstance(term.source, Fraction)
            constant += term.source
        elif term.kind == "switch":
            constant += term.values[chosen["switch", str(term.source)]]
        else:
            shape = stick_shape(setup, term, number(term.rate), number(term.expo), chosen)
            low, high = shape.extremes()
            if low[1] == high[1]:
                constant += low[1]
            else:
                lent = term.lending is not None and chosen["lent", term.lending.lent] == YES
                shapes.append((term.lending.stick if lent and term.lending else str(term.source), shape))
    return constant, tuple(sorted(shapes, key=lambda item: item[0]))


def stick_shape(
    setup: Setup, term: Term, rate: Fraction, expo: Fraction, chosen: dict[Axis, str] | None = None
) -> Shape:
    if term.curve is None:
        return Shape.of(None, None, rate, expo)
    curve = setup.curves[term.curve]
    smoothing = (chosen or {}).get(("smoothing", curve.name), possible(curve.smoothing)[0])
    return Shape.of(curve.points, smoothing, rate, expo)
