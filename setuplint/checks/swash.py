"""The swashplate's servos: no state may ask one for more than its travel (output-clipped)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from heapq import heappop, heappush
from itertools import count

from setuplint.checks.asking import Asking, percent, plain
from setuplint.decide import servo as outputs
from setuplint.decide.answers import Case
from setuplint.decide.sat import OutOfBudget
from setuplint.decide.sums import limits
from setuplint.decide.swash import Box, Demand, Pair, Servo, farthest, leaned, servos, travel
from setuplint.findings import Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Swash

FULL = Fraction(100)
NOTHING: Pair = (Fraction(0), Fraction(0))
CLOSE = (Fraction(1, 20), Fraction(1, 10_000))  # percent: an output this near to the one looked for will do
ENOUGH = Fraction(1, 4)  # percent of travel: a corner that is worse by less is not looked for
MOST_BOXES = 300
SUBJECT = "swash"


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
    most = ask.limit("servo")
    best: tuple[Fraction, Servo, Case] | None = None
    for mode in (*ask.setup.modes, None):
        box = reach(ask, plate, mode)
        for servo in servos(plate.swash.servos) if box is not None else ():
            assert box is not None
            least = most if best is None else max(most, best[0] + ENOUGH)
            if abs(farthest(plate.swash, servo, box)[0]) > least:
                here = f.ModeIs(mode) if mode else f.both(*(f.Not(f.ModeIs(name)) for name in ask.setup.modes))
                found = search(ask, plate, servo, box, here, least)
                if found is not None:
                    best = (found[0], servo, found[1])
    if best is not None:
        yield told(ask, plate, *best)


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


def reach(ask: Asking, plate: Plate, mode: str | None) -> Box | None:
    """A box that holds every demand of a mode: the ends of the lines and the overrides' values."""
    spans: list[Pair] = []
    for channel in plate.channels:
        if channel is None:
            spans.append(NOTHING)
            continue
        try:
            cases = ask.decider.reach.encoding.lines(channel, mode)
        except OutOfBudget as end:
            ask.undecided.append((SUBJECT, str(end)))
            return None
        values = [o.value for o in ask.setup.overrides.values() if o.channel == channel.name and o.value is not None]
        for case in cases or ():
            values += [case.constant + x for x in limits(case.shapes, {n: (-FULL, FULL) for n, _ in case.shapes})]
        put_out = [outputs.output(channel, value) for value in values]
        spans.append((min(put_out), max(put_out)))
    return spans[0], spans[1], spans[2]


def search(
    ask: Asking, plate: Plate, servo: Servo, box: Box, here: f.Formula, least: Fraction
) -> tuple[Fraction, Case] | None:
    """The farthest travel over `least` that some state asks for, to within ENOUGH: of the boxes the one with the farthest
    bound first, at its corner, else in its halves. A box that no state reaches is dropped: nothing found is a proof."""
    order = count()
    waiting = [(-abs(farthest(plate.swash, servo, box)[0]), next(order), box)]
    best: tuple[Fraction, Case] | None = None
    for _ in range(MOST_BOXES):
        if not waiting or -waiting[0][0] <= (least if best is None else best[0] + ENOUGH):
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


def farther(
    plate: Plate, servo: Servo, case: Case | None, best: tuple[Fraction, Case] | None, least: Fraction
) -> tuple[Fraction, Case] | None:
    if case is None:
        return best
    asked = abs(travel(plate.swash, servo, plate.demand(case)))
    return (asked, case) if asked > (least if best is None else best[0]) else best


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


def told(ask: Asking, plate: Plate, asked: Fraction, servo: Servo, case: Case) -> Finding:
    swash = plate.swash
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
    return ask.finding(
        SUBJECT,
        f"{servo.name} is asked for {short(asked)} % of its travel with {', '.join(words)}: {parts}{held}; it stops at "
        f"{plain(ask.limit('servo')):g}",
        ("swash", "cyclic"),
        case,
        related=[Place(("swash", key), "how much of the travel it takes") for key in keys if key != "cyclic"],
        channels=[c.name for c in plate.channels if c is not None],
    )


def short(value: Fraction) -> str:
    return f"{plain(round(value, 1)):g}"
