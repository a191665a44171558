"""How long a channel takes after a movement (MEANING.md 8): a bound that is a proof, and the longest run that shows it.

A timed condition is settled once the longest sum of `after` and `stays` on a way to it from the moved switch has run out;
before that it may lag. The bound is the shortest such wait from which on no condition that may still lag can keep the
channel from where it belongs, and then the ramp. It is never over the longest sum on a way to the channel.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from itertools import product
from math import ceil, floor
from typing import TYPE_CHECKING

from setuplint.decide import demands, servo
from setuplint.decide.answers import Case, Delay
from setuplint.decide.evaluate import truth
from setuplint.decide.frame import Frame
from setuplint.decide.plain_formulas import COMPARE
from setuplint.decide.sat import FALSE, TRUE
from setuplint.decide.simulate import WHOLE_TRAVEL, simulate
from setuplint.decide.waits import Chain, Lagging, waits
from setuplint.setup import formulas as f
from setuplint.setup.model import ZERO, Channel, Path

if TYPE_CHECKING:
    from setuplint.decide.decider import Decider, Movement
    from setuplint.decide.witness import Witness

STEP = Fraction(1, 100)  # seconds between the simulator's moments
LONGEST_RUN = Fraction(30)  # seconds: a run that is not there by then is not followed further
MOST_RUNS = 40
MOST_CLASSES = 1_000
GRAIN = Fraction(1, 1000)  # percent: how closely the extremes of a demand are found
ROUND = Fraction(1)  # percent: an extreme may be missed by so much for a rounder witness

Compared = Sequence[f.OutputCompare]


@dataclass(frozen=True, slots=True)
class Moving:
    """A state before a movement, and the movement."""

    frame: Frame
    movement: Movement
    moved: Frame
    stepped: int  # literal: the movement is one, and what is asked of before and after holds


@dataclass(frozen=True, slots=True)
class Ramp:
    """The longest way of the ramp in one mode, with one override (None: the line) deciding then, and where it starts."""

    mode: str | None
    decider: str | None
    seconds: Fraction
    rising: bool
    start: Fraction
    path: Path


def delay(
    decider: Decider,
    formula: f.Formula,
    channel: str,
    *,
    given: f.Formula = f.TRUE,
    then: f.Formula = f.TRUE,
    there: Compared = (),
    limit: Fraction | None = None,
) -> Delay:
    """The longest time from a movement that makes `formula` true until the channel's output stays where it belongs.

    That is where it settles, or else where every comparison of `there` holds. `given` holds before the movement, `then`
    once all has settled after it (it must imply `there`). With a `limit` in seconds nothing is searched where the bound is
    under it at once. KeyError where there is no such channel, OutOfBudget where a question runs out of its budget.
    """
    asked = Asked(decider, formula, decider.setup.channels[channel], given, then, tuple(there))
    rough = asked.rough()
    if rough == 0 or (limit is not None and rough <= limit):
        return Delay(rough)
    return asked.answer(limit)


def rough(decider: Decider, formula: f.Formula, channel: str, there: Compared = ()) -> Fraction:
    """The bound of such a question without asking anything: every wait, then the slowest ramp all the way."""
    return Asked(decider, formula, decider.setup.channels[channel], f.TRUE, f.TRUE, tuple(there)).rough()


class Asked:
    """One question about time."""

    def __init__(
        self,
        decider: Decider,
        formula: f.Formula,
        channel: Channel,
        given: f.Formula,
        then: f.Formula,
        there: tuple[f.OutputCompare, ...],
    ) -> None:
        self.decider, self.setup, self.reach, self.sat = decider, decider.setup, decider.reach, decider.reach.sat
        self.formula, self.channel, self.given, self.then, self.there = formula, channel, given, then, there
        self.movements = decider.movements([formula])
        line = f.Decides(channel.name, None)
        switches = [("switch", switch) for switch, _ in self.movements]
        self.cone = decider.cone([formula, given, then, line]) | switches
        timed = {n for k, n in decider.cone([line]) if k == "condition"}
        timed = {n for n in timed if self.setup.conditions[n].after or self.setup.conditions[n].stays}
        self.waits: dict[str, dict[str, Chain]] = {
            switch: {n: chain for n, chain in waits(self.setup, switch).items() if n in timed}
            for switch in dict.fromkeys(switch for switch, _ in self.movements)
        }
        self.movings: dict[int, list[Moving]] = {}
        self.lagging: dict[tuple[int, Movement, frozenset[str]], Lagging] = {}

    # -- the bound

    def rough(self) -> Fraction:
        """The bound without asking anything: every wait, then the slowest ramp all the way."""
        if not self.movements:
            return ZERO
        wait = max((chain[0] for chains in self.waits.values() for chain in chains.values()), default=ZERO)
        ramps = [self.channel.line(mode) for mode in self.modes]
        if not any(line.ramp_up or line.ramp_down for line in ramps):
            return wait
        least, most = demands.whole(self.reach.encoding, self.channel)
        low, high = self.target
        up = most - least if not self.there else max(ZERO, low - least) if low is not None else ZERO
        down = most - least if not self.there else max(ZERO, most - high) if high is not None else ZERO
        return wait + max(max(up * line.ramp_up, down * line.ramp_down) for line in ramps) / WHOLE_TRAVEL

    @property
    def modes(self) -> list[str | None]:
        return [*self.setup.modes, None]

    @property
    def deciders(self) -> list[str | None]:
        return [*(o.name for o in self.setup.overrides.values() if o.channel == self.channel.name), None]

    @property
    def target(self) -> tuple[Fraction | None, Fraction | None]:
        """The demands between which `there` holds; None: no end on that side."""
        low: Fraction | None = None
        high: Fraction | None = None
        for compare in self.there:
            bound = servo.demand_bound(self.channel, compare.op, compare.number)
            if bound.op in (">", ">="):
                low = bound.number if low is None else max(low, bound.number)
            elif bound.op in ("<", "<="):
                high = bound.number if high is None else min(high, bound.number)
        return low, high

    def answer(self, limit: Fraction | None) -> Delay:
        if not self.exists(lambda m: m.stepped):
            return Delay(ZERO)
        wait, chain = self.wait()
        ramps = [ramp for mode in self.modes for name in self.deciders for ramp in self.ramps(mode, name)]
        slowest = max(ramps, key=lambda ramp: ramp.seconds, default=None)
        bound = wait + (slowest.seconds if slowest else ZERO)
        parts = tuple(self.part(name) for name in chain)
        if slowest is not None and slowest.seconds:
            parts = (*parts, (slowest.path, slowest.seconds))
        if bound == 0 or (limit is not None and bound <= limit):
            return Delay(bound, parts=parts)
        shown, case = self.worst(bound, ramps, limit)
        return Delay(bound, shown, case, parts)

    def part(self, condition: str) -> tuple[Path, Fraction]:
        found = self.setup.conditions[condition]
        key = "after" if found.after >= found.stays else "stays"
        return ("conditions", condition, key), max(found.after, found.stays)

    def wait(self) -> Chain:
        """The shortest wait from which on no condition that may lag keeps the output from where it belongs."""
        chains = {chain[0]: chain for found in self.waits.values() for chain in found.values() if chain[0]}
        longest: Chain = (ZERO, ())
        for seconds, chain in [(ZERO, longest), *sorted(chains.items())]:
            late = {
                switch: frozenset(n for n, c in found.items() if c[0] > seconds) for switch, found in self.waits.items()
            }
            if not self.exists(partial(self.astray, late)):
                return chain
        return longest

    def astray(self, lates: Mapping[str, frozenset[str]], m: Moving) -> int:
        """The literal that with some conditions on their way, by switch, the channel may be sent elsewhere."""
        late = lates[m.movement[0]]
        if not late:
            return FALSE
        lag = self.lag(m, late)
        if self.there:
            return self.sat.both((m.stepped, self.sat.either(-lag.truth(compare)[0] for compare in self.there)))
        one, other = m.moved.deciders(self.channel.name), lag.deciders(self.channel.name)
        pairs = [(one[name], other[name]) for name in one] + list(zip(m.moved.modes(), lag.modes(), strict=True))
        different = self.sat.either(self.sat.differ(a, b) for x, y in pairs for a, b in zip(x, y, strict=True))
        return self.sat.both((m.stepped, different))

    def lag(self, m: Moving, late: frozenset[str]) -> Lagging:
        key = id(m.frame), m.movement, late
        if key not in self.lagging:

            def rests(name: str) -> bool:
                cone = self.decider.cone([f.Holds(name)])
                return any(("condition", other) in cone for other in late if other != name)

            self.lagging[key] = Lagging(m.frame, m.moved, late, rests)
        return self.lagging[key]

    # -- ramps

    def ramps(self, mode: str | None, decider: str | None) -> Iterator[Ramp]:
        """The longest ways up and down of the ramp where a movement leads into a mode and to a decider."""
        line = self.channel.line(mode)
        low, high = self.target

        def led(m: Moving) -> int:
            there = -m.moved.deciders(self.channel.name)[decider][1]
            return self.sat.both((m.stepped, -m.moved.mode(mode)[1], there))

        for rising, seconds in ((True, line.ramp_up), (False, line.ramp_down)):
            if not seconds or not self.exists(led):
                continue
            end = low if rising else high
            if not self.there:
                end = self.extreme(led, not rising, self.after)
            if end is None:
                continue
            start = self.extreme(led, rising, self.before)
            way = max(ZERO, end - start if rising else start - end)
            path = self.ramp_path(mode, rising)
            yield Ramp(mode, decider, way * seconds / WHOLE_TRAVEL, rising, start, path)

    def ramp_path(self, mode: str | None, rising: bool) -> Path:
        key = "ramp-up" if rising else "ramp-down"
        own: Path = ("channels", self.channel.name, key)
        path: Path = own if mode is None else ("channels", self.channel.name, "in", mode, key)
        return path if path in self.setup.declared else own

    def before(self, m: Moving, op: str, number: Fraction) -> int:
        """The literal that the demand may stand so before the movement, or on the way to where it settles."""
        late = frozenset(self.waits[m.movement[0]])
        frames = [m.frame, self.lag(m, late)] if late else [m.frame]
        return self.sat.either(-demands.demand(frame, self.channel, op, number)[1] for frame in frames)

    def after(self, m: Moving, op: str, number: Fraction) -> int:
        return -demands.demand(m.moved, self.channel, op, number)[1]

    def extreme(
        self, led: Callable[[Moving], int], least: bool, literal: Callable[[Moving, str, Fraction], int]
    ) -> Fraction:
        """The least or greatest demand over the movements for which `led` holds; where it is none of the likely ones, a value
        that is not passed and missed by less than two GRAINs."""
        op, sign = ("<", 1) if least else (">", -1)

        def reaches(number: Fraction, compare: str) -> bool:
            return self.exists(lambda m: self.sat.both((led(m), literal(m, compare, number))))

        beyond, near = (
            demands.whole(self.reach.encoding, self.channel)
            if least
            else demands.whole(self.reach.encoding, self.channel)[::-1]
        )  # nothing goes past `beyond`
        if reaches(beyond, op + "="):
            return beyond
        for value in sorted(
            (v for v in demands.likely(self.reach.encoding, self.channel) if sign * (v - beyond) > 0), reverse=not least
        ):
            if not reaches(value, op + "="):
                beyond = value
                continue
            if not reaches(value, op):
                return value
            near = value
            break
        while abs(near - beyond) > GRAIN:
            middle = (near + beyond) / 2
            if reaches(middle, op + "="):
                near = middle
            else:
                beyond = middle
        return (floor(beyond / GRAIN) if least else ceil(beyond / GRAIN)) * GRAIN

    # -- questions

    def moves(self, frame: Frame) -> list[Moving]:
        """Every movement out of a frame."""
        found = self.movings.get(id(frame))
        if found is None:
            found = []
            first = self.sat.both((frame.truth(self.given)[0], frame.truth(self.formula)[1]))
            for switch, position in self.movements:
                positions = self.setup.switches[switch].positions
                moved = frame.moved(positions={switch: {p: TRUE if p == position else FALSE for p in positions}})
                elsewhere = -frame.controls.positions[switch][position]
                second = (moved.truth(self.formula)[0], moved.truth(self.then)[0])
                found.append(Moving(frame, (switch, position), moved, self.sat.both((first, elsewhere, *second))))
            self.movings[id(frame)] = found
        return found

    def exists(self, literal: Callable[[Moving], int]) -> bool:
        """Whether some movement out of a reachable settled state makes the literal hold."""
        found = self.reach.ask(lambda frame: self.sat.either(literal(m) for m in self.moves(frame)), self.cone)
        return found is not None

    def case(self, literal: Callable[[Moving], int]) -> Case | None:
        """A movement that makes it hold, to be tried on the bench."""

        def question(frame: Frame) -> int:
            return self.sat.either(literal(m) for m in self.moves(frame))

        def movement_of(witness: Witness) -> Movement:
            last = witness.found.frames[-1]
            return next(m.movement for m in self.moves(last) if self.decider.literal_fixed(witness, literal(m)))

        return self.decider.ask(question, self.cone, self.shows, movement_of).case

    def shows(self, case: Case) -> bool:
        before, after, setup = case.evaluation, case.after_evaluation, self.setup
        assert case.after is not None
        assert after is not None
        return (
            truth(setup, self.given, case.state, before) is True
            and truth(setup, self.formula, case.state, before) is False
            and truth(setup, f.both(self.formula, self.then), case.after, after) is True
        )

    # -- runs

    def worst(self, bound: Fraction, ramps: Sequence[Ramp], limit: Fraction | None) -> tuple[Fraction, Case | None]:
        """The longest time that a run takes, and where it starts."""
        longest: tuple[Fraction, Case | None] = (ZERO, None)
        seen: set[str] = set()
        for count, literal in enumerate(self.classes(ramps)):
            if count == MOST_CLASSES or len(seen) == MOST_RUNS or longest[0] >= bound:
                break
            case = self.case(literal)
            key = "" if case is None else repr((case.state, case.movement, case.evaluation.memory))
            if case is None or key in seen:
                continue
            seen.add(key)
            taken = self.run(case, bound)
            if taken is not None and taken > longest[0]:
                longest = taken, case
            if limit is not None and count and longest[0] > limit + (bound - limit) * 9 / 10:
                break
        return longest

    def classes(self, ramps: Sequence[Ramp]) -> Iterator[Callable[[Moving], int]]:
        """Kinds of movements to run, the most promising first: which condition changes, who decides before and after,
        and from how far the ramp starts."""
        chains = {n: chain[0] for found in self.waits.values() for n, chain in found.items()}
        changing: list[tuple[str, bool] | None] = [
            (n, rises) for n in sorted(chains, key=lambda n: (-chains[n], n)) for rises in (True, False)
        ]
        slow = sorted((ramp for ramp in ramps if ramp.seconds), key=lambda ramp: -ramp.seconds)
        starts: list[tuple[Ramp, Fraction] | None] = [(ramp, slack) for slack in (ROUND, GRAIN * 10) for ramp in slow]
        for change, start, before in product([*changing, None], [*starts, None], self.deciders[::-1]):
            for after in [start[0].decider] if start else self.deciders:
                yield lambda m, c=change, s=start, a=after, b=before: self.is_class(m, c, s, a, b)  # type: ignore[misc]

    def is_class(
        self,
        m: Moving,
        change: tuple[str, bool] | None,
        start: tuple[Ramp, Fraction] | None,
        after: str | None,
        before: str | None,
    ) -> int:
        name = self.channel.name
        found = [m.stepped, m.frame.deciders(name)[before][0], m.moved.deciders(name)[after][0]]
        if change is not None:
            condition = self.setup.conditions[change[0]]
            was, now = m.frame.delayed(condition), m.moved.delayed(condition)
            found += [was[1], now[0]] if change[1] else [was[0], now[1]]
        if start is not None:
            ramp, slack = start
            op, near = ("<=", ramp.start + slack) if ramp.rising else (">=", ramp.start - slack)
            found += [m.moved.mode(ramp.mode)[0], demands.demand(m.frame, self.channel, op, near)[0]]
        return self.sat.both(found)

    def run(self, case: Case, bound: Fraction) -> Fraction | None:
        """Seconds until the output stays where it belongs, never more than the bound; None where it settles elsewhere."""
        assert case.after is not None
        assert case.after_evaluation is not None
        final = case.after_evaluation.outputs[self.channel.name]
        until = min(bound, LONGEST_RUN) + 3 * STEP
        moments = simulate(self.setup, case.state, case.evaluation.memory, [(ZERO, case.after)], until)
        next(moments)  # the state before
        late = last = -STEP
        for moment in moments:
            last = moment.at
            value = moment.evaluation.outputs[self.channel.name]
            if value is not None and not self.arrived(value, final):
                late = moment.at
        if late == last and bound <= LONGEST_RUN:
            return None
        return min(late + STEP, bound)

    def arrived(self, value: Fraction, final: Fraction | None) -> bool:
        if not self.there:
            return value == final
        return all(COMPARE[compare.op](value, compare.number) for compare in self.there)
