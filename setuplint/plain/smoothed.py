"""The ways in which curves of unknown smoothing may be smoothed: each for itself (MEANING.md 5)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product

from setuplint.setup.model import Channel, Setup
from setuplint.setup.smoothings import possible

MOST_CURVES = 4  # that are followed through all their ways; with more, what hangs on them is not known

Way = Mapping[str, str]  # a curve, and a kind of smoothing


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
