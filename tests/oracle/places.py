"""Where on a stick something can change: the places that make a finite grid as good as the whole travel."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING

from .curves import expo_inverse
from .formula import Compare, leaves
from .parts import Term

if TYPE_CHECKING:
    from .meaning import Choice, Controls, State, World

END = Fraction(100)
NEAR = Fraction(1, 10**9)
THIN = Fraction(1, 10**11)
HALF = Fraction(1, 2_000_000)


def round_output(x: Fraction) -> Fraction:
    """To 1e-6, half to even."""
    return Fraction(round(x * 1_000_000), 1_000_000)


def with_midpoints(cuts: set[Fraction]) -> list[Fraction]:
    """The cuts and the middles between neighbours, in order."""
    places = sorted(cuts)
    return sorted({*places, *((a + b) / 2 for a, b in pairwise(places))})


def thresholds(world: World, name: str) -> list[Fraction]:
    """Every number that a condition, mode or override compares this stick or knob with."""
    formulas = [f for node in world.order for f in world.formulas_of(node)] + [o.when for o in world.overrides]
    formulas += [] if world.lent is None else [world.lent]
    found = {leaf.number for f in formulas for leaf in leaves(f) if isinstance(leaf, Compare) and leaf.name == name}
    return sorted(x for x in found if -END <= x <= END)


def turning_places(world: World, term: Term, controls: Controls, choice: Choice, end: Fraction = END) -> list[Fraction]:
    """Stick places between which a term is monotone (to 1e-12), the ends of the stick (with trim: further out) included."""
    rate, bend = term.rate.value(controls), term.expo.value(controls)
    ends = [-end, end]
    if not rate:
        return ends
    turns = (-END, END) if term.curve is None else world.curves[term.curve][world.smoothing(term.curve, choice)].turns()
    inside = {max(-END, min(END, w)) for w in (*turns, -END, END)}
    places = {expo_inverse(bend, w) * 100 / rate for w in inside}
    return sorted({*ends, *(x for x in places if -end <= x <= end)})


def stick_places(world: World, channel: str, stick: str, state: State, choice: Choice) -> list[Fraction]:
    """The file's thresholds on a stick and where the channel turns, both with near neighbours, and all midpoints."""
    terms = [t for t in world.terms(channel, state) or () if t.kind == "analog" and t.source == stick]
    turned = [
        (
            t.curve,
            t.rate.value(state.controls),
            t.expo.value(state.controls),
            t.curve and world.smoothing(t.curve, choice),
        )
        for t in terms
    ]
    key = (stick, *turned)
    if key not in world.stick_places:
        cuts = {-END, END, *thresholds(world, stick)}
        for term in terms:
            cuts |= set(turning_places(world, term, state.controls, choice))
        near = {c + d for c in cuts for d in (-NEAR, Fraction(0), NEAR) if -END <= c + d <= END}
        world.stick_places[key] = with_midpoints(near)
    return world.stick_places[key]


def side_of(output: Fraction, number: Fraction) -> int:
    """-1 where a rounded output is below a number, 0 where equal, 1 above."""
    return (output > number) - (output < number)


def changes(raw: Callable[[Fraction], Fraction], number: Fraction, low: Fraction, high: Fraction) -> Iterator[Fraction]:
    """Where the rounded output changes its side of a number between low and high, along which it is monotone.

    Both neighbours of each change, at most 1e-11 apart. `raw` is the output before it is rounded.
    """

    def side(x: Fraction) -> int:
        return side_of(round_output(raw(x)), number)

    last = side(high)
    while (first := side(low)) != last:
        level = number - HALF if first < 0 or (first == 0 and last < 0) else number + HALF
        before, after = _guess(side, raw, level, low, high) or _halve(side, low, high)
        yield before
        yield after
        low = after


Pair = tuple[Fraction, Fraction]


def _guess(
    side: Callable[[Fraction], int], raw: Callable[[Fraction], Fraction], level: Fraction, low: Fraction, high: Fraction
) -> Pair | None:
    """A few steps of false position (Illinois) in floats; only a change that is exactly there is believed."""
    a, b, fa, fb = float(low), float(high), float(raw(low) - level), float(raw(high) - level)
    kept = ""
    for _ in range(14):
        if fa == fb:
            return None
        x = (a * fb - b * fa) / (fb - fa)
        c = max(low, min(high, Fraction(round(x * 1e13), 10**13)))
        before, after = max(low, c - THIN / 2), min(high, c + THIN / 2)
        fc = float(raw(c) - level)
        if abs(fc) < 1e-8 and side(before) == side(low) != side(after):
            return before, after
        if (fc > 0) == (fb > 0):
            b, fb, fa, kept = x, fc, fa / 2 if kept == "a" else fa, "a"
        else:
            a, fa, fb, kept = x, fc, fb / 2 if kept == "b" else fb, "b"
    return None


def _halve(side: Callable[[Fraction], int], low: Fraction, high: Fraction) -> Pair:
    first = side(low)
    while high - low > THIN:
        middle = Fraction(round((low + high) * 10**13 / 2), 10**13)
        if side(middle) == first:
            low = middle
        else:
            high = middle
    return low, high
