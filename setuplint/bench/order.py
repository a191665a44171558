"""The order of a stage's steps that takes the fewest movements of switches."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import permutations

from setuplint.engine.answers import Value

EXHAUSTIVE = 7  # steps; up to here every order is tried
NEAREST = 400  # steps; up to here each is followed by the nearest, beyond it they stay in the order of the file
IMPROVED = 40  # steps; up to here the nearest-first order is improved by reversing stretches of it (2-opt)

Wants = Mapping[str, Value]


def shortest_order(wants: Sequence[Wants], home: Wants) -> list[int]:
    """The order as indices. A control that a step does not need stays where it is; at the end all go home."""
    indices = list(range(len(wants)))
    if len(indices) <= EXHAUSTIVE:
        return list(min(permutations(indices), key=lambda order: movement_count(order, wants, home)))
    if len(indices) > NEAREST:
        return indices
    order = _nearest_first(wants, home)
    return _improved(order, wants, home) if len(order) <= IMPROVED else order


def movement_count(order: Iterable[int], wants: Sequence[Wants], home: Wants) -> int:
    """How many movements of controls an order takes."""
    count = 0
    at: dict[str, Value] = {}
    for index in order:
        count += _moves_needed(wants[index], at, home)
        at |= wants[index]
    return count + sum(value != home.get(control) for control, value in at.items())


def _moves_needed(want: Wants, at: Wants, home: Wants) -> int:
    return sum(at.get(control, home.get(control)) != value for control, value in want.items())


def _nearest_first(wants: Sequence[Wants], home: Wants) -> list[int]:
    left, order = list(range(len(wants))), []
    at: dict[str, Value] = {}
    while left:
        index = min(left, key=lambda n: (_moves_needed(wants[n], at, home), n))
        left.remove(index)
        order.append(index)
        at |= wants[index]
    return order


def _improved(order: list[int], wants: Sequence[Wants], home: Wants) -> list[int]:
    best = movement_count(order, wants, home)
    better = True
    while better:
        better = False
        for start in range(len(order) - 1):
            for end in range(start + 2, len(order) + 1):
                turned = [*order[:start], *reversed(order[start:end]), *order[end:]]
                count = movement_count(turned, wants, home)
                if count < best:
                    order, best, better = turned, count, True
    return order
