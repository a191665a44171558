"""The overrides of a channel by priority, and whom each takes it from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, islice

from setuplint.named_tuple import NamedTuple
from setuplint.setup.model import Override

MOST_NAMED = 20  # overrides in a cell: a channel may have thousands


class OverrideRank(NamedTuple):
    """An override, the names of those below it, the highest first, and of those as high. Of very many the first are named, and
    last is how many more there are. Both are empty where its priority is not known."""

    override: Override
    lower: list[str]
    equal: list[str]


def override_ranks(overrides: Iterable[Override]) -> Iterator[OverrideRank]:
    """Those of one channel, the highest first; last those whose priority is not known."""
    order = sorted(overrides, key=lambda o: (o.priority is None, -(o.priority or 0)))
    names, below = [o.name for o in order if o.priority is not None], 0
    for priority, group in groupby(order, key=lambda o: o.priority):
        equals = list(group)
        below += len(equals)
        if priority is None:
            yield from (OverrideRank(each, [], []) for each in equals)
            continue
        lower = _named(names, below, len(names))
        for place, each in enumerate(equals, start=below - len(equals)):
            yield OverrideRank(each, lower, _named(names, below - len(equals), below, but=place))


def _named(names: Sequence[str], start: int, stop: int, but: int = -1) -> list[str]:
    """The names from one place to another, but one."""
    count = stop - start - (start <= but < stop)
    most = count if count <= MOST_NAMED + 1 else MOST_NAMED
    named = list(islice((names[n] for n in range(start, stop) if n != but), most))
    return [*named, f"{count - most} more"] if most < count else named
