"""A graph laid out in layers, left to right.

As Sugiyama, Tagawa and Toda have it (IEEE Trans. Syst. Man Cybern. 11(2), 1981): nodes in layers so that edges go to
the right, long edges broken at every layer between, then the order in each layer swept back and forth by the barycentre
of the neighbours.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import pairwise

from setuplint.dataclass import dataclass

Name = tuple[str, str]
SWEEPS = 12


@dataclass(frozen=True, slots=True)
class Layout:
    """Nodes in layers, each from top to bottom, and every edge as the nodes that it goes through, dummy nodes between."""

    layers: tuple[tuple[Name, ...], ...]
    routes: Mapping[tuple[Name, Name], tuple[Name, ...]]


def layered(nodes: Sequence[Name], edges: Iterable[tuple[Name, Name]], last: Callable[[Name], bool]) -> Layout:
    """Lay out an acyclic graph between nodes. Each stands right of all that lead to it, those that are `last` in the last
    layer."""
    links = list(dict.fromkeys(edges))
    layer = _layer_numbers(nodes, links)
    right = max(layer.values(), default=0)
    layer = {name: right if last(name) else at for name, at in layer.items()}
    rows: list[list[Name]] = [[] for _ in range(max(layer.values(), default=0) + 1)]
    for name in nodes:
        rows[layer[name]].append(name)
    routes: dict[tuple[Name, Name], tuple[Name, ...]] = {}
    for number, (start, end) in enumerate(links):
        between = [("", f"{number}.{step}") for step in range(layer[start] + 1, layer[end])]
        for step, name in enumerate(between, start=layer[start] + 1):
            rows[step].append(name)
        routes[start, end] = (start, *between, end)
    return Layout(tuple(map(tuple, _fewest_crossings(rows, routes.values()))), routes)


def _layer_numbers(nodes: Sequence[Name], links: Sequence[tuple[Name, Name]]) -> dict[Name, int]:
    layer = dict.fromkeys(nodes, 0)
    for _ in nodes:  # longest paths; no path has more edges than there are nodes
        moved = False
        for start, end in links:
            if layer[end] <= layer[start]:
                layer[end] = layer[start] + 1
                moved = True
        if not moved:
            break
    return layer


def _fewest_crossings(rows: list[list[Name]], routes: Iterable[tuple[Name, ...]]) -> list[list[Name]]:
    """The order with the fewest crossings that the sweeps find."""
    steps = [(a, b) for route in routes for a, b in pairwise(route)]
    into: dict[Name, list[Name]] = {}
    out: dict[Name, list[Name]] = {}
    for a, b in steps:
        out.setdefault(a, []).append(b)
        into.setdefault(b, []).append(a)
    best, fewest = [list(row) for row in rows], crossing_count(rows, steps)
    for sweep in range(SWEEPS):
        forward = sweep % 2 == 0
        for n in range(1, len(rows)) if forward else range(len(rows) - 2, -1, -1):
            rows[n] = _by_barycentre(rows[n], rows[n - 1] if forward else rows[n + 1], into if forward else out)
        count = crossing_count(rows, steps)
        if count < fewest:
            best, fewest = [list(row) for row in rows], count
    return best


def _by_barycentre(row: list[Name], other: list[Name], near: Mapping[Name, list[Name]]) -> list[Name]:
    """A row sorted by the middle of each node's neighbours in another row; one without any stays where it is."""
    places = {name: number for number, name in enumerate(other)}
    own = {name: number for number, name in enumerate(row)}

    def middle(name: Name) -> tuple[float, int]:
        found = [places[each] for each in near.get(name, ()) if each in places]
        return (sum(found) / len(found) if found else own[name]), own[name]

    return sorted(row, key=middle)


def crossing_count(rows: Sequence[Sequence[Name]], steps: Iterable[tuple[Name, Name]]) -> int:
    """How many pairs of edges between neighbouring layers cross."""
    place = {name: (n, m) for n, row in enumerate(rows) for m, name in enumerate(row)}
    between: dict[int, list[tuple[int, int]]] = {}
    for a, b in steps:
        between.setdefault(place[a][0], []).append((place[a][1], place[b][1]))
    return sum(
        (a[0] - b[0]) * (a[1] - b[1]) < 0
        for edges in between.values()
        for n, a in enumerate(edges)
        for b in edges[n + 1 :]
    )
