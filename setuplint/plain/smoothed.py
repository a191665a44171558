"""The ways in which curves of unknown smoothing may be smoothed: each for itself (MEANING.md 5)."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import product

from setuplint.plain.evaluate import Evaluation
from setuplint.setup.model import Channel, Setup
from setuplint.setup.smoothings import possible

MOST_CURVES = 4  # that are followed through all their ways; with more, what hangs on them is not known

MOST_WORK = 5_000_000  # evaluations, times what the file declares
Way = Mapping[str, str]  # a curve, and a kind of smoothing


class Smoothed:
    """What a setup comes to in one state, as its curves may be smoothed. Every way is evaluated once, by `assume`; channels with
    a curve each share those in which all are smoothed alike. What else is supposed has a number, as who wins a tie."""

    def __init__(self, setup: Setup, assume: Callable[[Way, int], Evaluation], most_work: int = MOST_WORK) -> None:
        self.setup, self.assume = setup, assume
        self.most = most_work // max(1, len(setup.declared)) + 1
        self.made: dict[object, Evaluation] = {}

    def ways(self, curves: Sequence[str]) -> list[Way]:
        """Every way in which these may be smoothed; none where they are too many, or others took too much."""
        able = not curves or (len(curves) <= MOST_CURVES and len(self.made) < self.most)
        return smoothing_ways(curves) if able else []

    def seen(self, way: Way, number: int = 0) -> Evaluation:
        kinds = {*way.values()}
        key = number, *(kinds if len(kinds) == 1 else way.items())
        if key not in self.made:
            self.made[key] = self.assume(way_of_all(self.setup, way), number)
        return self.made[key]


def flown_curves(setup: Setup, channel: Channel, mode: str | None) -> list[str]:
    """The curves of unknown smoothing that its line in a mode reads."""
    read = (term.curve for term in channel.line(mode).terms or () if term.curve)
    return list(dict.fromkeys(curve for curve in read if setup.curves[curve].smoothing == "unknown"))


def smoothing_ways(curves: Sequence[str]) -> list[Way]:
    """Every way in which they may be smoothed: one, empty, where there are none."""
    return [dict(zip(curves, kinds, strict=True)) for kinds in product(possible("unknown"), repeat=len(curves))]


def way_words(way: Way) -> str:
    """`monotone`; of several curves `monotone (one) and natural (other)`."""
    return " and ".join(f"{kind} ({curve})" if len(way) > 1 else kind for curve, kind in way.items())


def way_of_all(setup: Setup, way: Way) -> Way:
    """A way in which all that it names is smoothed alike, as one of every curve: so channels with a curve each share it."""
    kinds = {*way.values()}
    if len(kinds) != 1:
        return way
    return dict.fromkeys((curve.name for curve in setup.curves.values() if curve.smoothing == "unknown"), *kinds)
