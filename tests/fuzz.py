"""Random setups of the format's grammar, larger and larger, two of three broken: `python -m tests.fuzz FIRST COUNT` gives those
of these seeds to lint and to another command, and prints what must not be: a traceback, no end, a fault said to be ours. The same
seed gives the same text on every machine."""

from __future__ import annotations

import cProfile
import io
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from time import process_time

from setuplint.cli import main
from tests.damage import damaged, mistyped
from tests.shapes import with_reference

MOST_CALLS = 130_000_000  # of functions, in the commands of a seed
QUICK = 4  # seconds of CPU in which no machine makes so many calls
SECONDS, MOST_SECONDS = 20, 300  # of CPU, in a run by hand: what is told, and where a seed is given up
FAULT = "a fault of setuplint"
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
        self.size = 4 + seed % 8 + (seed % 60 if seed % 7 == 0 else 0)
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


def texts(seed: int) -> tuple[bytes, bytes]:
    """The setup of a seed, two seeds of three broken, and another to compare it with: an edit apart, or broken too."""
    chance, text = Random(-seed), Writer(seed).text()
    own = damaged(text, chance) if seed % 3 else text.encode()
    return own, damaged(text, chance) if chance.random() < 0.3 else mistyped(text, chance).encode()


def commands(seed: int, folder: Path) -> Iterator[list[str]]:
    """A lint of the seed's file, and one of the other commands."""
    own, other = (str(folder / name) for name in ("own.toml", "other.toml"))
    yield ["lint", own, "--format", ("text", "json", "sarif", "junit", "markdown")[seed % 5]]
    rest = (["compare", other, own], ["bench-card", own], ["report", own], ["sheet", own], ["sheet", own, "--since", other],
            ["trace", own, "--set", "throttle=20", "--then", "save=pulled,wait=2"], ["trace", own, "--sweep", "throttle"],
            ["lint", own, other, "--fix"])  # fmt: skip
    yield rest[seed // 3 % len(rest)]


def run(words: list[str], call: Callable[[Callable[..., int], list[str]], int]) -> str:
    """What must not be, of one command."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            status = call(main, words)
        except SystemExit as stopped:
            status = stopped.code
    if status not in (0, 1, 2):
        return f"status {status}"
    if status == 2 and err.getvalue().count("\n") != 1:
        return f"status 2 in {err.getvalue().count(chr(10))} lines: {err.getvalue()[:200]}"
    return "a fault of setuplint" if FAULT in out.getvalue() + err.getvalue() else ""


def trouble(seed: int, *, by_the_clock: bool = False) -> str:
    """What must not be, of the setup of a seed; empty where nothing is."""
    wrong, seconds = tried(seed, lambda function, words: function(words))
    if wrong or seconds <= QUICK:
        return wrong
    return counted(seed) if not by_the_clock else f"{seconds:.0f} s" if seconds > SECONDS else ""


def counted(seed: int) -> str:
    """The same with the calls of functions counted, of all commands of the seed together."""
    profile = cProfile.Profile()
    wrong, _ = tried(seed, profile.runcall)
    calls = sum(entry.callcount for entry in profile.getstats())
    return wrong or (f"{calls:,} calls" if calls > MOST_CALLS else "")


def tried(seed: int, call: Callable[[Callable[..., int], list[str]], int]) -> tuple[str, float]:
    """What must not be, and the seconds of CPU that the seed's commands took."""
    begun = process_time()
    with TemporaryDirectory() as name:
        folder = Path(name)
        for file, data in zip(("own.toml", "other.toml"), texts(seed), strict=True):
            (folder / file).write_bytes(data)
        for words in commands(seed, folder):
            try:
                wrong = run(words, call)
            except Exception as error:
                wrong = f"{type(error).__name__}: {error}"
            if wrong:
                return f"{words[0]}: {wrong}", process_time() - begun
    return "", process_time() - begun


def hung(*_: object) -> None:
    raise TimeoutError(f"more than {MOST_SECONDS} s of CPU")


if __name__ == "__main__":
    first, count = map(int, sys.argv[1:])
    signal.signal(signal.SIGPROF, hung)
    for seed in range(first, first + count):
        signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)  # so that one that never ends is told, and the next is tried
        begun = process_time()
        found = trouble(seed, by_the_clock=True)
        print(seed, f"{process_time() - begun:.0f} s", found, flush=True)
