"""The states in which something holds, told as a reader would: by switches, readings, sticks and what is remembered."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from typing import TypeVar

from setuplint.budget import OutOfBudget
from setuplint.dataclass import dataclass, field, replace
from setuplint.engine.answers import Case
from setuplint.engine.decider import Decider
from setuplint.engine.literals import TRUE, Frame
from setuplint.named_tuple import NamedTuple
from setuplint.plain.settings import reading_range
from setuplint.plain.state import LOST, UNHEARD
from setuplint.setup.cone import Cone, names_of_kind
from setuplint.setup.model import Setup

T = TypeVar("T")

MOST_PARTS = 8  # of a condition: what is not told by so many is told as "other states"
MOST_WIDENINGS = 400  # tried for one condition
MOST_IN_ALL = 8_000  # tried for one comparison: from there on, what is told is right, and narrower than it could be


class ValueRange(NamedTuple):
    """A stretch of a stick or a reading; whether its ends belong to it."""

    lo: Fraction
    hi: Fraction
    with_lo: bool = False
    with_hi: bool = False


@dataclass(frozen=True, slots=True)
class Region:
    """States in which each of these controls is in one of these places; controls that are not named may be anywhere.

    `between` are readings and sticks, by the thresholds around them; `remembered` the latches and toggles that are on or off;
    `off` says that the receiver is off, as at power-up.
    """

    positions: Mapping[str, frozenset[str]]
    between: Mapping[str, ValueRange]
    lost: frozenset[str] = frozenset()
    remembered: Mapping[str, bool] = field(default_factory=dict)
    off: bool = False


@dataclass(frozen=True, slots=True)
class RegionSet:
    """The states in which a question holds, in parts, and a case of the first; `whole` where there are no others."""

    parts: tuple[Region, ...]
    whole: bool
    case: Case


Question = Callable[[Frame], int]


def anywhere(frame: Frame) -> int:
    return TRUE


class RegionFinder:
    """Asks one decider for all the states of a question."""

    def __init__(self, decider: Decider, thresholds: Mapping[str, Sequence[Fraction]]) -> None:
        self.decider, self.setup = decider, decider.setup
        self.left = MOST_IN_ALL
        self.cuts: dict[str, list[Fraction]] = {name: list(thresholds.get(name, ())) for name in decider.setup.sticks}
        shown = {name: decider.settled.quantity_of(name) for name in decider.setup.sensors}
        at_all: dict[str, set[Fraction]] = {}  # of a quantity, in its own units
        for name, (quantity, unit) in shown.items():
            at_all.setdefault(quantity, set()).update(at / unit for at in thresholds.get(name, ()))
        self.cuts |= {name: sorted(at * unit for at in at_all[quantity]) for name, (quantity, unit) in shown.items()}

    def region_set(
        self,
        question: Question,
        cone: Cone,
        first: Case,
        check: Callable[[Case], bool] | None = None,
        holds: Question | None = None,
        given: Question = anywhere,
        *,
        at_power_up: bool = False,
    ) -> RegionSet:
        """All the states, from a first case on. Where the question is of single places of the sticks, `given` are the stretches
        that these stand for, and `holds` is the question without its places."""
        holds = holds or question
        parts: list[Region] = []
        case: Case | None = first
        whole = False
        self.tries = min(MOST_WIDENINGS, self.left)
        while case is not None and len(parts) < MOST_PARTS:
            region = self.region(case, cone, holds, given)
            if region is None:
                break
            parts.append(region)
            told = tuple(parts)

            def left(frame: Frame, told: tuple[Region, ...] = told) -> int:
                return frame.both((question(frame), *(-self.literal(frame, region) for region in told)))

            answer = self.decider.ask(left, cone, check, at_power_up=at_power_up)
            whole = answer.impossible
            case = answer.case if answer.found else None
        return RegionSet(tuple(merged_regions(parts, self)), whole, first)

    # -- one part

    def region(self, case: Case, cone: Cone, holds: Question, given: Question = anywhere) -> Region | None:
        """What of a case matters, made as wide as the question stays true in all of it; None where only the case's own steps
        lead to it."""

        def so(region: Region) -> bool:
            return self.implied(region, case, holds, given)

        region = self.case_region(case, cone, case.matters)
        if not so(region):
            state = case.state
            region = self.case_region(case, cone, {**state.positions, **state.sticks, **state.readings})
            if not so(region):
                return None
        return self.widened(region, so)

    def case_region(self, case: Case, cone: Cone, matters: Mapping[str, object]) -> Region:
        """Controls where they are in a case, each number widened to the thresholds around it."""
        positions: dict[str, frozenset[str]] = {}
        between: dict[str, ValueRange] = {}
        lost = set()
        off = False
        for name, value in matters.items():
            if name in self.setup.switches and ("switch", name) in cone:
                positions[name] = frozenset((str(value),))
            elif value == LOST:
                lost.add(name)
            elif value == UNHEARD:
                off = True
            elif isinstance(value, Fraction) and (name in self.setup.sensors or self.cuts.get(name)):
                between[name] = next(c for c in self.cells(name) if contains(c, value))
        remembered = {}
        if case.steps:
            memory = case.evaluation.memory
            for name in sorted(names_of_kind(cone, "condition")):
                if self.setup.conditions[name].remembers:
                    remembered[name] = name in memory.on
        return Region(positions, between, frozenset(lost), remembered, off)

    def widened(self, region: Region, so: Callable[[Region], bool]) -> Region:
        """The part with everything left out, or let further, that need not be there."""

        def better(wider: Region) -> bool:
            nonlocal region
            if self.tries <= 0:
                return False
            self.tries -= 1
            self.left -= 1
            if so(wider):
                region = wider
                return True
            return False

        for name in region.remembered:
            better(replace(region, remembered=without_key(region.remembered, name)))
        for name in region.positions:
            if not better(replace(region, positions=without_key(region.positions, name))):
                for place in self.setup.switches[name].positions:
                    if place not in region.positions[name]:
                        more = region.positions[name] | {place}
                        better(replace(region, positions={**region.positions, name: more}))
        for name in region.between:
            if not better(replace(region, between=without_key(region.between, name))):
                self.widen_range(name, region.between, lambda between: better(replace(region, between=between)))
        for name in sorted(region.lost):
            better(replace(region, lost=region.lost - {name}))
        if region.off:
            better(replace(region, off=False))
        return region

    def widen_range(
        self, name: str, between: Mapping[str, ValueRange], better: Callable[[Mapping[str, ValueRange]], bool]
    ) -> None:
        """Let one number go as far as it can, to the ends of its range or by threshold after threshold."""
        cells = self.cells(name)
        low, high = self.range(name)
        here = between[name]
        if better({**between, name: ValueRange(low, high, True, True)}):
            return
        for onward in (
            [c for c in cells if c.lo >= here.hi and c != here],
            [c for c in reversed(cells) if c.hi <= here.lo and c != here],
        ):
            for cell in onward:
                wider = hull(here, cell)
                if not better({**between, name: wider}):
                    break
                here = wider

    def implied(self, region: Region, case: Case, holds: Question, given: Question) -> bool:
        """Whether the question holds in all of the part, whatever is remembered besides, if ties go and curves are smoothed as
        in the case."""
        frame = self.decider.settled
        here = [self.literal(frame, region), given(frame)]
        wrong, possible = -holds(frame), self.decider.possible_literals()
        try:
            if not possible([*here, wrong]):
                return True
            choices, active = self.choices(frame, case)
            if any(possible([*here, -each]) for each in active):
                return False
            return not possible([*here, *choices, wrong])
        except OutOfBudget:
            return False

    def choices(self, frame: Frame, case: Case) -> tuple[list[int], list[int]]:
        """What a case takes ties and unknown smoothings to be; and what must hold for a tie to go that way."""
        state = case.state
        choices = [frame.smoothings[curve][kind] for curve, kind in state.smoothing.items()]
        active = []
        for channel, winner in state.ties.items():
            for rank in frame.ranks[channel]:
                if len(rank) > 1 and any(o.name == winner for o in rank):
                    frame.deciders(channel)
                    choices.append(frame.ties[rank[0].name][winner])
                    active.append(frame.truth(self.setup.overrides[winner].when)[0])
        return choices, active

    # -- numbers

    def cells(self, name: str) -> list[ValueRange]:
        """The thresholds of a control and the gaps between them; the ends of its range belong to the outer ones."""
        low, high = self.range(name)
        cuts = [cut for cut in self.cuts.get(name, ()) if low <= cut <= high]
        found: list[ValueRange] = []
        at, closed = low, True
        for cut in cuts:
            if at < cut:
                found.append(ValueRange(at, cut, closed, False))
            found.append(ValueRange(cut, cut, True, True))
            at, closed = cut, False
        if at < high:
            found.append(ValueRange(at, high, closed, True))
        return found

    def range(self, name: str) -> tuple[Fraction, Fraction]:
        return full_range(self.setup, name)

    def literal(self, frame: Frame, region: Region) -> int:
        """That a state is of this part."""
        parts: list[int] = []
        for switch, places in region.positions.items():
            parts.append(frame.either(frame.controls.positions[switch][p] for p in sorted(places)))
        for name, (lo, hi, with_lo, with_hi) in region.between.items():
            low, high = self.range(name)
            if lo > low or not with_lo:
                parts.append(frame.compare(name, ">=" if with_lo else ">", lo))
            if hi < high or not with_hi:
                parts.append(frame.compare(name, "<=" if with_hi else "<", hi))
            if name in self.setup.sensors:
                parts.append(frame.heard(name))
        parts += [frame.controls.lost[name] for name in sorted(region.lost)]
        for name, on in region.remembered.items():
            literal = frame.condition(name)[0]
            parts.append(literal if on else -literal)
        if region.off:
            parts.append(-frame.controls.receiver)
        return frame.both(parts)


def full_range(setup: Setup, name: str) -> tuple[Fraction, Fraction]:
    """The range of a stick, a knob or a sensor."""
    if name in setup.sticks:
        return Fraction(-100), Fraction(100)
    sensor = setup.sensors[name]
    return reading_range(setup, sensor)


def contains(interval: ValueRange, value: Fraction) -> bool:
    lo, hi, with_lo, with_hi = interval
    return (lo < value or (with_lo and value == lo)) and (value < hi or (with_hi and value == hi))


def hull(one: ValueRange, other: ValueRange) -> ValueRange:
    """From the lower end of two to the upper one."""
    lower = min(one, other, key=lambda i: (i.lo, not i.with_lo))
    upper = max(one, other, key=lambda i: (i.hi, i.with_hi))
    return ValueRange(lower.lo, upper.hi, lower.with_lo, upper.with_hi)


def without_key(table: Mapping[str, T], name: str) -> dict[str, T]:
    return {key: value for key, value in table.items() if key != name}


def merged_regions(parts: Sequence[Region], teller: RegionFinder) -> Iterator[Region]:
    """Parts that differ in one thing alone, and there are neighbours, are one."""
    left = list(parts)
    n = 0
    while n < len(left):
        for m in range(n + 1, len(left)):
            one = _merged_pair(left[n], left[m], teller)
            if one is not None:
                left[n] = one
                del left[m]
                n = -1
                break
        n += 1
    yield from left


def _merged_pair(a: Region, b: Region, teller: RegionFinder) -> Region | None:
    if (a.lost, a.off) != (b.lost, b.off):
        return None
    apart = [kind for kind in ("positions", "between", "remembered") if getattr(a, kind) != getattr(b, kind)]
    if not apart:
        return a
    ours, theirs = getattr(a, apart[0]), getattr(b, apart[0])
    names = [name for name in ours if ours[name] != theirs.get(name)]
    if len(apart) > 1 or ours.keys() != theirs.keys() or len(names) != 1:
        return None
    name = names[0]
    if apart == ["remembered"]:
        return replace(a, remembered=without_key(a.remembered, name))
    if apart == ["positions"]:
        places = ours[name] | theirs[name]
        every = len(places) == len(teller.setup.switches[name].positions)
        return replace(a, positions=without_key(ours, name) if every else {**ours, name: places})
    lower, upper = sorted((ours[name], theirs[name]))
    touching = lower.hi > upper.lo or (lower.hi == upper.lo and (lower.with_hi or upper.with_lo))
    if not touching:
        return None
    both = hull(lower, upper)
    every = (both.lo, both.hi) == teller.range(name) and name in teller.setup.sticks
    return replace(a, between=without_key(ours, name) if every else {**ours, name: both})
