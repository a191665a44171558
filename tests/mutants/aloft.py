"""Which states are off the ground (MEANING.md 7): brute force over memory, and one bit more."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import numpy as np

from tests.oracle.formula import Const
from tests.oracle.parts import number

from .grid import RECEIVER, Array, Choice
from .reach import Reach
from .settled import Moment

Node = tuple[tuple[bool, ...], bool]  # memory before a step, and whether the receiver was on before it


def neither(reach: Reach, moment: Moment) -> Array:
    """Neither hold nor stop called."""
    called = [moment.plain(reach.world.intent.get(what, Const(False))) for what in ("hold", "stop")]
    return ~called[0] & ~called[1]


def directions(reach: Reach, channel: str) -> list[int]:
    """The directions that a channel has as the throttle stick rises, where neither hold nor rescue is called."""

    def going(way: int) -> bool:
        def found(moment: Moment, choice: Choice) -> Array:
            up, down = (moment.at({"throttle": Fraction(x)}) for x in (100, -100))
            free = ~moment.decided(channel) & ~reach.called(moment, "hold") & ~reach.called(moment, "rescue")
            same = (up.mode == moment.mode) & (down.mode == moment.mode)
            return np.asarray(free & same & ((up.output(channel, choice) - down.output(channel, choice)) * way > 0.5))

        return reach.anywhere(found, flight=True)

    return [way for way in (1, -1) if going(way)]


class Aloft:
    """The states of one setup that are off the ground. `known` is false where that cannot be told."""

    def __init__(self, reach: Reach) -> None:
        self.reach, self.known = reach, True
        self.carries = self.carrying()
        self.left: set[Node] = set()
        if self.known:
            self.search()

    def carrying(self) -> Callable[[Moment, Choice], Array]:
        """What could carry the craft."""
        reach, motors = self.reach, self.reach.driving("motor")
        hover, governed = reach.craft("hover-throttle"), reach.craft("governed-above")
        need = hover if hover is not None else governed
        if not reach.collective and need is not None:
            least = float(need)
            self.known = bool(motors)
            return lambda m, c: np.asarray(sum((m.output(name, c) >= least).astype(int) for name in motors) > 0)
        self.known = bool(motors) and reach.world.motor_off is not None
        pitch = number(reach.world.craft["hover-collective"]) if "hover-collective" in reach.world.craft else None
        blades = [c.name for c in reach.world.channels.values() if c.drives == "collective"]
        if not reach.collective or pitch is None or not blades:
            return lambda m, c: reach.yes(m, c, "rotor driven")
        ways = directions(reach, blades[0])
        self.known = self.known and len(blades) == 1 and len(ways) < 2 and blades == reach.driving("collective")
        at, way = float(pitch), (ways or [1])[0]
        return lambda m, c: reach.yes(m, c, "rotor driven") & ((m.output(blades[0], c) - at) * way >= 0)

    def search(self) -> None:
        """Every memory with which a step can begin after the craft has left the ground."""
        grid = self.reach.grid
        on = grid.along(RECEIVER, [x == "on" for x in grid.axes[RECEIVER]])
        for moment, where in self.reach.moments():
            for choice in self.reach.choices:
                self.note(moment, where & neither(self.reach, moment) & self.carries(moment, choice), on)
        done: set[Node] = set()
        while self.left - done:
            bits, heard = min(self.left - done)
            done.add((bits, heard))
            moment = Moment(grid, [grid.constant(bit) for bit in bits])
            self.note(moment, neither(self.reach, moment) & (on if heard else grid.constant(True)), on)

    def note(self, moment: Moment, there: Array, on: Array) -> None:
        off_only = moment.fixed.get(RECEIVER) == "off"
        for heard in (False,) if off_only else (False, True):
            picked = there if off_only else there & (on if heard else ~on)
            self.left |= {(bits, heard) for bits in self.reach.memories(moment, picked)}

    def __call__(self, moment: Moment, choice: Choice) -> Array:
        """Where a settled state of one step from power-up, or from a memory, is off the ground."""
        grid, bits = self.reach.grid, tuple(bool(bit.ravel()[0]) for bit in moment.before)
        came = grid.constant(False)
        if moment.fixed.get(RECEIVER) != "off":
            on = grid.along(RECEIVER, [x == "on" for x in grid.axes[RECEIVER]])
            came = grid.constant(True) if (bits, False) in self.left else on if (bits, True) in self.left else came
        return neither(self.reach, moment) & (self.carries(moment, choice) | came)

    def after(self, moment: Moment, moved: Moment, choice: Choice) -> Array:
        """Where it is off the ground after a movement out of such a state; without memory every state is as good as another."""
        free = neither(self.reach, moved)
        if not self.reach.world.memory_at:
            return free & bool(self.left)
        return free & (self.carries(moved, choice) | self(moment, choice))
