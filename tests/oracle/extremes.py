"""The least and greatest output of a channel over all reachable settled states, by brute force (MEANING.md 9)."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction

import numpy as np

from .cone import Box
from .formula import And, Formula, Output
from .meaning import Memory, State, World
from .places import NEAR, turning_places
from .search import Node, Search, admits
from .sweep import Sweeper


def reached(search: Search) -> Iterator[tuple[Memory, bool, int]]:
    """Every memory before a state: the memory, whether the state is power-up, and the grid of its controls."""
    world = search.world
    yield world.memory_off, True, 0
    known: set[tuple[Memory, bool]] = set()
    todo: list[Node] = []
    sweepers = [Sweeper(grid) for grid in search.grids]
    search.spread(sweepers[0], 0, world.memory_off, None, known, todo)
    while todo:
        node = todo.pop(0)
        for k in range(int(node.heard), len(search.grids)):
            yield node.memory, False, k
            search.spread(sweepers[k], k, node.memory, node, known, todo)


def output_range(world: World, channel: str, given: str | Formula) -> tuple[Fraction, Fraction] | None:
    """None where no reachable state that `given` allows makes the output known. `given` may name no output, and no timed
    condition may stand under memory: then paths may lag."""
    if not admits(world):
        world = world.without_start()
    parsed = world.parse(given)
    search = Search(world, And((parsed, Output(channel, ">=", Fraction(0)))))
    if search.cone.timed_under_memory:
        raise ValueError("timed conditions under memory")
    ends: list[Fraction] = []
    seen: set[object] = set()
    for memory, power_up, k in reached(search):
        final, grid = search.finals[k], search.grids[k]
        sweep = final.sweeper.sweep(memory)
        allowed = final.sweeper.formula(parsed, sweep.conditions, sweep.mode)
        if power_up and world.requires is not None:
            allowed = allowed & final.sweeper.formula(world.requires, sweep.conditions, sweep.mode)
        key, size = np.zeros((1,) * final.sweeper.rank, dtype=np.int64), 1
        for part, bound in final.key_parts(sweep):
            key, size = key + part * size, size * bound
        codes, first = np.unique(np.where(allowed, key, -1), return_index=True)
        shape = np.broadcast_shapes(key.shape, allowed.shape)
        for code, index in zip(codes.tolist(), first.tolist(), strict=True):
            if code < 0 or (k, code) in seen:
                continue
            seen.add((k, code))
            where = tuple(int(x) for x in np.unravel_index(index, shape))
            box = {name: grid.boxes[name][where[grid.index[name]]] for name in search.cone.analogs}
            ends += outputs(world, channel, world.settle(grid.controls(where), memory), box, final.closed)
    return (min(ends), max(ends)) if ends else None


def outputs(
    world: World, channel: str, state: State, box: dict[str, Box], closed: Callable[[str, Fraction], bool]
) -> Iterator[Fraction]:
    """The ends of what the channel may put out there, the sticks anywhere in their boxes. A sum of terms of one stick each is
    least where each term is."""
    servo = world.channels[channel]
    for choice in world.choices(state, [channel]):
        terms = world.terms(channel, state)
        decided = world.decided(channel, state, choice)
        if terms is None or isinstance(decided, Fraction):
            found = world.output(channel, state, choice)
            if found is not None:
                yield found
            continue
        spans = []
        for term in terms:
            if term.kind != "analog":
                value = world.term(term, state.controls, choice, {})
                spans.append((value, value))
                continue
            low, high = box[term.source]
            places = {low, high} if low == high else {low + NEAR, high - NEAR}
            places |= {x for x in turning_places(world, term, state.controls, choice) if low < x < high}
            places |= {x for x in (low, high) if low < high and closed(term.source, x)}
            values = [world.shape(term, x, state.controls, choice) for x in places]
            spans.append((min(values), max(values)))
        for ends in ([low for low, _ in spans], [high for _, high in spans]):
            total = sum(ends, Fraction(0))
            yield world.servo(servo, total if decided is None else decided.of(total))
