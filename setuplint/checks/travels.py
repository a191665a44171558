"""How far and how fast a control goes with its own stick, from one end to the other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from setuplint.book.asking import Asking
from setuplint.checks.corners import guarded_case, mode_is
from setuplint.checks.curve_shapes import FULL
from setuplint.checks.moves import MIDDLE, held_at
from setuplint.curves.flown import Flown
from setuplint.curves.lines import LineCase
from setuplint.engine.answers import Case
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel

OWN = {"aileron": "aileron", "elevator": "elevator", "rudder": "rudder", "collective": "throttle"}  # the stick of each
FREE = f.both(f.Not(f.Predicate("hold called")), f.Not(f.Predicate("rescue called")))


def controls(ask: Asking, *drives: str) -> list[Channel]:
    """The described channels that drive one of these, or any control; what cannot be read is noted."""
    found = [c for c in ask.setup.channels.values() if c.drives in (drives or OWN)]
    for channel in found:
        if ask.broken("channels", channel.name):
            ask.not_judged(f"channels.{channel.name} cannot be read", channel.name)
    return [c for c in found if c.described]


def in_flight(ask: Asking, *formulas: f.Formula) -> f.Formula:
    """These hold, neither hold nor rescue is called, and a mode is flown where the file has any."""
    modes = [f.ModeIs(mode) for mode in ask.setup.modes]
    return f.both(FREE, *([f.either(*modes)] if modes else []), *formulas)


def flying_modes(ask: Asking) -> list[str | None]:
    """The modes that some state flies with neither hold nor rescue called; None where the file has none."""
    found: list[str | None] = list(ask.setup.modes) or [None]
    return [mode for mode in found if not mode or ask.may_be(ask.decider.find(f.both(FREE, f.ModeIs(mode))), mode)]


@dataclass(frozen=True, slots=True)
class OwnTravel:
    """A case of a control's line in a mode, as its own stick flies it with all other sticks and knobs in the middle."""

    mode: str | None
    case: LineCase
    flown: Flown
    stick: str

    @property
    def direction(self) -> int:
        """The sign of its movement while no limit holds it."""
        rise = self.flown.shape.value(FULL) - self.flown.shape.value(-FULL)
        return ((rise > 0) - (rise < 0)) * (-1 if self.flown.channel.reversed else 1)

    @property
    def halves(self) -> tuple[Fraction, Fraction]:
        """By how much it moves from the middle to the bottom of its stick, and to the top."""
        low, middle, high = (self.flown.output(x) for x in (-FULL, MIDDLE, FULL))
        return abs(low - middle), abs(high - middle)


def own_travels(ask: Asking, channel: Channel) -> Iterator[OwnTravel]:
    """Every case of its lines in which its own stick moves the sum, in the modes that are flown. OutOfBudget where there are
    too many."""
    stick = OWN[channel.drives]
    for mode in flying_modes(ask):
        for case in ask.decider.lines(channel, mode) or ():
            shapes = dict(case.shapes)
            own = shapes.pop(stick, None)
            if own is not None:
                others = sum((shape.value(MIDDLE) for shape in shapes.values()), case.constant)
                yield OwnTravel(mode, case, Flown(channel, others, own), stick)


def reached_travel(ask: Asking, travel: OwnTravel) -> Case | None:
    """A state that flies it so, the other sticks and knobs that the line reads in the middle."""
    held = {name: MIDDLE for name, _ in travel.case.shapes if name != travel.stick}
    name = travel.flown.channel.name
    given = f.both(mode_is(ask, travel.mode), FREE, f.Decides(name, None), held_at(held))
    return guarded_case(ask, given, travel.case.guards, name)
