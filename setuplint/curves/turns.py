"""Where two functions of one stick differ: where each of them turns, and round places between."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from setuplint.curves.shape import FULL, Cut, Interval, Shape

ROUND = tuple(Fraction(step) for step in ("50", "25", "10", "5", "1", "0.5", "0.1", "0.01"))
ANY = Fraction(0)  # of the most
TRIED = 12  # places in a stretch: more than two polynomials of degree nine can agree at


@lru_cache(maxsize=4096)
def places(lo: Fraction, hi: Fraction) -> tuple[Fraction, ...]:
    """Places strictly between two others, the round ones first."""
    found: dict[Fraction, None] = {}
    for step in ROUND:
        first = lo // step + 1
        for n in range(TRIED):
            at = (first + n) * step
            if at >= hi or len(found) >= TRIED:
                break
            found[at] = None
    found |= {lo + (hi - lo) * n / (TRIED + 1): None for n in range(1, TRIED + 1)}
    return tuple(found)


@lru_cache(maxsize=4096)
def turns(shape: Shape) -> tuple[Fraction, ...]:
    """Where on the stick a term goes from one polynomial to another, to 1e-9."""
    return tuple(_turns(shape)) if shape.rate else ()


def _turns(shape: Shape) -> Iterator[Fraction]:
    limit = FULL * 100 / abs(shape.rate)
    if limit < FULL:
        yield from (-limit, limit)
    for span in shape.curve.spans:
        for at in (span.piece.lo, span.piece.hi):
            if -FULL < at < FULL:
                place = shape.place(at)
                if -FULL < place < FULL:
                    yield place


@lru_cache(maxsize=4096)
def apart(one: Shape | None, two: Shape | None, by: Fraction, share: Fraction = ANY) -> tuple[Interval, ...]:
    """The stretches of a stick in which the one plus `by` is not the other (None: zero), but for single places between round
    ones. With a `share` the places of those tried at which they are apart by that share of the most, or more."""

    def gap(at: Fraction) -> Fraction:
        return by + (one.value(at) if one else 0) - (two.value(at) if two else 0)

    marks = sorted({-FULL, FULL, *(at for shape in (one, two) if shape for at in turns(shape))})
    if not share:
        return tuple(_apart(gap, marks))
    tried = {at: abs(gap(at)) for lo, hi in pairwise(marks) for at in (lo, *places(lo, hi), hi)}
    most = max(tried.values())
    return tuple(
        Interval(Cut(at), True, Cut(at), True) for at, found in tried.items() if found and found >= share * most
    )


def _apart(gap: Callable[[Fraction], Fraction], marks: Sequence[Fraction]) -> Iterator[Interval]:
    for lo, hi in pairwise(marks):
        tried = sorted(places(lo, hi))
        same = [at for at in tried if not gap(at)]
        for low, high in pairwise([lo, *same, hi]) if len(same) < len(tried) else ():
            yield Interval(Cut(low), gap(low) != 0, Cut(high), gap(high) != 0)
