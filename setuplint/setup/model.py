"""A setup as later rooms see it: names resolved, formulas parsed, numbers exact, defaults filled in.

Percentages are Fractions from -150 to 150 of a channel's or stick's normal travel, times seconds, voltages volts. What is not
given is None. What could not be read is listed in `Setup.broken` and stands here as unknown, never as a default.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction

from setuplint.dataclass import dataclass, field, replace
from setuplint.fraction import fraction
from setuplint.hints import TYPE_CHECKING, Any
from setuplint.setup.formulas import Formula

if TYPE_CHECKING:
    from datetime import date

Path = tuple[str | int, ...]
ZERO = fraction(0)
HUNDRED = Fraction(100)
PATIENCE = Fraction(1, 2)  # seconds


@dataclass(frozen=True, slots=True)
class Craft:
    name: str
    kind: str = "helicopter"
    rotor: str = "collective"
    power: str | None = None  # electric | engine; None: not given
    stabilised: bool | None = None  # None: not given
    radio: str | None = None
    motor_off: Fraction | None = None
    rotor_free: Fraction | None = None  # motor_off where not given
    hover_throttle: Fraction | None = None
    hover_collective: Fraction | None = None
    soft_start: bool | None = None
    governed_above: Fraction | None = None
    arms_when_stopped: bool | None = None
    hover_measured_at_m: Fraction | None = None
    pulse_centre: Fraction = Fraction(1500)
    pulse_per_percent: Fraction = Fraction(5)

    def pulse(self, output: Fraction) -> Fraction:
        """The pulse of an output in percent, in microseconds."""
        return self.pulse_centre + self.pulse_per_percent * output


@dataclass(frozen=True, slots=True)
class Battery:
    chemistry: str | None = None
    cells: int | None = None
    capacity_mah: Fraction | None = None
    resistance_mohm: Fraction | None = None
    hover_current_a: Fraction | None = None
    peak_current_a: Fraction | None = None


@dataclass(frozen=True, slots=True)
class ReceiverSupply:
    kind: str
    cells: int | None = None
    volts: Fraction | None = None  # of a regulator


@dataclass(frozen=True, slots=True)
class Stick:
    """A stick or a knob; a knob has no trim."""

    name: str
    knob: bool = False
    trim: Fraction | None = None
    place: str | None = None
    pupil_of: str | None = None  # it is a pupil's place of this stick
    rests_in_the_middle: bool = True

    @property
    def rest(self) -> Fraction:
        return ZERO if self.rests_in_the_middle else Fraction(-100)


def pupil_name(stick: str) -> str:
    """How the pupil's place of a stick is called among the controls."""
    return f"{stick} (pupil)"


@dataclass(frozen=True, slots=True)
class Trainer:
    """A pupil's transmitter: while `lent` holds, channels read the pupil's places of these sticks."""

    lent: Formula
    sticks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Lending:
    """While `lent` holds, another stick is read."""

    lent: Formula
    stick: str


@dataclass(frozen=True, slots=True)
class Switch:
    name: str
    kind: str
    positions: tuple[str, ...]  # the first is rest
    place: str | None = None

    @property
    def sprung(self) -> bool:
        return self.kind == "momentary"


@dataclass(frozen=True, slots=True)
class Sensor:
    name: str
    reads: str
    shown: bool = False
    cells: int | None = None  # it stands across so many of the pack's; None: all of them


@dataclass(frozen=True, slots=True)
class Condition:
    name: str
    when: Formula
    after: Fraction = ZERO
    stays: Fraction = ZERO
    until: Formula | None = None
    toggles: bool = False
    watches: bool = False  # of a question, not of the setup: its formulas may ask for outputs, and nothing rests on it

    @property
    def remembers(self) -> bool:
        return self.toggles or self.until is not None


@dataclass(frozen=True, slots=True)
class Mode:
    name: str
    when: Formula | None  # None: always, in the last only
    idle_up: bool = False
    aerobatic: bool = False
    voice: str | None = None
    flags_known: bool = True  # False: idle_up or aerobatic cannot be read


@dataclass(frozen=True, slots=True)
class Curve:
    name: str
    points: tuple[tuple[Fraction, Fraction], ...]
    smoothing: str = "none"


@dataclass(frozen=True, slots=True)
class BySwitch:
    """A rate or expo that hangs on a switch."""

    switch: str
    at: Mapping[str, Fraction]


@dataclass(frozen=True, slots=True)
class Term:
    """One summand of a channel: a number, a switch with `values`, or a stick or knob with rate, expo and curve."""

    source: Fraction | str
    kind: str  # number | switch | stick (sticks and knobs)
    rate: Fraction | BySwitch = HUNDRED
    expo: Fraction | BySwitch = ZERO
    curve: str | None = None  # None: straight
    values: Mapping[str, Fraction] = field(default_factory=dict)
    lending: Lending | None = None  # of a stick that a pupil has too


@dataclass(frozen=True, slots=True)
class Line:
    """What a channel does in one mode where no override decides; `terms` is None where it is not described."""

    terms: tuple[Term, ...] | None
    ramp_up: Fraction = ZERO  # seconds from -100 to +100
    ramp_down: Fraction = ZERO


@dataclass(frozen=True, slots=True)
class Channel:
    name: str
    number: int | None
    drives: str
    own: Line  # where no mode holds
    lines: Mapping[str, Line]  # one for every mode
    reversed: bool = False
    down: Fraction = HUNDRED
    up: Fraction = HUNDRED
    sub_trim: Fraction = ZERO
    low: Fraction = Fraction(-150)
    high: Fraction = Fraction(150)

    def line(self, mode: str | None) -> Line:
        return self.own if mode is None else self.lines[mode]

    @property
    def every_line(self) -> tuple[Line, ...]:
        """Its line where no mode holds, and that of each mode."""
        return (self.own, *self.lines.values())

    def with_lines(self, change: Callable[[Line], Line]) -> Channel:
        """The same with every line changed."""
        lines = {mode: change(line) for mode, line in self.lines.items()}
        return replace(self, own=change(self.own), lines=lines)

    @property
    def terms(self) -> list[Term]:
        """The terms of all its lines."""
        return [term for line in self.every_line for term in line.terms or ()]

    @property
    def sticks(self) -> list[str]:
        """The sticks and knobs that its lines read, each once."""
        return list(dict.fromkeys(str(term.source) for term in self.terms if term.kind == "stick"))

    @property
    def lendings(self) -> list[Formula]:
        """What must hold for a pupil's sticks to be read, each once."""
        return list(dict.fromkeys(term.lending.lent for term in self.terms if term.lending is not None))

    @property
    def described(self) -> bool:
        return self.own.terms is not None or any(line.terms is not None for line in self.lines.values())


@dataclass(frozen=True, slots=True)
class Override:
    """It replaces the sum by its value, or limits the sum to `at_least` and `at_most`; with none of the three it is broken."""

    name: str
    channel: str
    value: Fraction | None
    when: Formula
    priority: Fraction | None = ZERO  # None: broken
    at_least: Fraction | None = None
    at_most: Fraction | None = None

    @property
    def limits(self) -> bool:
        """Whether the channel's line goes on, limited."""
        return self.at_least is not None or self.at_most is not None

    @property
    def numbers(self) -> dict[str, Fraction]:
        """What it demands, by key; nothing where it is broken."""
        found = {"value": self.value, "at-least": self.at_least, "at-most": self.at_most}
        return {key: number for key, number in found.items() if number is not None}

    def words(self, shown: Callable[[Fraction], str]) -> str:
        """What it demands, in words."""
        before = {"value": "", "at-least": "at least ", "at-most": "at most "}
        return ", ".join(before[key] + shown(number) for key, number in self.numbers.items()) or "not known"

    def limited(self, demand: Fraction) -> Fraction:
        """What becomes of the line's sum."""
        demand = demand if self.at_most is None else min(demand, self.at_most)
        return demand if self.at_least is None else max(demand, self.at_least)


@dataclass(frozen=True, slots=True)
class Alarm:
    name: str
    when: Formula
    voice: str | None = None
    tone: bool = False
    vibrate: bool = False
    repeat: Fraction = ZERO
    lost: frozenset[str] = frozenset()  # its keys, but for `when`, that cannot be read

    @property
    def audible(self) -> bool:
        return bool(self.voice) or self.tone or self.vibrate


@dataclass(frozen=True, slots=True)
class Timer:
    name: str
    seconds: Fraction
    runs: Formula | None = None  # None: always
    voice: str | None = None
    tone: bool = False
    vibrate: bool = False

    @property
    def audible(self) -> bool:
        return bool(self.voice) or self.tone or self.vibrate


@dataclass(frozen=True, slots=True)
class Bound:
    """What a channel must put out, inclusive; `value` means within 1 point of it."""

    channel: str
    at_least: Fraction | None = None
    at_most: Fraction | None = None
    value: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Intent:
    hold: Formula | None = None
    stop: Formula | None = None
    rescue: Formula | None = None
    level: Bound | None = None
    lift: str | Bound | None = None  # "unit", a bound or not given


@dataclass(frozen=True, slots=True)
class Swash:
    servos: str
    collective: Fraction | None = None
    cyclic: Fraction | None = None
    ring: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Claim:
    """A guarantee: `never` must be false in every state (an `always` is stored as its denial), and on the way to one for no
    longer than `patience` seconds."""

    never: Formula
    subject: str
    because: str | None
    index: int
    patience: Fraction = PATIENCE


@dataclass(frozen=True, slots=True)
class Waiver:
    rule: str
    reason: str
    on: tuple[str, ...] | None
    until: date | None
    index: int


@dataclass(frozen=True, slots=True)
class Setup:
    """One setup. Mappings keep the order of the file, modes the order in which their headers first appear."""

    craft: Craft
    battery: Battery = Battery()  # without one, the first of the packs
    packs: Mapping[str, Battery] = field(default_factory=dict)  # other packs, with what they take from the battery
    supply: ReceiverSupply | None = None
    sticks: Mapping[str, Stick] = field(default_factory=dict)  # the four sticks, the knobs, the pupil's places
    switches: Mapping[str, Switch] = field(default_factory=dict)
    sensors: Mapping[str, Sensor] = field(default_factory=dict)
    conditions: Mapping[str, Condition] = field(default_factory=dict)  # in dependency order
    modes: Mapping[str, Mode] = field(default_factory=dict)
    curves: Mapping[str, Curve] = field(default_factory=dict)
    channels: Mapping[str, Channel] = field(default_factory=dict)
    overrides: Mapping[str, Override] = field(default_factory=dict)
    alarms: Mapping[str, Alarm] = field(default_factory=dict)
    timers: Mapping[str, Timer] = field(default_factory=dict)
    failsafe: Mapping[str, Fraction | str] | None = None
    start: Formula | None = None  # what must hold at power-up; None: every state is admitted
    start_warns: Formula | None = None  # what the transmitter only warns of
    intent: Intent = Intent()
    swash: Swash | None = None
    elevation_m: Fraction | None = None
    trainer: Trainer | None = None
    claims: tuple[Claim, ...] = ()
    waivers: tuple[Waiver, ...] = ()
    broken: frozenset[Path] = frozenset()  # parts left out because they could not be read
    declared: frozenset[Path] = frozenset()  # every table and key the file gives: ("craft", "motor-off")
    brought: frozenset[Path] = frozenset()  # parts that stand in a shared file: ("switches", "hold")

    @property
    def is_engine(self) -> bool:
        """Whether an engine turns the rotor; where the file does not say: a clutch, and no pack, speak of one."""
        if self.craft.power is not None:
            return self.craft.power == "engine"
        return ("craft", "rotor-free") in self.declared and not any(
            path[:1] in ((), ("battery",), ("packs",)) for path in self.declared | self.broken
        )

    @property
    def is_power_known(self) -> bool:
        """Whether the file says what turns the rotor, or says nothing of it; not where it says so in a word that is none."""
        return not self.is_broken("craft", "power")

    @property
    def standing_limit(self) -> tuple[str, Fraction | None]:
        """The key of [craft], and the output, at or below which the craft can stand: a motor stops there; an engine may idle,
        as long as its clutch has let go. Where it is not known which it is, an engine's: above that either drives the rotor."""
        if (self.is_engine or not self.is_power_known) and ("craft", "rotor-free") in self.declared:
            return "rotor-free", self.craft.rotor_free
        return "motor-off", self.craft.motor_off

    def cells_of(self, sensor: Sensor) -> int | None:
        """How many times the voltage of a cell a sensor shows; None for what is independent of it."""
        if sensor.reads == "pack-voltage":
            return self.battery.cells if sensor.cells is None else sensor.cells
        return 1 if sensor.reads == "cell-voltage" else None

    def driving(self, *what: str) -> list[Channel]:
        """The channels that drive one of these."""
        return [channel for channel in self.channels.values() if channel.drives in what]

    def acting_on(self, channel: str) -> list[Override]:
        """The overrides of a channel."""
        return [override for override in self.overrides.values() if override.channel == channel]

    def with_part(self, table: str, name: str, **keys: Any) -> Setup:
        """The same with other values of some keys of a part."""
        parts = getattr(self, table)
        changed: dict[str, Any] = {table: {**parts, name: replace(parts[name], **keys)}}
        return replace(self, **changed)

    @property
    def stabilised(self) -> bool | None:
        """Whether a unit in the craft holds attitude or rates; None: not known, which counts as no."""
        if self.craft.stabilised is not None or self.is_broken("craft", "stabilised"):
            return self.craft.stabilised
        return True if self.driving("stabiliser") else None

    def is_broken(self, *path: str | int) -> bool:
        """Whether the part, or what holds it, could not be read."""
        return any(path[:n] in self.broken for n in range(1, len(path) + 1))

    def lacking(self, *path: str | int) -> str:
        """Why a key or part is not known, in words: it is not given, or cannot be read. What is given and not known all the same
        rests on what cannot be read, and under a heading that cannot be read anything may stand."""
        given = () in self.broken or path in self.declared or self.is_broken(*path)
        return f"{'.'.join(map(str, path))} {'cannot be read' if given else 'is not given'}"

    def unread_lines(self, channel: str) -> bool:
        """Whether a channel says what it reads, itself or for a mode, and a line of it is not known all the same."""
        made, way = self.channels[channel], ("channels", channel)
        given = (*way, "from") in self.declared
        lines = ((given or (*way, "in", mode, "from") in self.declared, line) for mode, line in made.lines.items())
        return any(says and line.terms is None for says, line in ((given, made.own), *lines))

    def undescribed(self, channel: str) -> str:
        """Why some line of a channel is not known, in words."""
        if self.is_broken("channels", channel):
            return self.lacking("channels", channel)
        if self.unread_lines(channel):
            return f"what channels.{channel} stands on cannot be read"
        return self.lacking("channels", channel, "from")
