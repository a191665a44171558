"""Where on a stick something can change: the places that make a finite grid as good as the whole travel."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from .curves import expo_inverse
from .formula import Compare, leaves
from .parts import Term

if TYPE_CHECKING:
    from .meaning import Choice, Controls, State, World

END = Fraction(100)
NEAR = Fraction(1, 10**9)
THIN = Fraction(1, 10**11)


def with_midpoints(cuts: set[Fraction]) -> list[Fraction]:
    """The cuts and the middles between neighbours, in order."""
    places = sorted(cuts)
    return sorted({*places, *((a + b) / 2 for a, b in pairwise(places))})


def thresholds(world: World, name: str) -> list[Fraction]:
    """Every number that a condition, mode or override compares this stick or knob with."""
    formulas = [f for node in world.order for f in world.formulas_of(node)] + [o.when for o in world.overrides]
    found = {leaf.number for f in formulas for leaf in leaves(f) if isinstance(leaf, Compare) and leaf.name == name}
    return sorted(x for x in found if -END <= x <= END)


def turning_places(world: World, term: Term, controls: Controls, choice: Choice) -> list[Fraction]:
    """Stick places between which a term is monotone (to 1e-12), the ends of the stick included."""
    rate, bend = term.rate.value(controls), term.expo.value(controls)
    ends = [-END, END]
    if not rate:
        return ends
    turns = ends if term.curve is None else world.curves[term.curve][world.smoothing(term.curve, choice)].turns()
    inside = {max(-END, min(END, w)) for w in (*turns, *ends)}
    places = {expo_inverse(bend, w) * 100 / rate for w in inside}
    return sorted({*ends, *(x for x in places if -END <= x <= END)})


def stick_places(world: World, channel: str, stick: str, state: State, choice: Choice) -> list[Fraction]:
    """The file's thresholds on a stick and where the channel turns, both with near neighbours, and all midpoints."""
    cuts = {-END, END, *thresholds(world, stick)}
    for term in world.channels[channel].lines[state.mode].terms or ():
        if term.kind == "analog" and term.source == stick:
            cuts |= set(turning_places(world, term, state.controls, choice))
    return with_midpoints({c + d for c in cuts for d in (-NEAR, Fraction(0), NEAR) if -END <= c + d <= END})


def changes(
    side: Callable[[Fraction], Any],
    raw: Callable[[Fraction], Fraction],
    level: Callable[[Any, Any], Fraction],
    low: Fraction,
    high: Fraction,
) -> Iterator[Fraction]:
    """Where `side` changes between low and high, along which it is monotone: both neighbours, at most 1e-11 apart.

    `raw` is the number that `side` sorts and `level(from, to)` the value at which it should change: they only make
    it quicker.
    """
    last = side(high)
    while (first := side(low)) != last:
        before, after = _guess(side, raw, level(first, last), low, high) or _halve(side, low, high)
        yield before
        yield after
        low = after


def _guess(
    side: Callable[[Fraction], Any], raw: Callable[[Fraction], Fraction], level: Fraction, low: Fraction, high: Fraction
) -> tuple[Fraction, Fraction] | None:
    """A few steps of false position (Illinois); None where they do not end in a change from the side of low."""
    a, b, fa, fb = low, high, raw(low) - level, raw(high) - level
    for _ in range(9):
        if fa == fb:
            return None
        c = ((a * fb - b * fa) / (fb - fa)).limit_denominator(10**14)
        fc = raw(c) - level
        before, after = max(low, c - THIN / 2), min(high, c + THIN / 2)
        if before < after and side(before) == side(low) != side(after):
            return before, after
        if (fc > 0) == (fb > 0):
            b, fb, fa = c, fc, fa / 2
        else:
            a, fa, fb = c, fc, fb / 2
    return None


def _halve(side: Callable[[Fraction], Any], low: Fraction, high: Fraction) -> tuple[Fraction, Fraction]:
    first = side(low)
    while high - low > THIN:
        middle = (low + high) / 2
        if side(middle) == first:
            low = middle
        else:
            high = middle
    return low, high


def cut_at(cuts: set[Fraction], box: tuple[Fraction, Fraction]) -> list[Fraction]:
    """Cuts strictly inside a box (low, high), with the ends, in order."""
    low, high = box
    return sorted({low, high, *(x for x in cuts if low < x < high)})
