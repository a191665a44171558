"""The swashplate's servos: no state may ask one for more than its travel (output-clipped)."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from heapq import heappop, heappush
from itertools import count, product
from math import prod

from setuplint.book.asking import Asking, percent, plain, told_apart
from setuplint.budget import OutOfBudget
from setuplint.checks import corners
from setuplint.checks.corners import FULL, HAIR, Spot, Sticks
from setuplint.curves import servo as outputs
from setuplint.curves.lines import Guards
from setuplint.curves.sums import Shapes
from setuplint.curves.swash import Box, Demand, Pair, Servo, farthest, leaned, servos, travel
from setuplint.dataclass import dataclass, replace
from setuplint.engine.answers import Case
from setuplint.findings import Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Override, Swash
from setuplint.setup.predicates import reason_no_channel

NOTHING: Pair = (Fraction(0), Fraction(0))
ENOUGH = Fraction(1, 4)  # percent of travel: a corner that is worse by less is not looked for
MOST_BOXES = 300
MOST_WAYS = 200
SUBJECT = "swash"


@dataclass(frozen=True, slots=True)
class PlateFinding:
    """A servo asked for so much, in percent of its travel, and the state."""

    asked: Fraction
    servo: Servo
    case: Case


@dataclass(slots=True)
class Plate:
    """The three demands' channels, in the order of `Demand`; None: no such channel, its demand is zero."""

    swash: Swash
    channels: tuple[Channel | None, Channel | None, Channel | None]
    looks: corners.Looks

    def demand(self, case: Case) -> Demand:
        values = [Fraction(0) if c is None else case.evaluation.outputs[c.name] for c in self.channels]
        collective, aileron, elevator = (value or Fraction(0) for value in values)
        return collective, aileron, elevator


def clipped_plates(ask: Asking) -> Iterator[Finding]:
    """The servo that is asked for most, and the corner where it is."""
    plate = plate_of(ask)
    if plate is None:
        return
    best: PlateFinding | None = None
    for mode in (*ask.setup.modes, None):
        here = corners.mode_is(ask, mode)
        for way in demand_ways(ask, plate, mode):
            least = ask.limit("servo") + HAIR if best is None else best.asked + ENOUGH
            try:
                best = farthest_way(ask, plate, way, here, least) or best
            except OutOfBudget as end:
                if best is None:
                    ask.undecided.append((SUBJECT, str(end)))
    if best is not None:
        yield reach_words(ask, plate, best)


def plate_of(ask: Asking) -> Plate | None:
    """The plate with its channels; None where there is none, or something that it needs is not given (noted)."""
    swash = ask.setup.swash
    if swash is None:
        ask.unread("swash", "servos")
        return None
    if ask.setup.craft.rotor == "fixed" and not ask.setup.driving("collective"):
        swash = replace(swash, collective=Fraction(0))  # nothing moves it
    known = True
    for key, value in (("collective", swash.collective), ("cyclic", swash.cyclic)):
        if value is None:
            ask.missing("swash", key)
            known = False
    if ask.unread("swash", "ring"):
        known = False
    found: list[Channel | None] = []
    for drives in ("collective", "aileron", "elevator"):
        channels = ask.driving(drives)
        if len(channels) > 1:
            ask.not_judged(f"several channels drive the {drives}: {', '.join(c.name for c in channels)}")
            known = False
        for channel in channels:
            if any(line.terms is None for line in channel.every_line):
                ask.not_judged(ask.setup.undescribed(channel.name))
                known = False
        if not channels and drives == "collective" and ask.setup.craft.rotor == "collective":
            ask.not_judged(reason_no_channel(ask.setup, "collective"))
            known = False
        found.append(channels[0] if channels else None)
    return Plate(swash, (found[0], found[1], found[2]), corners.Looks()) if known else None


# -- by arithmetic, over the sticks


@dataclass(frozen=True, slots=True)
class AxisDemand:
    """What decides one demand: a line with its switches and smoothing set, perhaps limited, or a value (no shapes)."""

    channel: Channel | None
    constant: Fraction
    shapes: Shapes
    guards: Guards
    formula: f.Formula
    limit: Override | None = None

    def put(self, demand: Fraction) -> Fraction:
        assert self.channel is not None
        return outputs.output(self.channel, demand if self.limit is None else self.limit.limited(demand))

    def between(self, sticks: Sticks) -> Pair:
        """The least and the greatest output over a box of sticks."""
        if self.channel is None:
            return NOTHING
        found = [shape.extremes(*sticks[name]) for name, shape in self.shapes]
        least, greatest = (sum((pair[n][1] for pair in found), self.constant) for n in (0, 1))
        ends = self.put(least), self.put(greatest)
        return min(ends), max(ends)

    def at(self, place: Spot) -> Fraction:
        if self.channel is None:
            return Fraction(0)
        return self.put(sum((s.value(place[n]) for n, s in self.shapes), self.constant))


@dataclass(frozen=True, slots=True)
class DemandWay:
    """What decides each of the three demands."""

    parts: tuple[AxisDemand, AxisDemand, AxisDemand]

    @property
    def sticks(self) -> Sticks:
        return {name: (-FULL, FULL) for part in self.parts for name, _ in part.shapes}

    @property
    def guards(self) -> Guards:
        return self.parts[0].guards + self.parts[1].guards + self.parts[2].guards

    @property
    def channels(self) -> list[str]:
        return [part.channel.name for part in self.parts if part.channel is not None]

    def box(self, sticks: Sticks) -> Box:
        c, a, e = (part.between(sticks) for part in self.parts)
        return c, a, e

    def at(self, place: Spot) -> Demand:
        c, a, e = (part.at(place) for part in self.parts)
        return c, a, e


def demand_ways(ask: Asking, plate: Plate, mode: str | None) -> Iterator[DemandWay]:
    """Every way in which the demands can be decided together in a mode."""
    choices: list[list[AxisDemand]] = []
    for channel in plate.channels:
        if channel is None:
            choices.append([AxisDemand(None, Fraction(0), (), (), f.TRUE)])
            continue
        try:
            cases = ask.decider.lines(channel, mode) or ()
        except OutOfBudget as end:
            ask.undecided.append((SUBJECT, str(end)))
            return
        mine = ask.setup.acting_on(channel.name)
        parts = [AxisDemand(channel, o.value, (), (), f.Decides(channel.name, o.name))
                 for o in mine if o.value is not None]  # fmt: skip
        for limit in [None, *(o for o in mine if o.limits)]:
            goes_on = f.Decides(channel.name, limit.name if limit else None)
            parts += [AxisDemand(channel, case.constant, case.shapes, g, goes_on, limit)
                      for case in cases for g in case.guards]  # fmt: skip
        choices.append(parts)
    if prod(len(parts) for parts in choices) > MOST_WAYS:
        ask.undecided.append((SUBJECT, f"the demands can be decided in more than {MOST_WAYS} ways together"))
        return
    for c, a, e in product(*choices):
        if not contradict(c.guards + a.guards + e.guards):
            yield DemandWay((c, a, e))


def contradict(guards: Guards) -> bool:
    return len({(kind, name) for kind, name, _ in guards}) < len(set(guards))


def farthest_way(ask: Asking, plate: Plate, way: DemandWay, here: f.Formula, least: Fraction) -> PlateFinding | None:
    """The servo that is asked for most in one way of deciding, over `least`, as some state shows."""
    best: PlateFinding | None = None
    given = f.both(here, *(part.formula for part in way.parts))
    box = way.box(way.sticks)
    for servo in servos(plate.swash.servos):
        over = least if best is None else best.asked + ENOUGH
        if abs(farthest(plate.swash, servo, box)[0]) <= over:
            continue
        whole = climb(plate.swash, servo, way, way.sticks, over)
        if whole is None:
            continue
        found = stick_words(ask, plate, servo, way, given, whole)
        if found is None and ask.possible(given, SUBJECT):
            found = in_cells(ask, plate, servo, way, given, over)
        if found is not None and found.asked > over:
            best = found
    return best


def in_cells(
    ask: Asking, plate: Plate, servo: Servo, way: DemandWay, given: f.Formula, over: Fraction
) -> PlateFinding | None:
    """The same, cell by cell, where formulas that compare the sticks keep them from the worst place."""
    best: PlateFinding | None = None
    found = [
        (abs(farthest(plate.swash, servo, way.box(c))[0]), c) for c in corners.cells(ask, way.channels, way.sticks)
    ]
    for bound, cell in sorted(found, key=lambda item: -item[0]):
        least = over if best is None else best.asked + ENOUGH
        place = climb(plate.swash, servo, way, cell, least) if bound > least else None
        if place is not None:
            best = stick_words(ask, plate, servo, way, given, place, cell) or best
    return best


def climb(swash: Swash, servo: Servo, way: DemandWay, sticks: Sticks, least: Fraction) -> Spot | None:
    """Where the sticks, in a box, ask the servo for most, to within ENOUGH; None where that is not over `least`. The part
    of the box with the greatest bound is halved first; where MOST_BOXES are not enough, the best so far."""
    order = count()
    waiting = [(-abs(farthest(swash, servo, way.box(sticks))[0]), next(order), sticks)]
    best, place = least, None
    for _ in range(MOST_BOXES):
        bound, _, sticks = heappop(waiting)
        if -bound <= (best + ENOUGH / 2 if place is not None else least):
            return place
        for corner in tops(way, sticks):
            asked = abs(travel(swash, servo, way.at(corner)))
            if asked > best:
                best, place = asked, corner
        for half in halved(sticks) if sticks else ():
            heappush(waiting, (-abs(farthest(swash, servo, way.box(half))[0]), next(order), half))
        if not waiting:
            return place
    if place is None:
        raise OutOfBudget(f"more than {MOST_BOXES} parts of the sticks' range would have to be looked at")
    return place


def tops(way: DemandWay, sticks: Sticks) -> Iterator[Spot]:
    """Places of the sticks at which a demand has an extreme over a box, and its corners."""
    for ends in product(*sticks.values()):
        yield dict(zip(sticks, ends, strict=True))
    for part in way.parts:
        for which in (0, 1):
            middle = {name: (low + high) / 2 for name, (low, high) in sticks.items()}
            yield middle | {name: shape.extremes(*sticks[name])[which][0] for name, shape in part.shapes}


def halved(sticks: Sticks) -> Iterator[Sticks]:
    name = max(sticks, key=lambda n: sticks[n][1] - sticks[n][0])
    low, high = sticks[name]
    middle = (low + high) / 2
    yield {**sticks, name: (low, middle)}
    yield {**sticks, name: (middle, high)}


def stick_words(
    ask: Asking, plate: Plate, servo: Servo, way: DemandWay, given: f.Formula, place: Spot, cell: Sticks | None = None
) -> PlateFinding | None:
    """A state with the sticks there."""
    found: PlateFinding | None = None
    for case in corners.cases(ask, plate.looks, given, way.guards, place, cell, SUBJECT):
        found = PlateFinding(abs(travel(plate.swash, servo, plate.demand(case))), servo, case)
        if found.asked > ask.limit("servo") + HAIR:
            break
    return found


def reach_words(ask: Asking, plate: Plate, found: PlateFinding) -> Finding:
    swash, servo, case, asked = plate.swash, found.servo, found.case, found.asked
    demand = plate.demand(case)
    signed = travel(swash, servo, demand)
    lifted = (swash.collective or Fraction(0)) * servo.collective * demand[0] / 100
    words = [
        f"{channel.name} {percent(value)}"
        for channel, value in zip(plate.channels, demand, strict=True)
        if channel is not None
    ]
    parts = f"{short_name(lifted)} from the collective and {short_name(signed - lifted)} from aileron and elevator"
    held = ""
    if leaned(swash, *demand[1:]) != demand[1:]:
        held = f", held to the ring of {short_name(swash.ring or Fraction(0))}"
    keys = [key for key in ("collective", "cyclic", "ring") if ("swash", key) in ask.setup.declared]
    most = ask.limit("servo")
    shown = float(told_apart(asked, most, 1))
    return ask.finding(
        SUBJECT,
        f"{servo.name} is asked for {shown:.10g} % of its travel with {', '.join(words)}: {parts}{held}; it "
        f"stops at {plain(most):g}",
        ("swash", "cyclic"),
        case,
        related=[Place(("swash", key), "how much of the travel it takes") for key in keys if key != "cyclic"],
        channels=[c.name for c in plate.channels if c is not None],
    )


def short_name(value: Fraction) -> str:
    return f"{plain(round(value, 1)):g}"
