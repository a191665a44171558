"""The timed simulator against times worked out by hand: MEANING.md sections 3, 5 and 8."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from .meaning import World
from .simulator import run, settling_time

F = Fraction


SWITCHES = """
[switches.a]
kind = "two-position"
[switches.b]
kind = "two-position"
[switches.m]
kind = "momentary"
"""


# Time, sections 3, 5 and 8


def on_times(text: str, name: str, timeline: list[tuple[Fraction, dict[str, str]]], until: int = 6) -> list[str]:
    """The moments at which a condition changes."""
    samples = run(World(text), timeline, until)
    pairs = pairwise(samples)
    return [
        f"{'on' if b.conditions[name] else 'off'} {float(b.t)}"
        for a, b in pairs
        if a.conditions[name] != b.conditions[name]
    ]


PRESS = [(F(0), {"a": "off"}), (F(1), {"a": "on"}), (F(3), {"a": "off"})]


def test_timers_switch_at_the_tick_at_which_their_time_is_up() -> None:
    def timer(keys: str) -> list[str]:
        return on_times(SWITCHES + f'[conditions.c]\nwhen = "a is on"\n{keys}\n', "c", PRESS)

    assert timer("") == ["on 1.0", "off 3.0"]
    assert timer("after = 1.5") == ["on 2.5", "off 3.0"]
    assert timer("after = 2") == []  # it broke at the very moment
    assert timer("stays = 0.4") == ["on 1.0", "off 3.4"]
    assert timer("after = 0.5\nstays = 0.4") == ["on 1.5", "off 3.4"]
    assert timer('after = 0.5\nuntil = "b is on"') == ["on 1.5"]
    assert timer("after = 0.5\ntoggles = true") == ["on 1.5"]


def test_power_up_is_settled_unless_the_first_instant_is_asked_for() -> None:
    world = World(SWITCHES + '[conditions.c]\nwhen = "a is off"\nafter = 0.5\n')
    assert run(world, [(0, {})], 1)[0].conditions["c"]
    cold = run(world, [(0, {})], 1, settled=False)
    assert next(s.t for s in cold if s.conditions["c"]) == F("0.5")


def test_ramps_take_their_seconds_over_the_whole_travel() -> None:
    channel = '[channels.x]\nfrom = "a"\nvalues = { off = -100, on = 100 }\nramp-up = 2.0\n'
    samples = run(World(SWITCHES + channel), PRESS, 6)
    at = {s.t: s.outputs["x"] for s in samples}
    assert [at[F(t)] for t in ("0.99", "1", "1.5", "2", "3")] == [-100, -100, -50, 0, -100]
    samples = run(World(SWITCHES + channel), PRESS[:2], 6)
    assert settling_time(samples, "x", F(1)) == 2
    falling = channel.replace("up", "down").replace("2.0", "0.5")
    samples = run(World(SWITCHES + falling), PRESS, 6)
    assert settling_time(samples, "x", F(3)) == F("0.5")
