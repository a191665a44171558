"""`setuplint trace` where a tie of overrides or a smoothing that is not known leaves open what a channel puts out: every way is
shown, and what is true in some of them only is not said (MEANING.md 5). The numbers are worked out by hand."""

from __future__ import annotations

import re

import pytest

from tests.cli.running import Command
from tests.cli.test_trace_command import row

OPEN = b"""\
format = 1
[craft]
motor-off = -60
[switches.sw]
kind = "two-position"
[conditions.late]
when = "sw is on"
stays = 2
[channels.motor]
drives = "motor"
from = "throttle"
ramp-up = 2
ramp-down = 4
[channels.bent]
from = "throttle"
curve = "bent"
[channels.kept]
from = "throttle"
curve = "bent"
[curves.bent]
points = [[-100, -100], [-50, 20], [0, 30], [100, 100]]
smoothing = "unknown"
[overrides.a]
channel = "motor"
value = 50
when = "late"
[overrides.b]
channel = "motor"
value = -70
when = "late"
[overrides.c]
channel = "kept"
at-least = -25
when = "sw is on"
[overrides.d]
channel = "kept"
at-least = -30
when = "sw is on"
"""


@pytest.mark.parametrize(
    ("then", "shown"),
    [
        # the motor's override lingers, and both are on their way: up 100 % a second, from -75
        (["sw=on,wait=0.2", "sw=off,wait=0.3"], ["-25 % a in a tie", "-70 % b in a tie"]),
        # neither holds any more, but the ramp down, 50 % a second, still comes from one of them
        (["sw=on,wait=5", "sw=off,wait=2.5"], ["+25 % its own line, after a won a tie",
                                              "-75 % its own line, after b won a tie"]),
        (["sw=on", "sw=off,wait=9"], ["-75 % its own line"]),
    ],
)  # fmt: skip
def test_a_tie_in_time_is_shown_both_ways(command: Command, then: list[str], shown: list[str]) -> None:
    steps = [word for step in then for word in ("--then", step)]
    last = command("trace", "-", "--set", "throttle=-75", *steps, stdin=OPEN)
    last = last._replace(out=last.out[last.out.rindex("  channel ") :])
    said = re.sub(r" \([^)]*\)", "", row(last, "motor")).split(" or ")
    assert said == shown


@pytest.mark.parametrize("words", [["--set", "throttle=-75"], ["--set", "throttle=-75,wait=1"]])
def test_a_smoothing_that_is_not_known_is_shown_each_way_in_time_too(command: Command, words: list[str]) -> None:
    shown = row(command("trace", "-", *words, stdin=OPEN), "bent")
    assert [way.split(" its own line")[0] for way in shown.split(" or ")] == ["-20.43 %", "-33.12 %", "-28.83 %"]
    assert shown.endswith("if smoothing is natural")


def test_a_limit_in_a_tie_is_shown_with_each_smoothing(command: Command) -> None:
    shown = row(command("trace", "-", "--set", "throttle=-75,sw=on", stdin=OPEN), "kept").split(" or ")
    assert [way.split()[0] for way in shown] == ["-20.43", "-25", "-25", "-20.43", "-30", "-28.83"]
    assert shown[4] == "-30 % d (line 35) in a tie, of its own line (line 17), if smoothing is cardinal"


def test_what_is_true_in_one_way_only_is_not_said(command: Command) -> None:
    """At +50 % the motor runs, at -70 % it does not."""
    assert "state: motor runs?, rotor driven?, flying?," in command("trace", "-", "--set", "sw=on", stdin=OPEN).words
    lifted = OPEN.replace(b"value = -70", b"value = -50")
    assert "state: motor runs, rotor driven, flying," in command("trace", "-", "--set", "sw=on", stdin=lifted).words
    assert "state: motor runs" not in command("trace", "-", stdin=OPEN).words


def test_of_very_many_ties_ten_are_followed(command: Command) -> None:
    more = "".join(f'[overrides.t{n}]\nchannel = "motor"\nvalue = {n}\nwhen = "sw is on"\n' for n in range(30)).encode()
    done = command("trace", "-", "--set", "sw=on", stdin=OPEN + more)
    assert row(done, "motor").endswith("or not known 22 more tie")
