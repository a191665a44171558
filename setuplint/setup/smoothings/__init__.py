"""The ways in which a transmitter may join the points of a curve, one module each.

A module here is all that a smoothing needs: it adds itself to the format, the engine, the plain evaluator and the pages.
It has

- `RANK`: its place among the others; `UNKNOWN_MAY_BE`: whether a curve of unknown smoothing may be smoothed so
- `MEANING`: what the format says of it; `WORDS`: what the sheet says of a curve that has it
- `slopes(widths, chords)`: the slope at each of three points or more, from the distances between them and the slopes of
  the straight lines, all exact; a curve is the cubic Hermite spline with these slopes. Two points are joined by a line.
- `plain_slopes(points)`: the same for the plain evaluator, from the published definition by other means. It is the check
  of the first, so the two share no code.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import cache
from importlib import import_module

from setuplint.named_tuple import NamedTuple

Points = tuple[tuple[Fraction, Fraction], ...]


class Smoothing(NamedTuple):
    """`slopes` and `plain_slopes` are None where the points are joined by straight lines."""

    name: str
    rank: tuple[bool, int, str]
    unknown_may_be: bool
    meaning: str
    words: str
    slopes: Callable[[Sequence[Fraction], Sequence[Fraction]], list[Fraction]] | None = None
    plain_slopes: Callable[[Points], list[Fraction]] | None = None


NONE = Smoothing("none", (False, 0, ""), False, "by straight lines", "no smoothing: straight from point to point")
UNKNOWN_WORDS = "smoothed as the transmitter does"
NUMBERS = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


@cache
def smoothings() -> dict[str, Smoothing]:
    """By name: none first, then those that unknown does not stand for, then the others."""
    files = os.listdir(os.path.dirname(__file__))
    names = [name.removesuffix(".py") for name in files if name.endswith(".py") and name[0].islower()]
    found = sorted(map(_smoothing, names), key=lambda smoothing: smoothing.rank)
    return {smoothing.name: smoothing for smoothing in (NONE, *found)}


def _smoothing(module_name: str) -> Smoothing:
    module = import_module(f"{__name__}.{module_name}")
    name, may_be = module_name.replace("_", "-"), module.UNKNOWN_MAY_BE
    rank = (may_be, module.RANK, name)
    return Smoothing(name, rank, may_be, module.MEANING, module.WORDS, module.slopes, module.plain_slopes)


@cache
def possible(name: str) -> tuple[str, ...]:
    """What a curve may be smoothed as: itself, or each of those that `unknown` stands for."""
    if name != "unknown":
        return (name,)
    return tuple(smoothing.name for smoothing in smoothings().values() if smoothing.unknown_may_be)


def format_words() -> list[str]:
    """What a file may say."""
    return [*smoothings(), "unknown"]


def format_meaning() -> str:
    """What each of these words means, as editors show it."""
    count = len(possible("unknown"))
    last = NUMBERS[count] if count < len(NUMBERS) else str(count)
    return (
        f"{'; '.join(f'{each.name}: {each.meaning}' for each in smoothings().values())}; "
        f"unknown: it smooths, nobody knows how, so every rule looks at the last {last}"
    )


def sheet_words(name: str) -> str:
    """How a sheet says that a curve is smoothed."""
    return UNKNOWN_WORDS if name == "unknown" else smoothings()[name].words
