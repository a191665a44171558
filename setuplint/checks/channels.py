"""Channels: a stick that does nothing, expo, a slow motor, sums beyond their limits."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import product

from setuplint.book import thin_air
from setuplint.book.asking import Asking, both_scales, percent, plain, seconds
from setuplint.budget import OutOfBudget
from setuplint.checks import swash
from setuplint.checks.corners import HAIR, Looks, Spot, Sticks, cases, cells, mode_is
from setuplint.checks.curve_shapes import FULL, flown_modes, key_path, setting_values
from setuplint.checks.lifts import Lift, channel_lifts, lifting_channels, number_words
from setuplint.checks.moves import held_at
from setuplint.checks.travels import FREE, WHOLE_TRAVEL, controls, flying_modes, surely_moves
from setuplint.curves.flown import Flown
from setuplint.curves.lines import Guards, LineCase
from setuplint.curves.servo import demand_for, unlimited
from setuplint.dataclass import dataclass, replace
from setuplint.engine.answers import Case
from setuplint.findings import Edit, Finding, Place
from setuplint.plain.simulate import simulate
from setuplint.setup import formulas as f
from setuplint.setup.model import BySwitch, Channel, Mode, Path, Term

NEAR = Fraction(1, 20)


# -- expo


def expo_harsh(ask: Asking) -> Iterator[Finding]:
    """Expo beyond what hands are used to, wherever it is written for a mode that is flown."""
    most, least = ask.limit("most"), ask.limit("least")
    harsh = [c for c in ask.setup.channels.values() if any(not least <= k <= most for k in expos(c))]
    modes = list(flown_modes(ask)) if harsh else []
    for channel in harsh:
        told: set[Path] = set()
        for mode in modes:
            for place, term, path, k in written_expos(ask, channel, mode):
                if least <= k <= most or path in told:
                    continue
                told.add(path)
                limit = most if k > most else least
                yield ask.finding(
                    channel.name if place == 0 else f"{channel.name} {term.source}",
                    f"expo of {plain(k):g} % on {term.source}, for {channel.name}: {expo_words(k)}; "
                    f"{plain(limit):g} % is as far as is usual, and a positive number is the softer one here",
                    path,
                    edit=Edit(path, f"{plain(limit):g}") if k > most else None,
                )


def expos(channel: Channel) -> Iterator[Fraction]:
    for term in channel.terms:
        if term.kind == "stick":
            yield from setting_values(term.expo)


def written_expos(ask: Asking, channel: Channel, mode: Mode | None) -> Iterator[tuple[int, Term, Path, Fraction]]:
    """The expo of each term of a line, and where it is written; of one that hangs on a switch, at each position."""
    for place, term in enumerate(channel.line(mode.name if mode else None).terms or ()):
        path = key_path(ask, channel, mode, place, "expo")
        if term.kind == "stick" and isinstance(term.expo, BySwitch):
            yield from ((place, term, (*path, "at", position), k) for position, k in term.expo.at.items())
        elif term.kind == "stick" and isinstance(term.expo, Fraction):
            yield place, term, path, term.expo


def expo_words(k: Fraction) -> str:
    """The slopes that expo makes of a straight line: 1 - k in the middle and 1 + 2k at the ends."""
    middle, end = 1 - k / 100, 1 + 2 * k / 100
    return f"{plain(middle):g} of a straight line's answer around the middle, {plain(end):g} of it at full stick"


# -- a stick that does nothing


def rate_dead(ask: Asking) -> Iterator[Finding]:
    """A stick or knob in the line of a flown mode that, with no override, changes nothing there."""
    said = {subject.split()[0] for subject in ask.said("control-dead")}
    yield from ask.each(dead_sticks, [c for c in controls(ask) if c.name not in said])


def dead_sticks(ask: Asking, channel: Channel) -> Iterator[Finding]:
    dead: dict[str, list[tuple[str | None, int, Case]]] = {}
    for mode in flying_modes(ask):
        for place, term in enumerate(channel.line(mode).terms or ()):
            case = dead_case(ask, channel, mode, term) if term.kind == "stick" else None
            if case is not None:
                dead.setdefault(str(term.source), []).append((mode, place, case))
    name = channel.name
    for stick, found in dead.items():
        mode, place, case = found[0]
        value = case.evaluation.outputs[name]
        words, path = dead_reason(ask, channel, mode, place, case)
        where = " and ".join(f"mode {m}" for m, _, _ in found if m)
        yield ask.finding(
            name if place == 0 else f"{name} {stick}",
            f"{stick} moves nothing on {name}{f' in {where}' if where else ''}: "
            f"{words}{'' if value is None else f', and {name} stays at {percent(value)}'}",
            path,
            case,
            channels=[name],
        )


def dead_case(ask: Asking, channel: Channel, mode: str | None, term: Term) -> Case | None:
    """A state of the mode, neither hold nor rescue called, the channel's own line deciding, if this stick changes it in none."""
    stick = str(term.source)
    if surely_moves(ask, channel, mode, stick):
        return None
    here = f.both(mode_is(ask, mode), FREE, f.Decides(channel.name, None))
    moves = f.Follows(channel.name, stick)
    if ask.possible(f.both(here, moves), channel.name) or not ask.proved_impossible(f.both(here, moves)):
        return None
    return ask.find(here, channel.name)


def dead_reason(ask: Asking, channel: Channel, mode: str | None, place: int, case: Case) -> tuple[str, Path]:
    """Why the term moves nothing, as far as its own keys tell, and which of them to change."""
    flown, term = ask.setup.modes[mode] if mode else None, (channel.line(mode).terms or ())[place]
    path = key_path(ask, channel, flown, place, "rate")
    if not any(setting_values(term.rate)):
        return "its rate is 0 %", path
    if isinstance(term.rate, BySwitch):
        position = case.state.positions[term.rate.switch]
        if not term.rate.at[position]:
            return f"its rate is 0 % with {term.rate.switch} {position}", (*path, "at", position)
    path = path if term.curve is None else key_path(ask, channel, flown, place, "curve")
    if term.curve is not None and len({y for _, y in ask.setup.curves[term.curve].points}) == 1:
        return f"curve {term.curve} is flat", path
    return "the output is the same wherever it stands", path


# -- a motor that comes too slowly


def motor_lags(ask: Asking) -> Iterator[Finding]:
    """Fixed pitch: the motor's ramp keeps it from going through the hover in time."""
    around, longest = ask.limit("around"), ask.limit("longest")
    if ask.setup.craft.rotor != "fixed":
        return
    motors = [c for c in lifting_channels(ask) if any(line.ramp_up or line.ramp_down for line in c.every_line)]
    hover = ask.hover_throttle if motors else None
    if motors and hover is None:
        ask.no_hover_throttle()
    if hover is None:
        return
    reckoned = f" ({ask.shift.words})" if ask.shift else ""
    told: set[Path] = set()
    found = [
        (lag_seconds(lift, hover - around, hover + around), lift)
        for lift in channel_lifts(ask, motors, flown_modes(ask, FREE), FREE)
    ]
    low, high = (both_scales(round(end, 2)) for end in (hover - around, hover + around))
    for (time, ramp), lift in sorted(found, key=lambda item: -item[0][0]):
        path = ramp_path(ask, lift, ramp)
        seen = lag_shown(ask, lift, hover - around, hover + around) if time > longest and path not in told else None
        if seen is None:
            continue
        told.add(path)
        case, target = seen
        name = lift.channel.name
        yield ask.finding(
            name if path[2] == ramp else f"{name} {path[3]}",
            f"{name} takes {seconds(time)} from {low} to {high}, {plain(around):g} points either side of the hover{reckoned}: "
            f"{ramp} lets it go {plain(around * 2):g} points in no less; {plain(longest):g} s is the most",
            path,
            case,
            related=[Place(("craft", "hover-throttle"), "the hover"), *thin_air.places(ask.shift)],
            channels=[name],
            then=f"then {lift.at(target)}: {name} is there only after {seconds(time)}",
            edit=Edit(path, f"{float(Fraction(int(longest / time * ramp_of(lift, ramp) * 10), 10)):g}"),
        )


def ramp_of(lift: Lift, key: str) -> Fraction:
    line = lift.channel.line(lift.mode.name if lift.mode else None)
    return line.ramp_up if key == "ramp-up" else line.ramp_down


def lag_seconds(lift: Lift, low: Fraction, high: Fraction) -> tuple[Fraction, str]:
    """How many seconds the ramp takes from one output to a higher one, and which of its keys says so."""
    ends = demand_for(lift.channel, low), demand_for(lift.channel, high)
    if ends[0] is None or ends[1] is None:
        return Fraction(0), "ramp-up"
    key = "ramp-up" if ends[1] > ends[0] else "ramp-down"
    return abs(ends[1] - ends[0]) * ramp_of(lift, key) / WHOLE_TRAVEL, key


def ramp_path(ask: Asking, lift: Lift, key: str) -> Path:
    return key_path(ask, lift.channel, lift.mode, 0, key)


def lag_shown(ask: Asking, lift: Lift, low: Fraction, high: Fraction) -> tuple[Case, Fraction] | None:
    """A state under the hover, and where the stick goes from there, in which the timed simulator has the motor late too."""
    name, target = lift.channel.name, lift.stick_for(high)
    case = None if target is None else case_below(ask, lift, low, target)
    if case is None or target is None:
        return None
    start = lift.stick_for(low)
    stick = case.state.sticks[lift.stick] if start is None else start
    before = replace(case.state, sticks={**case.state.sticks, lift.stick: stick})
    after = replace(case.state, sticks={**case.state.sticks, lift.stick: target})
    changes, longest = [(Fraction(0), after)], ask.limit("longest")
    *_, last = simulate(ask.as_decided(), before, case.evaluation.memory, changes, longest)
    value, goal = last.evaluation.outputs[name], last.target.outputs[name]
    return (case, target) if value is not None and goal is not None and value < high - HAIR <= goal else None


def case_below(ask: Asking, lift: Lift, low: Fraction, target: Fraction) -> Case | None:
    """A state in which it puts out so little; where another mode flies it there, one that the stick alone leaves for this."""
    name, start = lift.channel.name, lift.stick_for(low)
    if start is not None:
        return ask.find(lift.state(start - NEAR, start + NEAR), name)
    there = ask.find(lift.state(target - NEAR, target + NEAR), name)
    if there is None:
        return None
    others = {name: place for name, place in there.matters.items() if name != lift.stick}
    same = (f.SwitchIs(name, str(place)) for name, place in others.items() if name in ask.setup.switches)
    held = {name: x for name, x in others.items() if name in ask.setup.sticks and isinstance(x, Fraction)}
    there_below = (f.OutputCompare(name, ">=", low - NEAR), f.OutputCompare(name, "<=", low))
    return ask.find(f.both(FREE, *same, held_at(held), *there_below), name)


# -- beyond the limits


def output_clipped(ask: Asking) -> Iterator[Finding]:
    """A sum of terms goes beyond its channel's limits, or a swashplate servo is asked for more than its travel."""
    yield from ask.each(clipped_sum, ask.setup.channels.values())
    yield from swash.clipped_plates(ask)


@dataclass(frozen=True, slots=True)
class ClippedSum:
    """A line that a stick or knob takes beyond a limit: in a mode, with its switches and smoothing set."""

    channel: Channel
    mode: str | None
    case: LineCase
    guards: Guards
    side: int  # 1: over the high limit, -1: under the low one

    def farthest(self, sticks: Sticks) -> tuple[Fraction, Spot]:
        """By how much it goes beyond the limit over a box, and where; below zero: not so far."""
        spans = {name: shape.extremes(*sticks[name]) for name, shape in self.case.shapes}
        ends = []
        for which in (0, 1):
            total = sum((found[which][1] for found in spans.values()), self.case.constant)
            ends.append((self.beyond(total), {name: found[which][0] for name, found in spans.items()}))
        return max(ends, key=lambda end: end[0])

    def beyond(self, demand: Fraction) -> Fraction:
        return self.side * (unlimited(self.channel, demand) - self.limit)

    @property
    def limit(self) -> Fraction:
        return self.channel.high if self.side > 0 else self.channel.low

    @property
    def sticks(self) -> Sticks:
        return {name: (-FULL, FULL) for name, _ in self.case.shapes}


Beyond = tuple[Fraction, ClippedSum, Case]


def clipped_sum(ask: Asking, channel: Channel) -> Iterator[Finding]:
    worst: Beyond | None = None
    looks = Looks()
    try:
        for most, way in sorted(line_sums(ask, channel), key=lambda item: -item[0]):
            if most > (HAIR if worst is None else worst[0]):
                worst = reached_sum(ask, looks, way, worst)
    except OutOfBudget as end:
        if worst is None:
            ask.undecided.append((channel.name, str(end)))
    if worst is not None:
        yield clipped_finding(ask, *worst)
    else:
        yield from clipped_rate(ask, channel)


def clipped_rate(ask: Asking, channel: Channel) -> Iterator[Finding]:
    """The greatest rate beyond 100 that some state flies: the stick is at its end before its end."""
    rates = [
        (abs(rate), rate, switch, mode, place, term)
        for mode in (*ask.setup.modes, None)
        for place, term in enumerate(channel.line(mode).terms or ())
        for rate, switch in (rates_of(term) if term.kind == "stick" else ())
        if abs(rate) > FULL
    ]
    for size, rate, switch, mode, place, term in sorted(rates, key=lambda item: -item[0]):
        stick, end = str(term.source), FULL * 100 / size
        here = f.both(mode_is(ask, mode), f.Decides(channel.name, None), switch, at_full(term))
        case = ask.find(here, channel.name)
        if case is not None:
            path = key_path(ask, channel, ask.setup.modes[mode] if mode else None, place, "rate")
            path = (*path, "at", switch.position) if isinstance(switch, f.SwitchIs) else path
            yield ask.finding(
                channel.name,
                f"{channel.name} has a rate of {percent(rate)} on {stick}: beyond {number_words(end, 1)} and "
                f"{number_words(-end, 1)} the stick does nothing more",
                path,
                case,
                channels=[channel.name],
                edit=Edit(path, f"{plain(FULL if rate > 0 else -FULL):g}"),
            )
            return


def at_full(term: Term) -> f.Formula:
    """The stick that the term reads, the pupil's while it is lent, is at its top."""
    own = f.Compare(str(term.source), ">=", FULL)
    if term.lending is None:
        return own
    lent = term.lending.lent
    return f.either(f.both(f.Not(lent), own), f.both(lent, f.Compare(term.lending.stick, ">=", FULL)))


def rates_of(term: Term) -> list[tuple[Fraction, f.Formula]]:
    """Each rate of a term, and where its switch stands for it."""
    rate = term.rate
    if isinstance(rate, BySwitch):
        return [(value, f.SwitchIs(rate.switch, position)) for position, value in rate.at.items()]
    return [(rate, f.TRUE)]


def line_sums(ask: Asking, channel: Channel) -> Iterator[tuple[Fraction, ClippedSum]]:
    """Every line that sticks take beyond a limit, by how much."""
    known: dict[tuple[int, int], Fraction] = {}
    for mode in (*ask.setup.modes, None):
        for case in ask.decider.lines(channel, mode) or ():
            for guards, side in product(case.guards if case.shapes else (), (1, -1)):
                way = ClippedSum(channel, mode, case, guards, side)
                if (id(case), side) not in known:
                    known[id(case), side] = way.farthest(way.sticks)[0]
                if known[id(case), side] > HAIR:
                    yield known[id(case), side], way


def reached_sum(ask: Asking, looks: Looks, way: ClippedSum, worst: Beyond | None) -> Beyond | None:
    """The state in which it goes farthest beyond, if that is farther than the worst so far."""
    name = way.channel.name
    given = f.both(mode_is(ask, way.mode), f.Decides(name, None))

    def farther(spot: Spot, cell: Sticks | None) -> bool:
        nonlocal worst
        shown = False
        for case in cases(ask, looks, given, way.guards, spot, cell, name):
            shown = True
            demand = case.evaluation.demands[name]
            over = Fraction(0) if demand is None else way.beyond(demand)
            if over > (HAIR if worst is None else worst[0]):
                worst = over, way, case
                break
        return shown

    if not farther(way.farthest(way.sticks)[1], None) and ask.possible(given, name):
        found = [(*way.farthest(cell), cell) for cell in cells(ask, [name], way.sticks)]
        for most, spot, cell in sorted(found, key=lambda item: -item[0]):
            if most > (HAIR if worst is None else worst[0]):
                farther(spot, cell)
    return worst


def clipped_finding(ask: Asking, over: Fraction, way: ClippedSum, case: Case) -> Finding:
    name, limit = way.channel.name, way.limit
    base: Path = ("channels", name)
    path = (*base, "high" if way.side > 0 else "low")
    return ask.finding(
        name,
        f"{name} is asked for {percent(limit + way.side * over)}, and its limit is {percent(limit)}{from_there(way, case)}",
        path if path in ask.setup.declared else base,
        case,
        related=[
            Place((*base, key), "part of the sum")
            for key in ("mix", "travel", "sub-trim")
            if (*base, key) in ask.setup.declared
        ],
        channels=[name],
    )


def from_there(way: ClippedSum, case: Case) -> str:
    """From where on a stick that is alone in the line does nothing more; of several, where they stand."""
    if len(way.case.shapes) > 1:
        where = ", ".join(f"{name} {number_words(case.state.sticks[name], 1)}" for name, _ in way.case.shapes)
        return f": at {where} the sticks do nothing more"
    stick, shape = way.case.shapes[0]
    at = Flown(way.channel, way.case.constant, shape).stick_for(way.limit)
    return "" if at is None else f": from {stick} {number_words(at, 1)} on the stick does nothing more"
