"""Steps with waits for `setuplint trace`: what a setup does at the end of each wait, by the timed simulator."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from setuplint.cli.trouble import Trouble
from setuplint.cli.ways import Tied, Ties
from setuplint.dataclass import replace
from setuplint.named_tuple import NamedTuple
from setuplint.plain.settings import Given, after, first
from setuplint.plain.simulate import STEP, Moment, settle_time, simulate
from setuplint.plain.smoothed import Way
from setuplint.plain.state import OFF, State
from setuplint.setup.model import ZERO, Setup

WAIT = "wait"
LONGEST = 86_400  # seconds
TICK = Fraction(STEP, 1000)
_SECONDS = re.compile(r"[0-9]{1,5}(\.[0-9]{1,2})?", re.ASCII)


class Seen(NamedTuple):
    """The end of a step: when it is, the state of the controls, the moment, and the overrides that have tied on each channel so
    far: a ramp may still come from one."""

    at: Fraction
    state: State
    moment: Moment
    tied: Tied


def split_wait(setup: Setup, written: Iterable[str]) -> tuple[list[str], Fraction | None]:
    """What is set in a step, without its `wait=SECONDS`, and the seconds; None where it has no wait. A control that is called
    so is a control. Trouble where it is no number of seconds."""
    pieces = [piece.strip() for text in written for piece in text.split(",")]
    if WAIT in setup.switches or WAIT in setup.sticks or WAIT in setup.sensors:
        return pieces, None
    waits = [piece for piece in pieces if piece.partition("=")[0].strip() == WAIT]
    if not waits:
        return pieces, None
    if len(waits) > 1:
        raise Trouble("wait is given twice in one step")
    seconds = waits[0].partition("=")[2].strip()
    if not _SECONDS.fullmatch(seconds) or Fraction(seconds) > LONGEST:
        raise Trouble(f"wait takes seconds from 0 to {LONGEST:,}, in steps of 0.01, not {seconds}")
    return [piece for piece in pieces if piece not in waits], Fraction(seconds)


def seen_in_time(
    setup: Setup, given: Sequence[Given], waits: Sequence[Fraction | None], ties: Ties, way: Way
) -> Iterator[Seen]:
    """How each step ends, from power-up on, where these win ties and curves are smoothed so; one without a wait ends when all has
    settled. `Impossible` (settings) where the settings contradict each other."""
    settled = -(-settle_time(setup) // TICK) * TICK
    states = [replace(first(setup, given[0], heard=False), ties=ties, smoothing=way)]
    for moved in given[1:]:
        states.append(after(setup, states[-1], moved))
    starts = [ZERO]
    for wait in waits:
        starts.append(starts[-1] + (settled if wait is None else wait))
    changes = list(zip(starts[1:-1], states[1:], strict=True))
    tied: dict[str, dict[str, None]] = {}
    for step, state in enumerate(states):
        end = starts[step + 1]
        for moment in simulate(setup, states[0], OFF, changes[:step], end, from_power_up=True, jump=True):
            for channel, names in moment.evaluation.tied.items():
                tied.setdefault(channel, {}).update(dict.fromkeys(names))
        yield Seen(end, state, moment, {channel: tuple(names) for channel, names in tied.items()})
