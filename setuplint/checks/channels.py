"""Channels: a stick that does nothing, expo, a slow motor, sums beyond their limits."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import product

from setuplint.book.asking import Asking, percent, plain
from setuplint.budget import OutOfBudget
from setuplint.checks import swash
from setuplint.checks.corners import HAIR, Looks, Spot, Sticks, cases, cells, guard_formulas, line_goes_on, mode_is
from setuplint.checks.curve_shapes import FULL, flown_modes, key_path, setting_values
from setuplint.checks.lifts import number_words
from setuplint.checks.spans import compared_at
from setuplint.checks.travels import AN_OVERRIDE, FREE, controls, flying_modes, is_still, surely_moves
from setuplint.curves.flown import Flown
from setuplint.curves.lines import Guards, LineCase
from setuplint.curves.servo import unlimited
from setuplint.dataclass import dataclass
from setuplint.engine.answers import Case
from setuplint.findings import Edit, Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.model import BySwitch, Channel, Mode, Override, Path, Term

NEAR = Fraction(1, 20)


# -- expo


def expo_harsh(ask: Asking) -> Iterator[Finding]:
    """Expo beyond what hands are used to, wherever it is written for a mode that is flown."""
    most, least = ask.limit("most"), ask.limit("least")
    may_give = ask.may_give("expo")
    for channel in ask.channels:
        if channel.name in may_give:
            ask.unread_line(channel)
    harsh = [c for c in ask.channels if any(not least <= k <= most for k in expos(c))]
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
    said = {subject.split()[0] for subject in ask.said("control-dead") if not subject.startswith(AN_OVERRIDE)}
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
    """A state of the mode, neither hold nor rescue called, the channel's own line going on, if this stick changes it in none."""
    stick = str(term.source)
    if surely_moves(ask, channel, mode, stick):
        return None
    here = f.both(mode_is(ask, mode), FREE, line_goes_on(ask, channel.name))
    moves = f.Follows(channel.name, stick)
    if ask.possible(f.both(here, moves), channel.name) or not ask.proved_impossible(f.both(here, moves)):
        return None
    limited = any(override.limits for override in ask.setup.acting_on(channel.name))
    if limited and moves_unlimited(ask, channel, mode, stick, here):
        return None
    return ask.find(here, channel.name)


def moves_unlimited(ask: Asking, channel: Channel, mode: str | None, stick: str, here: f.Formula) -> bool:
    """Whether the line would move with the stick in some state where only an override that limits it may keep it still."""
    for case in ask.decider.lines(channel, mode) or ():
        read = any(stick in (name, ask.setup.sticks[name].pupil_of) for name, _ in case.shapes)
        ways = f.either(*(f.both(*guard_formulas(guards)) for guards in case.guards))
        if read and not is_still(channel, case) and ask.possible(f.both(here, ways), channel.name):
            return True
    return False


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


# -- beyond the limits


def output_clipped(ask: Asking) -> Iterator[Finding]:
    """A sum of terms goes beyond its channel's limits, or a swashplate servo is asked for more than its travel."""
    yield from ask.each(clipped_sum, ask.channels)
    yield from swash.clipped_plates(ask)


@dataclass(frozen=True, slots=True)
class ClippedSum:
    """A line that a stick or knob takes beyond a limit: in a mode, with its switches and smoothing set."""

    channel: Channel
    mode: str | None
    case: LineCase
    guards: Guards
    side: int  # 1: over the high limit, -1: under the low one
    limited: Override | None = None  # by which override, in flight

    def farthest(self, sticks: Sticks) -> tuple[Fraction, Spot]:
        """By how much it goes beyond the limit over a box, and where; below zero: not so far."""
        spans = {name: shape.extremes(*sticks[name]) for name, shape in self.case.shapes}
        ends = []
        for which in (0, 1):
            total = sum((found[which][1] for found in spans.values()), self.case.constant)
            reached = total if self.limited is None else self.limited.limited(total)
            ends.append((self.beyond(reached), {name: found[which][0] for name, found in spans.items()}))
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
    ask.unread_line(channel)
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
        case = clipped_state(ask, channel, mode, switch, term, end)
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


def clipped_state(
    ask: Asking, channel: Channel, mode: str | None, switch: f.Formula, term: Term, end: Fraction
) -> Case | None:
    """A state that flies a rate, its stick at an end, or at least beyond what the rate makes of it."""
    given = f.both(mode_is(ask, mode), line_goes_on(ask, channel.name), switch)
    tops = (("<=", -FULL), (">", end), ("<", -end))
    first = f.both(given, read_at(term, ">=", FULL))
    if ask.possible(first, channel.name) or not compared_at(ask, channel, str(term.source)):
        return ask.find(first, channel.name)
    ways = (f.both(given, read_at(term, op, place)) for op, place in tops)
    return next((case for case in (ask.find(way, channel.name) for way in ways) if case is not None), None)


def read_at(term: Term, op: str, place: Fraction) -> f.Formula:
    """The stick that the term reads, the pupil's while it is lent, is on that side of a place."""
    own = f.Compare(str(term.source), op, place)
    if term.lending is None:
        return own
    lent = term.lending.lent
    return f.either(f.both(f.Not(lent), own), f.both(lent, f.Compare(term.lending.stick, op, place)))


def rates_of(term: Term) -> list[tuple[Fraction, f.Formula]]:
    """Each rate of a term, and where its switch stands for it."""
    rate = term.rate
    if isinstance(rate, BySwitch):
        return [(value, f.SwitchIs(rate.switch, position)) for position, value in rate.at.items()]
    return [(rate, f.TRUE)]


def line_sums(ask: Asking, channel: Channel) -> Iterator[tuple[Fraction, ClippedSum]]:
    """Every line that sticks take beyond a limit, by how much, whatever override lets it go on."""
    limits = (None, *(override for override in ask.setup.acting_on(channel.name) if override.limits))
    for mode in (*ask.setup.modes, None):
        cases = [case for case in ask.decider.lines(channel, mode) or () if case.shapes]
        for case, side, limit in product(cases, (1, -1), limits):
            ways = [ClippedSum(channel, mode, case, guards, side, limit) for guards in case.guards]
            most = ways[0].farthest(ways[0].sticks)[0]
            if most > HAIR:
                yield from ((most, way) for way in ways)


def reached_sum(ask: Asking, looks: Looks, way: ClippedSum, worst: Beyond | None) -> Beyond | None:
    """The state in which it goes farthest beyond, if that is farther than the worst so far."""
    name = way.channel.name
    given = f.both(mode_is(ask, way.mode), f.Decides(name, way.limited.name if way.limited else None))

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
