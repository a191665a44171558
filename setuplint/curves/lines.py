"""A channel's line in one mode as cases: for each way its switches and unknown smoothings may stand, a constant plus a sum of
functions of one stick each (MEANING.md 5.1)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import product

from setuplint.budget import OutOfBudget
from setuplint.curves.shape import Shape
from setuplint.setup.model import BySwitch, Line, Setup, Term
from setuplint.setup.smoothings import possible

MOST_CASES = 20_000

Guard = tuple[str, str, str]  # ("switch", name, position) or ("smoothing", curve, kind)
Guards = tuple[Guard, ...]


@dataclass(frozen=True, slots=True)
class LineCase:
    """Under any of `guards` (each a conjunction) the demand is `constant` plus the shapes of the sticks."""

    constant: Fraction
    shapes: tuple[tuple[str, Shape], ...]
    guards: tuple[Guards, ...]


def cases(setup: Setup, line: Line) -> tuple[LineCase, ...]:
    """The cases of a described line, together exhaustive; OutOfBudget when there are too many."""
    assert line.terms is not None
    axes = _axes(setup, line.terms)
    count = 1
    for choices in axes.values():
        count *= len(choices)
    if count > MOST_CASES:
        raise OutOfBudget(f"a channel's line hangs on {count} combinations of switch positions, more than {MOST_CASES}")
    grouped: dict[tuple[Fraction, tuple[tuple[str, Shape], ...]], list[Guards]] = {}
    for picked in product(*axes.values()):
        chosen = dict(zip(axes, picked, strict=True))
        guards = tuple((kind, name, choice) for (kind, name), choice in chosen.items())
        grouped.setdefault(_sum(setup, line.terms, chosen), []).append(guards)
    return tuple(LineCase(constant, shapes, tuple(guards)) for (constant, shapes), guards in grouped.items())


def _axes(setup: Setup, terms: tuple[Term, ...]) -> dict[tuple[str, str], tuple[str, ...]]:
    axes: dict[tuple[str, str], tuple[str, ...]] = {}
    for term in terms:
        for name in _switches(term):
            axes["switch", name] = setup.switches[name].positions
        if term.kind == "stick" and term.curve is not None and setup.curves[term.curve].smoothing == "unknown":
            axes["smoothing", term.curve] = possible("unknown")
    return axes


def _switches(term: Term) -> Iterator[str]:
    if term.kind == "switch":
        yield str(term.source)
    if term.kind == "stick":
        yield from (by.switch for by in (term.rate, term.expo) if isinstance(by, BySwitch))


def _sum(
    setup: Setup, terms: tuple[Term, ...], chosen: dict[tuple[str, str], str]
) -> tuple[Fraction, tuple[tuple[str, Shape], ...]]:
    constant = Fraction(0)
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
                shapes.append((str(term.source), shape))
    return constant, tuple(sorted(shapes, key=lambda item: item[0]))


def stick_shape(
    setup: Setup, term: Term, rate: Fraction, expo: Fraction, chosen: dict[tuple[str, str], str] | None = None
) -> Shape:
    if term.curve is None:
        return Shape.of(None, None, rate, expo)
    curve = setup.curves[term.curve]
    smoothing = (chosen or {}).get(("smoothing", curve.name), possible(curve.smoothing)[0])
    return Shape.of(curve.points, smoothing, rate, expo)
