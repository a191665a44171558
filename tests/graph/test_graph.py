"""The graph of a set-up: what uses what, and why; cones; parts that nothing uses."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import networkx
import pytest

from setuplint.graph import Unused, cone, digraph, unused_parts
from setuplint.setup import Setup, loaded_setup
from setuplint.setup.dependencies import dependency_order

ROOT = Path(__file__).parents[2]
REFERENCE = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")

TEXT = """format = 1
[knobs.dial]
[switches.hold]
kind = "two-position"
[switches.bank]
kind = "three-position"
[switches.save]
kind = "momentary"
[sensors.pack]
reads = "pack-voltage"
[sensors.heat]
reads = "temperature"
[sensors.seen]
reads = "temperature"
shown = true
[conditions.low]
when = "pack < 20"
[conditions.latched]
when = "low and mode is calm"
until = "hold is on"
[conditions.idle]
when = "latched"
[modes.calm]
when = "bank is up"
[modes.wild]
[curves.soft]
points = [[0, 0], [1, 1]]
[curves.spare]
points = [[0, 0], [1, 1]]
[channels.motor]
drives = "motor"
from = "throttle"
rate = { switch = "hold", at = { off = 100, on = 0 } }
expo = { switch = "hold", at = { off = 100, on = 0 } }
curve = "soft"
mix = [{ from = "dial", rate = 5 }, { from = "bank", values = { up = 0, middle = 1, down = 2 } }]
[channels.roll]
from = "aileron"
in.wild = { from = "rudder" }
[overrides.held]
channel = "motor"
value = -100
when = "hold is on or latched"
[alarms.land]
when = "low or pack is lost"
[timers.flight]
seconds = 3
runs = "not hold is on"
[failsafe]
motor = -100
[start]
requires = "throttle < -95"
[intent]
hold = "hold is on"
rescue = "save is pulled"
level = { channel = "roll", at-most = 3 }
lift = "unit"
[[claims]]
never = "output roll > 50 and roll follows aileron and mode is wild"
"""
EDGES = [
    ("sensor.pack", "condition.low", "when"),
    ("condition.low", "condition.latched", "when"),
    ("mode.calm", "condition.latched", "when"),
    ("switch.hold", "condition.latched", "until"),
    ("condition.latched", "condition.idle", "when"),
    ("switch.bank", "mode.calm", "when"),
    ("mode.calm", "mode.wild", "before"),
    ("stick.throttle", "channel.motor", "from"),
    ("curve.soft", "channel.motor", "curve"),
    ("switch.hold", "channel.motor", "rate, expo"),
    ("knob.dial", "channel.motor", "mix"),
    ("switch.bank", "channel.motor", "mix"),
    ("stick.aileron", "channel.roll", "from"),
    ("mode.wild", "channel.roll", "mode"),
    ("stick.rudder", "channel.roll", "from"),
    ("switch.hold", "override.held", "when"),
    ("condition.latched", "override.held", "when"),
    ("override.held", "channel.motor", "overrides"),
    ("condition.low", "alarm.land", "when"),
    ("sensor.pack", "alarm.land", "listens"),
    ("switch.hold", "timer.flight", "runs"),
    ("channel.motor", "failsafe.motor", "failsafe"),
    ("stick.throttle", "start.requires", "requires"),
    ("switch.hold", "intent.hold", "hold"),
    ("switch.save", "intent.rescue", "rescue"),
    ("channel.roll", "intent.level", "level"),
    ("channel.roll", "claim.0", "never"),
    ("stick.aileron", "claim.0", "never"),
    ("mode.wild", "claim.0", "never"),
]


def setup_of(text: str) -> Setup:
    texts, setup, problems = loaded_setup(text, "x.toml")
    assert not texts.own.problems
    assert problems == ()
    return setup


def test_every_edge_says_why() -> None:
    graph = digraph(setup_of(TEXT))
    assert isinstance(graph, networkx.DiGraph)
    found = {(".".join(a), ".".join(b), said["why"]) for a, b, said in graph.edges(data=True)}
    assert found == set(EDGES)


def test_every_part_is_a_node_of_its_kind() -> None:
    graph = digraph(setup_of(TEXT))
    kinds = "stick knob switch sensor condition mode curve channel override alarm timer failsafe start intent claim"
    assert {said["kind"] for _, said in graph.nodes(data=True)} == set(kinds.split())
    assert all(node == (said["kind"], said["name"]) for node, said in graph.nodes(data=True))
    assert ("stick", "elevator") in graph
    assert ("sensor", "heat") in graph
    assert ("intent", "lift") in graph
    assert ("intent", "stop") not in graph


def test_cones() -> None:
    graph = digraph(setup_of(TEXT))
    assert cone(graph, ("intent", "level")) == {
        ("intent", "level"),
        ("channel", "roll"),
        ("stick", "aileron"),
        ("stick", "rudder"),
        ("mode", "wild"),
        ("mode", "calm"),
        ("switch", "bank"),
    }
    assert ("sensor", "pack") in cone(graph, ("channel", "motor"))
    assert ("switch", "save") not in cone(graph, ("channel", "motor"))


def test_the_graph_of_the_reference_has_no_loop_and_agrees_with_the_order() -> None:
    for text in (TEXT, REFERENCE):
        setup = setup_of(text)
        graph = digraph(setup)
        assert networkx.is_directed_acyclic_graph(graph)
        assert dependency_order(setup.conditions, setup.modes).loops == []
        place = {node: n for n, node in enumerate(setup.conditions)}
        for a, b in graph.edges:
            if a[0] == b[0] == "condition":
                assert place[a[1]] < place[b[1]]


def test_unused_parts() -> None:
    assert unused_parts(setup_of(TEXT)) == Unused(("spare",), ("idle",), ("heat",))
    assert unused_parts(setup_of(REFERENCE)) == Unused((), (), ())


@pytest.mark.parametrize(
    ("old", "new", "curves", "others"),
    [
        ('when = "low or pack is lost"', 'when = "lowe or pack is lost"', True, False),
        ('when = "low or pack is lost"', "when = 3", True, False),
        ('from = "aileron"', 'from = "aleron"', False, True),
        ("[conditions.idle]", "[conditions.idle]\ncolour = 3", True, False),
        ("seconds = 3", "seconds = 3\ntone = 3", True, False),
        ("[failsafe]", "[failsafe]\nroll = 300", True, True),
    ],
)
def test_what_cannot_be_read_may_use_anything(old: str, new: str, curves: bool, others: bool) -> None:
    _, setup, _ = loaded_setup(TEXT.replace(old, new), "x.toml")
    found = unused_parts(setup)
    assert found.curves == (("spare",) if curves else ())
    assert found.sensors == (("heat",) if others else ())
    assert found.conditions == (("idle",) if others else ())


def test_a_channel_that_is_not_described_may_still_name_a_curve() -> None:
    setup = setup_of(TEXT + '[channels.later]\ncurve = "spare"\n')
    assert unused_parts(setup).curves == ()
    assert unused_parts(setup_of(TEXT + "[channels.later]\n")).curves == ("spare",)


def test_networkx_is_imported_for_the_graph_alone() -> None:
    program = (
        "import sys; from setuplint.graph import digraph, unused_parts; from setuplint.setup import loaded_setup; "
        "s = loaded_setup(open(sys.argv[1], 'rb').read(), 'x')[1]; unused_parts(s); print('networkx' in sys.modules); "
        "digraph(s); print('networkx' in sys.modules)"
    )
    command = [sys.executable, "-c", program, str(ROOT / "examples" / "reference.toml")]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.split() == ["False", "True"]
