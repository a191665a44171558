"""What a bench card is made of: stages, steps with a box to tick, and in each the movements and what must then be read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction

from setuplint.dataclass import dataclass, field
from setuplint.engine.answers import Value
from setuplint.plain.state import Memory, State
from setuplint.setup.formulas import TRUE, Formula
from setuplint.setup.model import Setup

SET, TRIM, ON, OFF = "set", "trim", "on", "off"  # what a hand does
RECEIVER, UNPOWERED = "receiver", "unpowered"  # with the receiver's power
READ, GONE = "read", "gone"  # what is looked at then
POWER_UP = REFUSED, STARTS, WARNED = "refused", "starts", "warned"  # or at power-up


@dataclass(frozen=True, slots=True)
class Move:
    """One movement of a hand: a control or reading set, a trim, the transmitter switched on or off, the receiver's power
    given or taken.

    `wait` is how many seconds delays and ramps take after it.
    """

    kind: str
    control: str = ""
    value: Value = ""
    wait: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class Reading:
    """What a channel puts out, in percent: one value; the ends of a range, where a curve's smoothing is not known
    (`between`); one of several, where overrides tie; none where it is not described. `word` is what failsafe says instead.
    """

    values: tuple[Fraction, ...] = ()
    between: bool = False
    word: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """Movements, and what must be read after them.

    `state` is what `memory` was remembered before; `came` is the state and memory before the last movement, `start` before the
    first, None where the transmitter is switched on in between. `alarms` sound, `timers` count. `kind`: read; refused, warned
    or starts at power-up; gone, where the receiver has lost the link.
    """

    kind: str
    moves: tuple[Move, ...]
    state: State
    memory: Memory
    came: tuple[State, Memory]
    readings: Mapping[str, Reading]
    mode: str | None
    alarms: tuple[str, ...]
    timers: tuple[str, ...]
    driven: bool  # the rotor is driven though hold is called: what no card should expect
    start: tuple[State, Memory] | None = None


@dataclass(frozen=True, slots=True)
class Item:
    """Something that a card has to show: `formula` in a row's state, and `came` in the state before its last movement.

    `kind` and `subject` say what it is; `detail` tells items of one subject apart. `trim` is where trims must stand; `by`
    the kind of movement that must have led there, where that matters. `without` makes the setup that lacks the part: a row in
    which it would read the same does not show the item.
    """

    kind: str
    subject: str
    detail: str = ""
    formula: Formula = TRUE
    came: Formula | None = None
    shown_as: str = READ
    trim: Mapping[str, Fraction] = field(default_factory=dict)
    by: str = ""
    without: Callable[[], Setup] | None = None

    @property
    def key(self) -> tuple[str, str, str]:
        return self.kind, self.subject, self.detail


@dataclass(frozen=True, slots=True)
class CardStep:
    """One box. `back` is what puts the hold on and the stick down again; `shows` are the items that it is there for;
    `again` marks one of those to repeat after any change; `kept` are latches and toggles
    that are on when the step begins; `least` is what motors never go below in an idle-up mode; `mark` is what a record knows it
    by, where that is not its own content's."""

    key: str
    number: int
    rows: tuple[Row, ...] = ()
    back: tuple[Move, ...] = ()
    shows: tuple[Item, ...] = ()
    subject: str = ""
    again: bool = False
    kept: tuple[str, ...] = ()
    least: Mapping[str, Fraction] = field(default_factory=dict)
    mark: str = ""


@dataclass(frozen=True, slots=True)
class Stage:
    """Steps done with the craft in one condition."""

    key: str
    steps: tuple[CardStep, ...]


@dataclass(frozen=True, slots=True)
class NotShown:
    """What the card cannot show, and why. `undecided`: somebody with more time, or luck, might show it."""

    item: Item
    because: str
    undecided: bool = False


@dataclass(frozen=True, slots=True)
class Card:
    """The whole card. `setup` is what its readings are true of; `home` is where steps start and end; `held` says that
    hold is called there."""

    setup: Setup
    stages: tuple[Stage, ...]
    items: tuple[Item, ...]
    left: tuple[NotShown, ...]
    home: State
    held: bool

    @property
    def steps(self) -> list[CardStep]:
        return [step for stage in self.stages for step in stage.steps]

    @property
    def movements(self) -> int:
        """How often a hand moves something."""
        return sum(len(row.moves) for step in self.steps for row in step.rows) + sum(len(s.back) for s in self.steps)
