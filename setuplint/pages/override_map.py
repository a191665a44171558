"""Who can take which channel, from whom, by which switch: the graph of a set-up, drawn in layers from left to right; and
the overrides of a channel by their ranks."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import groupby, islice, pairwise
from typing import TYPE_CHECKING

from setuplint.dataclass import dataclass
from setuplint.formats.numbers import decimal, percent
from setuplint.formats.terminal import plain
from setuplint.graph import cone, digraph
from setuplint.named_tuple import NamedTuple
from setuplint.pages.html import tag, text
from setuplint.setup.formula_text import formula_text
from setuplint.setup.model import Override, Setup

if TYPE_CHECKING:
    from networkx import DiGraph

SHOWN = ("stick", "knob", "switch", "sensor", "condition", "mode", "override", "channel")
TITLE = "Who can take which channel, from whom, by which switch"
WIDE, TALL, TALLER = 168, 36, 52
GAP_X, GAP_Y = 64, 12
EDGE = 12
TOGETHER, MOST = 60, 150  # nodes in one drawing; with more, one drawing a channel; with still more, none
TALLEST = 1150  # of one drawing of all; a taller one is too small to read on paper
MOST_MAPS = 32
NUMBERED = "A number says who wins the channel, 1 first; below them is the channel's own line."
DEEP = 5  # layers; more get too small on a screen
LONGEST, LONGEST_SMALL = 22, 28  # characters in a box


@dataclass(frozen=True, slots=True)
class OverrideMap:
    """A drawing: what goes into the SVG, and its size. `deep`: it cannot be made smaller and still be read."""

    title: str
    inside: str
    wide: float
    tall: float
    deep: bool


def override_maps(setup: Setup) -> list[OverrideMap]:
    """One map of all channels, or one for each where that has too many nodes. None where no channel can be taken, or where
    one channel has too many."""
    graph = digraph(setup)
    channels = [name for name in setup.channels if setup.acting_on(name)]
    every = _nodes_leading_to(setup, graph, channels)
    if not channels:
        return []
    if len(every) <= TOGETHER and (one := _laid_out_map(setup, graph, every, TITLE, 0)).tall <= TALLEST:
        return [one]
    each = {name: _nodes_leading_to(setup, graph, [name]) for name in channels}
    if len(channels) > MOST_MAPS or any(len(nodes) > MOST for nodes in each.values()):
        return []
    return [
        _laid_out_map(setup, graph, nodes, f"Who can take {name}, from whom, by which switch", n)
        for n, (name, nodes) in enumerate(each.items())
    ]


def _nodes_leading_to(setup: Setup, graph: DiGraph, channels: list[str]) -> list[Name]:
    """The channels, the overrides that take them, and what leads to these."""
    wanted: set[Name] = {("channel", name) for name in channels}
    for override in setup.overrides.values():
        if override.channel in channels:
            wanted |= cone(graph, ("override", override.name))
    return [node for node in graph.nodes if node in wanted and node[0] in SHOWN]


def _laid_out_map(setup: Setup, graph: DiGraph, nodes: list[Name], title: str, number: int) -> OverrideMap:
    shown = set(nodes)
    inner = [edge for edge in graph.edges if edge[0] in shown and edge[1] in shown and _is_shown_edge(edge)]
    return _drawn_map(setup, layered(nodes, inner, last=lambda node: node[0] == "channel"), title, number)


def _is_shown_edge(edge: tuple[Name, Name]) -> bool:
    """Whether an edge leads from inputs over conditions to overrides and their channels. What else a channel reads is charted."""
    (start, _), (end, _) = edge
    return start in SHOWN and end in SHOWN and (end != "channel" or start == "override")


def _drawn_map(setup: Setup, drawn: Layout, title: str, number: int) -> OverrideMap:
    """`number` keeps the ids of several drawings on one page apart."""
    heights = [sum(_box_height(name) + GAP_Y for name in layer) for layer in drawn.layers]
    tall = max(heights, default=0)
    at: dict[Name, tuple[float, float]] = {}
    for n, layer in enumerate(drawn.layers):
        spare = (tall - heights[n]) / len(layer) if layer else 0
        y = float(EDGE)
        for name in layer:
            room = _box_height(name) + GAP_Y + spare
            at[name] = EDGE + n * (WIDE + GAP_X), y + room / 2
            y += room
    head = f"head-{number}"
    inside = [_arrow_head(head)]
    for (start, _), route in drawn.routes.items():
        inside.append(tag("path", d=_edge_path(route, at), class_=f"edge {start[0]}", marker_end=f"url(#{head})"))
    ranks = _winning_order(setup)
    for name, (x, y) in at.items():
        if name[0]:
            inside.append(tag("g", tag("title", text(name[1])) + "".join(_node_box(setup, name, x, y, ranks))))
    wide = len(drawn.layers) * (WIDE + GAP_X) - GAP_X + 2 * EDGE
    return OverrideMap(title, "".join(inside), wide, tall + 2 * EDGE, len(drawn.layers) > DEEP)


def _box_height(name: Name) -> int:
    return {"": 6, "override": TALLER}.get(name[0], TALL)


def _arrow_head(head: str) -> str:
    tip = tag("path", d="M0 0L8 4L0 8z", class_="head")
    return tag(
        "defs",
        tag("marker", tip, id=head, viewBox="0 0 8 8", refX=8, refY=4, markerWidth=7, markerHeight=7, orient="auto"),
    )


def _edge_path(route: tuple[Name, ...], at: Mapping[Name, tuple[float, float]]) -> str:
    """A curve from the right side of one box to the left side of the next, through the gaps left for it."""
    x, y = at[route[0]]
    path = f"M{x + WIDE:.0f} {y:.0f}"
    before = (x + WIDE, y)
    for name in route[1:]:
        left, level = at[name]
        bend = (left - before[0]) / 2
        path += f"C{before[0] + bend:.0f} {before[1]:.0f} {left - bend:.0f} {level:.0f} {left:.0f} {level:.0f}"
        if name != route[-1]:
            path += f"L{left + WIDE:.0f} {level:.0f}"
        before = (left + WIDE, level)
    return path


def _winning_order(setup: Setup) -> dict[str, str]:
    """The order in which overrides win a channel that several take: 1 first, equals alike."""
    found: dict[str, str] = {}
    for channel in setup.channels:
        own = setup.acting_on(channel)
        if len(own) < 2:
            continue
        levels = sorted({o.priority for o in own if o.priority is not None}, reverse=True)
        for each in own:
            found[each.name] = "?" if each.priority is None else str(levels.index(each.priority) + 1)
    return found


def _node_box(setup: Setup, name: Name, x: float, y: float, ranks: Mapping[str, str]) -> Iterator[str]:
    kind, own = name
    tall = _box_height(name)
    lines = [
        (_shortened(own, LONGEST), "mid"),
        *((_shortened(each, LONGEST_SMALL), "mid quiet small") for each in _node_details(setup, name)),
    ]
    yield tag("rect", x=f"{x:.0f}", y=f"{y - tall / 2:.0f}", width=WIDE, height=tall, rx=4, class_=f"box {kind}")
    first = y + 4 - 7 * (len(lines) - 1)
    for n, (words, look) in enumerate(lines):
        yield tag("text", text(words), x=f"{x + WIDE / 2:.0f}", y=f"{first + 14.5 * n:.0f}", class_=look)
    if kind == "override" and own in ranks:
        yield tag("circle", cx=f"{x + WIDE:.0f}", cy=f"{y:.0f}", r=9, class_="rank")
        yield tag("text", text(ranks[own]), x=f"{x + WIDE:.0f}", y=f"{y + 4:.0f}", class_="mid small ranked")


def _shortened(words: str, most: int) -> str:
    """Words cut in the middle: similar names differ at either end."""
    shown = plain(words)
    return shown if len(shown) <= most else f"{shown[: most // 2]}…{shown[-(most - most // 2 - 1) :]}"


def _node_details(setup: Setup, node: Name) -> list[str]:
    kind, name = node
    if kind == "override":
        override = setup.overrides[name]
        value = override.words(percent) if override.numbers else "?"
        when = formula_text(override.when)
        return [f"{value}, priority {'?' if override.priority is None else decimal(override.priority)}", when or "?"]
    if kind == "switch" and setup.switches[name].sprung:
        return ["switch, springs back"]
    if kind == "condition" and setup.conditions[name].remembers:
        return ["condition, remembers"]
    if kind == "channel":
        return [f"channel, {setup.channels[name].drives}"]
    return [kind]


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
