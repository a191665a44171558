"""A set-up as a graph: an edge goes from what is used to what depends on it.

`uses`, `named_nodes` and `unused_parts` need no networkx; `digraph` and `cone` import it when they are called.
"""

from __future__ import annotations

from setuplint.graph.uses import Node, Unused, Use, named_nodes, unused_parts, uses
from setuplint.hints import TYPE_CHECKING
from setuplint.setup.model import Setup

if TYPE_CHECKING:
    from networkx import DiGraph

__all__ = ["Node", "Unused", "Use", "cone", "digraph", "named_nodes", "unused_parts", "uses"]


def nodes(setup: Setup) -> list[Node]:
    """Every part that is given, the sticks included."""
    intent = setup.intent
    given = {
        "hold": intent.hold,
        "stop": intent.stop,
        "rescue": intent.rescue,
        "level": intent.level,
        "lift": intent.lift,
    }
    return [
        *((("knob" if stick.knob else "stick"), stick.name) for stick in setup.sticks.values()),
        *(("switch", name) for name in setup.switches),
        *(("sensor", name) for name in setup.sensors),
        *(("condition", name) for name in setup.conditions),
        *(("mode", name) for name in setup.modes),
        *(("curve", name) for name in setup.curves),
        *(("channel", name) for name in setup.channels),
        *(("override", name) for name in setup.overrides),
        *(("alarm", name) for name in setup.alarms),
        *(("timer", name) for name in setup.timers),
        *(("failsafe", name) for name in setup.failsafe or ()),
        *((("start", "requires"),) if setup.start or setup.start_warns else ()),
        *((("trainer", "lent"),) if setup.trainer is not None else ()),
        *(("intent", key) for key, value in given.items() if value is not None),
        *(("claim", str(claim.index)) for claim in setup.claims),
    ]


def digraph(setup: Setup) -> DiGraph:
    """The graph of a set-up. A node is (kind, name), with the attributes `kind` and `name`; an edge's `why` says how
    the second uses the first: "when", or "from, rate" where it does so in several ways."""
    import networkx

    graph = networkx.DiGraph()
    for kind, name in nodes(setup):
        graph.add_node((kind, name), kind=kind, name=name)
    for used, user, why in uses(setup):
        if graph.has_edge(used, user):
            said = graph.edges[used, user]["why"].split(", ")
            graph.edges[used, user]["why"] = ", ".join(said if why in said else [*said, why])
        else:
            graph.add_edge(used, user, why=why)
    return graph


def cone(graph: DiGraph, node: Node) -> set[Node]:
    """The part and everything it depends on, directly or not. Memory and time reach no further than the edges; what
    `[start]` admits is not in it, unless asked for."""
    import networkx

    return {node, *networkx.ancestors(graph, node)}
