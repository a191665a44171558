"""The swashplate's servos: no state may ask one for more than its travel (output-clipped)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from heapq import heappop, heappush
from itertools import count, product
from math import prod

from setuplint.checks.asking import Asking, percent, plain
from setuplint.decide import servo as outputs
from setuplint.decide.answers import Case
from setuplint.decide.lines import Guards
from setuplint.decide.sat import OutOfBudget
from setuplint.decide.sums import Shapes, limits
from setuplint.decide.swash import Box, Demand, Pair, Servo, farthest, leaned, servos, travel
from setuplint.findings import Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Swash

Sticks = Mapping[str, Pair]  # from where to where

FULL = Fraction(100)
NOTHING: Pair = (Fraction(0), Fraction(0))
WHOLE: Box = ((-FULL * 2, FULL * 2),) * 3
CLOSE = (Fraction(1, 20), Fraction(1, 10_000))  # percent: an output this near to the one looked for will do
ENOUGH = Fraction(1, 4)  # percent of travel: a corner that is worse by less is not looked for
HAIR = Fraction(1, 1_000_000)  # percent: outputs are rounded to it
NEAR = Fraction(1, 20)  # percent: a state is asked for with the sticks this near to a place
MOST_BOXES = 300
MOST_WAYS = 500
SUBJECT = "swash"


@dataclass(frozen=True, slots=True)
class Found:
    """A servo asked for so much, in percent of its travel, and the state."""

    asked: Fraction
    servo: Servo
    case: Case


@dataclass(slots=True)
class Plate:
    """The three demands' channels, in the order of `Demand`; None: no such channel, its demand is zero."""

    swash: Swash
    channels: tuple[Channel | None, Channel | None, Channel | None]

    def between(self, box: Box) -> f.Formula:
        """The demands are in the box."""
        parts: list[f.Formula] = []
        for channel, (low, high) in zip(self.channels, box, strict=True):
            if channel is not None:
                parts += [f.OutputCompare(channel.name, ">=", low), f.OutputCompare(channel.name, "<=", high)]
        return f.both(*parts)

    def demand(self, case: Case) -> Demand:
        values = [Fraction(0) if c is None else case.evaluation.outputs[c.name] for c in self.channels]
        collective, aileron, elevator = (value or Fraction(0) for value in values)
        return collective, aileron, elevator


def clipped(ask: Asking) -> Iterator[Finding]:
    """The servo that is asked for most, and the corner where it is."""
    plate = read(ask)
    if plate is None:
        return
    best: Found | None = None
    for mode in (*ask.setup.modes, None):
        here = f.ModeIs(mode) if mode else f.both(*(f.Not(f.ModeIs(name)) for name in ask.setup.modes))
        for way in ways(ask, plate, mode):
            least = ask.limit("servo") + HAIR if best is None else best.asked + ENOUGH
            best = farthest_way(ask, plate, way, here, least) or best
    if best is not None:
        yield told(ask, plate, best)


def read(ask: Asking) -> Plate | None:
    """The plate with its channels; None where there is none, or something that it needs is not given (noted)."""
    swash = ask.setup.swash
    if swash is None:
        if ask.broken("swash"):
            ask.not_judged("swash cannot be read")
        return None
    known = True
    for key, value in (("collective", swash.collective), ("cyclic", swash.cyclic)):
        if value is None:
            ask.missing("swash", key)
            known = False
    if ask.broken("swash", "ring"):
        ask.not_judged("swash.ring cannot be read")
        known = False
    found: list[Channel | None] = []
    for drives in ("collective", "aileron", "elevator"):
        channels = [c for c in ask.setup.channels.values() if c.drives == drives]
        if len(channels) > 1:
            ask.not_judged(f"several channels drive the {drives}: {', '.join(c.name for c in channels)}")
            known = False
        for channel in channels:
            if any(line.terms is None for line in (channel.own, *channel.lines.values())):
                ask.missing("channels", channel.name, *(() if ask.broken("channels", channel.name) else ("from",)))
                known = False
        if not channels and drives == "collective" and ask.setup.craft.rotor == "collective":
            ask.not_judged("no channel that drives the collective is described")
            known = False
        found.append(channels[0] if channels else None)
    return Plate(swash, (found[0], found[1], found[2])) if known else None


# -- by arithmetic, over the sticks


@dataclass(frozen=True, slots=True)
class Part:
    """What decides one demand: a line with its switches and smoothing set, or an override's value (no shapes)."""

    channel: Channel | None
    constant: Fraction
    shapes: Shapes
    guards: Guards
    formula: f.Formula

    def between(self, sticks: Sticks) -> Pair:
        """The least and the greatest output over a box of sticks."""
        if self.channel is None:
            return NOTHING
        low, high = limits(self.shapes, sticks)
        ends = outputs.output(self.channel, self.constant + low), outputs.output(self.channel, self.constant + high)
        return min(ends), max(ends)

    def at(self, place: Mapping[str, Fraction]) -> Fraction:
        if self.channel is None:
            return Fraction(0)
        return outputs.output(self.channel, sum((s.value(place[n]) for n, s in self.shapes), self.constant))


@dataclass(frozen=True, slots=True)
class Way:
    """What decides each of the three demands."""

    parts: tuple[Part, Part, Part]

    @property
    def sticks(self) -> Sticks:
        return {name: (-FULL, FULL) for part in self.parts for name, _ in part.shapes}

    def box(self, sticks: Sticks) -> Box:
        c, a, e = (part.between(sticks) for part in self.parts)
        return c, a, e

    def at(self, place: Mapping[str, Fraction]) -> Demand:
        c, a, e = (part.at(place) for part in self.parts)
        return c, a, e


def ways(ask: Asking, plate: Plate, mode: str | None) -> Iterator[Way]:
    """Every way in which the demands can be decided together in a mode."""
    choices: list[list[Part]] = []
    for channel in plate.channels:
        if channel is None:
            choices.append([Part(None, Fraction(0), (), (), f.TRUE)])
            continue
        try:
            cases = ask.decider.reach.encoding.lines(channel, mode) or ()
        except OutOfBudget as end:
            ask.undecided.append((SUBJECT, str(end)))
            return
        parts = [
            Part(channel, o.value, (), (), f.Decides(channel.name, o.name))
            for o in ask.setup.overrides.values()
            if o.channel == channel.name and o.value is not None
        ]
        own = f.Decides(channel.name, None)
        parts += [
            Part(channel, case.constant, case.shapes, g, f.both(own, set_so(g))) for case in cases for g in case.guards
        ]
        choices.append(parts)
    if prod(len(parts) for parts in choices) > MOST_WAYS:
        ask.undecided.append((SUBJECT, f"the demands can be decided in more than {MOST_WAYS} ways together"))
        return
    for c, a, e in product(*choices):
        if not contradict(c.guards + a.guards + e.guards):
            yield Way((c, a, e))


def set_so(guards: Guards) -> f.Formula:
    return f.both(*(f.SwitchIs(name, choice) for kind, name, choice in guards if kind == "switch"))


def contradict(guards: Guards) -> bool:
    return len({(kind, name) for kind, name, _ in guards}) < len(set(guards))


def farthest_way(ask: Asking, plate: Plate, way: Way, here: f.Formula, least: Fraction) -> Found | None:
    """The servo that is asked for most in one way of deciding, over `least`, as some state shows."""
    best: Found | None = None
    for servo in servos(plate.swash.servos):
        over = least if best is None else best.asked + ENOUGH
        place, most = climb(plate.swash, servo, way, over)
        if most <= over:
            continue
        given = f.both(here, *(part.formula for part in way.parts))
        found = shown(ask, plate, servo, way, given, place) if place is not None else None
        if found is not None and found.asked > over:
            best = found
        elif ask.possible(given, SUBJECT):
            best = search(ask, plate, servo, way.box(way.sticks), given, over) or best
    return best


def climb(swash: Swash, servo: Servo, way: Way, least: Fraction) -> tuple[dict[str, Fraction] | None, Fraction]:
    """Over the sticks, where the servo is asked for most, to within ENOUGH, and a bound on that; it ends where the bound
    is not over `least`. The box with the greatest bound is halved first."""
    order = count()
    sticks = way.sticks
    waiting = [(-abs(farthest(swash, servo, way.box(sticks))[0]), next(order), sticks)]
    best, place = least, None
    for _ in range(MOST_BOXES):
        bound, _, sticks = waiting[0]
        if -bound <= least:
            return None, -bound
        for corner in corners(way, sticks):
            asked = abs(travel(swash, servo, way.at(corner)))
            if asked > best or place is None:
                best, place = max(asked, best), corner
        if not sticks:
            return place, best
        if best > least and -bound <= best + ENOUGH / 2:
            break
        heappop(waiting)
        for half in halved(sticks):
            heappush(waiting, (-abs(farthest(swash, servo, way.box(half))[0]), next(order), half))
    return place, -waiting[0][0]


def corners(way: Way, sticks: Sticks) -> Iterator[dict[str, Fraction]]:
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


def shown(
    ask: Asking, plate: Plate, servo: Servo, way: Way, given: f.Formula, place: Mapping[str, Fraction]
) -> Found | None:
    """A state with the sticks there."""
    near: list[f.Formula] = []
    for name, x in place.items():
        near += [f.Compare(name, ">=", max(x - NEAR, -FULL)), f.Compare(name, "<=", min(x + NEAR, FULL))]
    case = ask.find(f.both(given, *near, plate.between(around(way.at(place), WHOLE, Fraction(1, 2)))), SUBJECT)
    return None if case is None else Found(abs(travel(plate.swash, servo, plate.demand(case))), servo, case)


# -- by the engine, over the demands: where formulas keep the sticks from the places that arithmetic finds


def search(ask: Asking, plate: Plate, servo: Servo, box: Box, here: f.Formula, least: Fraction) -> Found | None:
    """The farthest travel over `least` that some state asks for, to within ENOUGH: of the boxes the one with the farthest
    bound first, at its corner, else in its halves. A box that no state reaches is dropped: nothing found is a proof."""
    order = count()
    waiting = [(-abs(farthest(plate.swash, servo, box)[0]), next(order), box)]
    best: Found | None = None
    for _ in range(MOST_BOXES):
        if not waiting or -waiting[0][0] <= (least if best is None else best.asked + ENOUGH):
            return best
        box = heappop(waiting)[2]
        corner = farthest(plate.swash, servo, box)[1]
        cornered = False
        for close in CLOSE:
            case = ask.find(f.both(here, plate.between(around(corner, box, close))), SUBJECT)
            cornered = cornered or case is not None
            best = farther(plate, servo, case, best, least)
            if case is None or best is not None:
                break
        case = None if cornered else ask.find(f.both(here, plate.between(box)), SUBJECT)
        if case is not None:
            best = farther(plate, servo, case, best, least)
            for half in halves(plate.swash, box):
                heappush(waiting, (-abs(farthest(plate.swash, servo, half)[0]), next(order), half))
    if best is None and waiting:
        ask.undecided.append((SUBJECT, f"more than {MOST_BOXES} parts of what the demands can be were looked at"))
    return best


def farther(plate: Plate, servo: Servo, case: Case | None, best: Found | None, least: Fraction) -> Found | None:
    if case is None:
        return best
    asked = abs(travel(plate.swash, servo, plate.demand(case)))
    return Found(asked, servo, case) if asked > (least if best is None else best.asked) else best


def around(corner: Demand, box: Box, close: Fraction) -> Box:
    """The part of a box that is this close to a place in it."""
    c, a, e = ((max(low, x - close), min(high, x + close)) for x, (low, high) in zip(corner, box, strict=True))
    return c, a, e


def halves(swash: Swash, box: Box) -> list[Box]:
    """Cut across the demand whose width moves the servos most."""
    lift, lean = (abs(share or Fraction(0)) for share in (swash.collective, swash.cyclic))
    shares = (lift, lean, lean)
    at = max(range(3), key=lambda n: (box[n][1] - box[n][0]) * shares[n])
    low, high = box[at]
    middle = (low + high) / 2
    c, a, e = box
    return [
        (part if at == 0 else c, part if at == 1 else a, part if at == 2 else e)
        for part in ((low, middle), (middle, high))
    ]


def told(ask: Asking, plate: Plate, found: Found) -> Finding:
    swash, servo, case, asked = plate.swash, found.servo, found.case, found.asked
    demand = plate.demand(case)
    signed = travel(swash, servo, demand)
    lifted = (swash.collective or Fraction(0)) * servo.collective * demand[0] / 100
    words = [
        f"{channel.name} {percent(value)}"
        for channel, value in zip(plate.channels, demand, strict=True)
        if channel is not None
    ]
    parts = f"{short(lifted)} from the collective and {short(signed - lifted)} from aileron and elevator"
    held = ""
    if leaned(swash, *demand[1:]) != demand[1:]:
        held = f", held to the ring of {short(swash.ring or Fraction(0))}"
    keys = [key for key in ("collective", "cyclic", "ring") if ("swash", key) in ask.setup.declared]
    most = ask.limit("servo")
    return ask.finding(
        SUBJECT,
        f"{servo.name} is asked for {over(asked, most)} % of its travel with {', '.join(words)}: {parts}{held}; it stops at "
        f"{plain(most):g}",
        ("swash", "cyclic"),
        case,
        related=[Place(("swash", key), "how much of the travel it takes") for key in keys if key != "cyclic"],
        channels=[c.name for c in plate.channels if c is not None],
    )


def over(value: Fraction, limit: Fraction) -> str:
    """With as many decimals as it takes to tell it from the limit."""
    places = next((n for n in (1, 2, 3) if round(value, n) > limit), 6)
    return f"{float(round(value, places)):.10g}"


def short(value: Fraction) -> str:
    return f"{plain(round(value, 1)):g}"
