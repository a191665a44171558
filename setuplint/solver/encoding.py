"""What all frames of one setup share: their controls and memory as literals, the solver, the cases of lines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from fractions import Fraction

from setuplint.budget import PART, Spent
from setuplint.curves import lines, servo
from setuplint.curves.surds import shifted
from setuplint.dataclass import dataclass, replace
from setuplint.fraction import fraction
from setuplint.plain.state import RANGES
from setuplint.setup.cone import Cones
from setuplint.setup.dependencies import unsettled_by
from setuplint.setup.model import Channel, Override, Setup
from setuplint.setup.smoothings import possible
from setuplint.solver import sums
from setuplint.solver.quantities import Quantity
from setuplint.solver.sat import FALSE, TRUE, Sat


@dataclass(slots=True)
class Controls:
    """Literals for one state of the controls."""

    positions: dict[str, dict[str, int]]
    sticks: dict[str, Quantity]  # as formulas read them
    reads: dict[str, Quantity]  # as channels read them: with trim, where trim is asked for
    voltages: dict[str, Quantity]  # "" is the voltage of a cell; other sensors under their own names
    receiver: int
    lost: dict[str, int]


class Lazy(dict[str, int]):
    """Literals made when they are first asked for."""

    def __init__(self, make: Callable[[str], int]) -> None:
        super().__init__()
        self.make = make

    def __missing__(self, name: str) -> int:
        self[name] = literal = self.make(name)
        return literal


class Bits:
    """Memory as literals: latches and toggles that are on, and toggles whose `when` held last."""

    __slots__ = ("last", "on")

    def __init__(self, on: dict[str, int], last: dict[str, int]) -> None:
        self.on, self.last = on, last

    @classmethod
    def off(cls) -> Bits:
        return cls(defaultdict(lambda: FALSE), defaultdict(lambda: FALSE))

    @classmethod
    def free(cls, sat: Sat) -> Bits:
        return cls(Lazy(lambda _: sat.variable()), Lazy(lambda _: sat.variable()))


class Encoding:
    """What all frames of one setup share: the solver, the cases of lines, unknown smoothings, which conditions are unknown."""

    def __init__(self, setup: Setup, spent: Spent | None = None, cones: Cones | None = None) -> None:
        self.setup, self.sat, self.cones = setup, Sat(spent), cones or Cones(setup)
        self.cases: dict[tuple[str, str | None], tuple[lines.LineCase, ...]] = {}
        self.tied: dict[int, int] = {}
        self.bounds: dict[tuple[str, str, Fraction], servo.DemandBound] = {}
        self.outputs: dict[str, Fraction] = {}
        self.sums: list[sums.Sum] = []
        self.known_sums: dict[object, sums.Sum] = {}  # by shapes and the sticks that they read
        kinds = possible("unknown")
        self.smoothing = {
            curve.name: dict(zip(kinds, self.sat.choices(len(kinds)), strict=True))
            for curve in setup.curves.values()
            if curve.smoothing == "unknown"
        }
        self.lendings = {channel.name: channel.lendings for channel in setup.channels.values()}
        self.by_channel = {name: ranked(own) for name, own in self.cones.by_channel.items()}
        self.sat.file.charge(PART * (len(setup.conditions) + len(setup.modes)))
        unsettled = unsettled_by(setup.conditions, setup.modes)
        self.tainted = {c.name for c in setup.conditions.values() if c.remembers and c.name in unsettled}
        self.shared_cell = any(setup.cells_of(sensor) is not None for sensor in setup.sensors.values())

    def lines(self, channel: Channel, mode: str | None) -> tuple[lines.LineCase, ...] | None:
        line = channel.line(mode)
        if line.terms is None:
            return None
        key = (channel.name, mode if mode in channel.lines else None)  # modes without a line of their own share one
        if key not in self.cases:
            many = min(lines.combinations(self.setup, line), lines.MOST_CASES)
            self.sat.file.charge(PART * len(line.terms) * many)  # before they are made: they are kept, and may be large
            self.cases[key] = lines.cases(self.setup, line)
        return self.cases[key]

    def bound(self, channel: Channel, op: str, number: Fraction) -> servo.DemandBound:
        """What an output against a number asks of the demand."""
        key = (channel.name, op, number)
        found = self.bounds.get(key)
        if found is None:
            found = self.bounds[key] = servo.demand_bound(channel, op, number)
        return found

    def fixed(self, channel: Channel, override: Override) -> Fraction:
        """The output that an override gives."""
        found = self.outputs.get(override.name)
        if found is None:
            assert override.value is not None
            found = self.outputs[override.name] = servo.output(channel, override.value)
        return found

    def quantity_of(self, sensor: str) -> tuple[str, Fraction]:
        """The name of the quantity that a sensor shows, and what one unit of it reads as."""
        cells = self.setup.cells_of(self.setup.sensors[sensor])
        return (sensor, fraction(1)) if cells is None else ("", fraction(cells))

    def controls(self, receiver: int | None = None) -> Controls:
        """A fresh state of the controls, anything possible; FALSE for a receiver that is off."""
        sat, setup = self.sat, self.setup
        if receiver is None:
            receiver = sat.variable() if setup.sensors else TRUE
        lost = {name: sat.variable() if receiver != FALSE else FALSE for name in setup.sensors}
        for literal in lost.values():
            sat.clause(-literal, receiver)
        sticks = {name: Quantity(sat, fraction(-100), fraction(100)) for name in setup.sticks}
        voltages = {"": Quantity(sat, *RANGES["cell-voltage"])} if self.shared_cell else {}
        for name, sensor in setup.sensors.items():
            if self.quantity_of(name)[0] == name:
                voltages[name] = Quantity(sat, *RANGES[sensor.reads])
        positions = {n: self.positions(n) for n in setup.switches}
        return Controls(positions, sticks, sticks, voltages, receiver, lost)

    def positions(self, switch: str) -> dict[str, int]:
        """Fresh literals for a switch, one of which holds."""
        names = self.setup.switches[switch].positions
        return dict(zip(names, self.sat.choices(len(names)), strict=True))

    def trimmed(self, controls: Controls) -> Controls:
        """The same state with every trim anywhere in its range, for channels alone (formulas compare without it)."""
        reads = dict(controls.sticks)
        for name, stick in self.setup.sticks.items():
            if stick.trim:
                reads[name] = Quantity(self.sat, -100 - stick.trim, 100 + stick.trim)
        return replace(controls, reads=reads)

    def tie_trims(self, controls: Controls) -> bool:
        """What a channel reads is within the trim of where the stick is, as far as the stick has been cut; whether anything
        was new."""
        new = False
        for name, read in controls.reads.items():
            stick = controls.sticks[name]
            if read is stick or self.tied.get(id(read)) == len(stick.at):
                continue
            new = True
            trim = self.setup.sticks[name].trim or fraction(0)
            for place in [stick.lo, *stick.places, stick.hi]:
                below, upto = stick.cut(place)
                above, under = read.cut(shifted(place, trim)), read.cut(shifted(place, -trim))
                self.sat.clause(-upto, above[1])
                self.sat.clause(below, -under[0])
                self.sat.clause(-below, above[0])
                self.sat.clause(upto, -under[1])
            self.tied[id(read)] = len(stick.at)
        return new


def ranked(overrides: Iterable[Override]) -> list[list[Override]]:
    """Overrides in ranks of equal priority, highest first; one whose priority cannot be read stands above all."""
    ranks: dict[Fraction | None, list[Override]] = {}
    for override in overrides:
        ranks.setdefault(override.priority, []).append(override)
    unknown = ranks.pop(None, [])
    return [[o] for o in unknown] + [ranks[p] for p in sorted(ranks, key=lambda p: p or fraction(0), reverse=True)]
