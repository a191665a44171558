"""Random setups of the format's grammar, larger and larger: `python -m tests.fuzz FIRST COUNT` lints those of these seeds and
prints what must not be. The same seed gives the same text on every machine."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from random import Random

from tests.growth import effort
from tests.shapes import with_reference

MOST_CALLS = 130_000_000
SWITCHES = {
    "flight": ("normal", "idle-up-1", "idle-up-2"),
    "hold": ("off", "on"),
    "save": ("released", "pulled"),
    "rates": ("soft", "full"),
}
MOTOR = ("motor", "pitch", "roll", "attitude")


class Writer:
    """One setup, written by a seed."""

    def __init__(self, seed: int) -> None:
        self.pick = Random(seed)
        self.size = 4 + seed % 60
        self.conditions: list[str] = []

    def text(self) -> str:
        return with_reference(self.parts())

    def parts(self) -> Iterator[str]:
        yield from ("[knobs.wheel]", "[knobs.slider]")
        for n in range(self.size):
            kind = self.pick.choice(
                (self.condition, self.condition, self.override, self.channel, self.alarm, self.claim)
            )
            yield kind(n)

    def formula(self, depth: int = 0) -> str:
        if depth > 2 or self.pick.random() < 0.3:
            return self.atom()
        words = f" {self.pick.choice(('and', 'or'))} ".join(
            self.formula(depth + 1) for _ in range(self.pick.randint(2, 3))
        )
        return f"{self.pick.choice(('', '', 'not '))}({words})"

    def atom(self) -> str:
        choice = self.pick.randrange(4)
        if choice == 0 and self.conditions:
            return self.pick.choice(self.conditions[-8:])
        if choice == 1:
            name = self.pick.choice(("throttle", "aileron", "wheel", "slider"))
            return f"{name} {self.pick.choice(('<', '>', '<=', '>='))} {self.pick.randint(-99, 99)}"
        if choice == 2:
            return self.pick.choice((f"pack < {self.pick.randint(180, 250) / 10}", "link is lost", "link < 50"))
        switch = self.pick.choice(sorted(SWITCHES))
        return f"{switch} is {self.pick.choice(SWITCHES[switch])}"

    def condition(self, n: int) -> str:
        when = self.formula()
        key = self.pick.choice(
            ("", "after = 1.5", "stays = 2", "after = 700", "toggles = true", f'until = "{self.formula()}"')
        )
        self.conditions.append(f"c{n}")
        return f'[conditions.c{n}]\nwhen = "{when}"\n{key}'

    def override(self, n: int) -> str:
        value, priority = self.pick.randint(-100, 100), self.pick.randint(0, 120)
        return (
            f'[overrides.o{n}]\nchannel = "{self.pick.choice(MOTOR)}"\nvalue = {value}\n'
            f'when = "{self.formula()}"\npriority = {priority}'
        )

    def channel(self, n: int) -> str:
        sticks = self.pick.sample(("throttle", "aileron", "wheel", "slider"), self.pick.randint(1, 4))
        mix = ", ".join(f'{{ from = "{name}", rate = {self.pick.randint(-60, 60)} }}' for name in sticks[1:])
        curve = self.pick.choice(("", 'curve = "hover-soft"', 'curve = "pitch-calm"', "expo = 30"))
        return (
            f'[channels.x{n}]\nnumber = {12 + n % 20}\ndrives = "{self.pick.choice(("other", "rudder", "collective"))}"\n'
            f'from = "{sticks[0]}"\n{curve}\nmix = [{mix}]'
        )

    def alarm(self, n: int) -> str:
        return f'[alarms.a{n}]\nwhen = "{self.formula()}"\nvoice = "alarm {n}"\nrepeat = {n % 4}'

    def claim(self, n: int) -> str:
        channel, number = self.pick.choice(MOTOR), self.pick.randint(-110, 110)
        return f'[[claims]]\nnever = "output {channel} > {number} and {self.formula(2)}"\nbecause = "claim {n}"'


def trouble(seed: int) -> str:
    """What must not be, of the setup of a seed; empty where nothing is."""
    try:
        found = effort(lambda number: Writer(number).text(), seed)
    except Exception as error:
        return f"{type(error).__name__}: {error}"
    return f"{found.calls:,} calls" if found.calls > MOST_CALLS else ""


if __name__ == "__main__":
    first, count = map(int, sys.argv[1:])
    for seed in range(first, first + count):
        print(seed, trouble(seed), flush=True)
