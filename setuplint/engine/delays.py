"""How long a channel takes after a movement (MEANING.md 8): a bound that is a proof, and the longest run that shows it.

A timed condition is settled once the longest sum of `after` and `stays` on a way to it from the moved switch has run out;
before that it may lag. The bound is the shortest such wait from which on no condition that may still lag can keep the
channel from where it belongs, and then the ramp. It is never over the longest sum on a way to the channel.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import partial
from math import ceil, floor

from setuplint.budget import PART
from setuplint.curves import servo
from setuplint.engine.answers import Delay
from setuplint.engine.longest import Ramp, longest
from setuplint.engine.movements import Movements, Moving
from setuplint.fraction import fraction
from setuplint.hints import TYPE_CHECKING
from setuplint.plain.simulate import WHOLE_TRAVEL
from setuplint.setup import formulas as f
from setuplint.setup.model import ZERO, Channel, Path
from setuplint.solver import demands
from setuplint.solver.sat import FALSE, TRUE
from setuplint.solver.waits import SETTLES, Chain, Lagging, Late, waits

if TYPE_CHECKING:
    from setuplint.engine.movement_search import MovementSearch
    from setuplint.solver.witness import Movement

GRAIN = fraction(1, 1000)  # percent: how closely the extremes of a demand are found

Compared = Sequence[f.OutputCompare]


def delay(
    search: MovementSearch,
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
    once all has settled after it (it must imply `there`). With a `limit` in seconds nothing more is searched once the
    bound is known to be at most that, and it is told no closer. KeyError where there is no such channel, OutOfBudget where
    a question runs out of its budget.
    """
    found = search.setup.channels[channel]
    key = ("delay", formula, channel, given, then, tuple(there), limit)

    def longest_of() -> Delay:
        asked = Asked(search, formula, found, given, then, tuple(there))
        rough = asked.rough()
        return Delay(rough) if rough == 0 or (limit is not None and rough <= limit) else asked.answer(limit)

    return search.recalled_delay(key, [formula, given, then, f.Decides(channel, None)], longest_of)


def rough(search: MovementSearch, formula: f.Formula, channel: str, there: Compared = ()) -> Fraction:
    """The bound of such a question without asking anything: every wait, then the slowest ramp all the way."""
    found = search.setup.channels[channel]

    def bound() -> Delay:
        return Delay(Asked(search, formula, found, f.TRUE, f.TRUE, tuple(there)).rough())

    formulas = [formula, f.Decides(channel, None)]
    return search.recalled_delay(("rough", formula, channel, tuple(there)), formulas, bound).bound


def late_anyhow(conditions: Iterable[str]) -> Late:
    """They are late, whatever their `when` settles to."""
    return frozenset((name, on) for name in conditions for on in SETTLES)


class Asked(Movements):
    """One question about time."""

    def __init__(
        self,
        search: MovementSearch,
        formula: f.Formula,
        channel: Channel,
        given: f.Formula,
        then: f.Formula,
        there: tuple[f.OutputCompare, ...],
    ) -> None:
        super().__init__(search, formula, channel, given, then)
        for switch in dict.fromkeys(switch for switch, _ in self.movements):
            if switch not in search.waits:
                self.sat.file.charge(PART * len(self.setup.conditions))
                search.waits[switch] = waits(self.setup, switch)
        self.there = there
        timed = {n for k, n in search.cone([f.Decides(channel.name, None)]) if k == "condition"}
        timed = {n for n in timed if self.setup.conditions[n].after or self.setup.conditions[n].stays}
        self.waits: dict[str, dict[str, Chain]] = {
            switch: {n: chain for n, chain in search.waits[switch].items() if n in timed}
            for switch in dict.fromkeys(switch for switch, _ in self.movements)
        }
        self.lagging: dict[tuple[int, Movement, Late], Lagging] = {}

    # -- the bound

    def rough(self) -> Fraction:
        """The bound without asking anything: every wait, then the slowest ramp all the way."""
        if not self.movements:
            return ZERO
        wait = max((chain[0] for chains in self.waits.values() for chain in chains.values()), default=ZERO)
        ramps = [self.channel.line(mode) for mode in self.modes]
        if not any(line.ramp_up or line.ramp_down for line in ramps):
            return wait
        least, most = demands.demand_range(self.reach.encoding, self.channel)
        low, high = self.target
        up = most - least if not self.there else max(ZERO, low - least) if low is not None else ZERO
        down = most - least if not self.there else max(ZERO, most - high) if high is not None else ZERO
        return wait + max(max(up * line.ramp_up, down * line.ramp_down) for line in ramps) / WHOLE_TRAVEL

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
        bound, chain, ramps = self.bound(limit)
        slowest = max(ramps, key=lambda ramp: ramp.seconds, default=None)
        parts = tuple(self.part(link) for link in chain.links())
        if slowest is not None and slowest.seconds:
            parts = (*parts, (slowest.path, slowest.seconds))
        if bound == 0 or (limit is not None and bound <= limit):
            return Delay(bound, parts=parts)
        chains = {n: chain[0] for found in self.waits.values() for n, chain in found.items()}
        shown, case = longest(self, self.there, chains, ramps, bound, limit)
        return Delay(bound, shown, case, parts)

    def bound(self, limit: Fraction | None = None) -> tuple[Fraction, Chain, list[Ramp]]:
        """The least sum of a wait, from which on no condition that may lag keeps the output from where it belongs, and the
        slowest ramp then; the conditions that make up the wait, and the ramps."""
        settled = {s: {n: chain.settled(self.setup.conditions[n]) for n, chain in found.items()}
                   for s, found in self.waits.items()}  # fmt: skip
        chains = {chain[0]: chain for found in settled.values() for ways in found.values() for chain in ways.values()}
        best: tuple[Fraction, Chain, list[Ramp]] | None = None
        for wait, chain in sorted({ZERO: Chain(ZERO), **chains}.items()):
            if best is not None and wait >= best[0]:
                break
            self.sat.file.charge(sum(map(len, self.waits.values())))
            late = {s: frozenset((n, on) for n, ways in found.items() for on, chain in ways.items() if chain[0] > wait)
                    for s, found in settled.items()}  # fmt: skip
            if self.exists(partial(self.astray, late)):
                continue
            room = None if limit is None else limit - wait
            ramps = [x for mode in self.modes for name in self.deciders for x in self.ramps(mode, name, late, room)]
            bound = wait + max((ramp.seconds for ramp in ramps), default=ZERO)
            if best is None or bound < best[0]:
                best = bound, chain, ramps
        assert best is not None  # after the longest wait nothing lags
        return best

    def part(self, chain: Chain) -> tuple[Path, Fraction]:
        """The key that adds the last of a wait."""
        own = chain.seconds - (chain.before.seconds if chain.before is not None else ZERO)
        key = "after" if own == self.setup.conditions[chain.last].after else "stays"
        return ("conditions", chain.last, key), own

    def astray(self, lates: Mapping[str, Late], m: Moving) -> int:
        """The literal that with some conditions on their way, by switch, the channel may be sent elsewhere."""
        late = lates[m.movement[0]]
        if not late:
            return FALSE
        lag = self.lag(m, late)
        if self.there:
            return self.sat.both((m.stepped, self.sat.either(-lag.truth(compare)[0] for compare in self.there)))
        one, other = m.moved.deciders(self.channel.name), lag.deciders(self.channel.name)
        pairs = [(one[name], other[name]) for name in one] + list(zip(m.moved.modes(), lag.modes(), strict=True))
        pairs += [(m.moved.truth(lent), lag.truth(lent)) for lent in self.channel.lendings]
        different = self.sat.either(self.sat.differ(a, b) for x, y in pairs for a, b in zip(x, y, strict=True))
        return self.sat.both((m.stepped, different))

    def lag(self, m: Moving, late: Late) -> Lagging:
        key = id(m.frame), m.movement, late
        if key not in self.lagging:
            waiting = self.waits[m.movement[0]]
            self.lagging[key] = Lagging(m.frame, m.moved, late, self.rests, waiting)
        return self.lagging[key]

    def rests(self, condition: str, others: Collection[str]) -> bool:
        cone = self.search.cone([f.Holds(condition)])
        return any(("condition", other) in cone for other in others if other != condition)

    # -- ramps

    def ramps(
        self, mode: str | None, search: str | None, lates: Mapping[str, Late], room: Fraction | None
    ) -> Iterator[Ramp]:
        """The longest ways up and down of the ramp where a movement leads to a search and into a mode, or past one while
        some conditions are on their way. With `room` in seconds, none that is shorter is told closer than that."""
        line = self.channel.line(mode)
        low, high = self.target

        def led(m: Moving) -> int:
            there = -m.moved.deciders(self.channel.name)[search][1]
            return self.sat.both((m.stepped, self.in_mode(m, mode, lates[m.movement[0]]), there))

        for rising, seconds in ((True, line.ramp_up), (False, line.ramp_down)):
            end = low if rising else high
            if not seconds or (self.there and end is None) or not self.exists(led):
                continue
            sign, path = 1 if rising else -1, self.ramp_path(mode, rising)
            end = end if self.there else self.extreme(led, not rising, self.after)
            assert end is not None
            if room is not None and room >= 0:
                start = end - sign * room * WHOLE_TRAVEL / seconds
                farther = partial(self.passes, op="<" if rising else ">", number=start)
                if not self.exists(lambda m, farther=farther: self.sat.both((led(m), farther(m)))):  # type: ignore[misc]
                    yield Ramp(mode, search, room, rising, start, end, path)
                    continue
            start = self.extreme(led, rising, self.passes)
            yield Ramp(mode, search, max(ZERO, sign * (end - start)) * seconds / WHOLE_TRAVEL, rising, start, end, path)

    def ramp_path(self, mode: str | None, rising: bool) -> Path:
        key = "ramp-up" if rising else "ramp-down"
        own: Path = ("channels", self.channel.name, key)
        path: Path = own if mode is None else ("channels", self.channel.name, "in", mode, key)
        return path if path in self.setup.declared else own

    def passes(self, m: Moving, op: str, number: Fraction) -> int:
        """The literal that the demand may stand so before the movement, or on the way to where it settles."""
        late = late_anyhow(self.waits[m.movement[0]])
        between = [-self.demand(self.lag(m, late), op, number)[1]] if late else []
        return self.sat.either([super().passes(m, op, number), *between])

    def in_mode(self, m: Moving, mode: str | None, late: Late | None = None) -> int:
        """The literal that the mode may be flown after the movement, with some conditions (None: all) still on their way."""
        late = late_anyhow(self.waits[m.movement[0]]) if late is None else late
        frames = [m.moved, self.lag(m, late)] if late else [m.moved]
        return self.sat.either(-frame.mode(mode)[1] for frame in frames)

    def waits_for(self, m: Moving) -> int:
        """The literal that the output is elsewhere before the movement, or a condition that lags may send it elsewhere."""
        late = {switch: late_anyhow(found) for switch, found in self.waits.items()}
        ramped = any(line.ramp_up or line.ramp_down for line in map(self.channel.line, self.modes))
        away = self.sat.either(-m.frame.truth(compare)[0] for compare in self.there) if self.there else TRUE
        return self.sat.both((m.stepped, self.sat.either((self.astray(late, m), away if ramped else FALSE))))

    def hangs_on(self, m: Moving, condition: str) -> int:
        return self.astray({s: late_anyhow({condition} & found.keys()) for s, found in self.waits.items()}, m)

    def after(self, m: Moving, op: str, number: Fraction) -> int:
        return -self.demand(m.moved, op, number)[1]

    def extreme(
        self, led: Callable[[Moving], int], least: bool, literal: Callable[[Moving, str, Fraction], int]
    ) -> Fraction:
        """The least or greatest demand over the movements for which `led` holds; where it is none of the likely ones, a value
        that is not passed and missed by less than two GRAINs."""
        op, sign = ("<", 1) if least else (">", -1)

        def reaches(number: Fraction, compare: str) -> bool:
            return self.exists(lambda m: self.sat.both((led(m), literal(m, compare, number))))

        beyond, near = (
            demands.demand_range(self.reach.encoding, self.channel)
            if least
            else demands.demand_range(self.reach.encoding, self.channel)[::-1]
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
