"""The states in which something holds, told as a reader would: by switches, readings, sticks and what is remembered."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from setuplint.decide.answers import Case
from setuplint.decide.cone import Cone, names
from setuplint.decide.decider import Decider
from setuplint.decide.frame import Frame
from setuplint.decide.state import LOST, RANGES, UNHEARD
from setuplint.setup.model import Setup

MOST_PARTS = 8  # of a condition: what is not told by so many is told as "other states"

Interval = tuple[Fraction, Fraction]


@dataclass(frozen=True, slots=True)
class Part:
    """States in which each of these controls is in one of these places; controls that are not named may be anywhere.

    `between` are readings and sticks, by the thresholds around them; `remembered` the latches and toggles that are on or off;
    `off` says that the receiver is off, as at power-up.
    """

    positions: Mapping[str, frozenset[str]]
    between: Mapping[str, Interval]
    lost: frozenset[str] = frozenset()
    remembered: Mapping[str, bool] = field(default_factory=dict)
    off: bool = False


@dataclass(frozen=True, slots=True)
class Where:
    """The states in which a question holds, in parts, and a case of the first; `whole` where there are no others."""

    parts: tuple[Part, ...]
    whole: bool
    case: Case


Question = Callable[[Frame], int]


class Teller:
    """Asks one decider for all the states of a question."""

    def __init__(self, decider: Decider, thresholds: Mapping[str, Sequence[Fraction]]) -> None:
        self.decider, self.setup = decider, decider.setup
        self.cuts: dict[str, list[Fraction]] = {name: list(thresholds.get(name, ())) for name in decider.setup.sticks}
        shown = {name: decider.reach.encoding.quantity_of(name) for name in decider.setup.sensors}
        for name, (quantity, unit) in shown.items():
            same = [(other, per) for other, (q, per) in shown.items() if q == quantity]
            self.cuts[name] = sorted({at / per * unit for other, per in same for at in thresholds.get(other, ())})

    def where(self, question: Question, cone: Cone, first: Case, check: Callable[[Case], bool] | None = None) -> Where:
        """All the states, from a first case on."""
        parts: list[Part] = []
        case: Case | None = first
        whole = False
        while case is not None and len(parts) < MOST_PARTS:
            parts.append(self.part(case, cone))
            told = tuple(parts)

            def left(frame: Frame, told: tuple[Part, ...] = told) -> int:
                return frame.sat.both((question(frame), *(-self.literal(frame, part) for part in told)))

            answer = self.decider.ask(left, cone, check)
            whole = answer.impossible
            case = answer.case if answer.found else None
        return Where(tuple(merged(parts, self.setup)), whole, first)

    def part(self, case: Case, cone: Cone) -> Part:
        """What of a case matters, each number widened to the thresholds around it."""
        positions: dict[str, frozenset[str]] = {}
        between: dict[str, Interval] = {}
        lost = set()
        off = False
        for name, value in case.matters.items():
            if name in self.setup.switches:
                positions[name] = frozenset((str(value),))
            elif value == LOST:
                lost.add(name)
            elif value == UNHEARD:
                off = True
            elif isinstance(value, Fraction):
                around = self.around(name, value)
                if around is not None:
                    between[name] = around
        remembered = {}
        if case.steps:
            memory = case.evaluation.memory
            for name in sorted(names(cone, "condition")):
                if self.setup.conditions[name].remembers:
                    remembered[name] = name in memory.on
        return Part(positions, between, frozenset(lost), remembered, off)

    def around(self, name: str, value: Fraction) -> Interval | None:
        """The thresholds below and above a value; the value twice where it is one itself; None where nothing is compared
        with the control."""
        cuts = self.cuts.get(name, ())
        if not cuts:
            return None
        if value in cuts:
            return value, value
        low, high = self.range(name)
        below = [cut for cut in cuts if cut < value]
        above = [cut for cut in cuts if cut > value]
        return (below[-1] if below else low), (above[0] if above else high)

    def range(self, name: str) -> Interval:
        return ends(self.setup, name)

    def literal(self, frame: Frame, part: Part) -> int:
        """That a state is of this part."""
        sat = frame.sat
        parts: list[int] = []
        for switch, places in part.positions.items():
            parts.append(sat.either(frame.controls.positions[switch][p] for p in sorted(places)))
        for name, (lo, hi) in part.between.items():
            low, high = self.range(name)
            if lo == hi:
                parts += [frame.compare(name, ">=", lo), frame.compare(name, "<=", hi)]
                continue
            if lo > low:
                parts.append(frame.compare(name, ">", lo))
            if hi < high:
                parts.append(frame.compare(name, "<", hi))
            if name in self.setup.sensors:
                parts.append(frame.heard(name))
        parts += [frame.controls.lost[name] for name in sorted(part.lost)]
        for name, on in part.remembered.items():
            literal = frame.condition(name)[0]
            parts.append(literal if on else -literal)
        if part.off:
            parts.append(-frame.controls.receiver)
        return sat.both(parts)


def ends(setup: Setup, name: str) -> Interval:
    """The range of a stick, a knob or a sensor."""
    if name in setup.sticks:
        return Fraction(-100), Fraction(100)
    sensor = setup.sensors[name]
    low, high = RANGES[sensor.reads]
    if sensor.reads == "pack-voltage" and setup.battery.cells:
        high = RANGES["cell-voltage"][1] * setup.battery.cells
    return low, high


def merged(parts: Sequence[Part], setup: Setup) -> Iterator[Part]:
    """Parts that differ in the positions of one switch, or in two neighbouring stretches, are one."""
    left = list(parts)
    n = 0
    while n < len(left):
        for m in range(n + 1, len(left)):
            one = _one(left[n], left[m], setup)
            if one is not None:
                left[n] = one
                del left[m]
                n = -1
                break
        n += 1
    yield from left


def _one(a: Part, b: Part, setup: Setup) -> Part | None:
    if (a.lost, a.remembered, a.off) != (b.lost, b.remembered, b.off):
        return None
    if a.between == b.between and a.positions.keys() == b.positions.keys():
        apart = [s for s in a.positions if a.positions[s] != b.positions[s]]
        if len(apart) != 1:
            return None
        places = a.positions[apart[0]] | b.positions[apart[0]]
        positions = {s: p for s, p in a.positions.items() if s != apart[0]}
        if len(places) < len(setup.switches[apart[0]].positions):
            positions = {s: places if s == apart[0] else p for s, p in a.positions.items()}
        return replace(a, positions=positions)
    if a.positions == b.positions and a.between.keys() == b.between.keys():
        apart = [s for s in a.between if a.between[s] != b.between[s]]
        if len(apart) == 1:
            (lo, hi), (low, high) = sorted((a.between[apart[0]], b.between[apart[0]]))
            if hi == low:
                return replace(a, between={s: (lo, high) if s == apart[0] else i for s, i in a.between.items()})
    return None
