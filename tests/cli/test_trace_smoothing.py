"""Curves of unknown smoothing in `setuplint trace`: each is smoothed for itself."""

from __future__ import annotations

import csv
import io
import itertools
import re
from fractions import Fraction

import pytest

import setuplint
from setuplint.dataclass import replace
from setuplint.formats.numbers import percent
from setuplint.plain.evaluate import evaluate
from setuplint.plain.settings import first
from setuplint.setup.smoothings import possible
from tests.cli.running import Command

TEXT = """
format = 1
[craft]
motor-off = {off}
[switches.hold]
kind = "two-position"
[curves.a]
points = [[-100, -100], [-50, -80], [0, 16], [50, 20], [100, 100]]
smoothing = "unknown"
[curves.b]
points = [[-100, 40], [-40, -30], [0, 0], [40, 5], [100, -40]]
smoothing = "unknown"
[channels.motor]
drives = "motor"
from = "throttle"
curve = "a"
mix = [{{ from = "elevator", curve = "b" }}]
ramp-down = {ramp}
[overrides.held]
channel = "motor"
value = -100
when = "hold is on"
"""
KINDS = list(itertools.product(possible("unknown"), repeat=2))


def given(throttle: int, elevator: int) -> dict[tuple[str, ...], Fraction]:
    """What the motor gives under each pair of kinds."""
    setup = setuplint.load_text(TEXT.format(off=-95, ramp=0)).model
    found = {}
    for kinds in KINDS:
        state = first(setup, {"throttle": Fraction(throttle), "elevator": Fraction(elevator)}, heard=False)
        smoothed = replace(state, smoothing=dict(zip("ab", kinds, strict=True)))
        put = evaluate(setup, smoothed).outputs["motor"]
        assert put is not None
        found[kinds] = put
    return found


def words(value: Fraction) -> str:
    return " ".join(percent(value).split())


def test_every_pair_of_smoothings_is_shown(command: Command) -> None:
    text = TEXT.format(off=-95, ramp=0).encode()
    shown = " ".join(command("trace", "-", "--set", "throttle=25,elevator=-20", stdin=text).out.split())
    for (one, other), value in given(25, -20).items():
        row = re.search(
            rf"(\S+ %) \([^)]*\) its own line \(line \d+\), if smoothing is {one} \(a\) and {other} \(b\)", shown
        )
        assert row is not None
        assert row[1] == words(value)
    assert len(set(given(25, -20).values())) == 9


def test_what_hangs_on_a_pair_is_not_told_as_if_it_were_known(command: Command) -> None:
    """All smoothed alike, the motor stops or runs; with another pair it does not."""
    values = given(-75, -70)
    alike = [values[kind, kind] for kind in possible("unknown")]
    off = (max(values.values()) + max(alike)) / 2
    assert max(alike) < off < max(values.values())
    text = TEXT.format(off=float(off), ramp=0).encode()
    shown = command("trace", "-", "--set", "throttle=-75,elevator=-70", stdin=text).out
    assert "motor\N{NO-BREAK SPACE}runs?" in shown or "motor runs?" in shown


def test_on_the_way_too(command: Command) -> None:
    """A ramp that comes down from the line is where the line was, and that is known no better."""
    text = TEXT.format(off=-95, ramp=10).encode()
    args = ("--set", "throttle=25,elevator=-20,wait=1", "--then", "hold=on,wait=1")
    shown = " ".join(command("trace", "-", *args, stdin=text).out.split())
    one, two = shown.split("2. ")
    assert one.count("if smoothing is") == two.count("if smoothing is") == 9
    for value in given(25, -20).values():
        assert words(value) in one
        assert words(value - 20) in two


def test_a_sweep_has_every_pair(command: Command) -> None:
    swept = ("trace", "-", "--sweep", "throttle", "--set", "elevator=-20")
    text = TEXT.format(off=-95, ramp=0).encode()
    row = list(csv.DictReader(io.StringIO(command(*swept, "--csv", stdin=text).out)))[125]
    assert row["throttle"] == "25"
    for (one, other), value in given(25, -20).items():
        told = row[f"motor % if smoothing is {one} (a) and {other} (b)"]
        assert float(told) == pytest.approx(float(value), abs=1e-3)


def test_more_curves_than_are_followed_are_said(command: Command) -> None:
    mixed = TEXT.format(off=-95, ramp=0).replace(
        '{ from = "elevator", curve = "b" }',
        ", ".join(f'{{ from = "{s}", curve = "c{n}" }}' for n, s in enumerate(("elevator", "aileron", "rudder", "k"))),
    )
    curve = 'points = [[-100, 0], [-40, -3], [0, 0], [40, 5], [100, -4]]\nsmoothing = "unknown"\n'
    text = mixed + "[knobs.k]\n" + "".join(f"[curves.c{n}]\n{curve}" for n in range(4))
    shown = " ".join(command("trace", "-", "--sweep", "throttle", stdin=text.encode()).out.split())
    assert "motor: it hangs on 5 curves of unknown smoothing" in shown
    assert "Not known: motor" in shown
    shown = " ".join(command("trace", "-", "--set", "throttle=25", stdin=text.encode()).out.split())
    assert "motor not known its own line" in shown
    assert "motor runs?" in shown.replace("\N{NO-BREAK SPACE}", " ")
