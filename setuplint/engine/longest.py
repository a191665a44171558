"""The longest time that a run of the timed simulator takes: movements of every kind, each tried once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from functools import partial
from itertools import product

from setuplint.dataclass import dataclass
from setuplint.engine.answers import NOT_DECIDED, Case
from setuplint.engine.movements import Movements, Moving
from setuplint.fraction import fraction
from setuplint.hints import TYPE_CHECKING
from setuplint.plain.logic import COMPARE
from setuplint.plain.simulate import simulate
from setuplint.plain.timelines import TICK
from setuplint.setup import formulas as f
from setuplint.setup.model import ZERO, Path
from setuplint.solver.sat import FALSE

if TYPE_CHECKING:
    from setuplint.solver.witness import Movement

LONGEST_RUN = fraction(30)  # seconds: a run that is not there by then is not followed further
MOST_RUNS = 40
MOST_KINDS = 300
MOST_UNSHOWN = 3  # states that only a lag leads to, and no run to them was found: looking takes long
NEAR = fraction(1, 100)  # percent: how closely a run starts from where the ramp's way is longest
ROUND = fraction(1)  # percent: the same, at first, for a rounder witness


@dataclass(frozen=True, slots=True)
class Ramp:
    """The longest way of the ramp in one mode, with one override (None: the line) deciding then, and where it starts."""

    mode: str | None
    search: str | None
    seconds: Fraction
    rising: bool
    start: Fraction
    end: Fraction
    path: Path


@dataclass(frozen=True, slots=True)
class Start:
    """A ramp starts where its way is longest, to so many percent; `whole`: and it ends there too; `later`: perhaps it
    starts from where it has gone while a condition waits."""

    ramp: Ramp
    slack: Fraction
    whole: bool
    later: bool


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of movement: which condition comes on or goes off, from how far its ramp starts, who decides before and after,
    and which movement it is. None: any, but for the deciders, where it is the channel's own line."""

    changes: tuple[str, bool | None] | None  # whether it comes on; None: its lagging may send the output elsewhere
    start: Start | None
    before: str | None
    after: str | None
    movement: Movement | None

    def literal(self, asked: Movements, m: Moving) -> int:
        if self.movement not in (None, m.movement):
            return FALSE
        name = asked.channel.name
        found = [asked.waits_for(m), m.frame.deciders(name)[self.before][0], m.moved.deciders(name)[self.after][0]]
        if self.changes is not None and self.changes[1] is None:
            found.append(asked.hangs_on(m, self.changes[0]))
        elif self.changes is not None:
            condition, rises = asked.setup.conditions[self.changes[0]], self.changes[1]
            was, now = m.frame.delayed(condition), m.moved.delayed(condition)
            found += [was[1], now[0]] if rises else [was[0], now[1]]
        if self.start is not None:
            ramp, slack = self.start.ramp, self.start.slack
            op, near = ("<=", ramp.start + slack) if ramp.rising else (">=", ramp.start - slack)
            far = asked.passes(m, op, near) if self.start.later else asked.demand(m.frame, op, near)[0]
            found += [asked.in_mode(m, ramp.mode), far]
            if self.start.whole:
                op, near = (">=", ramp.end - slack) if ramp.rising else ("<=", ramp.end + slack)
                found.append(asked.demand(m.moved, op, near)[0])
        return asked.sat.both(found)


def kinds(asked: Movements, waits: Mapping[str, Fraction], ramps: Sequence[Ramp]) -> Iterator[Kind]:
    """The most promising first. `waits` has the conditions on the way and how long they take."""
    slowest = sorted(waits, key=lambda n: (-waits[n], n))
    changing: list[tuple[str, bool | None] | None] = [(n, rises) for n in slowest for rises in (None, True, False)]
    slow = sorted((ramp for ramp in ramps if ramp.seconds), key=lambda ramp: -ramp.seconds)
    starts: list[Start | None] = [
        Start(ramp, slack, whole, later)
        for later in ((False, True) if waits else (False,))
        for whole in (True, False)
        for slack in (ROUND, NEAR)
        for ramp in slow
    ]
    all_movements: list[Movement | None] = [None, *asked.movements]
    for movement in all_movements:
        for change, start, before in product([*changing, None], [*starts, None], asked.deciders):
            for after in [start.ramp.search] if start else asked.deciders:
                yield Kind(change, start, before, after, movement)


def longest(
    asked: Movements,
    there: Sequence[f.OutputCompare],
    waits: Mapping[str, Fraction],
    ramps: Sequence[Ramp],
    bound: Fraction,
    limit: Fraction | None,
) -> tuple[Fraction, Case | None]:
    """The longest time that a run was seen to take, in seconds, and where it starts. With a `limit`, one that is well over it
    will do."""
    worst: tuple[Fraction, Case | None] = (ZERO, None)
    enough = bound if limit is None else limit + (bound - limit) * 9 / 10
    seen: set[str] = set()
    unshown = 0
    for count, kind in enumerate(kinds(asked, waits, ramps)):
        if count == MOST_KINDS or len(seen) == MOST_RUNS or unshown == MOST_UNSHOWN or worst[0] >= enough:
            break
        answer = asked.find(partial(kind.literal, asked))
        case = answer.case
        unshown += answer.verdict == NOT_DECIDED
        key = "" if case is None else repr((case.state, case.movement, case.evaluation.memory))
        if case is None or key in seen:
            continue
        seen.add(key)
        taken = run(asked, there, case, bound)
        if taken is not None and taken > worst[0]:
            worst = taken, case
    return worst


def run(asked: Movements, there: Sequence[f.OutputCompare], case: Case, bound: Fraction) -> Fraction | None:
    """Seconds until the output stays where it belongs, never more than the bound; None where it settles elsewhere."""
    assert case.after is not None
    assert case.after_evaluation is not None
    name = asked.channel.name
    final = case.after_evaluation.outputs[name]
    until = min(bound, LONGEST_RUN) + 3 * TICK
    moments = simulate(asked.setup, case.state, case.evaluation.memory, [(ZERO, case.after)], until, jump=True)
    next(moments)  # the state before
    arrival: Fraction | None = ZERO
    for moment in moments:
        value = moment.evaluation.outputs[name]
        if not (value == final if not there else value is None or within(value, there)):
            arrival = None
        elif arrival is None:
            arrival = moment.at
    if arrival is None:
        return None if bound <= LONGEST_RUN else min(until + TICK, bound)
    return min(arrival, bound)


def within(value: Fraction, there: Sequence[f.OutputCompare]) -> bool:
    return all(COMPARE[compare.op](value, compare.number) for compare in there)
