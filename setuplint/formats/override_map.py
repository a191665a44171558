"""Who can take which channel, from whom, by which switch: the graph of a set-up, drawn in layers from left to right."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.formats.html import tag, text
from setuplint.formats.layers import Drawn, Name, layered
from setuplint.formats.look import plain
from setuplint.formats.numbers import decimal, percent
from setuplint.graph import build, cone
from setuplint.setup.model import Setup

SHOWN = ("stick", "knob", "switch", "sensor", "condition", "mode", "override", "channel")
WIDE, TALL = 150, 34
GAP_X, GAP_Y = 70, 12
MOST = 150  # nodes: a drawing of more cannot be read
LONGEST = 22  # characters of a name in its box


def override_map(setup: Setup, title: str) -> str:
    """The drawing; empty where no override takes anything. It has what leads to an override, and the channels they take."""
    if not setup.overrides:
        return ""
    graph = build(setup)
    wanted: set[Name] = set()
    for override in setup.overrides.values():
        wanted |= cone(graph, ("override", override.name))
    wanted |= {("channel", override.channel) for override in setup.overrides.values()}
    nodes = [node for node in graph.nodes if node in wanted and node[0] in SHOWN]
    if len(nodes) > MOST:
        return ""
    inner = [edge for edge in graph.edges if edge[0] in wanted and edge[1] in wanted and _leads(edge)]
    drawn = layered(nodes, inner, {})
    return _svg(setup, drawn, title)


def _leads(edge: tuple[Name, Name]) -> bool:
    """From inputs over conditions to overrides and the channels that they take; what a channel reads else is in the charts."""
    (start, _), (end, _) = edge
    return start in SHOWN and end in SHOWN and (end != "channel" or start == "override")


def _svg(setup: Setup, drawn: Drawn, title: str) -> str:
    tallest = max(len(layer) for layer in drawn.layers)
    wide = len(drawn.layers) * (WIDE + GAP_X) - GAP_X + 20
    tall = tallest * (TALL + GAP_Y) + 20
    at: dict[Name, tuple[float, float]] = {}
    for n, layer in enumerate(drawn.layers):
        room = (tall - 20) / len(layer) if layer else 0
        for m, name in enumerate(layer):
            at[name] = 10 + n * (WIDE + GAP_X), 10 + room * (m + 0.5)
    inside = [_arrow()]
    for (start, end), route in drawn.routes.items():
        inside.append(
            tag("path", d=_path(route, at), class_=f"edge {start[0]}", marker_end="url(#head)" if end else None)
        )
    for name, (x, y) in at.items():
        if name[0]:
            inside += _box(setup, name, x, y)
    return tag(
        "svg",
        tag("title", text(title)) + "".join(inside),
        viewBox=f"0 0 {wide} {tall:.0f}",
        role="img",
        aria_label=title,
    )


def _arrow() -> str:
    tip = tag("path", d="M0 0L8 4L0 8z", class_="head")
    return tag(
        "defs",
        tag("marker", tip, id="head", viewBox="0 0 8 8", refX=8, refY=4, markerWidth=7, markerHeight=7, orient="auto"),
    )


def _path(route: tuple[Name, ...], at: dict[Name, tuple[float, float]]) -> str:
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


def _box(setup: Setup, name: Name, x: float, y: float) -> Iterator[str]:
    kind, own = name
    shown = plain(own)
    label = shown if len(shown) <= LONGEST else f"{shown[: LONGEST - 1]}…"
    below = _below(setup, kind, own)
    yield tag("rect", x=f"{x:.0f}", y=f"{y - TALL / 2:.0f}", width=WIDE, height=TALL, rx=4, class_=f"box {kind}")
    yield tag("text", text(label), x=f"{x + WIDE / 2:.0f}", y=f"{y - 2:.0f}", class_="mid")
    yield tag("text", text(below), x=f"{x + WIDE / 2:.0f}", y=f"{y + 12:.0f}", class_="mid quiet small")


def _below(setup: Setup, kind: str, name: str) -> str:
    if kind == "override":
        override = setup.overrides[name]
        value = "?" if override.value is None else percent(override.value)
        return f"{value}, priority {'?' if override.priority is None else decimal(override.priority)}"
    if kind == "switch" and setup.switches[name].sprung:
        return "switch, springs back"
    if kind == "condition" and setup.conditions[name].remembers:
        return "condition, remembers"
    if kind == "channel":
        return f"channel, {setup.channels[name].drives}"
    return kind
