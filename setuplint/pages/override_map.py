"""Who can take which channel, from whom, by which switch: the graph of a set-up, drawn in layers from left to right."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from setuplint.formats.numbers import decimal, percent
from setuplint.formats.terminal import plain
from setuplint.graph import cone, digraph
from setuplint.pages.html import tag, text
from setuplint.pages.layers import Drawn, Name, layered
from setuplint.setup.formula_text import formula_text
from setuplint.setup.model import Setup

if TYPE_CHECKING:
    from networkx import DiGraph

SHOWN = ("stick", "knob", "switch", "sensor", "condition", "mode", "override", "channel")
TITLE = "Who can take which channel, from whom, by which switch"
WIDE, TALL, TALLER = 168, 36, 52
GAP_X, GAP_Y = 64, 12
EDGE = 12
TOGETHER, MOST = 60, 150  # nodes in one drawing: with more, one drawing a channel; with still more, none
TALLEST = 1150  # of one drawing of all: on a sheet of paper what is taller gets too small to read
MOST_MAPS = 32
NUMBERED = "A number says who wins the channel, 1 first; below them is the channel's own line."
DEEP = 5  # layers: more would get too small on a screen
LONGEST, LONGEST_SMALL = 22, 28  # characters in a box


@dataclass(frozen=True, slots=True)
class Map:
    """A drawing: what goes into the SVG, and how large that is. `deep`: made smaller it could not be read."""

    title: str
    inside: str
    wide: float
    tall: float
    deep: bool


def override_maps(setup: Setup) -> list[Map]:
    """One of all, or, where that would be too much to look at, one for each channel. None where nothing can be taken, and
    where even one channel has too much."""
    graph = digraph(setup)
    channels = [name for name in setup.channels if any(o.channel == name for o in setup.overrides.values())]
    whole = _nodes(setup, graph, channels)
    if not channels:
        return []
    if len(whole) <= TOGETHER and (one := _drawn(setup, graph, whole, TITLE, 0)).tall <= TALLEST:
        return [one]
    each = {name: _nodes(setup, graph, [name]) for name in channels}
    if len(channels) > MOST_MAPS or any(len(nodes) > MOST for nodes in each.values()):
        return []
    return [
        _drawn(setup, graph, nodes, f"Who can take {name}, from whom, by which switch", n)
        for n, (name, nodes) in enumerate(each.items())
    ]


def _nodes(setup: Setup, graph: DiGraph, channels: list[str]) -> list[Name]:
    """The channels, the overrides that take them, and what leads to these."""
    wanted: set[Name] = {("channel", name) for name in channels}
    for override in setup.overrides.values():
        if override.channel in channels:
            wanted |= cone(graph, ("override", override.name))
    return [node for node in graph.nodes if node in wanted and node[0] in SHOWN]


def _drawn(setup: Setup, graph: DiGraph, nodes: list[Name], title: str, number: int) -> Map:
    shown = set(nodes)
    inner = [edge for edge in graph.edges if edge[0] in shown and edge[1] in shown and _leads(edge)]
    return _map(setup, layered(nodes, inner, {}, last=lambda node: node[0] == "channel"), title, number)


def _leads(edge: tuple[Name, Name]) -> bool:
    """From inputs over conditions to overrides and the channels that they take; what a channel reads else is in the charts."""
    (start, _), (end, _) = edge
    return start in SHOWN and end in SHOWN and (end != "channel" or start == "override")


def _map(setup: Setup, drawn: Drawn, title: str, number: int) -> Map:
    """`number` tells the drawings of one page apart."""
    heights = [sum(_tall(name) + GAP_Y for name in layer) for layer in drawn.layers]
    tall = max(heights, default=0)
    at: dict[Name, tuple[float, float]] = {}
    for n, layer in enumerate(drawn.layers):
        spare = (tall - heights[n]) / len(layer) if layer else 0
        y = float(EDGE)
        for name in layer:
            room = _tall(name) + GAP_Y + spare
            at[name] = EDGE + n * (WIDE + GAP_X), y + room / 2
            y += room
    head = f"head-{number}"
    inside = [_arrow(head)]
    for (start, _), route in drawn.routes.items():
        inside.append(tag("path", d=_path(route, at), class_=f"edge {start[0]}", marker_end=f"url(#{head})"))
    ranks = _ranks(setup)
    for name, (x, y) in at.items():
        if name[0]:
            inside.append(tag("g", tag("title", text(name[1])) + "".join(_box(setup, name, x, y, ranks))))
    wide = len(drawn.layers) * (WIDE + GAP_X) - GAP_X + 2 * EDGE
    return Map(title, "".join(inside), wide, tall + 2 * EDGE, len(drawn.layers) > DEEP)


def _tall(name: Name) -> int:
    return {"": 6, "override": TALLER}.get(name[0], TALL)


def _arrow(head: str) -> str:
    tip = tag("path", d="M0 0L8 4L0 8z", class_="head")
    return tag(
        "defs",
        tag("marker", tip, id=head, viewBox="0 0 8 8", refX=8, refY=4, markerWidth=7, markerHeight=7, orient="auto"),
    )


def _path(route: tuple[Name, ...], at: Mapping[Name, tuple[float, float]]) -> str:
    """A curve from the right of one box to the left of the next, through the places kept free for it."""
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


def _ranks(setup: Setup) -> dict[str, str]:
    """Who wins a channel that several overrides take: 1 first, equals alike."""
    found: dict[str, str] = {}
    for channel in setup.channels:
        own = [o for o in setup.overrides.values() if o.channel == channel]
        if len(own) < 2:
            continue
        levels = sorted({o.priority for o in own if o.priority is not None}, reverse=True)
        for each in own:
            found[each.name] = "?" if each.priority is None else str(levels.index(each.priority) + 1)
    return found


def _box(setup: Setup, name: Name, x: float, y: float, ranks: Mapping[str, str]) -> Iterator[str]:
    kind, own = name
    tall = _tall(name)
    lines = [
        (_short(own, LONGEST), "mid"),
        *((_short(each, LONGEST_SMALL), "mid quiet small") for each in _below(setup, name)),
    ]
    yield tag("rect", x=f"{x:.0f}", y=f"{y - tall / 2:.0f}", width=WIDE, height=tall, rx=4, class_=f"box {kind}")
    first = y + 4 - 7 * (len(lines) - 1)
    for n, (words, look) in enumerate(lines):
        yield tag("text", text(words), x=f"{x + WIDE / 2:.0f}", y=f"{first + 14.5 * n:.0f}", class_=look)
    if kind == "override" and own in ranks:
        yield tag("circle", cx=f"{x + WIDE:.0f}", cy=f"{y:.0f}", r=9, class_="rank")
        yield tag("text", text(ranks[own]), x=f"{x + WIDE:.0f}", y=f"{y + 4:.0f}", class_="mid small ranked")


def _short(words: str, most: int) -> str:
    """Cut in the middle: names that are alike differ at either end."""
    shown = plain(words)
    return shown if len(shown) <= most else f"{shown[: most // 2]}…{shown[-(most - most // 2 - 1) :]}"


def _below(setup: Setup, node: Name) -> list[str]:
    kind, name = node
    if kind == "override":
        override = setup.overrides[name]
        value = "?" if override.value is None else percent(override.value)
        when = formula_text(override.when)
        return [f"{value}, priority {'?' if override.priority is None else decimal(override.priority)}", when or "?"]
    if kind == "switch" and setup.switches[name].sprung:
        return ["switch, springs back"]
    if kind == "condition" and setup.conditions[name].remembers:
        return ["condition, remembers"]
    if kind == "channel":
        return [f"channel, {setup.channels[name].drives}"]
    return [kind]
