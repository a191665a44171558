"""What channels may put out in one state, where a tie of overrides or smoothings that are not known leave it open."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product

from setuplint.dataclass import replace
from setuplint.named_tuple import NamedTuple
from setuplint.plain.evaluate import Evaluation
from setuplint.plain.smoothed import Smoothed, Way, flown_curves
from setuplint.setup import Setup
from setuplint.setup.model import ZERO

MOST_TIED = 10  # overrides of one channel that are followed
MOST_WAYS = 90  # of one channel, where curves are to be smoothed too

Ties = Mapping[str, str]  # a channel, and the override that wins
Tied = Mapping[str, tuple[str, ...]]


class Supposed(NamedTuple):
    """How all stands if one override wins its ties on a channel ("": it has none) and curves are smoothed so."""

    wins: str
    smoothing: Way
    seen: Evaluation


def supposed_ways(
    setup: Setup, tied: Tied, modes: Sequence[str | None], assume: Callable[[Ties, Way], Evaluation]
) -> dict[str, list[Supposed]]:
    """Of each channel every way that it may go in these modes; none where it hangs on too many curves, or where all others took
    too much. `tied` are the overrides that tie on it; `assume` evaluates with what is supposed of ties and smoothings. Ties on
    two channels are independent, so they share what is evaluated: where the first of each wins, the second, and so on."""
    found: dict[str, list[Supposed]] = {}

    def supposed(way: Way, number: int) -> Evaluation:
        return assume({name: names[min(number, len(names) - 1)] for name, names in tied.items()}, way)

    smoothed = Smoothed(setup, supposed)
    for name, channel in setup.channels.items():
        curves = list(dict.fromkeys(curve for mode in modes for curve in flown_curves(setup, channel, mode)))
        ways = smoothed.ways(curves)
        winners = tied.get(name, ("",))[: min(MOST_TIED, MOST_WAYS // max(1, len(ways)))]
        found[name] = [
            Supposed(one, way, smoothed.seen(way, number)) for (number, one), way in product(enumerate(winners), ways)
        ]
    return found


def each_together(seen: Evaluation, ways: Mapping[str, list[Supposed]]) -> Iterator[Evaluation]:
    """What is seen with each output of each channel, least with least, greatest with greatest. A predicate of MEANING.md 7 that
    is the same in all of these is so in any mixture: it asks for one channel, or whether any motor is above a number."""
    outputs = {name: sorted({x.seen.outputs[name] for x in some}, key=_unknown_first) for name, some in ways.items()}
    for place in range(max(map(len, outputs.values()), default=1)):
        yield replace(
            seen, outputs={n: found[min(place, len(found) - 1)] if found else None for n, found in outputs.items()}
        )


def _unknown_first(output: Fraction | None) -> tuple[bool, Fraction]:
    return output is not None, output or ZERO
